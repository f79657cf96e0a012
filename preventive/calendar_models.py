"""Which dues an owner has in a calendar file, so that the next file changes the same entries."""

from uuid import uuid4

from django.db import models

from clinic.patients.models import Patient


class CalendarItem(models.Model):
    """One due as it was last written into a file; changed with the next file alone (RFC 5545, 3.8.7.4)."""

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="calendar_items")
    key = models.CharField(max_length=80, help_text="of its call-back")
    uid = models.UUIDField(default=uuid4, unique=True)
    sequence = models.PositiveIntegerField(default=0)
    label = models.CharField(max_length=160)
    on = models.DateField()
    cancelled = models.BooleanField(default=False)
    changed_at = models.DateTimeField()

    class Meta:
        ordering = ["on", "pk"]
        constraints = [models.UniqueConstraint(fields=["patient", "key"], name="a_due_once_in_a_calendar")]
