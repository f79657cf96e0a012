"""What the owner says, and the reasons why something was not measured."""

from collections.abc import Sequence
from datetime import datetime
from uuid import UUID

from django.db import transaction

from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.actions.common import first_sending, hold_open, words
from clinic.visits.errors import NeedsWords
from clinic.visits.models import GivenAtHome, HistoryAnswer, Record
from clinic.visits.topics import ANSWER_CODES, TOPIC_CODES


@transaction.atomic
def say_why(*, record: Record, owners_words: str, actor: Actor, now: datetime) -> Record:
    """Why they came, in the owner's words; never cut. Raises NotOpen."""
    actor.require(Right.TAKE_HISTORY)
    held = hold_open(record)
    held.visit.owners_words = owners_words.strip()
    held.visit.save(update_fields=["owners_words"])
    return held


def answer_history(
    *, record: Record, topic: str, answer: str, words: str = "", actor: Actor, now: datetime
) -> None:
    """One topic's answer; a later one replaces it while the record is open. Raises NeedsWords, NotOpen."""
    answer_topics(record=record, answers=[(topic, answer, words)], actor=actor, now=now)


@transaction.atomic
def add_given_at_home(
    *,
    record: Record,
    name: str,
    how_much: str = "",
    last_given: str = "",
    once: UUID | None = None,
    actor: Actor,
    now: datetime,
) -> GivenAtHome:
    """A medicine, supplement or preventive as told. Raises NeedsWords, NotOpen, SentBefore."""
    actor.require(Right.TAKE_HISTORY)
    first_sending(once, actor=actor, now=now)
    return GivenAtHome.objects.create(
        record=hold_open(record),
        name=words(name, field="name", sentence="Say what is given."),
        how_much=how_much.strip(),
        last_given=last_given.strip(),
        entered_by=actor.staff,
        entered_at=now,
    )


@transaction.atomic
def remove_given_at_home(*, given: GivenAtHome, actor: Actor, now: datetime) -> None:
    """Take an entry out again while the record is open. Raises NotOpen."""
    actor.require(Right.TAKE_HISTORY)
    hold_open(given.record)
    GivenAtHome.objects.filter(pk=given.pk).delete()


@transaction.atomic
def excuse_weight(*, record: Record, reason: str, actor: Actor, now: datetime) -> Record:
    """Why there is no weight today. Raises NeedsWords, NotOpen."""
    return _excuse(record, "no_weight_reason", reason, actor)


@transaction.atomic
def excuse_bcs(*, record: Record, reason: str, actor: Actor, now: datetime) -> Record:
    """Why there is no body condition today. Raises NeedsWords, NotOpen."""
    return _excuse(record, "no_bcs_reason", reason, actor)


def _excuse(record: Record, field: str, reason: str, actor: Actor) -> Record:
    actor.require(Right.MEASURE)
    held = hold_open(record)
    setattr(held, field, words(reason, field="reason", sentence="Say why it was not taken."))
    held.save(update_fields=[field])
    return held


@transaction.atomic
def answer_topics(
    *, record: Record, answers: Sequence[tuple[str, str, str]], actor: Actor, now: datetime
) -> list[HistoryAnswer]:
    """Several topics at once, each (topic, answer, words); what stands already is left as it is.

    Raises NeedsWords, NotOpen.
    """
    actor.require(Right.TAKE_HISTORY)
    held = hold_open(record)
    stands = {(row.topic, row.answer, row.words) for row in HistoryAnswer.objects.filter(record=held)}
    told = {
        topic: _answer(held, topic, answer, words, actor, now)
        for topic, answer, words in answers
        if (topic, answer, words.strip()) not in stands
    }
    return HistoryAnswer.objects.bulk_create(
        list(told.values()),
        update_conflicts=True,
        unique_fields=["record", "topic"],
        update_fields=["answer", "words", "entered_by", "entered_at"],
    )


def _answer(held: Record, topic: str, answer: str, words: str, actor: Actor, now: datetime) -> HistoryAnswer:
    """The row, not saved."""
    if topic not in TOPIC_CODES or answer not in ANSWER_CODES:
        raise NeedsWords(topic, "Choose one of the answers.")
    return HistoryAnswer(
        record=held,
        topic=topic,
        answer=answer,
        words=words.strip(),
        entered_by=actor.staff,
        entered_at=now,
    )
