"""One tap: operations applied to an exam's state. Pure: no clock, no database, resends change nothing.

An operation names its target, what it does, and the operation it follows. A target's version is the key of
its last accepted operation: whoever follows something older is refused and shown both values. A key that
comes again gets its first answer again.

Targets: a line (`EAR.canal|left`), both sides of one (`EAR.canal|both`), a structure (`MTH.teeth`), a station
(`EAR`, `FLB|left`), a heads-up's id, a lump (`lump:<id>`), or `exam`. Where a target is stored under several
keys whose versions differ, its version is those joined by "+", "-" standing for none.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping
from typing import Any

from exams.consciousness import made_in, stamped
from exams.guards import Refusal
from exams.lines import Lines
from exams.lump_lines import refuse_contrary, settled
from exams.lump_taps import handler_of as lump_handler
from exams.lump_today import TARGET as LUMP
from exams.lump_today import lump_to_json
from exams.state import ExamState, LineAnswer, Outcome, Undo, answer_to_json, shown
from exams.taps import (
    EXAM,
    ON_GROUPS,
    ON_LINES,
    ON_OTHERS,
    WHAT,
    Change,
    Handler,
    Operation,
    lines_of,
    stored_keys,
)
from exams.walk import Walk

__all__ = [
    "WHAT",
    "BadOperation",
    "Operation",
    "apply",
    "operation_from_json",
    "operation_to_json",
    "replay",
    "stored_keys",
    "version_of",
]


class BadOperation(ValueError):
    """What came is not an operation at all."""


def operation_from_json(data: Mapping[str, Any], *, person: str, role: str) -> Operation:
    """An operation as posted: key, target, what, payload, made_at, walk_version, follows, observed_by.

    Raises BadOperation when a field is missing, unknown or of another type.
    """
    names = ("key", "target", "what", "made_at", "walk_version")
    if not isinstance(data, Mapping) or set(data) - {*names, "payload", "follows", "observed_by"}:
        raise BadOperation("not an operation")
    if not all(isinstance(data.get(n), str) and data[n] for n in names):
        raise BadOperation(f"an operation has {', '.join(names)}")
    payload, follows, observed = data.get("payload", {}), data.get("follows"), data.get("observed_by", "")
    if (
        not isinstance(payload, Mapping)
        or not isinstance(follows or "", str)
        or not isinstance(observed, str)
    ):
        raise BadOperation("payload, follows or observed_by is of another type")
    return Operation(
        key=data["key"],
        target=data["target"],
        what=data["what"],
        payload=payload,
        person=person,
        role=role,
        made_at=data["made_at"],
        walk_version=data["walk_version"],
        follows=follows or "",
        observed_by=observed,
    )


def operation_to_json(op: Operation) -> dict[str, Any]:
    """As posted, for the log; person and role stand in columns of their own."""
    return {
        "key": op.key,
        "target": op.target,
        "what": op.what,
        "payload": dict(op.payload),
        "made_at": op.made_at,
        "walk_version": op.walk_version,
        "follows": op.follows or None,
        "observed_by": op.observed_by,
    }


def apply(state: ExamState, op: Operation, walk: Walk, lines: Lines) -> tuple[ExamState, Outcome]:
    """The state after the operation, and the answer to whoever sent it. A refusal changes no line."""
    first = state.outcomes.get(op.key)
    if first:
        return state, dataclasses.replace(first, repeated=True)
    try:
        if op.walk_version != walk.sha256:
            raise Refusal("other-walk", "made on another version of the walk; open the exam again")
        handler = _handler(op, lines)
        current = version_of(state, lines, op.target)
        if op.follows != current:
            outcome = _stale(state, op, walk, lines, handler, current)
            return _remember(state, outcome), outcome
        seen_in = made_in(state.awake_log, state.awake, op.payload.get("made_in"))
        change = handler(state, op, walk, lines)
        refuse_contrary(op.what, stored_keys(lines, op.target), state.lumps)
        answers = stamped(change.answers, operation=op.key, state=seen_in)
        change = dataclasses.replace(change, answers=answers)
    except Refusal as refusal:
        outcome = Outcome(op.key, op.target, op.what, "refused", refusal.code, refusal.words)
        return _remember(state, outcome), outcome
    after, outcome = _put(state, op, lines, change)
    return _remember(after, outcome), outcome


def replay(start: ExamState, ops: Iterable[Operation], walk: Walk, lines: Lines) -> ExamState:
    """The state after a log of operations in the order in which they were answered."""
    state = start
    for op in ops:
        state, _ = apply(state, op, walk, lines)
    return state


def version_of(state: ExamState, lines: Lines, target: str) -> str:
    """What the next operation on this target has to follow: "" before the first."""
    versions = [state.versions.get(key, "") for key in stored_keys(lines, target)]
    if len(set(versions)) == 1:
        return versions[0]
    return "+".join(v or "-" for v in versions)


def _handler(op: Operation, lines: Lines) -> Handler:
    if op.target.startswith(LUMP):
        return lump_handler(op.what)
    if op.what in ON_LINES:
        if not lines_of(lines, op.target):
            structure, _, side = op.target.partition("|")
            sided = [x for x in lines.at(structure) if x.side != "-"]
            if sided and side in ("", "-"):
                raise Refusal("needs-side", f"{sided[0].name}: say left, right or both")
            raise Refusal("no-such-line", f"{op.target} is not a line of this animal")
        return ON_LINES[op.what]
    if op.what in ON_GROUPS:
        if op.target != EXAM and not lines.at(op.target):
            raise Refusal("no-such-station", f"{op.target} is not on this walk")
        return ON_GROUPS[op.what]
    if op.what in ON_OTHERS:
        return ON_OTHERS[op.what]
    raise Refusal("unknown-operation", f"{op.what!r} is not something an exam can do")


def _stale(
    state: ExamState, op: Operation, walk: Walk, lines: Lines, handler: Handler, current: str
) -> Outcome:
    theirs = {x.key: answer_to_json(shown(state, lines, x.key)) for x in lines_of(lines, op.target)}
    if op.target.startswith(LUMP):
        theirs[op.target] = lump_to_json(state.lumps.get(op.target.removeprefix(LUMP)))
    try:
        wanted = handler(state, op, walk, lines).answers
        same = bool(wanted) and all(_says(state.answers.get(k)) == _says(v) for k, v in wanted.items())
    except Refusal:
        same = False
    words = "somebody else answered this first"
    return Outcome(
        op.key, op.target, op.what, "refused", "stale", words, version=current, theirs=theirs, same=same
    )


def _says(answer: LineAnswer | None) -> object:
    return answer.says() if answer else None


def _put(state: ExamState, op: Operation, lines: Lines, change: Change) -> tuple[ExamState, Outcome]:
    answers = dict(state.answers)
    for key, answer in change.answers.items():
        if answer is None:
            answers.pop(key, None)
        else:
            answers[key] = answer
    lumps = {k: v for k, v in {**state.lumps, **change.lumps}.items() if v is not None}
    by_lumps = settled(answers, lumps, lines) if lumps or state.lumps else {}
    answers = {k: v for k, v in {**answers, **by_lumps}.items() if v is not None}
    changed = tuple(dict.fromkeys((*change.answers, *by_lumps)))
    touched = (*stored_keys(lines, op.target), *change.answers)
    undo = Undo(
        {k: state.answers.get(k) for k in changed},
        {k: state.heads_ups[k] for k in change.heads_ups if k in state.heads_ups},
        {k: state.notes.get(k, "") for k in change.notes},
        {k: state.lumps.get(k) for k in change.lumps},
    )
    after = dataclasses.replace(
        state,
        answers=answers,
        heads_ups={**state.heads_ups, **change.heads_ups},
        notes={k: v for k, v in {**state.notes, **change.notes}.items() if v},
        versions={**state.versions, **dict.fromkeys(touched, op.key)},
        undo={**state.undo, op.key: undo},
        lumps=lumps,
        **change.exam,
    )
    return after, Outcome(
        op.key,
        op.target,
        op.what,
        "accepted",
        version=op.key,
        filled=change.filled,
        not_filled=change.not_filled,
        changed=changed,
    )


def _remember(state: ExamState, outcome: Outcome) -> ExamState:
    return dataclasses.replace(state, outcomes={**state.outcomes, outcome.key: outcome})
