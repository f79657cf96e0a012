"""Questions about a death. `access_*` load and authorise."""

from datetime import date

from django.http import Http404
from django.shortcuts import get_object_or_404

from clinic.death.endings import Ended
from clinic.death.models import BodyDecision, Death
from clinic.letters.models import Letter
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.models import Staff
from clinic.people.rights import Right, Role
from clinic.platform.registries import endings


def access_patient(patient_id: int, *, actor: Actor, right: Right = Right.SEE) -> Patient:
    actor.require(right)
    return get_object_or_404(Patient, pk=patient_id)


def death_of(patient: Patient) -> Death | None:
    """The one that stands, with whom it names."""
    return (
        Death.objects.filter(patient=patient, struck_at=None)
        .select_related("certified_by", "consent_taken_by", "consent_second", "weight", "by", "patient")
        .first()
    )


def access_death(patient_id: int, *, actor: Actor, right: Right) -> Death:
    """The death that stands. 404 where none does."""
    found = death_of(access_patient(patient_id, actor=actor, right=right))
    if found is None:
        raise Http404
    return found


def taken_back(patient: Patient) -> list[Death]:
    """What was entered wrongly, the newest first."""
    rows = Death.objects.filter(patient=patient, struck_at__isnull=False)
    return list(rows.select_related("struck_by", "by").order_by("-struck_at"))


def body_decisions(death: Death) -> list[BodyDecision]:
    """The newest first."""
    return list(death.body_decisions.select_related("by").order_by("-at", "-pk"))


def will_end(patient: Patient, *, today: date) -> tuple[Ended, ...]:
    """What stands now and ends with the death."""
    told = [(each.title, each.standing(patient, today=today)) for each in endings]
    return tuple(Ended(title, tuple(lines)) for title, lines in told if lines)


def condolences(patient: Patient) -> list[Letter]:
    """What was written before, the newest first."""
    rows = Letter.objects.filter(patient=patient, kind=Letter.Kind.CONDOLENCE).select_related("by", "owner")
    return list(rows.order_by("-at", "-pk"))


def staff_at_work() -> list[Staff]:
    return list(Staff.objects.filter(is_active=True).order_by("full_name", "pk"))


def clinicians(staff: list[Staff]) -> list[Staff]:
    return [each for each in staff if Role.CLINICIAN in each.roles]
