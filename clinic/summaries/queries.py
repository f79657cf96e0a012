"""Summaries loaded with authorisation, and those of one patient."""

from django.db.models import Exists, OuterRef
from django.shortcuts import get_object_or_404

from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.summaries.models import Summary, SummaryFile


def access_summary(summary_id: int, *, actor: Actor) -> Summary:
    """One with its patient, its consent and its file."""
    actor.require(Right.SEE)
    rows = Summary.objects.select_related("patient", "consent__by", "file", "by")
    return get_object_or_404(rows, pk=summary_id)


def access_patient(patient_id: int, *, actor: Actor) -> Patient:
    """Whose summary a clinician makes."""
    actor.require(Right.SIGN)
    return get_object_or_404(Patient, pk=patient_id, merged_into=None)


def summaries_of(patient: Patient) -> list[Summary]:
    """The newest first, each with whether its PDF is there. One query."""
    has_file = Exists(SummaryFile.objects.filter(summary=OuterRef("pk")))
    return list(Summary.objects.filter(patient=patient).select_related("by").annotate(has_file=has_file))
