"""Plans of asking; what a household was, or will be, written about; addresses nobody writes to again."""

from datetime import time
from hashlib import sha256

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import F, Q

from clinic.callbacks.planning import MAIL, SERIES_DAYS, USUAL_DAYS, WAYS, Hours, Steps
from clinic.callbacks.reasons import INACTIVE_MONTHS
from clinic.mail.models import Message
from clinic.patients.models import Patient
from clinic.people.models import Owner, Staff

INACTIVE_LEAST, INACTIVE_MOST = 12, 120  # months; ours


def usual_days() -> list[int]:
    return list(USUAL_DAYS)


def series_days() -> list[int]:
    return list(SERIES_DAYS)


def sundays() -> list[int]:
    return [6]


class ReminderSettings(models.Model):
    """One row: the one switch, and the hours."""

    paused = models.BooleanField(default=False)
    paused_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    paused_at = models.DateTimeField(null=True, blank=True, help_text="since when it is as it is")
    hold_out = models.PositiveSmallIntegerField(
        default=0, help_text="of 100 households, how many are not asked about harmless things, to compare"
    )
    inactive_months = models.PositiveSmallIntegerField(
        default=INACTIVE_MONTHS, help_text="an animal not seen for so long is asked about no more"
    )
    rehearsal = models.BooleanField(default=True, help_text="everything is shown and nothing leaves")
    sends_at = models.TimeField(default=time(17))
    quiet_from = models.TimeField(default=time(20))
    quiet_until = models.TimeField(default=time(8))
    quiet_days = ArrayField(models.PositiveSmallIntegerField(), default=sundays, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(pk=1), name="one_way_of_reminding"),
            models.CheckConstraint(condition=Q(hold_out__lte=50), name="at_least_half_are_asked"),
            models.CheckConstraint(
                condition=Q(inactive_months__range=(INACTIVE_LEAST, INACTIVE_MOST)),
                name="inactive_after_a_year",
            ),
        ]

    @property
    def hours(self) -> Hours:
        return Hours(self.sends_at, self.quiet_from, self.quiet_until, frozenset(self.quiet_days))


class AskingPlan(models.Model):
    """When the house asks by itself, and with which words. It asks only once a manager approved it.

    An approved plan is never changed: another replaces it.
    """

    what = models.CharField(max_length=160, blank=True, help_text="a label; empty: whatever has no own plan")
    way = models.CharField(max_length=6, choices=list(WAYS.items()), default=MAIL)
    days = ArrayField(models.SmallIntegerField(), default=usual_days)
    series_days = ArrayField(models.SmallIntegerField(), default=series_days)
    words_before = models.CharField(max_length=280, blank=True)
    words_after = models.CharField(max_length=280, blank=True)
    words_in = models.JSONField(
        default=dict, blank=True, help_text="the same in other languages: {“es”: {“before”: …, “after”: …}}"
    )
    paused = models.BooleanField(default=False)
    paused_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    paused_at = models.DateTimeField(null=True, blank=True, help_text="since when it is as it is")
    made_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    approved_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    approved_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True, help_text="another replaced it, or it was dropped")

    class Meta:
        ordering = ["what", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(approved_at=None, approved_by=None)
                | Q(approved_at__isnull=False, approved_by__isnull=False),
                name="a_plan_of_asking_is_approved_by_somebody",
            ),
            models.CheckConstraint(
                condition=Q(days__len__gte=1, days__len__lte=3, series_days__len__gte=1)
                & Q(series_days__len__lte=3),
                name="a_plan_of_asking_has_at_most_three_steps",
            ),
            models.CheckConstraint(condition=Q(way__in=list(WAYS)), name="a_plan_of_asking_has_a_way"),
            models.UniqueConstraint(
                fields=["what"],
                condition=Q(approved_at__isnull=False, ended_at=None),
                name="one_plan_of_asking_in_force",
            ),
        ]

    @property
    def steps(self) -> Steps:
        return Steps(self.what, tuple(self.days), tuple(self.series_days), self.paused, self.way)


class HouseholdReminder(models.Model):
    """One message to one household on one day, about everything it is asked about then."""

    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, related_name="reminders")
    day = models.DateField()
    message = models.OneToOneField(Message, on_delete=models.PROTECT, related_name="reminder")
    rest_until = models.DateField(help_text="not asked about the same before this day, once it has left")
    by = models.ForeignKey(
        Staff,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="+",
        help_text="who wrote; nobody: a plan",
    )
    made_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["owner", "day"], name="a_household_once_a_day")]
        indexes = [models.Index(fields=["day"])]


class ReminderItem(models.Model):
    """One thing at one step. `skipped`: its day passed unasked. `fell`: why it was taken out again."""

    reminder = models.ForeignKey(HouseholdReminder, on_delete=models.PROTECT, related_name="items")
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="reminder_items")
    source = models.CharField(max_length=20)
    key = models.CharField(max_length=80)
    label = models.CharField(max_length=160)
    due_on = models.DateField()
    step = models.SmallIntegerField(help_text="days from the due date")
    skipped = models.BooleanField(default=False)
    fell = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["due_on", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["patient", "source", "key", "due_on", "step"], name="a_thing_once_a_step"
            ),
        ]


class Suppressed(models.Model):
    """An address to which no reminder goes, whoever is entered with it: it survives the owner's row.

    The address itself is not kept. US CAN-SPAM, 15 USC 7704(a)(4); GDPR, art. 21.
    """

    address_sha256 = models.CharField(max_length=64)
    at = models.DateTimeField()
    lifted_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["address_sha256"], condition=Q(lifted_at=None), name="an_address_suppressed_once"
            ),
            models.CheckConstraint(
                condition=Q(lifted_at=None) | Q(lifted_at__gte=F("at")), name="lifted_after_suppressed"
            ),
        ]


def fingerprint(address: str) -> str:
    return sha256(address.strip().lower().encode()).hexdigest()
