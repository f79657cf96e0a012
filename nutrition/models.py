"""Foods of the clinic, and the one feeding plan of a record."""

from django.db import models
from django.db.models import Q

from clinic.people.models import Staff
from clinic.platform.models import DataVersion
from clinic.visits.models import Record


class FoodRow(models.Model):
    """A food of the clinic's catalogue; its facts are those of `nutrition.foods.Food`."""

    code = models.SlugField(max_length=60, unique=True)
    name = models.CharField(max_length=160)
    body = models.JSONField(help_text="a food's facts as plain values")
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name"]


class Plan(models.Model):
    """Food advice as it leaves with the patient. Frozen with its record."""

    class Kind(models.TextChoices):
        FED = "fed", "a plan"
        KEEP = "keep", "keep feeding as now until we call"

    record = models.OneToOneField(Record, on_delete=models.PROTECT, related_name="feeding_plan")
    kind = models.CharField(max_length=4, choices=Kind.choices)
    content = models.JSONField(help_text="the composed plan")
    factors = models.ForeignKey(DataVersion, on_delete=models.PROTECT, related_name="+")
    energy_kcal = models.FloatField(null=True, blank=True)
    target_weight_kg = models.FloatField(null=True, blank=True)
    weigh_in_on = models.DateField(null=True, blank=True)
    until = models.CharField(max_length=200, blank=True, help_text="for keep feeding: until when or what")
    own_words = models.TextField(blank=True, help_text="the clinician's own advice, for the owner")
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(kind="fed") | Q(energy_kcal__gt=0), name="a_plan_has_energy"),
            models.CheckConstraint(
                condition=~Q(kind="keep") | ~Q(until=""), name="keep_feeding_says_until_when"
            ),
        ]
