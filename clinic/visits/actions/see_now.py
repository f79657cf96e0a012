"""Urgency before waiting: one tap marks, a clinician takes it by name."""

from datetime import datetime

from django.db import transaction

from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.errors import TakenMeanwhile
from clinic.visits.models import Visit


@transaction.atomic
def mark_see_now(*, visit: Visit, why: str = "", actor: Actor, now: datetime) -> Visit:
    """Needs no reason. The first tap counts; a later one only adds a reason that was missing."""
    actor.require(Right.MOVE_VISIT)
    why = why.strip()
    fresh = Visit.objects.filter(pk=visit.pk, see_now_at=None)
    marked = fresh.update(see_now_at=now, see_now_by=actor.staff, see_now_why=why)
    if not marked and why:
        Visit.objects.filter(pk=visit.pk, see_now_why="").update(see_now_why=why)
    visit.refresh_from_db()
    return visit


@transaction.atomic
def withdraw_see_now(*, visit: Visit, actor: Actor, now: datetime) -> Visit:
    """Tapped by mistake. Raises TakenMeanwhile once a clinician has it."""
    actor.require(Right.MOVE_VISIT)
    untaken = Visit.objects.filter(pk=visit.pk, see_now_taken_at=None)
    gone = untaken.update(see_now_at=None, see_now_by=None, see_now_why="")
    visit.refresh_from_db()
    if not gone:
        raise TakenMeanwhile(visit)
    return visit


@transaction.atomic
def take_see_now(*, visit: Visit, actor: Actor, now: datetime) -> Visit:
    """A clinician says “I have it”. Raises TakenMeanwhile when another one was first."""
    actor.require(Right.ASSESS)
    waiting = Visit.objects.filter(pk=visit.pk, see_now_at__isnull=False, see_now_taken_at=None)
    taken = waiting.update(see_now_taken_at=now, see_now_taken_by=actor.staff)
    visit.refresh_from_db()
    if not taken and visit.see_now_taken_by != actor.staff:
        raise TakenMeanwhile(visit)
    return visit
