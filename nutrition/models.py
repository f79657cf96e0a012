"""Foods of the clinic, and the one feeding plan of a record."""

from django.db import models
from django.db.models import F, Q

from clinic.patients.models import Patient
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


class FoodVersion(models.Model):
    """A food's label as it was kept on a day. Rows are only added."""

    food = models.ForeignKey(FoodRow, on_delete=models.PROTECT, related_name="versions")
    number = models.PositiveIntegerField()
    body = models.JSONField()
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["-number"]
        constraints = [models.UniqueConstraint(fields=["food", "number"], name="a_food_version_once")]


class Plan(models.Model):
    """Food advice as it leaves with the patient. Frozen with its record."""

    class Kind(models.TextChoices):
        FED = "fed", "a plan"
        KEEP = "keep", "keep feeding as now until we call"

    record = models.OneToOneField(Record, on_delete=models.PROTECT, related_name="feeding_plan")
    kind = models.CharField(max_length=4, choices=Kind.choices)
    content = models.JSONField(help_text="the composed plan")
    asked = models.JSONField(default=dict, help_text="what was chosen beside it: stage, rules, week, litter")
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


class ExpectedGrownWeight(models.Model):
    """How somebody came to the adult weight expected of a growing animal. Rows are only added."""

    class How(models.TextChoices):
        ASKED = "asked", "known, as told"
        PARENTS = "parents", "from both parents"
        BREED = "breed", "from the range of the breed"

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="expected_grown_weights")
    how = models.CharField(max_length=8, choices=How.choices)
    kg = models.FloatField()
    low_kg = models.FloatField()
    high_kg = models.FloatField()
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(low_kg__gt=0, low_kg__lte=F("kg"), high_kg__gte=F("kg")),
                name="a_grown_weight_lies_in_its_range",
            )
        ]
