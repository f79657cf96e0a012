"""One exam of one record: its log of operations, what stands on each line, and lumps followed over time."""

import uuid

from django.db import models
from django.db.models import Q

from clinic.patients.models import Patient
from clinic.people.models import Staff
from clinic.platform.models import DataVersion
from clinic.visits.models import Record


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
    awake = models.CharField(max_length=12, blank=True, help_text="awake, sedated, anaesthetised")
    notes = models.JSONField(default=dict, blank=True, help_text="target to text")
    versions = models.JSONField(default=dict, blank=True, help_text="target to its last operation's key")
    revision = models.PositiveIntegerField(default=0, help_text="grows with every batch that changed it")
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
    value = models.CharField(max_length=60, blank=True)
    unit = models.CharField(max_length=12, blank=True)
    flag = models.CharField(max_length=8, blank=True)
    person = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    role = models.CharField(max_length=12)
    observed_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    confirmed_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    made_at = models.CharField(max_length=40)
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


class Lump(models.Model):
    """One mass, numbered for life, at its place on the body."""

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="lumps")
    number = models.PositiveSmallIntegerField()
    drawing = models.CharField(max_length=20, help_text="which of our drawings: dog-left, cat-below")
    x = models.FloatField(help_text="on the drawing, its own units")
    y = models.FloatField()
    region = models.CharField(max_length=60)
    side = models.CharField(max_length=8, blank=True)
    depth = models.CharField(max_length=30, blank=True)
    first_seen = models.DateField()
    gone_on = models.DateField(null=True, blank=True)
    gone_how = models.CharField(max_length=120, blank=True)
    merged_into = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="merged"
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
    """A lump at one exam: up to three axes in mm, longest first, and how it looked and felt."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    lump = models.ForeignKey(Lump, on_delete=models.PROTECT, related_name="measures")
    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="lump_measures")
    length_mm = models.FloatField()
    width_mm = models.FloatField(null=True, blank=True)
    height_mm = models.FloatField(null=True, blank=True)
    method = models.CharField(max_length=30, default="caliper")
    description = models.JSONField(default=dict, blank=True, help_text="surface, firmness, mobility, note")
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["lump", "at"]
        constraints = [
            models.UniqueConstraint(fields=["lump", "record"], name="a_lump_is_measured_once_an_exam"),
            models.CheckConstraint(condition=Q(length_mm__gt=0), name="a_lump_has_a_length"),
        ]
