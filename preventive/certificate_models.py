"""Certificates: numbered and frozen when issued; voided and replaced, never changed."""

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q

from clinic.patients.models import Patient
from clinic.platform.models import DataVersion
from preventive.struck import StruckOut


class Certificate(StruckOut):
    """Of one rabies dose, or of all vaccines. Struck out means voided; `entered_by`: who issued it.

    `values`: text by field of the protocol's table for its kind, as printed; of all vaccines also `doses` and
    `next`, rows of texts. `code`: what anybody may check. `dose_ids`: every dose it speaks of.
    """

    class Kind(models.TextChoices):
        RABIES = "rabies", "rabies vaccination certificate"
        ALL = "all", "vaccination certificate"

    kind = models.CharField(max_length=6, choices=Kind.choices, default=Kind.RABIES)
    number = models.PositiveIntegerField(unique=True)
    code = models.CharField(max_length=16, unique=True)
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="certificates")
    dose = models.ForeignKey(
        "preventive.Dose", null=True, blank=True, on_delete=models.PROTECT, related_name="certificates"
    )
    dose_ids = ArrayField(models.BigIntegerField(), default=list)
    values = models.JSONField()
    vaccinated_on = models.DateField(help_text="of all vaccines: of the last one")
    valid_from = models.DateField()
    due_by = models.DateField(
        null=True, blank=True, help_text="rabies: the legal date at issue; else the first next date, if any"
    )
    product_due = models.DateField(null=True, blank=True, help_text="rabies: by the label alone")
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
            models.CheckConstraint(
                condition=Q(
                    kind="rabies", dose__isnull=False, due_by__isnull=False, product_due__isnull=False
                )
                | Q(kind="all", dose=None, product_due=None),
                name="a_rabies_certificate_has_its_dose_and_dates",
            ),
        ]

    def __str__(self) -> str:
        return f"{'R' if self.kind == self.Kind.RABIES else 'V'}-{self.number:06d}"


class CertificateFile(models.Model):
    """The PDF's bytes, by their SHA-256: stored once, never rendered again."""

    certificate = models.OneToOneField(Certificate, on_delete=models.PROTECT, related_name="file")
    sha256 = models.CharField(max_length=64)
    size = models.PositiveIntegerField()
    pages = models.PositiveSmallIntegerField()
    rendered_at = models.DateTimeField()
