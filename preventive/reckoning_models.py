"""When a patient's dues were reckoned, by which protocol, and until when that holds."""

from django.db import models

from clinic.patients.models import Patient


class Reckoning(models.Model):
    """Beside the call-backs that were written from it; both can be thrown away and made anew."""

    patient = models.OneToOneField(
        Patient, primary_key=True, on_delete=models.CASCADE, related_name="dues_reckoned"
    )
    protocol = models.CharField(max_length=64, help_text="its SHA-256")
    on = models.DateField()
    holds_until = models.DateField(null=True, help_text="the first day on which it no longer holds")
    at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["holds_until"])]
