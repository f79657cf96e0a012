"""The paper by which a dose given elsewhere is known: a picture or a PDF, kept as it was made safe."""

from django.db import models

from clinic.patients.models import Patient
from clinic.people.models import Staff


class Proof(models.Model):
    """One file, by its SHA-256; only added. `media_type`: image/jpeg or application/pdf."""

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="proofs")
    sha256 = models.CharField(max_length=64)
    media_type = models.CharField(max_length=40)
    size = models.PositiveIntegerField()
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["patient", "sha256"], name="a_proof_once_a_patient")]
