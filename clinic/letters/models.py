"""Letters: a frozen snapshot of content, and the one PDF made from it."""

from django.db import models
from django.db.models import Q

from clinic.patients.models import Patient
from clinic.people.models import Owner, Staff
from clinic.visits.models import Record


class Correction(models.Model):
    """A sentence of the letter in the clinician's own words. The finding behind it stays as it is."""

    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="corrections")
    sentence = models.CharField(max_length=160, help_text="the sentence's key")
    first_wording = models.TextField()
    words = models.TextField()
    language = models.CharField(max_length=8, default="en", help_text="of the words")
    text = models.CharField(
        max_length=160, blank=True, help_text="room:key of the text it replaces; empty: it was none of ours"
    )
    form = models.PositiveSmallIntegerField(default=0, help_text="which plural form of it")
    offered = models.TextField(blank=True, help_text="the words as a text, placeholders in braces")
    not_offered = models.CharField(max_length=200, blank=True, help_text="why it cannot become a text")
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["record", "sentence"], name="a_sentence_corrected_once")
        ]


class Wording(models.Model):
    """A text of letters as this clinic words it, or an offer that it declined.

    Nothing is overwritten: a later one, or taking it back, ends the one before. Frozen letters keep theirs.
    """

    text = models.CharField(max_length=160, help_text="room:key")
    language = models.CharField(max_length=8)
    version = models.PositiveSmallIntegerField()
    offered = models.TextField(blank=True, help_text="the correction it came from")
    forms = models.JSONField(default=list, help_text="its plural forms, mostly one; none: declined")
    instead_of = models.JSONField(default=list, help_text="what stood before")
    reviewed = models.BooleanField(
        default=False, help_text="who adopted it reads this language: it needs no English beside it"
    )
    declined = models.BooleanField(default=False)
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    ended_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["text", "language"],
                condition=Q(ended_at=None, declined=False),
                name="one_wording_stands",
            ),
            models.UniqueConstraint(fields=["text", "language", "version"], name="a_wording_version_once"),
            models.CheckConstraint(
                condition=Q(declined=True, forms=[]) | (Q(declined=False) & ~Q(forms=[])),
                name="a_wording_says_something",
            ),
            models.CheckConstraint(
                condition=Q(ended_at=None, ended_by=None) | Q(ended_at__isnull=False, ended_by__isnull=False),
                name="a_wording_is_ended_by_somebody",
            ),
        ]


class Letter(models.Model):
    """One version of what the owner takes home. Append-only: the database refuses a change."""

    class Kind(models.TextChoices):
        VISIT = "visit", "visit"
        RESULT = "result", "result"
        CONDOLENCE = "condolence", "condolence"

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="letters")
    record = models.ForeignKey(
        Record,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="letters",
        help_text="none behind a condolence",
    )
    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, related_name="letters")
    kind = models.CharField(max_length=12, choices=Kind.choices, default=Kind.VISIT)
    number = models.PositiveSmallIntegerField(
        default=0, help_text="of the result letters of one record, from 1; the visit's letter has none"
    )
    version = models.PositiveSmallIntegerField(default=1)
    why_again = models.CharField(max_length=200, blank=True, help_text="for a corrected copy: what changed")
    language = models.CharField(max_length=8)
    large_print = models.BooleanField(default=False)
    content = models.JSONField()
    content_sha256 = models.CharField(max_length=64)
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["record", "kind", "number", "version"], name="a_letter_version_once"
            ),
            models.CheckConstraint(
                condition=Q(record__isnull=False) | Q(kind="condolence"), name="a_letter_has_its_record"
            ),
        ]
        indexes = [models.Index(fields=["patient", "-at"])]


class LetterFile(models.Model):
    """The PDF's bytes, by their SHA-256: stored once, never rendered again."""

    letter = models.OneToOneField(Letter, on_delete=models.PROTECT, related_name="file")
    sha256 = models.CharField(max_length=64)
    size = models.PositiveIntegerField()
    pages = models.PositiveSmallIntegerField()
    rendered_at = models.DateTimeField()


class LetterHanded(models.Model):
    """The owner has the letter on paper: somebody gave it to them. Rows are only ever added."""

    letter = models.OneToOneField(Letter, on_delete=models.PROTECT, related_name="handed")
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
