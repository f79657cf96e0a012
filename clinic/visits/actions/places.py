"""Where the animal is. Each step is taken once, also with two tablets tapping."""

from datetime import datetime

from django.db import transaction

from clinic.callbacks.soon import reckon_soon
from clinic.people.actor import Actor
from clinic.people.models import Staff
from clinic.people.rights import Right, Role
from clinic.visits.actions.common import hold_open, step, words
from clinic.visits.errors import DeathHasFacts, MovedMeanwhile, NoSuchWay
from clinic.visits.models import Visit

P = Visit.Place
_ON = frozenset({P.ARRIVED, P.WITH_TECHNICIAN, P.WITH_CLINICIAN, P.ADMITTED, P.GONE_HOME, P.LEFT_EARLY})
# An animal arrives through `check_in`, which knows its household; so nothing leads to ARRIVED from outside.
WAYS: dict[Visit.Place, frozenset[Visit.Place]] = {
    P.EXPECTED: frozenset({P.DID_NOT_COME, P.CANCELLED}),
    P.DID_NOT_COME: frozenset({P.CANCELLED}),
    P.CANCELLED: frozenset(),
    P.ARRIVED: _ON - {P.ARRIVED},
    P.WITH_TECHNICIAN: _ON - {P.WITH_TECHNICIAN},
    P.WITH_CLINICIAN: _ON - {P.WITH_CLINICIAN},
    P.ADMITTED: _ON - {P.ADMITTED, P.LEFT_EARLY},
    P.GONE_HOME: frozenset(),
    P.LEFT_EARLY: frozenset(),
}
LEFT = frozenset({P.GONE_HOME, P.LEFT_EARLY})
END_OF_LIFE = frozenset({Visit.Outcome.DIED, Visit.Outcome.EUTHANISED})


@transaction.atomic
def move(
    *,
    visit: Visit,
    to: str,
    room: str = "",
    clinician: Staff | None = None,
    seen: str = "",
    actor: Actor,
    now: datetime,
) -> Visit:
    """Take the visit from the place that was seen (`seen`, else `visit.place`) to another one.

    Arriving there a second time changes nothing. Raises NoSuchWay, and MovedMeanwhile when the animal is at
    a third place by now.
    """
    actor.require(Right.MOVE_VISIT)
    place = Visit.Place(to)
    return _go(visit, place, seen, _who(clinician, place, actor) | {"room": room.strip()}, actor, now)


@transaction.atomic
def go_home(
    *, visit: Visit, outcome: str = Visit.Outcome.HOME, seen: str = "", actor: Actor, now: datetime
) -> Visit:
    """The animal leaves; or stays, for the outcome *admitted*. The record may still be open.

    *Died* and *euthanised* are no way home: a death has facts of its own (`clinic/death`). Raises NoSuchWay,
    MovedMeanwhile, DeathHasFacts.
    """
    actor.require(Right.MOVE_VISIT)
    result = Visit.Outcome(outcome)
    if result in END_OF_LIFE:
        raise DeathHasFacts(visit)
    to = P.ADMITTED if result == Visit.Outcome.ADMITTED else P.GONE_HOME
    return _go(visit, to, seen, {"outcome": result}, actor, now)


@transaction.atomic
def end_of_life(*, visit: Visit, outcome: str, actor: Actor, now: datetime) -> Visit:
    """The visit at which the patient died is over; called by whoever records the death."""
    result = Visit.Outcome(outcome)
    if result not in END_OF_LIFE:
        raise NoSuchWay(visit, P.GONE_HOME)
    return _go(visit, P.GONE_HOME, "", {"outcome": result}, actor, now)


@transaction.atomic
def set_kind(*, visit: Visit, kind: str, reason: str, actor: Actor, now: datetime) -> Visit:
    """A clinician's choice; leaving the full walk says why. Raises NeedsWords, NotOpen."""
    actor.require(Right.ASSESS)
    hold_open(visit.record)
    chosen = Visit.Kind(kind)
    reason = reason.strip()
    if chosen != Visit.Kind.FULL:
        reason = words(reason, field="reason", sentence="Say why this is not a full walk.")
    visit.kind, visit.kind_reason = chosen, reason
    visit.save(update_fields=["kind", "kind_reason"])
    reckon_soon(visit.patient_id)
    return visit


def _go(
    visit: Visit, to: Visit.Place, seen: str, changes: dict[str, object], actor: Actor, now: datetime
) -> Visit:
    came_from = Visit.Place(seen or visit.place)
    if came_from != to and to not in WAYS[came_from]:
        raise NoSuchWay(visit, to)
    if to in LEFT:
        changes = changes | {"gone_at": now, "room": ""}
    moved = 0
    if came_from != to:
        moved = Visit.objects.filter(pk=visit.pk, place=came_from).update(
            place=to, place_since=now, **changes
        )
    visit.refresh_from_db()
    if moved:
        step(visit, actor=actor, now=now)
        if to in LEFT:
            reckon_soon(visit.patient_id)
    elif visit.place != to:
        raise MovedMeanwhile(visit)
    return visit


def _who(clinician: Staff | None, to: Visit.Place, actor: Actor) -> dict[str, object]:
    """Who has the animal now: the one named, else whoever takes it."""
    if clinician:
        return {"clinician": clinician}
    if to == P.WITH_TECHNICIAN:
        return {"technician": actor.staff}
    if to == P.WITH_CLINICIAN and Role.CLINICIAN in actor.roles:
        return {"clinician": actor.staff}
    return {}
