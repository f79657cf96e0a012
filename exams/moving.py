"""Lines and notes of an exam entered on the wrong patient: struck out, and entered on the right one.

Each becomes an operation in both exams' logs, the house's own: `clear` here, its own tap there. Whoever
saw it stays named, a grade that waits for a clinician keeps waiting, and every guard of the other animal's
exam is asked before anything is offered.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils import timezone

from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.models import Staff
from clinic.people.rights import Right
from clinic.platform.registries import Movable
from clinic.visits.actions.urgency import note_urgency
from clinic.visits.errors import NotMoved
from clinic.visits.models import Record
from clinic.visits.movables import may_strike
from exams.actions import begin_exam
from exams.applying import Batch, role_of
from exams.lines import Line
from exams.models import Exam
from exams.operations import Operation, apply, version_of
from exams.queries import Standing, standing, standing_of
from exams.sentences import for_record
from exams.state import MEASURED, FindingEntry, LineAnswer, shown

NOTE = "note:"
SENT = ("code", "severity", "grade", "scale", "qualifiers", "tooth", "note", "urgency")
WHAT = {"normal": "set_normal", "abnormal": "set_abnormal", "not-examined": "set_not_examined"}


@dataclass(frozen=True)
class Entry:
    """One stored answer, or one note that belongs to no line."""

    key: str
    target: str
    answer: LineAnswer | None
    note: str
    line: Line | None


class ExamLines:
    """What stands on the lines of one exam, offered for another."""

    name, order, title = "exam", 20, "Examined"

    def rows(self, record: Record, *, to: Record, actor: Actor, now: datetime) -> list[Movable]:
        today = timezone.localdate(now)
        here, there = standing_of(record, today=today), standing_of(to, today=today)
        entries = list(_entries(here))
        people = _people(entries)
        return [_row(entry, here, there, actor, people, record.visit.patient) for entry in entries]

    def move(self, record: Record, keys: Sequence[str], *, to: Record, actor: Actor, now: datetime) -> None:
        here = standing(begun(record, actor, now))
        chosen = [entry for entry in _entries(here) if entry.key in keys]
        own = Batch(here, actor=actor, by_grant=None, now=now)
        other = Batch(standing(begun(to, actor, now)), actor=actor, by_grant=None, now=now)
        for entry in chosen:
            for target, what, payload, more in _taps(entry, actor, record.visit.patient):
                _take(other, {**other.own(target, what, payload), **more}, entry)
            for target, what, payload in _strikes(entry, to.visit.patient):
                _take(own, own.own(target, what, payload), entry)
        for batch in (own, other):
            batch.save()
            note_urgency(record=batch.exam.record, urgency=batch.after.urgency)


def begun(record: Record, actor: Actor, now: datetime) -> Exam:
    """The record's exam, begun when nobody had."""
    exam = begin_exam(record=record, actor=actor, now=now)
    exam.record = record
    return exam


def _entries(told: Standing) -> Iterator[Entry]:
    """In walking order: answers of lines that are not values, with their notes; then the other notes."""
    notes = dict(told.state.notes)
    order = {line.key: i for i, line in enumerate(told.lines)}
    for key, answer in sorted(told.state.answers.items(), key=lambda each: order.get(each[0], 0)):
        if answer.status == MEASURED or key not in told.lines or _of_lumps(answer):
            continue
        note = notes.pop(key, "")
        yield Entry(f"{key}@{answer.operation}", key, answer, note, told.lines[key])
    for target, text in notes.items():
        line = told.lines[target] if target in told.lines else None  # noqa: SIM401 -- lines are no dict
        yield Entry(f"{NOTE}{target}", target, None, text, line)


def _of_lumps(answer: LineAnswer) -> bool:
    """What the lumps say by themselves; it goes with them."""
    return bool(answer.findings) and all(f.from_lumps for f in answer.findings)


def _row(
    entry: Entry,
    here: Standing,
    there: Standing,
    actor: Actor,
    people: dict[str, Staff],
    wrong: Patient,
) -> Movable:
    answer = entry.answer
    enterer = people.get(answer.person, actor.staff) if answer else actor.staff
    seen = people.get(answer.observed_by, enterer) if answer else actor.staff
    stands = _stands(entry, there)
    hinder = may_strike(enterer, actor) or _hinder(entry, there, stands, actor, wrong)
    return Movable(
        key=entry.key,
        where=_where(entry, here),
        words=_words(entry, here),
        seen_by=seen,
        there=stands,
        hinder=hinder,
    )


def _where(entry: Entry, here: Standing) -> str:
    if entry.line is None:
        station = here.walk.station.get(entry.target.partition("|")[0])
        return f"Note, {station.short.lower()}" if station else "Note on the whole exam"
    station = here.walk.station[entry.line.station]
    side = f", {entry.line.side_words}" if entry.line.side_words else ""
    return f"{station.short}: {entry.line.name}{side}"


def _words(entry: Entry, here: Standing) -> str:
    if entry.answer is None or entry.line is None:
        return entry.note
    words = for_record(here.walk, entry.line, entry.answer)
    side = f"{entry.line.side_words}: "
    words = words.removeprefix(side) if entry.line.side_words else words
    return f"{words}; note: {entry.note}" if entry.note else words


def _stands(entry: Entry, there: Standing) -> str:
    """What the other exam says at the same place; empty: nothing yet, or there is no such place."""
    if entry.answer is None:
        return there.state.notes.get(entry.target, "")
    if entry.target not in there.lines:
        return ""
    answer = shown(there.state, there.lines, entry.target)
    return for_record(there.walk, there.lines[entry.target], answer) if answer else ""


def _hinder(entry: Entry, there: Standing, stands: str, actor: Actor, wrong: Patient) -> str:
    """Why it cannot stand on the other animal: asked of the core, which changes nothing."""
    if not actor.may(Right.OBSERVE):
        return f"This needs the right “{Right.OBSERVE.value}”."
    if stands:
        return f"Answered there already: {stands}."
    for target, what, payload, more in _taps(entry, actor, wrong):
        op = Operation(
            key="asked",
            target=target,
            what=what,
            payload=payload,
            person=str(actor.staff.pk),
            role=role_of(actor),
            made_at=more.get("made_at", ""),
            walk_version=there.walk.sha256,
            follows=version_of(there.state, there.lines, target),
        )
        _, outcome = apply(there.state, op, there.walk, there.lines)
        if not outcome.accepted:
            return f"{outcome.words[:1].upper()}{outcome.words[1:]}."
    return ""


Tap = tuple[str, str, dict[str, Any], dict[str, Any]]


def _taps(entry: Entry, actor: Actor, wrong: Patient) -> Iterator[Tap]:
    """target, what, payload, and who saw it and when: the entry as it would have been tapped there."""
    origin = {"first_entered_on": wrong.pk}
    answer = entry.answer
    if answer is not None:
        who = answer.observed_by or answer.person
        seen = {"observed_by": who} if who and who != str(actor.staff.pk) else {}
        yield entry.target, _what(answer), {**_payload(answer), **origin}, {"made_at": answer.made_at, **seen}
    if entry.note:
        yield entry.target, "note", {"text": entry.note, **origin}, {}


def _what(answer: LineAnswer) -> str:
    return "set_in_part" if answer.in_part and answer.status == "not-examined" else WHAT[answer.status]


def _payload(answer: LineAnswer) -> dict[str, Any]:
    why = {"reason": answer.reason, "words": answer.reason_words}
    payload: dict[str, Any] = {"findings": [_sent(f) for f in answer.findings if not f.from_lumps]}
    if answer.charted:
        payload["charted"] = dict(answer.charted)
    if answer.made_in:
        payload["made_in"] = answer.made_in
    if answer.status == "not-examined":
        return {**payload, **why}
    return {**payload, "in_part": why} if answer.in_part else payload


def _sent(entry: FindingEntry) -> dict[str, Any]:
    plain = dataclasses.asdict(entry)
    kept = {name: plain[name] for name in SENT if plain[name]}
    if entry.circumstances:
        kept["circumstances"] = list(entry.circumstances)
    return {**kept, "unconfirmed": True} if entry.unconfirmed else kept


def _strikes(entry: Entry, right: Patient) -> Iterator[tuple[str, str, dict[str, Any]]]:
    why = {"wrong_patient": right.pk}
    if entry.answer is not None:
        yield entry.target, "clear", why
    if entry.note:
        yield entry.target, "note", {"text": "", **why}


def _take(batch: Batch, data: dict[str, Any], entry: Entry) -> None:
    outcome = batch.take(data)
    if not outcome.accepted:
        where = entry.line.name if entry.line else "Note"
        raise NotMoved(where, f"{outcome.words[:1].upper()}{outcome.words[1:]}.")


def _people(entries: Sequence[Entry]) -> dict[str, Staff]:
    numbers = {n for e in entries if e.answer for n in (e.answer.person, e.answer.observed_by) if n}
    return {str(s.pk): s for s in Staff.objects.filter(pk__in={int(n) for n in numbers})}
