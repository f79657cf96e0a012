"""The clinic's own protocol: what was asked for, and each edition that a clinician approved."""

from django.db import models
from django.db.models import Q

from clinic.people.models import Staff
from clinic.platform.models import DataVersion


class ProtocolProposal(models.Model):
    """One question of the protocol to be answered otherwise, or one value; a clinician approves it or not.

    A question: `setting` and `option`. A value: `path` into the protocol, and `value`; None takes back the
    clinic's own, so that the published one holds again.
    """

    class State(models.TextChoices):
        OPEN = "open", "waits for a clinician"
        APPROVED = "approved", "approved"
        DECLINED = "declined", "declined"
        WITHDRAWN = "withdrawn", "withdrawn"

    setting = models.CharField(max_length=60, blank=True)
    option = models.CharField(max_length=60, blank=True)
    path = models.CharField(max_length=200, blank=True)
    value = models.JSONField(null=True, blank=True)
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
                condition=(~Q(setting="") & ~Q(option="") & Q(path=""))
                | (Q(setting="", option="") & ~Q(path="")),
                name="a_question_or_a_value",
            ),
            models.CheckConstraint(
                condition=Q(state="open", decided_by=None, decided_at=None)
                | (~Q(state="open") & Q(decided_by__isnull=False, decided_at__isnull=False)),
                name="a_protocol_decision_has_its_person",
            ),
        ]


class ProtocolTrial(models.Model):
    """A proposal tried on every living animal: how far it is, and what came of it. Nothing else is written.

    It holds while both versions are those of today's protocol and of the proposed one.
    """

    proposal = models.ForeignKey(ProtocolProposal, on_delete=models.PROTECT, related_name="trials")
    before = models.CharField(max_length=64, help_text="SHA-256 of the protocol in force then")
    after = models.CharField(max_length=64, help_text="SHA-256 of the proposed one")
    on = models.DateField()
    of = models.PositiveIntegerField(help_text="animals when it began")
    tried = models.PositiveIntegerField(default=0)
    touched = models.PositiveIntegerField(default=0)
    last = models.BigIntegerField(default=0, help_text="key of the last animal that was tried")
    counts = models.JSONField(default=dict, help_text="items by how they change")
    rows = models.JSONField(default=dict, help_text="the first rows of each kind of change")
    began_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-began_at", "-pk"]


class ProtocolEdition(models.Model):
    """All answers of the clinic after one approval; the newest is in force. Only added."""

    number = models.PositiveIntegerField(unique=True)
    version = models.ForeignKey(
        DataVersion, to_field="sha256", db_column="version", on_delete=models.PROTECT, related_name="+"
    )
    settings = models.JSONField(help_text="option by question, for every question the clinic answered")
    values = models.JSONField(
        default=list, help_text="the clinic's own values: path, value, reason, by; a later one goes first"
    )
    words = models.TextField(help_text="what this edition changed")
    proposal = models.OneToOneField(ProtocolProposal, on_delete=models.PROTECT, related_name="edition")
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["-number"]
