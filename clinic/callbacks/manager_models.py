"""What the manager keeps and compares: views with names, yesterday's totals, whom nobody asked."""

from django.db import models
from django.db.models import F, Q

from clinic.patients.models import Patient
from clinic.people.models import Owner, Staff


class KeptView(models.Model):
    """Filters of the due list under a name: of one person, or of the whole clinic."""

    name = models.CharField(max_length=60)
    asked_for = models.CharField(max_length=400, blank=True, help_text="the filters as the address has them")
    of = models.ForeignKey(
        Staff,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="+",
        help_text="nobody: everybody's",
    )
    made_by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["of", "name"], nulls_distinct=False, name="a_view_s_name_once"),
            models.CheckConstraint(condition=~Q(name=""), name="a_kept_view_has_a_name"),
        ]


class OverdueTally(models.Model):
    """How many things of one name were overdue on one day, and somebody was to be asked about: to compare."""

    day = models.DateField()
    what = models.CharField(max_length=160)
    things = models.PositiveIntegerField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["day", "what"], name="a_tally_once_a_day")]


class AskedLately(models.Model):
    """What became of the households asked in the last 60 days, counted each morning."""

    day = models.DateField(unique=True)
    asked = models.PositiveIntegerField()
    came = models.PositiveIntegerField()
    booked = models.PositiveIntegerField(help_text="of those that did not come yet")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(asked__gte=F("came") + F("booked")), name="no_more_than_asked")
        ]


class Unasked(models.Model):
    """Something was due and nobody asked: what asking is compared with. Rows are only ever added."""

    class Why(models.TextChoices):
        HELD_OUT = "held-out", "held out to compare"
        NO_MAIL = "no-mail", "not reached by e-mail"

    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, related_name="+")
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="+")
    source = models.CharField(max_length=20)
    key = models.CharField(max_length=80)
    label = models.CharField(max_length=160)
    due_on = models.DateField()
    step = models.SmallIntegerField(help_text="days from the due date")
    why = models.CharField(max_length=8, choices=Why.choices)
    at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["at"])]
        constraints = [
            models.UniqueConstraint(
                fields=["patient", "source", "key", "due_on", "step"], name="unasked_once_a_step"
            )
        ]


class HouseholdDue(models.Model):
    """What is overdue for one household, counted: one row for each reason to leave it out, one for none.

    Together with what `DueChange` names it says the same as the rows (`totals.py`).
    """

    owner = models.ForeignKey(Owner, on_delete=models.CASCADE, related_name="+", db_constraint=False)
    why = models.CharField(max_length=14, blank=True)
    reach = models.CharField(max_length=10)
    things = models.PositiveIntegerField()
    patients = models.PositiveIntegerField()
    since = models.DateField(help_text="the first of their places in the list (CallBack.listed_on)")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["owner", "why"], name="a_household_s_sum_once")]
        indexes = [  # a page of the list is a walk along one of them
            models.Index(fields=["why", "since", "owner"], name="household_due_listed"),
            models.Index(fields=["why", "reach", "since", "owner"], name="household_due_by_reach"),
            models.Index(fields=["since", "owner"], condition=~Q(why=""), name="household_due_left_out"),
        ]


class DueSum(models.Model):
    """The households' sums added up, as the last fold left them: a row for each reason and reach."""

    why = models.CharField(max_length=14, blank=True)
    reach = models.CharField(max_length=10)
    things = models.PositiveIntegerField()
    patients = models.PositiveIntegerField()
    households = models.PositiveIntegerField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["why", "reach"], name="a_sum_of_sums_once")]


class DueChange(models.Model):
    """A household or an animal whose sum may be otherwise now. Triggers write it with the change itself."""

    owner_id = models.BigIntegerField(null=True)
    patient_id = models.BigIntegerField(null=True)


class DueTotals(models.Model):
    """One row: for which day the households' sums stand."""

    day = models.DateField()
    made_at = models.DateTimeField()

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(pk=1), name="one_day_of_totals")]
