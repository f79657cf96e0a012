"""Loading with authorisation: one `access_*` for each thing of a visit. Raise Http404 for what is unknown."""

from uuid import UUID

from django.shortcuts import get_object_or_404

from clinic.people.actor import Actor
from clinic.people.rights import Right
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
    return get_object_or_404(NextVisit.objects.select_related("patient"), pk=next_visit_id)
