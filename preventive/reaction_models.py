"""What came after a dose: reactions with their reports, and lumps at the place of an injection."""

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q

from clinic.patients.models import Alert, Patient
from clinic.people.models import Staff
from clinic.visits.models import Visit
from preventive.struck import StruckOut


class Severity(models.TextChoices):
    MILD = "mild", "mild: passed by itself"
    MODERATE = "moderate", "moderate: wanted treatment"
    SEVERE = "severe", "severe: life in danger"


class Outcome(models.TextChoices):
    GOING_ON = "going-on", "still going on"
    RECOVERED = "recovered", "recovered"
    LASTING = "lasting", "recovered, something stayed"
    DIED = "died", "died"
    UNKNOWN = "unknown", "not known"


class Reaction(StruckOut):
    """Anything undesirable after a dose or a preventive, whether or not it was the cause; also no effect.

    Its outcome and treatment may be written later; everything else by striking out and entering again.
    """

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="reactions")
    visit = models.ForeignKey(
        Visit, null=True, blank=True, on_delete=models.PROTECT, related_name="reactions"
    )
    doses = models.ManyToManyField("preventive.Dose", related_name="reactions", blank=True)
    supplies = models.ManyToManyField("preventive.Supply", related_name="reactions", blank=True)
    began_on = models.DateField()
    began_at = models.TimeField(null=True, blank=True, help_text="where the hour is known")
    signs = ArrayField(models.CharField(max_length=30), help_text="codes of preventive.reactions.SIGNS")
    words = models.TextField(blank=True)
    severity = models.CharField(max_length=10, choices=Severity.choices)
    treatment = models.TextField(blank=True)
    outcome = models.CharField(max_length=10, choices=Outcome.choices)
    told_by = models.CharField(max_length=120, help_text="who saw it")
    alert = models.ForeignKey(Alert, null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta(StruckOut.Meta):
        ordering = ["-began_on", "-pk"]
        indexes = [models.Index(fields=["patient", "began_on"])]
        constraints = [
            *StruckOut.Meta.constraints,
            models.CheckConstraint(condition=~Q(signs=[]), name="a_reaction_has_a_sign"),
        ]


class ReactionReport(models.Model):
    """That a reaction was reported, to whom and under which reference; only added."""

    reaction = models.ForeignKey(Reaction, on_delete=models.PROTECT, related_name="reports")
    to = models.CharField(max_length=160)
    on = models.DateField()
    reference = models.CharField(max_length=80, blank=True)
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["on", "pk"]


class SiteLook(StruckOut):
    """A look at the place of an injection: a lump is there, how large, growing or not; or it is gone."""

    dose = models.ForeignKey("preventive.Dose", on_delete=models.PROTECT, related_name="looks")
    on = models.DateField()
    there = models.BooleanField()
    largest_mm = models.PositiveSmallIntegerField(null=True, blank=True)
    growing = models.BooleanField(null=True, blank=True)

    class Meta(StruckOut.Meta):
        ordering = ["on", "pk"]
        constraints = [
            *StruckOut.Meta.constraints,
            models.CheckConstraint(
                condition=Q(there=True) | Q(largest_mm=None, growing=None), name="what_is_gone_has_no_size"
            ),
        ]
