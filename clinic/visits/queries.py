"""Loading with authorisation: one `access_*` for each thing of a visit. Raise Http404 for what is unknown."""

from dataclasses import dataclass
from uuid import UUID

from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone

from clinic.care.models import Problem
from clinic.letters.models import Letter
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.models import Staff
from clinic.people.rights import Right, Role
from clinic.visits.models import GivenAtHome, HeadsUp, NextVisit, Record, Visit

VISIT_PARTS = (
    "patient",
    "record",
    "arrival__owner",
    "technician",
    "clinician",
    "see_now_by",
    "see_now_taken_by",
)


def access_visit(visit_id: int, *, actor: Actor, right: Right = Right.SEE) -> Visit:
    """A visit with patient, record, arrival and people loaded."""
    actor.require(right)
    return get_object_or_404(Visit.objects.select_related(*VISIT_PARTS), pk=visit_id)


def access_visit_here(visit_id: int, *, actor: Actor, right: Right = Right.SEE) -> Visit:
    """A visit that has arrived, so that it has a record."""
    actor.require(right)
    return get_object_or_404(
        Visit.objects.select_related(*VISIT_PARTS).filter(record__isnull=False), pk=visit_id
    )


def access_record(visit_id: int, *, actor: Actor, right: Right = Right.SEE) -> Record:
    """The record of a visit, with visit and patient loaded."""
    actor.require(right)
    return get_object_or_404(
        Record.objects.select_related("visit__patient", "visit__clinician", "signed_by"), visit_id=visit_id
    )


def access_heads_up(heads_up_id: UUID, *, visit_id: int, actor: Actor, right: Right = Right.SEE) -> HeadsUp:
    actor.require(right)
    return get_object_or_404(
        HeadsUp.objects.select_related("record__visit", "by"), pk=heads_up_id, record__visit_id=visit_id
    )


def access_given(
    given_id: int, *, visit_id: int, actor: Actor, right: Right = Right.TAKE_HISTORY
) -> GivenAtHome:
    actor.require(right)
    return get_object_or_404(
        GivenAtHome.objects.select_related("record"), pk=given_id, record__visit_id=visit_id
    )


def access_next_visit(next_visit_id: int, *, actor: Actor, right: Right = Right.BOOK) -> NextVisit:
    actor.require(right)
    return get_object_or_404(NextVisit.objects.select_related("patient", "record"), pk=next_visit_id)


def access_booking(visit_id: int, *, actor: Actor) -> Visit:
    """A visit that was booked for a day, whatever became of it."""
    actor.require(Right.BOOK)
    return get_object_or_404(
        Visit.objects.select_related("patient").filter(expected_at__isnull=False), pk=visit_id
    )


def planned_at(visit: Visit) -> Record | None:
    """The record at which this visit was planned; None where it was booked."""
    return Record.objects.filter(next_visits__became=visit).first()


def access_clinician(staff_id: int, *, actor: Actor, right: Right = Right.MOVE_VISIT) -> Staff:
    """A clinician who works here."""
    actor.require(right)
    return get_object_or_404(Staff, pk=staff_id, is_active=True, roles__contains=[Role.CLINICIAN.value])


def access_patient(patient_id: int, *, actor: Actor, right: Right = Right.SEE) -> Patient:
    actor.require(right)
    return get_object_or_404(Patient, pk=patient_id, merged_into=None)


def open_problems(patient: Patient) -> list[Problem]:
    return list(Problem.objects.filter(patient=patient, closed_at=None))


@dataclass(frozen=True)
class Planned:
    id: int
    when: str
    what: str


def planned_visits(patient: Patient) -> tuple[Planned, ...]:
    """Plans that have not become visits, nearest first."""
    plans = NextVisit.objects.filter(patient=patient, state=NextVisit.State.PLANNED).select_related("by")
    return tuple(
        Planned(
            id=plan.pk,
            when=_day_of(plan),
            what=f"{plan.get_kind_display()}: {plan.reason}. {plan.by.full_name}",
        )
        for plan in plans
    )


def _day_of(plan: NextVisit) -> str:
    day = f"{plan.on:%A} {plan.on.day} {plan.on:%B %Y}"
    return f"in the week of {day}" if plan.week_of else f"{day}, {plan.at:%H:%M}" if plan.at else day


@dataclass(frozen=True)
class LetterLink:
    url: str
    title: str
    small: str


def letters_of(record: Record) -> tuple[LetterLink, ...]:
    """Versions of the record's letter, newest first, after those that told results."""
    letters = Letter.objects.filter(record=record).select_related("by").order_by("-number", "-version")
    return tuple(
        LetterLink(
            url=reverse("letter", args=[each.pk]),
            title=_title(each),
            small=f"{timezone.localtime(each.at):%-d %B %Y, %H:%M}, {each.by.full_name}",
        )
        for each in letters
    )


def _title(letter: Letter) -> str:
    if letter.kind == Letter.Kind.RESULT:
        copy = "" if letter.version == 1 else f", corrected copy, version {letter.version}"
        return f"Result letter {letter.number}{copy}"
    return "The letter" if letter.version == 1 else f"Corrected copy, version {letter.version}"
