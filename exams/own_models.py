"""The clinic's own walk: what was asked for, and each edition that a clinician let in."""

from django.db import models
from django.db.models import Q

from clinic.people.models import Staff
from clinic.platform.models import DataVersion


class WalkProposal(models.Model):
    """One change to the walk that somebody asks for; a clinician approves it or not."""

    class State(models.TextChoices):
        OPEN = "open", "waits for a clinician"
        APPROVED = "approved", "approved"
        DECLINED = "declined", "declined"
        WITHDRAWN = "withdrawn", "withdrawn"

    change = models.JSONField(help_text="as exams.own_walk.with_change takes it")
    why = models.TextField()
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    state = models.CharField(max_length=10, choices=State.choices, default=State.OPEN)
    decided_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    decided_at = models.DateTimeField(null=True, blank=True)
    decided_why = models.TextField(blank=True)

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(state="open", decided_by=None, decided_at=None)
                | (~Q(state="open") & Q(decided_by__isnull=False, decided_at__isnull=False)),
                name="a_decision_has_its_person",
            )
        ]


class WalkEdition(models.Model):
    """Everything the clinic changed, from one approval to the next; the newest holds for new exams."""

    number = models.PositiveIntegerField(unique=True)
    version = models.ForeignKey(
        DataVersion, to_field="sha256", db_column="version", on_delete=models.PROTECT, related_name="+"
    )
    changes = models.JSONField(help_text="as exams.own_walk.changes_from_json reads it")
    words = models.TextField(help_text="what this edition changed")
    proposal = models.OneToOneField(WalkProposal, on_delete=models.PROTECT, related_name="edition")
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["-number"]
