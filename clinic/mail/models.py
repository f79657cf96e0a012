"""E-mail is a row first: waiting, sending, sent; or held, failed, or unknown."""

import uuid

from django.db import models
from django.db.models import Q

from clinic.letters.models import Letter
from clinic.patients.models import Patient
from clinic.people.models import Owner, Staff
from clinic.promises.models import Contact
from clinic.visits.models import BookingChange


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
        CONDOLENCE = "condolence", "condolence"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    purpose = models.CharField(max_length=10, choices=Purpose.choices)
    owner = models.ForeignKey(Owner, null=True, blank=True, on_delete=models.PROTECT, related_name="messages")
    letter = models.ForeignKey(
        Letter, null=True, blank=True, on_delete=models.PROTECT, related_name="messages"
    )
    booking_change = models.ForeignKey(
        BookingChange, null=True, blank=True, on_delete=models.PROTECT, related_name="messages"
    )
    animals = models.ManyToManyField(
        Patient,
        blank=True,
        related_name="+",
        help_text="whom it speaks of, where it carries no letter and tells no changed booking",
    )
    calendar = models.TextField(blank=True, help_text="the calendar file that goes with it, as it was queued")
    to_whom = models.CharField(max_length=200, blank=True, help_text="a colleague elsewhere")
    consent = models.ForeignKey(
        Contact,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="+",
        help_text="of the owner, to whoever is no owner",
    )
    to_address = models.EmailField()
    language = models.CharField(
        max_length=8, blank=True, help_text="of its words; empty: its letter's, or its owner's"
    )
    subject = models.CharField(max_length=200)
    body = models.TextField()
    html = models.TextField(blank=True, help_text="the same text as a page, where it has one")
    headers = models.JSONField(default=dict, blank=True, help_text="what its kind of mail carries besides")
    state = models.CharField(max_length=10, choices=State.choices, default=State.WAITING)
    state_since = models.DateTimeField()
    state_why = models.CharField(max_length=300, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    next_try_at = models.DateTimeField(null=True, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    released_by = models.ForeignKey(
        Staff,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="+",
        help_text="the clinician who let it leave though the patient has died",
    )
    released_at = models.DateTimeField(null=True, blank=True)
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
        constraints = [
            models.CheckConstraint(
                condition=Q(released_by=None, released_at=None)
                | Q(released_by__isnull=False, released_at__isnull=False),
                name="a_message_is_let_go_by_somebody",
            ),
            models.CheckConstraint(
                condition=~Q(purpose="condolence") | Q(letter__isnull=False, made_by__isnull=False),
                name="a_condolence_has_its_letter_and_its_clinician",
            ),
            models.CheckConstraint(
                condition=Q(to_whom="", consent=None)
                | (~Q(to_whom="") & Q(owner=None, consent__isnull=False, letter__isnull=False)),
                name="a_colleague_is_written_to_with_consent",
            ),
            models.CheckConstraint(
                condition=Q(letter=None) | Q(owner__isnull=False) | Q(consent__isnull=False),
                name="a_letter_goes_to_an_owner_or_with_consent",
            ),
        ]

    @property
    def about(self) -> Patient | None:
        """Whom its letter or its changed booking speaks of; None for a mail to staff, or about `animals`."""
        if self.letter:
            return self.letter.patient
        booking = self.booking_change and (self.booking_change.next_visit or self.booking_change.visit)
        return booking.patient if booking else None


def about_patient(patient_id: int) -> Q:
    """Messages that speak of this patient: its letters, its changed bookings, what names it among others."""
    return (
        Q(letter__patient=patient_id)
        | Q(booking_change__next_visit__patient=patient_id)
        | Q(booking_change__visit__patient=patient_id)
        | Q(animals=patient_id)
    )


class MessageStep(models.Model):
    """Each change of a message's state, with what the other side said."""

    message = models.ForeignKey(Message, on_delete=models.PROTECT, related_name="steps")
    state = models.CharField(max_length=10, choices=Message.State.choices)
    why = models.CharField(max_length=300, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["at", "pk"]
