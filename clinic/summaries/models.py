"""Summaries of one patient for a colleague: frozen as they were made, and the one PDF of each."""

from django.db import models
from django.db.models import Q

from clinic.patients.models import Patient
from clinic.people.models import Staff
from clinic.promises.models import Contact


class Summary(models.Model):
    """What a clinician put together for a colleague elsewhere. Rows are only ever added.

    Either the owner's consent stands behind it, or the reason why it went without.
    """

    class Purpose(models.TextChoices):
        REFERRAL = "referral", "referral"
        CHANGE = "change", "change of clinic"
        OPINION = "opinion", "second opinion"
        EMERGENCY = "emergency", "emergency care elsewhere"

    class How(models.TextChoices):
        IN_PERSON = "in-person", "in person"
        TELEPHONE = "telephone", "by telephone"
        WRITING = "writing", "in writing"

    class Without(models.TextChoices):
        LAW = "law", "the law obliges us"
        LIFE = "life", "life is at stake"

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="summaries")
    purpose = models.CharField(max_length=10, choices=Purpose.choices)
    to_whom = models.CharField(max_length=200, help_text="a colleague, a practice")
    why = models.TextField(help_text="the reason, and what is asked of the colleague")
    consent = models.ForeignKey(Contact, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    consent_how = models.CharField(max_length=10, choices=How.choices, blank=True)
    without = models.CharField(max_length=4, choices=Without.choices, blank=True)
    without_why = models.TextField(blank=True)
    content = models.JSONField()
    content_sha256 = models.CharField(max_length=64)
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    signed_name = models.CharField(max_length=200, help_text="printed name and licence as signed")
    at = models.DateTimeField()

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["patient", "-at"])]
        constraints = [
            models.CheckConstraint(
                condition=(Q(consent__isnull=False, without="", without_why="") & ~Q(consent_how=""))
                | (Q(consent=None, consent_how="") & ~Q(without="") & ~Q(without_why="")),
                name="a_summary_has_consent_or_a_reason",
            ),
            models.CheckConstraint(
                condition=~Q(to_whom="") & ~Q(why=""), name="a_summary_says_for_whom_and_why"
            ),
        ]


class SummaryFile(models.Model):
    """The PDF's bytes, by their SHA-256: stored once, never rendered again."""

    summary = models.OneToOneField(Summary, on_delete=models.PROTECT, related_name="file")
    sha256 = models.CharField(max_length=64)
    size = models.PositiveIntegerField()
    pages = models.PositiveSmallIntegerField()
    rendered_at = models.DateTimeField()
