"""What follows from an examination: problems, plans, medicines, tests. Rows with a record freeze with it."""

import pghistory
from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q

from clinic.patients.models import Patient
from clinic.people.models import Staff
from clinic.visits.models import Record, Visit


class Certainty(models.TextChoices):
    DIFFERENTIAL = "differential", "possible"
    CONFIRMED = "confirmed", "confirmed"


@pghistory.track()
class Problem(models.Model):
    """A matter that outlives the visit. A finding becomes one only when a clinician says so."""

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="problems")
    title = models.CharField(max_length=160)
    station = models.CharField(max_length=3, blank=True)
    lines = ArrayField(
        models.CharField(max_length=80),
        default=list,
        blank=True,
        help_text="line keys of the walk it was opened from",
    )
    urgency = models.CharField(
        max_length=1, blank=True, help_text="of the finding it was opened from: M R T E"
    )
    opened_in = models.ForeignKey(
        Visit, null=True, blank=True, on_delete=models.PROTECT, related_name="problems_opened"
    )
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    closed_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["opened_at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(closed_at=None) | ~Q(closed_reason=""), name="closed_with_a_reason"
            )
        ]


class Assessment(models.Model):
    """What a clinician thinks a problem is, on one day. Never made by the program."""

    class Course(models.TextChoices):
        BETTER = "better", "better"
        SAME = "same", "the same"
        WORSE = "worse", "worse"

    problem = models.ForeignKey(Problem, on_delete=models.PROTECT, related_name="assessments")
    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="assessments")
    text = models.TextField()
    certainty = models.CharField(max_length=12, choices=Certainty.choices, default=Certainty.DIFFERENTIAL)
    course = models.CharField(max_length=8, choices=Course.choices, blank=True)
    rank = models.PositiveSmallIntegerField(default=0, help_text="in order of likelihood")
    for_owner = models.TextField(blank=True, help_text="the same for the owner, in plain words")
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["problem_id", "rank", "pk"]


class PlanLine(models.Model):
    """One thing to be done about a problem; a person and a date answer for it."""

    class Kind(models.TextChoices):
        MEDICINE = "medicine", "medicine"
        TEST = "test", "test"
        PROCEDURE = "procedure", "procedure"
        REFERRAL = "referral", "referral"
        HOME_CARE = "home-care", "home care"
        RECHECK = "recheck", "recheck"
        CALL = "call", "we call"
        WATCH = "watch", "watch"

    class Standing(models.TextChoices):
        ADVISED = "advised", "advised"
        CONSENTED = "consented", "consented"
        DECLINED = "declined", "declined"
        BOOKED = "booked", "booked"
        DONE = "done", "done"

    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="plan_lines")
    problem = models.ForeignKey(
        Problem, null=True, blank=True, on_delete=models.PROTECT, related_name="plan_lines"
    )
    kind = models.CharField(max_length=12, choices=Kind.choices)
    text = models.CharField(max_length=300, help_text="for the record")
    for_owner = models.CharField(max_length=400, blank=True, help_text="for the letter, in plain words")
    standing = models.CharField(max_length=12, choices=Standing.choices, default=Standing.ADVISED)
    answerable = models.ForeignKey(
        Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="promises"
    )
    due_on = models.DateField(null=True, blank=True)
    consent_by = models.CharField(max_length=120, blank=True)
    declined_why = models.CharField(max_length=300, blank=True)
    risks_explained = models.CharField(max_length=300, blank=True)
    explained_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    offer_again_on = models.DateField(null=True, blank=True)
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(standing="declined") | (~Q(declined_why="") & Q(explained_by__isnull=False)),
                name="a_decline_says_why_and_who_explained",
            ),
            models.CheckConstraint(
                condition=Q(due_on=None) | Q(answerable__isnull=False), name="a_date_has_a_person"
            ),
        ]


class PlanProgress(models.Model):
    """What became of a plan line after it was written; the line itself stays as signed."""

    line = models.ForeignKey(PlanLine, on_delete=models.PROTECT, related_name="progress")
    standing = models.CharField(max_length=12, choices=PlanLine.Standing.choices)
    note = models.CharField(max_length=300, blank=True)
    answerable = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    due_on = models.DateField(null=True, blank=True)
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["at", "pk"]


class Medicine(models.Model):
    """A medicine as directed. The directions go word for word into the letter."""

    class How(models.TextChoices):
        GIVEN = "given", "given here"
        DISPENSED = "dispensed", "dispensed"
        PRESCRIBED = "prescribed", "prescribed"

    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="medicines")
    problem = models.ForeignKey(Problem, on_delete=models.PROTECT, related_name="medicines")
    how = models.CharField(max_length=12, choices=How.choices)
    name = models.CharField(max_length=160)
    ingredients = ArrayField(models.CharField(max_length=80), help_text="active ingredients")
    strength = models.CharField(max_length=80)
    dose = models.CharField(max_length=80)
    route = models.CharField(max_length=60)
    side = models.CharField(max_length=12, blank=True)
    times = models.CharField(max_length=80, help_text="how often")
    first_dose = models.CharField(max_length=80)
    last_dose = models.CharField(max_length=80)
    last_on = models.DateField(null=True, blank=True, help_text="day of the last dose, where one is set")
    quantity = models.CharField(max_length=80, blank=True)
    refills = models.PositiveSmallIntegerField(default=0)
    reason = models.CharField(max_length=200)
    directions = models.TextField(help_text="the sentence the owner reads")
    answers = models.JSONField(default=list, blank=True, help_text="questions asked, and the reason given")
    prescriber = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]


class Test(models.Model):
    """A test ordered at a visit; its results follow, also after signing."""

    __test__ = False  # a test runner takes the name for a case of its own

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="tests")
    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="tests")
    plan_line = models.ForeignKey(
        PlanLine, null=True, blank=True, on_delete=models.PROTECT, related_name="tests"
    )
    kind = models.CharField(max_length=40, help_text="a code such as heartworm-antigen or faecal")
    title = models.CharField(max_length=160)
    ordered_by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    ordered_at = models.DateTimeField()
    taken_at = models.DateTimeField(null=True, blank=True)
    in_house = models.BooleanField(default=False)

    class Meta:
        indexes = [models.Index(fields=["patient", "kind"])]


class TestResult(models.Model):
    """One result; struck out, never erased."""

    __test__ = False

    test = models.ForeignKey(Test, on_delete=models.PROTECT, related_name="results")
    analyte = models.CharField(max_length=80, blank=True)
    value = models.CharField(max_length=80, help_text="as reported")
    unit = models.CharField(max_length=30, blank=True)
    interval = models.CharField(max_length=60, blank=True, help_text="the laboratory's own")
    meaning = models.CharField(max_length=12, help_text="negative, positive, inside, low, high, unclear")
    for_owner = models.CharField(max_length=300, blank=True)
    resulted_at = models.DateTimeField()
    entered_by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    read_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    read_at = models.DateTimeField(null=True, blank=True)
    struck_at = models.DateTimeField(null=True, blank=True)
    struck_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    struck_reason = models.CharField(max_length=200, blank=True)
