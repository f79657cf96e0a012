"""One exam of one record: its log of operations, what stands on each line, and lumps followed over time."""

import uuid

from django.contrib.postgres.functions import RandomUUID
from django.db import models
from django.db.models import Q

from clinic.care.models import Test
from clinic.patients.models import Patient
from clinic.people.models import Staff
from clinic.platform.models import DataVersion
from clinic.visits.models import Record, Visit
from exams.own_models import WalkEdition as WalkEdition
from exams.own_models import WalkProposal as WalkProposal
from exams.talk_models import HeardItem as HeardItem
from exams.talk_models import SpokenForm as SpokenForm
from exams.talk_models import TalkChoice as TalkChoice
from exams.talk_models import TalkLine as TalkLine
from exams.talk_models import TalkRecording as TalkRecording


class Exam(models.Model):
    """What is said of the exam as a whole; it keeps the walk and the animal it was begun with."""

    class Kind(models.TextChoices):
        FULL = "full", "full walk"
        FOCUSED = "focused", "focused"
        EMERGENCY = "emergency", "emergency"

    record = models.OneToOneField(Record, on_delete=models.PROTECT, related_name="exam")
    walk = models.ForeignKey(
        DataVersion, to_field="sha256", db_column="walk", on_delete=models.PROTECT, related_name="+"
    )
    animal = models.JSONField(help_text="species, sex, neutered, age_days, absences: what decides the lines")
    kind = models.CharField(max_length=10, choices=Kind.choices, default=Kind.FULL)
    kind_reason = models.CharField(max_length=200, blank=True)
    stations = models.JSONField(default=list, blank=True, help_text="codes of a focused exam")
    awake = models.CharField(max_length=13, blank=True, help_text="awake, sedated, anaesthetised")
    awake_log = models.JSONField(default=list, blank=True, help_text="since when, and with what")
    notes = models.JSONField(default=dict, blank=True, help_text="target to text")
    versions = models.JSONField(default=dict, blank=True, help_text="target to its last operation's key")
    lumps = models.JSONField(default=dict, blank=True, help_text="a lump's id to what this exam says of it")
    revision = models.PositiveIntegerField(default=0, help_text="grows with every batch that changed it")
    photo_changes = models.PositiveIntegerField(
        default=0, help_text="grows with every change of its photographs"
    )
    talk_changes = models.PositiveIntegerField(
        default=0, help_text="grows with every change of what was said and heard"
    )
    talk_agreed = models.JSONField(
        default=dict,
        blank=True,
        help_text="that the owner agrees to keeping the words: who noted it, and when",
    )
    begun_by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    begun_at = models.DateTimeField()


class Operation(models.Model):
    """One tap as it was sent, and the answer it got; the log is the history of the findings."""

    key = models.UUIDField(primary_key=True)
    exam = models.ForeignKey(Exam, on_delete=models.PROTECT, related_name="operations")
    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="+")
    number = models.PositiveIntegerField(help_text="order of the answers within the exam")
    target = models.CharField(max_length=80)
    what = models.CharField(max_length=30)
    payload = models.JSONField(default=dict, blank=True)
    person = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    grant = models.UUIDField(null=True, blank=True, help_text="None: work without a page")
    role = models.CharField(max_length=12)
    observed_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    made_at = models.CharField(max_length=40, help_text="the device's time with its offset, as sent")
    received_at = models.DateTimeField()
    walk_version = models.CharField(max_length=64)
    follows = models.CharField(max_length=400, blank=True)
    outcome = models.JSONField()
    undo = models.JSONField(default=dict, blank=True, help_text="what stood before, to take it back")

    class Meta:
        ordering = ["exam", "number"]
        constraints = [models.UniqueConstraint(fields=["exam", "number"], name="operations_have_an_order")]


class Finding(models.Model):
    """What stands on one line of one exam. No row: not looked at yet."""

    class Status(models.TextChoices):
        NORMAL = "normal", "normal"
        ABNORMAL = "abnormal", "abnormal"
        NOT_EXAMINED = "not-examined", "not examined"
        MEASURED = "measured", "measured"

    exam = models.ForeignKey(Exam, on_delete=models.PROTECT, related_name="findings")
    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="+")
    line = models.CharField(max_length=60, help_text="structure|side, as the walk names it")
    station = models.CharField(max_length=3)
    structure = models.CharField(max_length=50)
    side = models.CharField(max_length=12)
    status = models.CharField(max_length=12, choices=Status.choices)
    findings = models.JSONField(default=list, blank=True, help_text="codes with severity, grade, qualifiers")
    in_part = models.BooleanField(default=False)
    reason = models.CharField(max_length=30, blank=True)
    reason_words = models.TextField(blank=True)
    together = models.BooleanField(default=False, help_text="marked with others in one tap")
    spoken = models.BooleanField(default=False, help_text="confirmed from what was said aloud")
    value = models.CharField(max_length=60, blank=True)
    unit = models.CharField(max_length=12, blank=True)
    flag = models.CharField(max_length=8, blank=True)
    person = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    role = models.CharField(max_length=12)
    observed_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    confirmed_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    made_at = models.CharField(max_length=40)
    made_in = models.CharField(max_length=13, blank=True, help_text="awake, sedated, anaesthetised")
    charted = models.JSONField(default=dict, blank=True, help_text="of a tooth, see exams.tooth_chart")
    operation = models.UUIDField(null=True, blank=True, help_text="None: a measurement, kept at signing")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["exam", "line"], name="a_line_is_answered_once"),
            models.CheckConstraint(
                condition=~Q(in_part=True, status="not-examined") | Q(structure__endswith=".*"),
                name="in_part_is_a_look",
            ),
        ]
        indexes = [
            models.Index(fields=["structure"], condition=Q(status="abnormal"), name="finding_abnormal")
        ]


class Presence(models.Model):
    """Who has which station of an exam open, until a moment ago. No part of any record; rows are swept."""

    visit = models.ForeignKey(Visit, on_delete=models.CASCADE, related_name="+")
    grant = models.UUIDField(help_text="the tablet's person: one place at a time in each exam")
    staff = models.ForeignKey(Staff, on_delete=models.CASCADE, related_name="+")
    station = models.CharField(max_length=3, blank=True)
    seen_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["visit", "grant"], name="a_tablet_is_at_one_station")]
        indexes = [models.Index(fields=["seen_at"])]


class Lump(models.Model):
    """One mass, numbered for life, at its place on the body.

    It is free: exams move, merge and end it. What a signed exam said of it stands in that exam.
    """

    key = models.UUIDField(
        unique=True, editable=False, db_default=RandomUUID(), help_text="made on the tablet that placed it"
    )
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="lumps")
    number = models.PositiveSmallIntegerField()
    drawing = models.CharField(max_length=20, help_text="which of our drawings: dog-left, cat-below")
    x = models.FloatField(help_text="part of the drawing's width, 0 to 1")
    y = models.FloatField(help_text="part of its height, 0 to 1, downwards")
    region = models.CharField(max_length=60)
    side = models.CharField(max_length=8, blank=True)
    detail = models.CharField(max_length=40, blank=True, help_text="finer than the region: toe 2, anal sac")
    depth = models.CharField(max_length=30, blank=True)
    first_seen = models.DateField()
    first_seen_words = models.CharField(max_length=120, blank=True, help_text="about, and who saw it")
    gone_on = models.DateField(null=True, blank=True)
    gone_how = models.CharField(max_length=120, blank=True)
    merged_into = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="merged"
    )
    withdrawn = models.BooleanField(
        default=False, help_text="placed by mistake and taken back; its number is not given again"
    )
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["patient", "number"]
        constraints = [
            models.UniqueConstraint(fields=["patient", "number"], name="a_lump_keeps_its_number"),
            models.CheckConstraint(condition=Q(number__gte=1), name="lumps_count_from_one"),
        ]


class LumpMeasure(models.Model):
    """What one exam says of one lump: its size (up to three axes in mm, longest first) and how it looked and
    felt; or that it is gone, grew together with another, or was not looked at and why."""

    class Said(models.TextChoices):
        MEASURED = "measured", "measured"
        GONE = "gone", "gone"
        MERGED = "merged", "grown together"
        NOT_LOOKED = "not-looked", "not looked at"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    lump = models.ForeignKey(Lump, on_delete=models.PROTECT, related_name="measures")
    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="lump_measures")
    said = models.CharField(max_length=10, choices=Said.choices, default=Said.MEASURED)
    length_mm = models.FloatField(null=True, blank=True)
    width_mm = models.FloatField(null=True, blank=True)
    height_mm = models.FloatField(null=True, blank=True)
    method = models.CharField(max_length=30, blank=True, help_text="caliper, ruler or estimate")
    description = models.JSONField(default=dict, blank=True, help_text="shape, surface, mobility, ...")
    words = models.CharField(max_length=300, blank=True, help_text="how it went, or why it was not looked at")
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["lump", "at"]
        constraints = [
            models.UniqueConstraint(fields=["lump", "record"], name="a_lump_is_measured_once_an_exam"),
            models.CheckConstraint(
                condition=Q(said="measured", length_mm__gt=0) | (~Q(said="measured") & Q(length_mm=None)),
                name="a_measured_lump_has_a_length",
            ),
        ]


class LumpSample(models.Model):
    """A sample taken of a lump at one visit: by which method, by whom. It freezes with its record."""

    class Method(models.TextChoices):
        NEEDLE = "needle", "needle sample"
        BIOPSY = "biopsy", "biopsy"
        REMOVED = "removed", "the whole lump, removed"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    lump = models.ForeignKey(Lump, on_delete=models.PROTECT, related_name="samples")
    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="lump_samples")
    method = models.CharField(max_length=10, choices=Method.choices)
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["lump", "at"]
        constraints = [
            models.UniqueConstraint(fields=["lump", "record"], name="a_lump_is_sampled_once_an_exam")
        ]


class LumpResult(models.Model):
    """What a sample of a lump showed; struck out, never erased. `test`: it was reported by that one."""

    sample = models.ForeignKey(LumpSample, on_delete=models.PROTECT, related_name="results")
    test = models.ForeignKey(Test, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    words = models.TextField(help_text="as reported")
    entered_by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    entered_at = models.DateTimeField()
    struck_at = models.DateTimeField(null=True, blank=True)
    struck_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    struck_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["entered_at", "pk"]


class ExamPhoto(models.Model):
    """A photograph of one line, tooth or lump at one exam. It is struck out with a reason, never erased."""

    id = models.UUIDField(
        primary_key=True, editable=False, help_text="made on the tablet: sent twice, kept once"
    )
    exam = models.ForeignKey(Exam, on_delete=models.PROTECT, related_name="photos")
    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="+")
    target = models.CharField(max_length=80, help_text="structure|side as the walk names it, or lump:key")
    note = models.CharField(max_length=200, blank=True)
    in_letter = models.BooleanField(default=False)
    sha256 = models.CharField(max_length=64, help_text="of the JPEG that is kept, and its file's name")
    small_sha256 = models.CharField(max_length=64)
    sent_sha256 = models.CharField(max_length=64, help_text="of the bytes as they came")
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    taken_at = models.CharField(max_length=40, help_text="the device's time with its offset, as sent")
    received_at = models.DateTimeField()
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    role = models.CharField(max_length=12)
    grant = models.UUIDField(null=True, blank=True, help_text="None: work without a page")
    observed_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    struck_at = models.DateTimeField(null=True, blank=True)
    struck_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    struck_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["received_at", "id"]
        constraints = [
            models.CheckConstraint(condition=Q(width__gt=0, height__gt=0), name="a_photo_has_a_size"),
            models.CheckConstraint(
                condition=Q(struck_at=None, struck_by=None, struck_reason="")
                | (Q(struck_at__isnull=False, struck_by__isnull=False) & ~Q(struck_reason="")),
                name="a_struck_photo_says_who_and_why",
            ),
        ]
