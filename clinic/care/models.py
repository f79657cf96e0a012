"""What follows from an examination: problems, plans, medicines, tests. Rows with a record freeze with it."""

import pghistory
from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q

from clinic.letters.models import Letter
from clinic.patients.models import Condition, Patient
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
    opened_from = models.TextField(blank=True, help_text="what had been recorded, in the words of that day")
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


class ProblemTurn(models.Model):
    """A problem was closed, or opened again, and why: so that no later turn takes an earlier reason away."""

    class What(models.TextChoices):
        CLOSED = "closed", "closed"
        REOPENED = "reopened", "opened again"

    problem = models.ForeignKey(Problem, on_delete=models.PROTECT, related_name="turns")
    what = models.CharField(max_length=8, choices=What.choices)
    reason = models.CharField(max_length=200)
    visit = models.ForeignKey(Visit, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="a_turn_says_why"),
            models.CheckConstraint(condition=Q(what__in=["closed", "reopened"]), name="a_turn_is_one_of_two"),
        ]


class ProblemCondition(models.Model):
    """A condition of the patient that a problem set: closing the problem asks whether it ends as well."""

    problem = models.ForeignKey(Problem, on_delete=models.PROTECT, related_name="conditions")
    condition = models.ForeignKey(Condition, on_delete=models.PROTECT, related_name="problems")
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["problem", "condition"], name="a_problem_sets_a_condition_once")
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


KINDS = ["medicine", "test", "procedure", "referral", "home-care", "recheck", "call", "watch"]
STANDINGS = ["advised", "consented", "declined", "booked", "done"]
MEANINGS = ["negative", "positive", "inside", "low", "high", "unclear"]


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

    class ConsentHow(models.TextChoices):
        IN_WORDS = "in-words", "in words"
        IN_WRITING = "in-writing", "in writing"
        BY_TELEPHONE = "by-telephone", "by telephone"

    class Estimate(models.TextChoices):
        SEEN = "seen", "seen"
        NOT_WANTED = "not-wanted", "not wanted"
        NONE = "none", "none was made"

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
    consent_how = models.CharField(max_length=12, choices=ConsentHow.choices, blank=True)
    estimate = models.CharField(max_length=10, choices=Estimate.choices, blank=True)
    declined_why = models.CharField(max_length=300, blank=True)
    risks_explained = models.CharField(max_length=300, blank=True)
    explained_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    alternative = models.CharField(max_length=300, blank=True, help_text="what was agreed on instead")
    come_back = models.CharField(max_length=200, blank=True, help_text="when to return all the same")
    signed_by_owner = models.BooleanField(default=False, help_text="the owner signed that they decline")
    offer_again_on = models.DateField(null=True, blank=True)
    words_why = models.CharField(max_length=200, blank=True, help_text="why words that may judge were kept")
    again_of = models.ForeignKey(
        "self",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="again",
        help_text="what had been declined, and was offered again by this line",
    )
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(standing="declined")
                | (~Q(declined_why="") & ~Q(risks_explained="") & Q(explained_by__isnull=False)),
                name="a_decline_says_why_which_risks_and_who_explained",
            ),
            models.CheckConstraint(
                condition=~Q(standing="consented") | (~Q(consent_by="") & ~Q(consent_how="")),
                name="a_consent_says_who_and_how",
            ),
            models.CheckConstraint(condition=Q(kind__in=KINDS), name="a_plan_line_is_of_a_kind"),
            models.CheckConstraint(condition=Q(standing__in=STANDINGS), name="a_plan_line_stands_somewhere"),
            models.CheckConstraint(
                condition=Q(due_on=None) | Q(answerable__isnull=False), name="a_date_has_a_person"
            ),
        ]


class PlanProgress(models.Model):
    """What became of a plan line after it was written; the line itself stays as signed."""

    line = models.ForeignKey(PlanLine, on_delete=models.PROTECT, related_name="progress")
    standing = models.CharField(max_length=12, choices=PlanLine.Standing.choices)
    note = models.CharField(max_length=600, blank=True)
    answerable = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    due_on = models.DateField(null=True, blank=True)
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(standing__in=STANDINGS), name="progress_stands_somewhere"),
            models.CheckConstraint(
                condition=~Q(standing="declined") | ~Q(note=""), name="a_later_decline_says_why"
            ),
        ]


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


class MedicineStop(models.Model):
    """A medicine that is not given any more, before its last day or without one; the row stays as signed."""

    medicine = models.OneToOneField(Medicine, on_delete=models.PROTECT, related_name="stop")
    on = models.DateField(help_text="the first day without it")
    why = models.CharField(max_length=200)
    owner_told = models.BooleanField(default=False)
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        constraints = [models.CheckConstraint(condition=~Q(why=""), name="a_stop_says_why")]


class DoseGiven(models.Model):
    """One dose given in the house on a clinician's order, by whose hands; struck out, never erased.

    Texas 22 TAC 573.52: treatments and all drug details belong in the record.
    """

    medicine = models.ForeignKey(Medicine, on_delete=models.PROTECT, related_name="doses")
    amount = models.CharField(max_length=80, help_text="with its unit, as given")
    lot = models.CharField(max_length=40, blank=True)
    expires_on = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    given_by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    given_at = models.DateTimeField()
    entered_at = models.DateTimeField()
    struck_at = models.DateTimeField(null=True, blank=True)
    struck_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    struck_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["given_at", "pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(amount=""), name="a_dose_given_has_an_amount"),
            models.CheckConstraint(
                condition=Q(given_at__lte=models.F("entered_at")),
                name="a_dose_was_given_before_it_was_entered",
            ),
            models.CheckConstraint(
                condition=Q(struck_at=None) | (Q(struck_by__isnull=False) & ~Q(struck_reason="")),
                name="a_dose_given_is_struck_with_a_reason",
            ),
        ]


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
    sent_at = models.DateTimeField(null=True, blank=True)
    laboratory = models.CharField(max_length=120, blank=True, help_text="who tests it, outside the house")
    in_house = models.BooleanField(default=False)

    class Meta:
        indexes = [models.Index(fields=["patient", "kind"])]


class TestResult(models.Model):
    """One value as reported, with its unit and the laboratory's own interval; struck out, never erased.

    `number`, `relation`, `low` and `high` are what could be read of `value` and `interval`, in `unit`;
    nothing is converted. `corrects`: the struck one whose place it takes.
    """

    __test__ = False

    test = models.ForeignKey(Test, on_delete=models.PROTECT, related_name="results")
    analyte = models.CharField(max_length=80, blank=True)
    value = models.CharField(max_length=80, help_text="as reported")
    number = models.DecimalField(max_digits=16, decimal_places=6, null=True, blank=True)
    relation = models.CharField(max_length=1, blank=True, help_text="< or > where the value has one")
    unit = models.CharField(max_length=30, blank=True)
    interval = models.CharField(max_length=60, blank=True, help_text="the laboratory's own")
    low = models.DecimalField(max_digits=16, decimal_places=6, null=True, blank=True)
    high = models.DecimalField(max_digits=16, decimal_places=6, null=True, blank=True)
    meaning = models.CharField(max_length=12, help_text="negative, positive, inside, low, high, unclear")
    for_owner = models.CharField(max_length=300, blank=True)
    corrects = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="corrected_by"
    )
    resulted_at = models.DateTimeField()
    entered_by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    read_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    read_at = models.DateTimeField(null=True, blank=True)
    struck_at = models.DateTimeField(null=True, blank=True)
    struck_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    struck_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(value=""), name="a_result_has_a_value"),
            models.CheckConstraint(condition=Q(meaning__in=MEANINGS), name="a_result_means_something"),
            models.CheckConstraint(
                condition=Q(struck_at=None) | (Q(struck_by__isnull=False) & ~Q(struck_reason="")),
                name="a_result_is_struck_with_a_reason",
            ),
            models.CheckConstraint(
                condition=Q(low=None) | Q(high=None) | Q(low__lte=models.F("high")),
                name="an_interval_goes_upwards",
            ),
        ]


class ResultFile(models.Model):
    """The laboratory's own report, as it came: a PDF or a picture, kept by its SHA-256."""

    test = models.ForeignKey(Test, on_delete=models.PROTECT, related_name="files")
    sha256 = models.CharField(max_length=64)
    suffix = models.CharField(max_length=5, help_text=".pdf, .jpg or .png")
    name = models.CharField(max_length=160, help_text="as it was called where it came from")
    size = models.PositiveIntegerField(help_text="bytes")
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    struck_at = models.DateTimeField(null=True, blank=True, help_text="of another patient, or the wrong one")
    struck_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    struck_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["test", "sha256"],
                condition=Q(struck_at=None),
                name="a_report_hangs_on_a_test_once",
            ),
            models.CheckConstraint(
                condition=Q(struck_at=None) | (Q(struck_by__isnull=False) & ~Q(struck_reason="")),
                name="a_report_is_struck_with_a_reason",
            ),
        ]


class ResultInLetter(models.Model):
    """Which results a result letter told."""

    letter = models.ForeignKey(Letter, on_delete=models.PROTECT, related_name="results_told")
    result = models.ForeignKey(TestResult, on_delete=models.PROTECT, related_name="letters")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["letter", "result"], name="a_letter_tells_a_result_once")
        ]
