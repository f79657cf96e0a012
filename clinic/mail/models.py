"""E-mail is a row first: waiting, sending, sent; or held, failed, or unknown."""

import uuid

from django.db import models
from django.db.models import Q

from clinic.letters.models import Letter
from clinic.people.models import Owner, Staff


class Message(models.Model):
    """One e-mail that must leave."""

    class State(models.TextChoices):
        WAITING = "waiting", "waiting"
        SENDING = "sending", "sending"
        SENT = "sent", "sent"
        HELD = "held", "held"
        FAILED = "failed", "failed"
        UNKNOWN = "unknown", "unknown"
        CANCELLED = "cancelled", "cancelled"

    class Purpose(models.TextChoices):
        MEDICAL = "medical", "medical"
        SERVICE = "service", "service"
        MARKETING = "marketing", "marketing"
        STAFF = "staff", "staff"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    purpose = models.CharField(max_length=10, choices=Purpose.choices)
    owner = models.ForeignKey(Owner, null=True, blank=True, on_delete=models.PROTECT, related_name="messages")
    letter = models.ForeignKey(
        Letter, null=True, blank=True, on_delete=models.PROTECT, related_name="messages"
    )
    to_address = models.EmailField()
    subject = models.CharField(max_length=200)
    body = models.TextField()
    state = models.CharField(max_length=10, choices=State.choices, default=State.WAITING)
    state_since = models.DateTimeField()
    state_why = models.CharField(max_length=300, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    next_try_at = models.DateTimeField(null=True, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    once = models.CharField(max_length=160, unique=True, help_text="what makes this message exist only once")
    made_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()

    class Meta:
        indexes = [
            models.Index(fields=["-made_at"]),
            models.Index(
                fields=["state_since"], condition=Q(state__in=["waiting", "sending"]), name="message_to_go"
            ),
        ]


class MessageStep(models.Model):
    """Each change of a message's state, with what the other side said."""

    message = models.ForeignKey(Message, on_delete=models.PROTECT, related_name="steps")
    state = models.CharField(max_length=10, choices=Message.State.choices)
    why = models.CharField(max_length=300, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["at", "pk"]
