"""Entered on the wrong patient: struck out there and entered on the right one, in one step."""

from collections.abc import Sequence
from datetime import datetime
from uuid import UUID

from django.db import transaction

from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.platform.registries import Movable, wrong_patient_parts
from clinic.visits.actions.common import first_sending
from clinic.visits.errors import NeedsWords, NotOpen, SamePatient, ShownOtherwise
from clinic.visits.models import PutRight, Record


@transaction.atomic
def put_on_right_patient(
    *,
    record: Record,
    to: Record,
    tokens: Sequence[str],
    once: UUID | None = None,
    actor: Actor,
    now: datetime,
) -> list[Movable]:
    """Move what the tokens (of `Movable`) name from `record` to `to`; both records say so.

    Both records are held from the first look, the older one first, so that two people who put things right
    in both directions wait for each other and neither a signature nor a tap slips between. Whatever looks
    otherwise than it was shown refuses the whole of it. Raises NotOpen, SamePatient, NeedsWords (nothing
    chosen), ShownOtherwise, NotMoved, SentBefore.
    """
    actor.require(Right.MEASURE)
    first_sending(once, actor=actor, now=now)
    record, to = _held(record, to)
    if record.visit.patient_id == to.visit.patient_id:
        raise SamePatient
    if not tokens:
        raise NeedsWords("rows", "Choose at least one line.")
    moved: list[Movable] = []
    found: set[str] = set()
    for part in wrong_patient_parts:
        chosen = [
            row
            for row in part.rows(record, to=to, actor=actor, now=now)
            if row.token in tokens and not row.hinder
        ]
        found |= {row.token for row in chosen}
        if chosen:
            part.move(record, [row.key for row in chosen], to=to, actor=actor, now=now)
            moved += chosen
    if found != set(tokens):
        raise ShownOtherwise
    PutRight.objects.bulk_create(_rows(moved, record, to, actor, now))
    return moved


def _held(record: Record, to: Record) -> tuple[Record, Record]:
    """Both, held in the order of their numbers. Raises NotOpen."""
    pair = (
        Record.objects.select_for_update(no_key=True, of=("self",))
        .select_related("visit__patient")
        .filter(pk__in=(record.pk, to.pk))
        .order_by("pk")
    )
    held = {each.pk: each for each in pair}
    if any(each.is_signed for each in held.values()):
        raise NotOpen
    return held[record.pk], held[to.pk]


def _rows(
    moved: Sequence[Movable], record: Record, to: Record, actor: Actor, now: datetime
) -> list[PutRight]:
    return [
        PutRight(
            record=own,
            other=other,
            came=came,
            where=row.where[:160],
            words=row.words,
            seen_by=row.seen_by,
            by=actor.staff,
            at=now,
        )
        for own, other, came in ((record, to, False), (to, record, True))
        for row in moved
    ]
