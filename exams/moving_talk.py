"""What was said aloud in the exam of the wrong patient: taken back there, said in the right one's exam.

There it is heard anew, for the other animal; what the record says by then is settled, the rest is asked. The
rows name a line by its number and length only, because what was moved is kept for good, and words are not.
Whether the owner agreed to keep words is asked anew.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.platform.registries import Movable
from clinic.visits.errors import NotMoved
from clinic.visits.models import Record
from clinic.visits.movables import may_strike
from exams.applying import Batch
from exams.models import TalkLine
from exams.moving import begun
from exams.queries import standing
from exams.talk_applying import SAY, UNSAY

TARGET = "talk"


class ExamTalk:
    """Lines of talk of one exam, offered for another."""

    name, order, title = "talk", 23, "Said aloud"

    def rows(self, record: Record, *, to: Record, actor: Actor, now: datetime) -> list[Movable]:
        """One query."""
        return [
            Movable(
                key=str(line.pk),
                where=f"Said aloud, line {line.number}",
                words=_length(line.text),
                seen_by=line.by,
                hinder=may_strike(line.entered_by, actor)
                or ("" if actor.may(Right.MEASURE) else f"This needs the right “{Right.MEASURE.value}”."),
            )
            for line in _lines(record)
        ]

    def move(self, record: Record, keys: Sequence[str], *, to: Record, actor: Actor, now: datetime) -> None:
        own = Batch(standing(begun(record, actor, now)), actor=actor, by_grant=None, now=now)
        other = Batch(standing(begun(to, actor, now)), actor=actor, by_grant=None, now=now)
        for line in _lines(record):
            if str(line.pk) not in keys:
                continue
            said = other.own(TARGET, SAY, {"text": line.text, "language": line.language})
            _take(other, {**said, "observed_by": str(line.by_id)}, line)
            _take(own, own.own(TARGET, UNSAY, {"line": str(line.pk)}), line)
        for batch in (own, other):
            batch.save()


def _lines(record: Record) -> Sequence[TalkLine]:
    return list(TalkLine.objects.filter(record=record).select_related("by", "entered_by"))


def _length(text: str) -> str:
    n = len(text.split())
    return "1 word" if n == 1 else f"{n} words"


def _take(batch: Batch, data: dict[str, object], line: TalkLine) -> None:
    outcome = batch.take(data)
    if not outcome.accepted:
        raise NotMoved(f"Said aloud, line {line.number}", outcome.words)
