"""Heads-ups: pinned by whoever noticed, answered by a clinician before signing."""

from datetime import datetime
from uuid import UUID

from django.db import transaction

from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.platform.registries import heads_up_places
from clinic.visits.actions.common import first_sending, hold_open, words
from clinic.visits.errors import NeedsWords
from clinic.visits.models import HeadsUp, Record

SIDES = ("left", "right")
ANSWERS = (HeadsUp.Answer.FOUND, HeadsUp.Answer.LOOKED, HeadsUp.Answer.NOT_TODAY)


@transaction.atomic
def pin_heads_up(
    *,
    record: Record,
    station: str,
    words: str,
    side: str = "",
    once: UUID | None = None,
    actor: Actor,
    now: datetime,
) -> HeadsUp:
    """`station`: a code of `heads_up_places`, or empty. Raises NeedsWords, NotOpen, SentBefore."""
    actor.require(Right.PIN_HEADS_UP)
    first_sending(once, actor=actor, now=now)
    if station and station not in heads_up_places.names():
        raise NeedsWords("station", "Choose one of the stations.")
    if side and side not in SIDES:
        raise NeedsWords("side", "Choose left or right, or neither.")
    return HeadsUp.objects.create(
        record=hold_open(record),
        station=station,
        side=side,
        words=_sentence(words),
        by=actor.staff,
        at=now,
    )


@transaction.atomic
def answer_heads_up(
    *, heads_up: HeadsUp, answer: str, reason: str = "", actor: Actor, now: datetime
) -> HeadsUp:
    """A clinician's answer; *not today* says why. May be changed while the record is open.

    Raises NeedsWords, NotOpen.
    """
    actor.require(Right.ANSWER_HEADS_UP)
    hold_open(heads_up.record)
    if answer not in ANSWERS:
        raise NeedsWords("answer", "Choose one of the answers.")
    reason = reason.strip()
    if answer == HeadsUp.Answer.NOT_TODAY:
        reason = words(reason, field="reason", sentence="Say why not today.")
    heads_up.answer, heads_up.answer_reason = answer, reason
    heads_up.answered_by, heads_up.answered_at = actor.staff, now
    heads_up.save(update_fields=["answer", "answer_reason", "answered_by", "answered_at"])
    return heads_up


def _sentence(text: str) -> str:
    return words(text, field="words", sentence="Say in one sentence what you saw.")
