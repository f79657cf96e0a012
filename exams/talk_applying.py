"""What is said in a batch of operations: lines kept, heard anew, and what was heard settled by the taps.

It writes nothing into the record: that is done by the taps themselves. The caller holds the exam's record.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping
from datetime import datetime
from functools import cached_property
from typing import Any
from uuid import UUID, uuid4

from django.core.exceptions import ValidationError

from clinic.care.actions import add_plan_line
from clinic.care.errors import CareError
from clinic.people.actor import Actor
from clinic.people.rights import Right
from exams.guards import Refusal
from exams.models import HeardItem, TalkLine
from exams.operations import Operation
from exams.queries import Standing
from exams.spoken import hear
from exams.state import ExamState, Outcome
from exams.talk_items import LINE, PLAN, PLAN_KINDS, QUESTION, Item, items_of, keys_of, stands, taps_of
from exams.talk_words import about, spoken_languages, vocabulary

SAY, UNSAY, DISCARD, AGREE, PLAN_HEARD = "say", "unsay", "discard_heard", "talk_agreed", "plan_heard"
RIGHTS: Mapping[str, Right] = {
    SAY: Right.MEASURE,
    UNSAY: Right.MEASURE,
    DISCARD: Right.OBSERVE,
    AGREE: Right.TAKE_HISTORY,
    PLAN_HEARD: Right.PLAN,
}
LONGEST = 4_000  # characters of one line
MOST_WORDS = 60_000  # characters of one exam: two hours of talk
GONE = "This was heard differently since, or is no longer said. Look again."
DECIDED = "Somebody answered this already."
S = HeardItem.State


class Talk:
    """Lines and items of one exam, read when they are first asked for."""

    def __init__(self, standing: Standing, *, now: datetime) -> None:
        self.standing, self.exam, self.now = standing, standing.exam, now
        self.changed = self._said_anew = False
        self._answered: set[str] = set()  # stored keys that a tap of this batch answered

    @cached_property
    def lines(self) -> list[TalkLine]:
        return list(TalkLine.objects.filter(exam=self.exam)) if self.exam.talk_changes else []

    @cached_property
    def items(self) -> dict[UUID, HeardItem]:
        rows = HeardItem.objects.filter(exam=self.exam) if self.exam.talk_changes else ()
        return {row.pk: row for row in rows}

    @property
    def open(self) -> list[HeardItem]:
        return [row for row in self.items.values() if row.state == S.OPEN]

    # ---- One operation

    def take(self, op: Operation, actor: Actor) -> Outcome:
        """What is said, taken back or discarded. Raises Refusal."""
        {SAY: self._say, UNSAY: self._unsay, DISCARD: self._discard, AGREE: self._agree}.get(
            op.what, self._plan
        )(op, actor)
        self.changed = True
        return Outcome(op.key, op.target, op.what, "accepted", version=op.key)

    def check(self, op: Operation) -> None:
        """Whatever a tap confirms is still asked. Raises Refusal."""
        for row in self._meant(op):
            if row is None:
                raise Refusal("heard-gone", GONE)
            if row.state != S.OPEN:
                raise Refusal("heard-decided", DECIDED)

    def tapped(self, op: Operation, outcome: Outcome, actor: Actor) -> None:
        """An accepted tap: what it confirms is confirmed; what it took back is asked again."""
        self._answered |= set(outcome.changed)
        for row in self._meant(op):
            if row is not None:
                self._decide(row, S.CONFIRMED, actor, operation=UUID(op.key))
        if op.what == "take_back" and self.exam.talk_changes:
            key = str(op.payload.get("operation", ""))
            asked = {row.identity for row in self.open}
            for row in self.items.values():
                if str(row.operation or "") == key and row.identity not in asked:
                    row.state, row.decided_by, row.decided_at, row.operation = S.OPEN, None, None, None
                    self.changed = True

    def logged(self, op: Operation) -> dict[str, Any]:
        """The payload as the log keeps it: words that may be forgotten are never written there."""
        kept = op.payload.items()
        return {k: v for k, v in kept if k != "text"} if op.what in (SAY, PLAN_HEARD) else dict(kept)

    def _meant(self, op: Operation) -> list[HeardItem | None]:
        sent = op.payload.get("heard")
        if sent is None:
            return []
        if not isinstance(sent, list) or not all(isinstance(each, str) for each in sent):
            raise Refusal("bad-payload", "heard is a list of what was heard")
        return [self.items.get(_uuid(each)) for each in sent]

    def _decide(self, row: HeardItem, state: str, actor: Actor, operation: UUID | None = None) -> None:
        row.state, row.decided_by, row.decided_at, row.operation = state, actor.staff, self.now, operation
        self.changed = True

    def _say(self, op: Operation, actor: Actor) -> None:
        text, language = _text(op, "text"), _text(op, "language") or "en"
        if not text:
            raise Refusal("bad-payload", "nothing was said")
        if len(text) > LONGEST or len(text) + sum(len(x.text) for x in self.lines) > MOST_WORDS:
            raise Refusal("too-long", "That is more than one exam keeps: say it in shorter lines.")
        if language not in spoken_languages():
            raise Refusal("bad-payload", "that language is not heard")
        row = TalkLine(
            id=UUID(op.key),
            exam=self.exam,
            record_id=self.exam.record_id,
            number=max((x.number for x in self.lines), default=0) + 1,
            text=text,
            language=language,
            by_id=int(op.observed_by or op.person),
            entered_by=actor.staff,
            made_at=op.made_at,
        )
        row.save(force_insert=True)
        self.lines.append(row)
        self._said_anew = True

    def _unsay(self, op: Operation, actor: Actor) -> None:
        row = next((x for x in self.lines if str(x.pk) == str(op.payload.get("line", ""))), None)
        if row is None:
            raise Refusal("talk-gone", "That line was deleted already.")
        if row.entered_by_id != actor.staff.pk and not actor.may(Right.ASSESS):
            raise Refusal("role", "Whoever said it deletes it, or a clinician.")
        row.delete()
        self.lines.remove(row)
        for item in list(self.items.values()):
            kept = [span for span in item.spans if span[0] != op.payload["line"]]
            if len(kept) == len(item.spans) or item.state == S.OPEN:
                continue
            if kept or (item.state == S.CONFIRMED and "words" not in item.said):
                item.spans, item.reason = kept, item.reason if kept else ""
            else:
                del self.items[item.pk]
                item.delete()
        self._said_anew = True

    def _discard(self, op: Operation, actor: Actor) -> None:
        row = self.items.get(_uuid(str(op.payload.get("item", ""))))
        if row is None or row.state != S.OPEN:
            raise Refusal("heard-gone" if row is None else "heard-decided", GONE if row is None else DECIDED)
        self._decide(row, S.DISCARDED, actor)

    def _agree(self, op: Operation, actor: Actor) -> None:
        agrees = op.payload.get("agrees") is True
        self.exam.talk_agreed = {"by": actor.staff.pk, "at": self.now.isoformat()} if agrees else {}

    def _plan(self, op: Operation, actor: Actor) -> None:
        """A line of the plan, by the plan's own action."""
        self.check(op)
        kind, text = _text(op, "kind"), _text(op, "text")
        [row] = self._meant(op) or [None]
        if row is None or row.kind != PLAN or kind not in dict(PLAN_KINDS):
            raise Refusal("bad-payload", "a line of the plan that was heard, and its kind")
        try:
            add_plan_line(
                actor=actor,
                now=self.now,
                record=self.exam.record,
                problem=None,
                kind=kind,
                text=text or row.said["words"],
            )
        except (CareError, ValidationError) as error:
            raise Refusal("plan", str(error)) from error

    # ---- After the batch

    def save(self, state: ExamState) -> None:
        """Hear anew what was said anew, settle what the record says by now, and write it."""
        if not (self.changed or self.exam.talk_changes):
            return
        gone = self._hear() if self._said_anew else []
        self._settle(state)
        if not self.changed:
            return
        HeardItem.objects.filter(pk__in=gone).delete()
        HeardItem.objects.bulk_create(
            list(self.items.values()),
            update_conflicts=True,
            unique_fields=["id"],
            update_fields=["spans", "reason", "confidence", "state", "decided_by", "decided_at", "operation"],
        )
        self.exam.talk_changes += 1

    def _hear(self) -> list[UUID]:
        """New things are asked; what is no longer said is asked no longer. Answers whose rows go."""
        heard = {item.identity: (item, spans) for item, spans in self._everything()}
        rows = list(self.items.values())
        before: dict[str, list[HeardItem]] = {}
        for row in rows:
            before.setdefault(row.identity, []).append(row)
        for identity, (item, spans) in heard.items():
            known = before.get(identity, [])
            standing = [self._still(row, spans) for row in known]  # each is brought up to date
            if not any(standing):
                if item.kind == LINE and not taps_of(item, self.standing.walk, self.standing.lines).taps:
                    places = self.standing.lines.at(item.said["structure"])
                    if item.said["state"] == "normal" and not any(x.applies for x in places):
                        continue  # said of what this animal has not: nothing to answer
                self._add(item, spans)
        gone = [row.pk for row in rows if row.state == S.OPEN and row.identity not in heard]
        for pk in gone:
            del self.items[pk]
        self._unsaid(rows, heard)
        return gone

    def _still(self, row: HeardItem, spans: list[list[Any]]) -> bool:
        """Whether this row is what was heard; its words are brought up to date while it is open."""
        if row.state == S.OPEN:
            row.spans = spans
            return True
        if row.state == S.CONFIRMED:
            return True
        known = {span[0] for span in row.spans}
        later = [x for x in self.lines if str(x.pk) in {s[0] for s in spans} - known]
        return not later  # said once more, after it was discarded or answered: asked once more

    def _unsaid(self, rows: Iterable[HeardItem], heard: Mapping[str, Any]) -> None:
        """What was confirmed and is then said differently is a question, never a change by itself."""
        here = {str(x.pk) for x in self.lines}
        for row in rows:
            if row.state != S.CONFIRMED or row.identity in heard or row.kind != LINE:
                continue
            if not row.spans or any(span[0] not in here for span in row.spans):
                continue  # its words were deleted: nobody said anything else
            said = {k: row.said[k] for k in ("structure", "side") if k in row.said}
            words = "confirmed, and then said differently: does it still hold"
            item = Item(QUESTION, row.station, {**said, "words": words}, ())
            if not any(other.identity == item.identity for other in self.items.values()):
                self._add(item, list(row.spans))

    def _add(self, item: Item, spans: list[list[Any]]) -> None:
        row = HeardItem(
            pk=uuid4(),
            exam=self.exam,
            record_id=self.exam.record_id,
            kind=item.kind,
            station=item.station,
            said=dict(item.said),
            identity=item.identity,
            spans=spans,
            confidence=item.confidence,
            reason=item.reason,
        )
        self.items[row.pk] = row
        self.changed = True

    def _everything(self) -> Iterable[tuple[Item, list[list[Any]]]]:
        """What all lines say, each language by itself, with spans in their lines."""
        for language, some in itertools.groupby(
            sorted(self.lines, key=lambda x: (x.language, x.number)), key=lambda x: x.language
        ):
            lines = list(some)
            text = "\n".join(x.text for x in lines)
            words = vocabulary(self.standing.walk, language)
            heard = hear(text, about(self.standing.lines.animal, language), words)
            for item in items_of(heard):
                yield item, list(_in_lines(item.spans, lines))

    def _settle(self, state: ExamState) -> None:
        """What the record says already need not be asked."""
        for row in self.open:
            walk, lines = self.standing.walk, self.standing.lines
            settled = stands(item_of(row), state, walk, lines)
            if row.kind == QUESTION:  # answered by hand since it was asked
                settled = bool(self._answered & set(keys_of(item_of(row), lines)))
            if settled:
                row.state = S.ANSWERED
                self.changed = True


def item_of(row: HeardItem) -> Item:
    """The row as the core knows it; spans stay with their lines."""
    return Item(row.kind, row.station, row.said, (), row.confidence, row.reason)


def _in_lines(spans: Iterable[tuple[int, int]], lines: Iterable[TalkLine]) -> Iterable[list[Any]]:
    """Spans of the joined text as [line, start, end] of each line that they touch."""
    starts, at = [], 0
    for line in lines:
        starts.append((at, line))
        at += len(line.text) + 1
    for start, end in spans:
        for at, line in starts:
            low, high = max(start, at), min(end, at + len(line.text))
            if low < high:
                yield [str(line.pk), low - at, high - at]


def _text(op: Operation, name: str) -> str:
    value = op.payload.get(name, "")
    if not isinstance(value, str):
        raise Refusal("bad-payload", f"{name} is not text")
    return value.strip()


def _uuid(text: str) -> UUID:
    try:
        return UUID(text)
    except ValueError as error:
        raise Refusal("bad-payload", "that is not something heard") from error
