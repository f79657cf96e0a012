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


class DueMoved(models.Model):
    """That an item's date was another one before; only added, so that an earlier answer can be looked up.

    `code`: the item's group. `now_on` None: no date is due any more.
    """

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="dues_moved")
    code = models.CharField(max_length=60)
    was_on = models.DateField()
    now_on = models.DateField(null=True)
    protocol = models.CharField(max_length=64, help_text="the SHA-256 of the one it was reckoned by anew")
    at = models.DateTimeField()

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["patient", "code"])]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(now_on=None) | ~models.Q(now_on=models.F("was_on")),
                name="a_due_that_moved",
            )
        ]
