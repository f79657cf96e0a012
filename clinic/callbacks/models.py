"""One row for whatever somebody should come, or be called, for. Filled by its sources."""

from django.db import models

from clinic.patients.models import Patient


class CallBack(models.Model):
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="call_backs")
    source = models.CharField(max_length=20, help_text="which room filled it")
    key = models.CharField(max_length=80, help_text="the source's own key")
    label = models.CharField(max_length=160)
    due_on = models.DateField()
    latest_on = models.DateField(null=True, blank=True)
    refreshed_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["patient", "source", "key"], name="a_call_back_once")]
        indexes = [models.Index(fields=["due_on", "patient"])]
