"""Asking for a change of the walk, and deciding on it; an approval adds the edition of new exams."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.platform.once import spend
from exams.errors import ExamError
from exams.own_models import WalkEdition, WalkProposal
from exams.own_order import checked
from exams.own_walk import CannotChange, changes_to_json, composed_with, with_change
from exams.own_words import change_words
from exams.versions import in_force, keep_version, published

State = WalkProposal.State


class NoReason(ExamError):
    """A change of the walk, and a no to one, is given with its reason."""

    def __init__(self) -> None:
        super().__init__("Say why.")


class DecidedAlready(ExamError):
    """Somebody decided on it meanwhile."""

    def __init__(self) -> None:
        super().__init__("This was decided already.")


@transaction.atomic
def propose(
    *, change: Mapping[str, Any], why: str, once: UUID, actor: Actor, now: datetime
) -> WalkProposal | None:
    """Ask for one change, as `own_walk.with_change` takes it. None: this form was sent before.

    Raises CannotChange for what the walk would not take today, NoReason.
    """
    actor.require(Right.PROPOSE_WALK)
    if not why.strip():
        raise NoReason
    force = in_force()
    after = with_change(published(), force.changes, change)
    if changes_to_json(after) == changes_to_json(force.changes):
        raise CannotChange("That is how the walk is already.")
    if not spend(once, by=actor.staff, now=now):
        return None
    return WalkProposal.objects.create(change=dict(change), why=why.strip(), by=actor.staff, at=now)


@transaction.atomic
def approve(*, proposal: WalkProposal, actor: Actor, now: datetime) -> WalkEdition:
    """The next edition of the clinic's walk; exams that are open keep theirs.

    Raises DecidedAlready, and CannotChange where the walk moved on so that the change no longer fits.
    """
    actor.require(Right.APPROVE_WALK)
    held = _held(proposal)
    force = in_force()
    changes = with_change(published(), force.changes, held.change)
    walk = composed_with(published(), changes)
    edition = WalkEdition.objects.create(
        number=force.edition + 1,
        version=keep_version(walk, approved_by=actor.staff.pk, now=now),
        changes=changes_to_json(changes),
        words=change_words(force.walk, held.change),
        proposal=held,
        by=actor.staff,
        at=now,
    )
    _decide(held, State.APPROVED, "", actor, now)
    return edition


@transaction.atomic
def decline(*, proposal: WalkProposal, why: str, actor: Actor, now: datetime) -> None:
    """It does not come. Whoever asked for it takes it back; anybody else who says no is a clinician.

    Raises DecidedAlready, NoReason.
    """
    mine = proposal.by_id == actor.staff.pk and actor.may(Right.PROPOSE_WALK)
    if not mine:
        actor.require(Right.APPROVE_WALK)
        if not why.strip():
            raise NoReason
    _decide(_held(proposal), State.WITHDRAWN if mine else State.DECLINED, why.strip(), actor, now)


def _held(proposal: WalkProposal) -> WalkProposal:
    """The proposal, still open. Whoever decides holds every open one, so that editions come one by one."""
    rows = WalkProposal.objects.select_for_update().filter(state=State.OPEN).order_by("pk")
    waiting = {row.pk: row for row in rows}
    if proposal.pk not in waiting:
        raise DecidedAlready
    return waiting[proposal.pk]


def _decide(held: WalkProposal, state: str, why: str, actor: Actor, now: datetime) -> None:
    held.state, held.decided_why, held.decided_by, held.decided_at = state, why, actor.staff, now
    held.save(update_fields=["state", "decided_why", "decided_by", "decided_at"])


@transaction.atomic
def keep_order(*, order: list[str], actor: Actor, now: datetime) -> None:
    """The order in which this person walks the stations, on every tablet. Raises NotAnOrder."""
    actor.require(Right.MEASURE)
    staff = actor.staff
    staff.station_order = list(checked([s.code for s in published().stations], order))
    staff.save(update_fields=["station_order"])
