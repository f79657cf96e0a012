"""What each kind of tap does to an exam: one handler a kind, each returning the change it asks for.

Nothing becomes normal without a tap that named the line or listed it, and no handler fills what was answered.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from exams import guards
from exams.consciousness import made_in, since
from exams.entries import entry_of, read_findings, text, texts
from exams.guards import CLINICIAN, Refusal
from exams.lines import Line, Lines
from exams.lump_today import LumpToday
from exams.nodes import sized
from exams.sex_guards import check_mismatch, check_organ, check_sex_words
from exams.state import (
    ABNORMAL,
    MEASURED,
    NORMAL,
    NOT_EXAMINED,
    ExamState,
    FindingEntry,
    HeadsUp,
    LineAnswer,
    shown,
    why_absent,
)
from exams.tooth_chart import check_stages, read_charted
from exams.walk import Walk
from exams.word_guards import check_condition, check_finding_words, check_words, is_sure

EXAM = "exam"
KINDS = ("full", "focused", "emergency")
HEADS_UP_ANSWERS = ("found", "nothing", "not-today")
FLAGS = ("", "high", "low", "inside")


@dataclass(frozen=True, slots=True)
class Operation:
    """One change, as a tablet made it. `follows`: "" when the target had no operation yet.

    person and role are the server's knowledge, never the tablet's. made_at: device time with its offset, as
    written. observed_by: whoever saw it, when somebody else enters it.
    """

    key: str
    target: str
    what: str
    payload: Mapping[str, Any]
    person: str
    role: str
    made_at: str
    walk_version: str
    follows: str = ""
    observed_by: str = ""


@dataclass(frozen=True, slots=True)
class Change:
    """What an operation does, before it is put into the state."""

    answers: Mapping[str, LineAnswer | None] = field(default_factory=dict)
    heads_ups: Mapping[str, HeadsUp] = field(default_factory=dict)
    notes: Mapping[str, str] = field(default_factory=dict)
    exam: Mapping[str, Any] = field(default_factory=dict)
    filled: tuple[str, ...] = ()
    not_filled: tuple[tuple[str, str], ...] = ()
    lumps: Mapping[str, LumpToday | None] = field(default_factory=dict)


Handler = Callable[[ExamState, Operation, Walk, Lines], Change]


def stored_keys(lines: Lines, target: str) -> tuple[str, ...]:
    """Where a target's version is kept: a line's stored keys, else the target itself."""
    found = lines_of(lines, target)
    return tuple(dict.fromkeys(k for line in found for k in line.stored_at)) if found else (target,)


def lines_of(lines: Lines, target: str) -> tuple[Line, ...]:
    """The lines that a line target names: itself, or the two sides of `|both`; nothing for other targets."""
    if target in lines:
        return (lines[target],)
    structure, _, side = target.partition("|")
    pair = tuple(f"{structure}|{s}" for s in ("left", "right"))
    return tuple(lines[k] for k in pair) if side == "both" and all(k in lines for k in pair) else ()


def _answer(op: Operation, status: str, **more: Any) -> LineAnswer:
    return LineAnswer(
        status,
        person=op.person,
        role=op.role,
        observed_by=op.observed_by,
        made_at=op.made_at,
        operation=op.key,
        spoken=bool(op.payload.get("heard")),
        **more,
    )


# ---- On one line, or on both sides of it


def _each_line(state: ExamState, op: Operation, lines: Lines) -> Iterable[tuple[Line, Mapping[str, Any]]]:
    """The lines of the target with the payload for each: `left` and `right` may differ under `both`."""
    for line in lines_of(lines, op.target):
        check_organ(line, lines.animal)
        guards.check_line(line, why_absent(state, line))
        guards.check_role(op.role, line)
        own = op.payload.get(line.side)
        yield line, own if isinstance(own, Mapping) and op.target.endswith("|both") else op.payload


def _stored(line: Line, answer: LineAnswer | None) -> dict[str, LineAnswer | None]:
    return dict.fromkeys(line.stored_at, answer)


def _stations_of(line: Line) -> tuple[str, ...]:
    return tuple(dict.fromkeys((line.station, *(k.partition(".")[0] for k in line.stored_at))))


def _guard_normal(state: ExamState, line: Line, payload: Mapping[str, Any]) -> None:
    if line.depth == "measured":
        raise Refusal("measured", f"{line.name}: its value decides")
    if line.whole_station:
        raise Refusal("whole-station", "a station has no normal of its own: mark its lines")
    guards.check_heads_ups(state, _stations_of(line), texts(payload, "despite"))


def _part(payload: Mapping[str, Any], walk: Walk, role: str) -> dict[str, Any]:
    """in_part with what limited it, from `in_part: {reason, words}`."""
    part = payload.get("in_part")
    if part is None:
        return {}
    if not isinstance(part, Mapping):
        raise Refusal("bad-payload", "in_part says a reason")
    reason, words = text(part, "reason"), text(part, "words")
    guards.check_reason(walk, "in-part", reason, words, role)
    return {"in_part": True, "reason": reason, "reason_words": words}


def _charted(
    payload: Mapping[str, Any],
    state: ExamState,
    op: Operation,
    lines: Lines,
    line: Line,
    found: tuple[FindingEntry, ...],
) -> dict[str, Any]:
    """What is charted of a tooth beside its findings; nothing on every other line."""
    before = state.answers.get(line.stored_at[0])
    told = read_charted(
        payload.get("charted"),
        lines=lines,
        line=line,
        made_in=made_in(state.awake_log, state.awake, op.payload.get("made_in")),
        role=op.role,
        found=found,
        before=before.charted if before else {},
    )
    return {"charted": told} if told else {}


def _set_normal(state: ExamState, op: Operation, walk: Walk, lines: Lines) -> Change:
    answers: dict[str, LineAnswer | None] = {}
    for line, payload in _each_line(state, op, lines):
        _guard_normal(state, line, payload)
        found = read_findings(payload, state=state, walk=walk, lines=lines, line=line, role=op.role)
        part = _part(payload, walk, op.role) | _charted(payload, state, op, lines, line, found)
        _guard_variants(walk, [f.code for f in found], in_part="in_part" in part)
        part |= sized(payload, line, state.answers.get(line.stored_at[0]))
        answers |= _stored(line, _answer(op, NORMAL, findings=found, **part))
    return Change(answers)


def _guard_variants(walk: Walk, found: list[str], *, in_part: bool) -> None:
    for code in found:
        variant = walk.finding[code].variant
        if not variant:
            raise Refusal("not-normal", f"{walk.finding[code].name} makes this line abnormal")
        if variant == "limit" and not in_part:
            raise Refusal("limit", f"{walk.finding[code].name} says how far you could look: in part, or not")


def _set_abnormal(state: ExamState, op: Operation, walk: Walk, lines: Lines) -> Change:
    answers: dict[str, LineAnswer | None] = {}
    for line, payload in _each_line(state, op, lines):
        found = read_findings(payload, state=state, walk=walk, lines=lines, line=line, role=op.role)
        part = _part(payload, walk, op.role)
        if not part and any(f.variant == "limit" for f in found):
            raise Refusal("limit", "how far you could look is said with in part, or with not examined")
        before = state.answers.get(line.stored_at[0])
        _ask_of_words(state, op, line, found, walk, lines)
        if line.depth == "measured":
            value = before if before and before.status == MEASURED else LineAnswer(MEASURED)
            if not is_sure(op.payload):
                check_condition(walk, line, value.value, found, state.notes.get(line.stored_at[0], ""))
            said = _answer(op, MEASURED, findings=found, value=value.value, unit=value.unit, flag=value.flag)
            answers |= _stored(line, said)
            continue
        status = ABNORMAL
        if found and all(f.variant for f in found) and not line.whole_station:
            _guard_normal(state, line, payload)
            status = NORMAL
        check_stages(found)
        part |= _charted(payload, state, op, lines, line, found) | sized(payload, line, before)
        answers |= _stored(line, _answer(op, status, findings=found, **part))
    return Change(answers)


def _set_in_part(state: ExamState, op: Operation, walk: Walk, lines: Lines) -> Change:
    """payload: status (normal or abnormal), reason, words, findings. On a whole station: what limited it."""
    part = {"reason": text(op.payload, "reason"), "words": text(op.payload, "words")}
    payload = {**op.payload, "in_part": part}
    status = text(op.payload, "status")
    if any(line.whole_station for line in lines_of(lines, op.target)):
        return _limit_station(state, dataclasses.replace(op, payload=payload), walk, lines)
    if status not in (NORMAL, ABNORMAL):
        raise Refusal("bad-payload", "in part is a flag on normal or abnormal")
    handler = _set_normal if status == NORMAL else _set_abnormal
    return handler(state, dataclasses.replace(op, payload=payload), walk, lines)


def _limit_station(state: ExamState, op: Operation, walk: Walk, lines: Lines) -> Change:
    answers: dict[str, LineAnswer | None] = {}
    for line, payload in _each_line(state, op, lines):
        found = read_findings(payload, state=state, walk=walk, lines=lines, line=line, role=op.role)
        answers |= _stored(line, _answer(op, NOT_EXAMINED, findings=found, **_part(payload, walk, op.role)))
    return Change(answers)


def _set_not_examined(state: ExamState, op: Operation, walk: Walk, lines: Lines) -> Change:
    answers: dict[str, LineAnswer | None] = {}
    for line, payload in _each_line(state, op, lines):
        reason, words = text(payload, "reason"), text(payload, "words")
        guards.check_reason(walk, "not-examined", reason, words, op.role)
        found = read_findings(payload, state=state, walk=walk, lines=lines, line=line, role=op.role)
        if any(f.variant != "limit" for f in found):
            raise Refusal("not-looked-at", "what was not examined has no findings")
        answers |= _stored(line, _answer(op, NOT_EXAMINED, findings=found, reason=reason, reason_words=words))
    return Change(answers)


def _measure(state: ExamState, op: Operation, walk: Walk, lines: Lines) -> Change:
    """payload: value, unit, flag (as the measurement judged it), findings. A score brings its own code."""
    answers: dict[str, LineAnswer | None] = {}
    for line, payload in _each_line(state, op, lines):
        if line.depth != "measured":
            raise Refusal("not-measured", f"{line.name} has no value")
        value, unit, flag = text(payload, "value"), text(payload, "unit"), text(payload, "flag")
        if not value or flag not in FLAGS:
            raise Refusal("bad-payload", "a measured line needs its value; flag is high, low or inside")
        found = read_findings(payload, state=state, walk=walk, lines=lines, line=line, role=op.role)
        if line.value in walk.scale:
            found = (*found, *(e for e in _scored(walk, lines, line, value) if e.code not in _codes(found)))
        if line.value == "bcs-9" and not is_sure(op.payload):
            check_condition(walk, line, value, (), state.notes.get(line.stored_at[0], ""))
        answers |= _stored(line, _answer(op, MEASURED, value=value, unit=unit, flag=flag, findings=found))
    return Change(answers)


def _ask_of_words(
    state: ExamState,
    op: Operation,
    line: Line,
    found: tuple[FindingEntry, ...],
    walk: Walk,
    lines: Lines,
) -> None:
    """A side changed after a note named the other one, or what does not match the sex, asked once."""
    if not is_sure(op.payload):
        check_mismatch(lines.animal, state.answers.get(line.stored_at[0]), found)
        for entry in found:
            check_sex_words(lines.animal, entry.note, name=walk.finding[entry.code].name)
        check_finding_words(line, found, state.notes.get(line.stored_at[0], ""), walk)


def _codes(found: Iterable[FindingEntry]) -> set[str]:
    return {f.code for f in found}


def _scored(walk: Walk, lines: Lines, line: Line, grade: str) -> list[FindingEntry]:
    """The finding that a score stands for; a normal score and a dog's 4 of 9 stand for none."""
    scale = walk.scale[line.value]
    normal = {"none", "normal", "0"}
    if grade not in normal and scale.grade(grade) is None:
        raise Refusal("grade", f"{grade!r} is not on the scale {scale.title}")
    ideal = {"dog": ("4", "5"), "cat": ("5",)}[lines.animal.species] if line.value == "bcs-9" else ()
    if grade in normal or grade in ideal:
        return []
    return [entry_of(walk, c, grade) for c in line.codes if grade in walk.finding[c].grades]


def _note(state: ExamState, op: Operation, walk: Walk, lines: Lines) -> Change:
    """payload: text. On a line, a station or the exam; an empty text takes the note away."""
    if not (op.target == EXAM or lines.at(op.target) or lines_of(lines, op.target)):
        raise Refusal("no-such-line", f"{op.target} is not a line of this animal")
    words = text(op.payload, "text")
    if words and not is_sure(op.payload):
        _check_note(state, op, walk, lines, words)
    return Change(notes=dict.fromkeys(stored_keys(lines, op.target), words))


def _check_note(state: ExamState, op: Operation, walk: Walk, lines: Lines, words: str) -> None:
    found = lines_of(lines, op.target)
    check_sex_words(lines.animal, words, name=found[0].name if found else "Note")
    if len(found) != 1:
        check_words(None, "", words, name="Note")
        return
    line = found[0]
    check_words(line, line.side, words, name=line.name)
    answer = state.answers.get(line.stored_at[0])
    if answer:
        sided = [f for f in answer.findings if f.qualifiers.get("side")]
        check_finding_words(line, sided, words, walk)
        check_condition(walk, line, answer.value, (), words)


def _confirm(state: ExamState, op: Operation, walk: Walk, lines: Lines) -> Change:
    """A clinician makes somebody else's grades and findings their own."""
    if op.role != CLINICIAN:
        raise Refusal("role", "only a clinician confirms")
    answers: dict[str, LineAnswer | None] = {}
    for key in stored_keys(lines, op.target):
        answer = state.answers.get(key)
        if answer is None:
            raise Refusal("not-yet", "there is nothing to confirm")
        found = tuple(dataclasses.replace(f, unconfirmed=False) for f in answer.findings)
        answers[key] = dataclasses.replace(answer, findings=found, confirmed_by=op.person)
    return Change(answers)


def _clear(state: ExamState, op: Operation, walk: Walk, lines: Lines) -> Change:
    return Change(dict.fromkeys(stored_keys(lines, op.target)))


def _take_back(state: ExamState, op: Operation, walk: Walk, lines: Lines) -> Change:
    """payload: operation, the key of one that was accepted. What somebody changed since stays as it is."""
    key = text(op.payload, "operation")
    undo, first = state.undo.get(key), state.outcomes.get(key)
    if undo is None or first is None:
        raise Refusal("nothing-to-take-back", "that was never saved, or was refused")
    if first.target != op.target:
        raise Refusal("other-target", "that was done somewhere else")
    back = {k: v for k, v in undo.answers.items() if state.versions.get(k) == key}
    kept = tuple((k, "changed since") for k in undo.answers if k not in back)
    heads_ups = {k: v for k, v in undo.heads_ups.items() if state.versions.get(k) == key}
    notes = {k: v for k, v in undo.notes.items() if state.versions.get(k) == key}
    if not (back or heads_ups or notes):
        raise Refusal("nothing-to-take-back", "it was changed since, or cannot be taken back")
    return Change(back, heads_ups, notes, filled=tuple(back), not_filled=kept)


# ---- On a station, one side of it, a structure, or the whole exam


def _all_normal(state: ExamState, op: Operation, walk: Walk, lines: Lines) -> Change:
    """payload: lines, the keys the page had shown. Fills routine lines still not yet, no others."""
    if op.target == EXAM:
        raise Refusal("no-such-station", "there is no normal for a whole exam")
    listed, despite = texts(op.payload, "lines"), texts(op.payload, "despite")
    group = lines.at(op.target)
    guards.check_heads_ups(state, (group[0].station,), despite)
    answers: dict[str, LineAnswer | None] = {}
    not_filled: list[tuple[str, str]] = [(k, "not at this place") for k in listed if k not in _keys(group)]
    filled: list[str] = []
    for line in group:
        if line.hidden or line.whole_station:
            continue
        why = _why_not_normal(state, op, lines, line, listed, despite)
        if why:
            not_filled.append((line.key, why))
        else:
            filled.append(line.key)
            answers |= _stored(line, _answer(op, NORMAL, together=True))
    return Change(answers, filled=tuple(filled), not_filled=tuple(not_filled))


def _keys(group: Iterable[Line]) -> set[str]:
    return {line.key for line in group}


def _why_not_normal(
    state: ExamState,
    op: Operation,
    lines: Lines,
    line: Line,
    listed: tuple[str, ...],
    despite: tuple[str, ...],
) -> str:
    absent = why_absent(state, line)
    if absent:
        return f"not applicable: {absent}"
    answer = shown(state, lines, line.key)
    if answer:
        return f"already {answer.status.replace('-', ' ')}"
    if any(k in state.answers for k in line.stored_at):
        return "one side is answered"
    if line.depth != "routine":
        return "needs a value" if line.depth == "measured" else "on indication"
    if line.key not in listed:
        return "was not on screen"
    try:
        guards.check_role(op.role, line)
        guards.check_heads_ups(state, _stations_of(line), despite)
    except Refusal as refusal:
        return refusal.words
    return ""


def _rest_not_examined(state: ExamState, op: Operation, walk: Walk, lines: Lines) -> Change:
    """payload: reason, words, lines (leave out: every open one), all (true: routine lines too)."""
    reason, words = text(op.payload, "reason"), text(op.payload, "words")
    guards.check_reason(walk, "not-examined", reason, words, op.role)
    if not reason:
        raise Refusal("reason", "say why")
    listed = texts(op.payload, "lines") if "lines" in op.payload else None
    every = op.payload.get("all") is True
    answers: dict[str, LineAnswer | None] = {}
    filled: list[str] = []
    not_filled: list[tuple[str, str]] = []
    for line in lines if op.target == EXAM else lines.at(op.target):
        open_line = not why_absent(state, line) and not line.whole_station
        if not open_line or shown(state, lines, line.key) or (listed is not None and line.key not in listed):
            continue
        if line.stored_at[0] in answers:
            continue
        if line.asked == "every" and not every:
            not_filled.append((line.key, "part of every exam"))
            continue
        filled.append(line.key)
        answer = _answer(op, NOT_EXAMINED, reason=reason, reason_words=words, together=True)
        answers |= {k: answer for k in line.stored_at if k not in state.answers}
    return Change(answers, filled=tuple(filled), not_filled=tuple(not_filled))


# ---- Heads-ups and the exam itself


def _pin_heads_up(state: ExamState, op: Operation, walk: Walk, lines: Lines) -> Change:
    """target: the new heads-up's id. payload: station, words; side where the station has two."""
    station, words = text(op.payload, "station"), text(op.payload, "words")
    side = text(op.payload, "side")
    if op.target in state.heads_ups or op.target in lines or op.target in (EXAM, *walk.station):
        raise Refusal("bad-payload", "that id is in use")
    if station not in walk.station or not words:
        raise Refusal("bad-payload", "a heads-up has a station and words")
    if side not in ("", "left", "right"):
        raise Refusal("bad-payload", "the side of a heads-up is left, right or none")
    pinned = HeadsUp(op.target, station, words, op.observed_by or op.person, side=side)
    return Change(heads_ups={op.target: pinned})


def _answer_heads_up(state: ExamState, op: Operation, walk: Walk, lines: Lines) -> Change:
    """payload: answer (found, nothing, not-today), words. Only a clinician answers."""
    heads_up = state.heads_ups.get(op.target)
    answer = text(op.payload, "answer")
    if heads_up is None:
        raise Refusal("no-such-heads-up", "there is no such heads-up in this exam")
    if heads_up.answer == "elsewhere":
        raise Refusal("no-such-heads-up", "it was pinned on the wrong patient, and stands on the right one")
    if op.role != CLINICIAN:
        raise Refusal("role", "a clinician answers a heads-up")
    if answer not in HEADS_UP_ANSWERS:
        raise Refusal("bad-payload", f"the answer is one of {', '.join(HEADS_UP_ANSWERS)}")
    told = dataclasses.replace(
        heads_up,
        answer=answer,
        answer_words=text(op.payload, "words"),
        answered_by=op.person,
        answered_at=op.made_at,
    )
    return Change(heads_ups={op.target: told})


def _set_kind(state: ExamState, op: Operation, walk: Walk, lines: Lines) -> Change:
    """payload: kind, stations, reason. Leaving the full walk is a clinician's recorded choice."""
    kind, stations = text(op.payload, "kind"), texts(op.payload, "stations")
    if op.target != EXAM or kind not in KINDS or set(stations) - set(walk.station):
        raise Refusal("bad-payload", f"the kind is one of {', '.join(KINDS)}, with stations of the walk")
    if op.role != CLINICIAN:
        raise Refusal("role", "a clinician chooses the kind of exam")
    return Change(
        exam={"kind": kind, "stations": stations, "kind_reason": text(op.payload, "reason")},
    )


def _set_awake(state: ExamState, op: Operation, walk: Walk, lines: Lines) -> Change:
    """payload: awake (awake, sedated, anaesthetised), by_what. What was seen before stays as it is."""
    if op.target != EXAM:
        raise Refusal("bad-payload", "awake is said of the exam")
    told = since(text(op.payload, "awake"), text(op.payload, "by_what"), at=op.made_at, person=op.person)
    return Change(exam={"awake": told.state, "awake_log": (*state.awake_log, told)})


ON_LINES: Mapping[str, Handler] = {
    "set_normal": _set_normal,
    "set_abnormal": _set_abnormal,
    "set_in_part": _set_in_part,
    "set_not_examined": _set_not_examined,
    "measure": _measure,
    "confirm": _confirm,
    "clear": _clear,
}
ON_GROUPS: Mapping[str, Handler] = {
    "station_all_normal": _all_normal,
    "station_rest_not_examined": _rest_not_examined,
}
ON_OTHERS: Mapping[str, Handler] = {
    "note": _note,
    "take_back": _take_back,
    "pin_heads_up": _pin_heads_up,
    "answer_heads_up": _answer_heads_up,
    "set_kind": _set_kind,
    "set_awake": _set_awake,
}
WHAT = (*ON_LINES, *ON_GROUPS, *ON_OTHERS)
