"""What somebody should come, or be called, for; when they were asked; who wants no reminders."""

from django.db import models
from django.db.models import Case, F, Q, Value, When
from django.db.models.expressions import CombinedExpression

from clinic.patients.models import Patient
from clinic.people.models import Owner, Staff

BEHIND = 73_050  # days, 200 years: behind everything that has a day of its own


def name_of_label() -> models.Func:
    """A label up to its colon."""
    parts = (models.F("label"), models.Value(": "), models.Value(1))
    return models.Func(*parts, function="split_part", output_field=models.CharField())


class CallBack(models.Model):
    """One row for each thing. Filled by its sources, at any time anew."""

    class Nature(models.TextChoices):
        USUAL = "", "comes round"
        SERIES = "series", "a dose of a series that is not finished"
        AGREED = "agreed", "agreed on at a visit"
        BY_PERSON = "by-person", "somebody tells the owner: no reminder speaks of it"

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="call_backs")
    source = models.CharField(max_length=20, help_text="which room filled it")
    key = models.CharField(max_length=80, help_text="the source's own key")
    label = models.CharField(max_length=160)
    due_on = models.DateField()
    latest_on = models.DateField(null=True, blank=True)
    nature = models.CharField(max_length=10, blank=True, default="", choices=Nature.choices)
    never = models.BooleanField(default=False, help_text="long due by age alone: nothing of it is recorded")
    may_wait = models.BooleanField(default=False, help_text="harmless enough to be held out from asking")
    listed_on = models.GeneratedField(
        expression=Case(
            When(
                never=True,
                then=CombinedExpression(F("due_on"), "+", Value(BEHIND), output_field=models.DateField()),
            ),
            default=F("due_on"),
        ),
        output_field=models.DateField(),
        db_persist=True,
        help_text="its place in the list: what was never recorded stands behind all that was",
    )
    refreshed_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["patient", "source", "key"], name="a_call_back_once")]
        indexes = [
            models.Index(fields=["due_on", "patient"]),
            models.Index(fields=["listed_on", "patient"], name="call_back_listed"),
            models.Index(name_of_label(), "listed_on", name="call_backs_by_name"),
        ]


class Asking(models.Model):
    """A household was asked: how, about what, what came of it, and when again. Rows are only ever added."""

    class How(models.TextChoices):
        CALL = "call", "by telephone"
        IN_PERSON = "in-person", "in person"
        LETTER = "letter", "by a letter on paper"
        MAIL = "mail", "by e-mail"

    class Outcome(models.TextChoices):
        NOT_REACHED = "not-reached", "not reached"
        WRONG_NUMBER = "wrong-number", "wrong number"
        ASKED = "asked", "asked, no answer yet"
        WILL_CALL = "will-call", "reached, they will call us"
        WILL_COME = "will-come", "reached, will come"
        BOOKED = "booked", "reached, booked"
        ELSEWHERE = "elsewhere", "reached, done elsewhere as they say"
        MOVED = "moved", "has moved away, as they say"
        DIED = "died", "has died, as they say"

    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, related_name="askings")
    how = models.CharField(max_length=10, choices=How.choices)
    outcome = models.CharField(max_length=14, choices=Outcome.choices)
    again_on = models.DateField(help_text="not asked about the same before this day")
    words = models.CharField(max_length=280, blank=True)
    number = models.CharField(max_length=40, blank=True, help_text="the wrong number that was dialled")
    text = models.CharField(
        max_length=64, blank=True, help_text="which words asked, as did-it-help names them"
    )
    by = models.ForeignKey(
        Staff,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="+",
        help_text="nobody: a plan of asking",
    )
    at = models.DateTimeField()

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["owner", "-at"])]
        constraints = [
            models.CheckConstraint(
                condition=Q(by__isnull=False) | Q(how="mail"), name="only_a_mail_is_asked_by_nobody"
            )
        ]


class AskingTakenBack(models.Model):
    """The asking was noted by mistake, or never arrived: it counts for nothing. Rows are only ever added."""

    asking = models.OneToOneField(Asking, on_delete=models.PROTECT, related_name="taken_back")
    by = models.ForeignKey(
        Staff,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="+",
        help_text="nobody, where its mail came back",
    )
    at = models.DateTimeField()


class AskedItem(models.Model):
    """One thing that a household was asked about, named as its call-back was, with the day it was due."""

    asking = models.ForeignKey(Asking, on_delete=models.PROTECT, related_name="items")
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="asked_items")
    source = models.CharField(max_length=20)
    key = models.CharField(max_length=80)
    label = models.CharField(max_length=160)
    due_on = models.DateField()

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["patient", "source", "key", "due_on", "-asking"])]
        constraints = [
            models.UniqueConstraint(
                fields=["asking", "patient", "source", "key"], name="an_item_once_in_an_asking"
            )
        ]


class ReminderStop(models.Model):
    """An owner wants no reminders about one thing of one animal, or none at all. It lasts until lifted.

    An objection to direct marketing is always obeyed (GDPR, art. 21; UK PECR, reg. 22; US CAN-SPAM, 15 USC
    7704(a)(4)). Kept: who, when, and by whom it was noted.
    """

    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, related_name="reminder_stops")
    patient = models.ForeignKey(
        Patient, null=True, blank=True, on_delete=models.PROTECT, related_name="reminder_stops"
    )
    source = models.CharField(max_length=20, blank=True)
    key = models.CharField(max_length=80, blank=True)
    label = models.CharField(max_length=160, blank=True, help_text="as it was called then")
    by = models.ForeignKey(
        Staff,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="+",
        help_text="nobody: they said so themselves, by the link in a mail",
    )
    at = models.DateTimeField()
    lifted_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    lifted_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["owner", "patient", "source", "key"],
                condition=Q(lifted_at=None),
                nulls_distinct=False,
                name="a_stop_stands_once",
            ),
            models.CheckConstraint(
                condition=Q(patient=None, source="", key="")
                | (Q(patient__isnull=False) & ~Q(source="") & ~Q(key="")),
                name="a_stop_is_of_one_thing_or_of_all",
            ),
            models.CheckConstraint(
                condition=Q(lifted_at=None, lifted_by=None)
                | Q(lifted_at__isnull=False, lifted_by__isnull=False),
                name="a_stop_is_lifted_by_somebody",
            ),
        ]


class CallBackWas(models.Model):
    """What a call-back said before: on which day it was due, and until when it said so. A trigger adds each
    row with the change itself; nobody changes one (keeping what was reckoned before is a house rule)."""

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="+")
    source = models.CharField(max_length=20)
    key = models.CharField(max_length=80)
    label = models.CharField(max_length=160)
    due_on = models.DateField()
    latest_on = models.DateField(null=True)
    written_at = models.DateTimeField(help_text="when it was last written so")
    until = models.DateTimeField()

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["patient", "source", "key"], name="what_a_call_back_was")]
