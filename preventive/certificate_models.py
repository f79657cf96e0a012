"""Certificates: numbered and frozen when issued; voided and replaced, never changed."""

from django.db import models
from django.db.models import Q

from clinic.patients.models import Patient
from clinic.platform.models import DataVersion
from preventive.struck import StruckOut


class Certificate(StruckOut):
    """Of one rabies dose. Struck out means voided; `entered_by`: who issued it.

    `values`: text by field of the protocol's certificate table, as printed. `code`: what anybody may check.
    """

    number = models.PositiveIntegerField(unique=True)
    code = models.CharField(max_length=16, unique=True)
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="certificates")
    dose = models.ForeignKey("preventive.Dose", on_delete=models.PROTECT, related_name="certificates")
    values = models.JSONField()
    vaccinated_on = models.DateField()
    valid_from = models.DateField()
    due_by = models.DateField(help_text="the legal date at issue")
    product_due = models.DateField(help_text="by the label alone")
    paper = models.CharField(max_length=6)
    protocol = models.ForeignKey(DataVersion, on_delete=models.PROTECT, related_name="+")
    replaces = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="replaced_by"
    )

    class Meta(StruckOut.Meta):
        ordering = ["-number"]
        constraints = [
            *StruckOut.Meta.constraints,
            models.UniqueConstraint(
                fields=["dose"], condition=Q(struck_at=None), name="one_certificate_a_dose"
            ),
        ]

    def __str__(self) -> str:
        return f"R-{self.number:06d}"


class CertificateFile(models.Model):
    """The PDF's bytes, by their SHA-256: stored once, never rendered again."""

    certificate = models.OneToOneField(Certificate, on_delete=models.PROTECT, related_name="file")
    sha256 = models.CharField(max_length=64)
    size = models.PositiveIntegerField()
    pages = models.PositiveSmallIntegerField()
    rendered_at = models.DateTimeField()
