"""What was said aloud in an exam, what was heard in it, and the ways of saying that the clinic took over.

None of it is the record: what is confirmed is entered by the same taps as by hand. No history follows these
rows, so that what is forgotten is gone.
"""

import uuid

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from clinic.people.models import Staff
from clinic.visits.models import Record


class TalkLine(models.Model):
    """One line as the tablet's dictation wrote it. Forgotten at the signature, unless the clinic keeps words
    and the owner agreed; a clinician may delete it at any time."""

    id = models.UUIDField(primary_key=True, editable=False, help_text="the key of the operation that said it")
    exam = models.ForeignKey("exams.Exam", on_delete=models.PROTECT, related_name="talk")
    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="+")
    number = models.PositiveIntegerField(help_text="order of arrival within the exam")
    text = models.TextField()
    language = models.CharField(max_length=8, default="en")
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+", help_text="who spoke")
    entered_by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    made_at = models.CharField(max_length=40, help_text="the device's time with its offset, as sent")

    class Meta:
        ordering = ["exam", "number"]
        constraints = [
            models.UniqueConstraint(fields=["exam", "number"], name="what_is_said_has_an_order"),
            models.CheckConstraint(condition=~Q(text=""), name="a_line_of_talk_has_words"),
        ]


class HeardItem(models.Model):
    """One thing heard in what was said, until somebody confirms or discards it."""

    class Kind(models.TextChoices):
        LINE = "line", "an answer of one line"
        MEASUREMENT = "measurement", "a number"
        HEADS_UP = "heads-up", "a heads-up"
        PLAN = "plan", "a line of the plan"
        QUESTION = "question", "said twice, differently"

    class State(models.TextChoices):
        OPEN = "open", "open"
        CONFIRMED = "confirmed", "confirmed"
        DISCARDED = "discarded", "discarded"
        ANSWERED = "answered", "recorded by hand"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    exam = models.ForeignKey("exams.Exam", on_delete=models.PROTECT, related_name="heard")
    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=12, choices=Kind.choices)
    station = models.CharField(max_length=3, blank=True)
    said = models.JSONField(help_text="as exams.talk_items.Item has it")
    identity = models.CharField(max_length=64, help_text="SHA-256 of kind and what was said")
    spans = models.JSONField(default=list, help_text="[id of a line, start, end], the words it stands on")
    confidence = models.FloatField(default=0)
    reason = models.TextField(blank=True)
    state = models.CharField(max_length=10, choices=State.choices, default=State.OPEN)
    decided_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    decided_at = models.DateTimeField(null=True, blank=True)
    operation = models.UUIDField(null=True, blank=True, help_text="the tap that entered it")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["exam", "identity"], condition=Q(state="open"), name="a_thing_heard_is_asked_once"
            ),
            models.CheckConstraint(
                condition=Q(state__in=("open", "answered"), decided_by=None)
                | Q(state__in=("confirmed", "discarded"), decided_by__isnull=False, decided_at__isnull=False),
                name="a_thing_heard_is_decided_by_somebody",
            ),
            models.CheckConstraint(
                condition=~Q(state="confirmed") | Q(operation__isnull=False),
                name="a_thing_heard_is_confirmed_by_a_tap",
            ),
        ]


class SpokenForm(models.Model):
    """A way of saying something: a candidate from a correction, or accepted by hand and listened for."""

    class Kind(models.TextChoices):
        FINDING = "finding", "a finding"
        NORMAL = "normal", "normal"
        STRUCTURE = "structure", "the name of a structure"
        MISHEARING = "mishearing", "misheard words"

    class State(models.TextChoices):
        CANDIDATE = "candidate", "waits"
        ACCEPTED = "accepted", "listened for"
        DECLINED = "declined", "not taken"
        WITHDRAWN = "withdrawn", "withdrawn"

    kind = models.CharField(max_length=10, choices=Kind.choices)
    words = models.CharField(max_length=200, help_text="as dictation writes them")
    means = models.CharField(max_length=200, help_text="a code of the walk, or the words that were meant")
    language = models.CharField(max_length=8, default="en")
    heard_as = models.CharField(max_length=400, blank=True, help_text="what had been proposed")
    recorded_as = models.CharField(max_length=400, blank=True, help_text="what the clinician recorded")
    state = models.CharField(max_length=10, choices=State.choices, default=State.CANDIDATE)
    noted_at = models.DateTimeField()
    decided_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    decided_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-noted_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                "language", "kind", Lower("words"), "means", name="a_spoken_form_stands_once"
            ),
            models.CheckConstraint(
                condition=Q(state="candidate", decided_by=None, decided_at=None)
                | (~Q(state="candidate") & Q(decided_by__isnull=False, decided_at__isnull=False)),
                name="a_spoken_form_is_decided_by_somebody",
            ),
            models.CheckConstraint(
                condition=~Q(words="") & ~Q(means=""), name="a_spoken_form_says_something"
            ),
        ]


class TalkChoice(models.Model):
    """Whether the clinic keeps what was said after the signature; the newest row holds, none: it does not."""

    keeps = models.BooleanField()
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["-at", "-pk"]


class TalkRecording(models.Model):
    """Sound on its way to becoming lines; deleted once it was listened to, whatever came of it."""

    class State(models.TextChoices):
        WAITING = "waiting", "waits"
        DONE = "done", "done"
        FAILED = "failed", "failed"

    id = models.UUIDField(
        primary_key=True, editable=False, help_text="made on the tablet: sent twice, kept once"
    )
    exam = models.ForeignKey("exams.Exam", on_delete=models.PROTECT, related_name="+")
    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="+")
    language = models.CharField(max_length=8, default="en")
    file = models.CharField(max_length=80, blank=True, help_text="its name in the folder; empty: deleted")
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    received_at = models.DateTimeField()
    state = models.CharField(max_length=8, choices=State.choices, default=State.WAITING)
    why = models.CharField(max_length=300, blank=True, help_text="what went wrong, in a sentence")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(state="waiting") | Q(file=""), name="sound_is_deleted_once_listened_to"
            )
        ]
