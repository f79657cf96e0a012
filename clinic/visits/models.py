"""A visit's two tracks: where the animal is, and where its record is."""

import uuid

import pghistory
from django.contrib.postgres.functions import RandomUUID
from django.db import models
from django.db.models import Q

from clinic.patients.models import Patient
from clinic.people.models import Owner, Staff


class Arrival(models.Model):
    """One household came in at one time; each of its animals has a visit of its own."""

    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, related_name="arrivals")
    at = models.DateTimeField()
    checked_in_by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")


@pghistory.track()
class Visit(models.Model):
    class Place(models.TextChoices):
        EXPECTED = "expected", "expected"
        ARRIVED = "arrived", "arrived"
        WITH_TECHNICIAN = "with-technician", "with technician"
        WITH_CLINICIAN = "with-clinician", "with clinician"
        ADMITTED = "admitted", "admitted"
        GONE_HOME = "gone-home", "gone home"
        LEFT_EARLY = "left-early", "left early"
        DID_NOT_COME = "did-not-come", "did not come"
        CANCELLED = "cancelled", "cancelled"

    class Kind(models.TextChoices):
        FULL = "full", "full walk"
        FOCUSED = "focused", "focused"
        EMERGENCY = "emergency", "emergency"
        TECHNICIAN = "technician", "technician appointment"
        TELEPHONE = "telephone", "telephone"

    class Outcome(models.TextChoices):
        HOME = "home", "home"
        ADMITTED = "admitted", "admitted"
        REFERRED = "referred", "referred"
        DIED = "died", "died"
        EUTHANISED = "euthanised", "euthanised"

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="visits")
    arrival = models.ForeignKey(
        Arrival, null=True, blank=True, on_delete=models.PROTECT, related_name="visits"
    )
    kind = models.CharField(max_length=12, choices=Kind.choices, default=Kind.FULL)
    kind_reason = models.CharField(max_length=200, blank=True)
    place = models.CharField(max_length=16, choices=Place.choices)
    place_since = models.DateTimeField()
    room = models.CharField(max_length=60, blank=True)
    expected_at = models.DateTimeField(null=True, blank=True)
    expected_minutes = models.PositiveSmallIntegerField(default=30)
    booked_for = models.CharField(max_length=200, blank=True, help_text="what it was booked for")
    owners_words = models.TextField(blank=True, help_text="why they came, in the owner's words")
    technician = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    clinician = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    see_now_at = models.DateTimeField(null=True, blank=True)
    see_now_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    see_now_why = models.CharField(max_length=200, blank=True)
    see_now_taken_at = models.DateTimeField(null=True, blank=True)
    see_now_taken_by = models.ForeignKey(
        Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    arrived_at = models.DateTimeField(null=True, blank=True)
    gone_at = models.DateTimeField(null=True, blank=True)
    outcome = models.CharField(max_length=12, choices=Outcome.choices, blank=True)
    made_at = models.DateTimeField()

    class Meta:
        indexes = [
            models.Index(fields=["patient", "-made_at"]),
            models.Index(fields=["place", "expected_at"]),
            models.Index(fields=["gone_at"]),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["patient"],
                condition=Q(place__in=["arrived", "with-technician", "with-clinician", "admitted"]),
                name="a_patient_is_here_once",
            )
        ]


class PlaceStep(models.Model):
    """The visit's way through the house, step by step."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="steps")
    place = models.CharField(max_length=16, choices=Visit.Place.choices)
    at = models.DateTimeField()
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["at", "pk"]


class Record(models.Model):
    """What is signed: open until a clinician signs it, then frozen by the database itself."""

    visit = models.OneToOneField(Visit, on_delete=models.PROTECT, related_name="record")
    opened_at = models.DateTimeField()
    urgency = models.CharField(max_length=1, blank=True, help_text="highest of today's findings: M R T E")
    no_weight_reason = models.CharField(max_length=200, blank=True)
    no_bcs_reason = models.CharField(max_length=200, blank=True)
    signed_at = models.DateTimeField(null=True, blank=True)
    signed_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    signed_name = models.CharField(max_length=200, blank=True, help_text="printed name and licence as signed")
    seal = models.CharField(max_length=64, blank=True, help_text="SHA-256 over the signed content")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(signed_at=None, signed_by=None)
                | (Q(signed_at__isnull=False, signed_by__isnull=False) & ~Q(signed_name="")),
                name="signed_by_somebody",
            )
        ]
        indexes = [models.Index(fields=["opened_at"], condition=Q(signed_at=None), name="record_unsigned")]

    @property
    def is_signed(self) -> bool:
        return self.signed_at is not None


class HistoryAnswer(models.Model):
    """What changed at home, by topic, in words where there are any."""

    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="history_answers")
    topic = models.CharField(max_length=30)
    answer = models.CharField(max_length=20, help_text="as before, more, less, changed, not known")
    words = models.TextField(blank=True)
    entered_by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    entered_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["record", "topic"], name="a_topic_once")]


class GivenAtHome(models.Model):
    """A medicine, supplement or preventive the owner says they give."""

    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="given_at_home")
    name = models.CharField(max_length=160)
    how_much = models.CharField(max_length=160, blank=True)
    last_given = models.CharField(max_length=80, blank=True)
    entered_by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    entered_at = models.DateTimeField()


class HeadsUp(models.Model):
    """Something a technician noticed, pinned to a station; a clinician answers it before signing."""

    class Answer(models.TextChoices):
        FOUND = "found", "found it, recorded"
        LOOKED = "looked", "looked, found nothing"
        NOT_TODAY = "not-today", "not today"
        ELSEWHERE = "elsewhere", "wrong patient, put on the right one"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="heads_ups")
    station = models.CharField(max_length=3)
    side = models.CharField(max_length=8, blank=True)
    words = models.TextField()
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    answer = models.CharField(max_length=10, choices=Answer.choices, blank=True)
    answer_reason = models.CharField(max_length=200, blank=True)
    answered_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    answered_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(answer="not-today") | ~Q(answer_reason=""), name="not_today_says_why"
            )
        ]


class PutRight(models.Model):
    """Something entered on the wrong patient: struck out of one record, entered on another; a row in each."""

    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="put_right")
    other = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="+")
    came = models.BooleanField(help_text="came here from the other record; False: belongs to the other one")
    where = models.CharField(max_length=160, help_text="line, measurement or station")
    words = models.TextField(help_text="what was said")
    seen_by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(record=models.F("other")), name="put_right_on_another")
        ]


class ChipScan(models.Model):
    """The scanner held over the animal at this visit, and what it read; said at once whose chip that is."""

    class Answer(models.TextChoices):
        MATCHES = "matches", "on record of this patient"
        OTHER = "other", "on record of another patient"
        NEW = "new", "on no record yet"
        NONE = "none", "no chip found"

    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="chip_scans")
    number = models.CharField(max_length=15, blank=True, help_text="text as read; empty: none found")
    answer = models.CharField(max_length=8, choices=Answer.choices, help_text="as it was at the scan")
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=(Q(answer="none") & Q(number="")) | (~Q(answer="none") & ~Q(number="")),
                name="a_chip_that_was_read_has_a_number",
            )
        ]


class Addendum(models.Model):
    """What is added after signing; the signed text stands beside it, unchanged."""

    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="addenda")
    text = models.TextField()
    corrects = models.CharField(max_length=120, blank=True, help_text="the line it corrects")
    for_owner = models.BooleanField(default=False, help_text="makes the letter's next version")
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    happened_at = models.DateTimeField()
    entered_at = models.DateTimeField()

    class Meta:
        ordering = ["entered_at", "pk"]


@pghistory.track()
class NextVisit(models.Model):
    """A promise to see the patient again; becomes an expected visit on its day."""

    class State(models.TextChoices):
        PLANNED = "planned", "planned"
        BECAME = "became", "became a visit"
        CANCELLED = "cancelled", "cancelled"

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="next_visits")
    record = models.ForeignKey(
        Record, null=True, blank=True, on_delete=models.PROTECT, related_name="next_visits"
    )
    on = models.DateField()
    at = models.TimeField(null=True, blank=True)
    week_of = models.BooleanField(default=False, help_text="any day of that week")
    kind = models.CharField(max_length=12, choices=Visit.Kind.choices)
    reason = models.CharField(max_length=200)
    problem = models.ForeignKey(
        "clinic.Problem", null=True, blank=True, on_delete=models.PROTECT, related_name="next_visits"
    )
    minutes = models.PositiveSmallIntegerField(default=20)
    state = models.CharField(max_length=10, choices=State.choices, default=State.PLANNED)
    became = models.OneToOneField(
        Visit, null=True, blank=True, on_delete=models.PROTECT, related_name="planned_as"
    )
    # RFC 5545, 3.8.4.7 and 3.8.7.4: the same in every calendar file; counts its changes
    uid = models.UUIDField(default=uuid.uuid4, db_default=RandomUUID(), editable=False, unique=True)
    sequence = models.PositiveIntegerField(default=0)
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["on", "at", "pk"]
        indexes = [models.Index(fields=["on"], condition=Q(state="planned"), name="next_visit_planned")]


class BookingChange(models.Model):
    """A next visit or a booking that was moved or called off: the day it had, why, by whom. Only added."""

    class What(models.TextChoices):
        MOVED = "moved", "moved"
        CANCELLED = "cancelled", "cancelled"

    next_visit = models.ForeignKey(
        NextVisit, null=True, blank=True, on_delete=models.PROTECT, related_name="booking_changes"
    )
    visit = models.ForeignKey(
        Visit, null=True, blank=True, on_delete=models.PROTECT, related_name="booking_changes"
    )
    what = models.CharField(max_length=10, choices=What.choices)
    was_on = models.DateField()
    was_at = models.TimeField(null=True, blank=True)
    now_on = models.DateField(null=True, blank=True)
    now_at = models.TimeField(null=True, blank=True)
    why = models.CharField(max_length=200)
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(next_visit=None, visit__isnull=False) | Q(next_visit__isnull=False, visit=None),
                name="a_change_is_of_one_booking",
            ),
            models.CheckConstraint(condition=~Q(why=""), name="a_change_of_booking_says_why"),
            models.CheckConstraint(
                condition=Q(what="cancelled", now_on=None) | Q(what="moved", now_on__isnull=False),
                name="moved_to_a_day",
            ),
        ]
