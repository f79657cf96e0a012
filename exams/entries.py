"""From what a tablet sent to findings as they are kept: every guard on codes, sides, severity and grades."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import Any

from exams import guards
from exams.consciousness import is_firm, made_in
from exams.guards import CLINICIAN, Refusal
from exams.lines import Line, Lines
from exams.state import ExamState, FindingEntry
from exams.teeth import QUADRANTS, ToothError, at_position, tooth
from exams.tooth_chart import check_radiograph
from exams.walk import CLASSES, FindingCode, Walk

AWAKE_CODES = ("MTH-05",)  # periodontal disease: also before it has a stage
_FIELDS = {
    "code",
    "severity",
    "grade",
    "scale",
    "qualifiers",
    "circumstances",
    "tooth",
    "note",
    "urgency",
    "made_in",
}
_FIELDS |= {"urgency_why"}
_FIELDS |= {"unconfirmed"}  # somebody else's grade, entered for them: it stays to be confirmed


def text(payload: Mapping[str, Any], name: str) -> str:
    value = payload.get(name, "")
    if not isinstance(value, str):
        raise Refusal("bad-payload", f"{name} is not text")
    return value.strip()


def texts(payload: Mapping[str, Any], name: str) -> tuple[str, ...]:
    value = payload.get(name, [])
    if not isinstance(value, list) or not all(isinstance(v, str) for v in value):
        raise Refusal("bad-payload", f"{name} is not a list of texts")
    return tuple(value)


def read_findings(
    payload: Mapping[str, Any], *, state: ExamState, walk: Walk, lines: Lines, line: Line, role: str
) -> tuple[FindingEntry, ...]:
    """The findings of a payload for one line. Raises Refusal for the first that cannot stand there.

    A class that a clinician set for a finding stays with it when somebody else saves the line.
    """
    sent = payload.get("findings", [])
    if not isinstance(sent, list) or not all(isinstance(d, dict) and set(d) <= _FIELDS for d in sent):
        raise Refusal("bad-payload", "findings is not a list of findings")
    seen_in = made_in(state.awake_log, state.awake, payload.get("made_in"))
    stood = state.answers.get(line.stored_at[0])
    known = {_same(e): e.made_in for e in stood.findings} if stood else {}
    classes = {_which(e): (e.urgency, e.urgency_why) for e in stood.findings if e.urgency} if stood else {}
    entries = tuple(
        _seen(
            _classed(_entry(d, walk, lines, line, role), d, classes, role),
            d,
            state,
            seen_in=seen_in,
            known=known,
        )
        for d in sent
    )
    seen = [_which(e) for e in entries]
    if len(set(seen)) < len(seen):
        raise Refusal("bad-payload", "a finding is named twice")
    return entries


def entry_of(walk: Walk, code: str, grade: str = "") -> FindingEntry:
    """A finding that a score brought with it."""
    finding = walk.finding[code]
    return FindingEntry(
        code,
        grade=grade,
        scale=finding.grade_scale,
        variant=finding.variant,
        both_sides=finding.sideless,
    )


def _which(entry: FindingEntry) -> tuple[object, ...]:
    return (entry.code, entry.tooth, entry.qualifiers.get("side", ""))


def _same(entry: FindingEntry) -> tuple[object, ...]:
    return (*_which(entry), entry.severity, entry.grade)


def _classed(
    entry: FindingEntry,
    data: Mapping[str, Any],
    classes: Mapping[tuple[object, ...], tuple[str, str]],
    role: str,
) -> FindingEntry:
    """With the class of urgency a clinician gives it, or gave it before."""
    sent = _urgency(data)
    if role == CLINICIAN:
        if sent[0] and not sent[1]:
            raise Refusal("urgency", "say why the class is another than the usual one")
        return dataclasses.replace(entry, urgency=sent[0], urgency_why=sent[1])
    own = [told for which, told in classes.items() if which[:2] == (entry.code, entry.tooth)]
    stands = classes.get(_which(entry), own[0] if len(own) == 1 else ("", ""))  # its side was put right
    if sent[0] and sent != stands:
        raise Refusal("role", "only a clinician sets the class of urgency")
    return dataclasses.replace(entry, urgency=stands[0], urgency_why=stands[1])


def _seen(
    entry: FindingEntry,
    data: Mapping[str, Any],
    state: ExamState,
    *,
    seen_in: str,
    known: Mapping[tuple[object, ...], str],
) -> FindingEntry:
    """With the state it was seen in. What stood keeps its own, unless the tablet says it was seen anew."""
    stood = known.get(_same(entry), seen_in)
    seen = made_in(state.awake_log, stood, data["made_in"]) if data.get("made_in") else stood
    estimate = entry.code in AWAKE_CODES and not is_firm(seen)
    return dataclasses.replace(entry, made_in=seen, awake_estimate=estimate)


def _entry(data: Mapping[str, Any], walk: Walk, lines: Lines, line: Line, role: str) -> FindingEntry:
    finding = guards.check_code(walk, lines, line, text(data, "code"))
    qualifiers = _qualifiers(data, finding, walk)
    structure = walk.structure.get(line.structure)
    guards.check_side(finding, line, structure.side_text if structure else "", qualifiers)
    severity = text(data, "severity")
    guards.check_severity(finding, severity)
    scale, grade = guards.check_grade(walk, finding, text(data, "grade"), text(data, "scale"))
    guards.check_thrill(finding, grade, qualifiers)
    guards.check_direction(finding, qualifiers)
    entry = FindingEntry(
        code=finding.code,
        severity=severity,
        grade=grade,
        scale=scale if grade else "",
        qualifiers=qualifiers,
        circumstances=_circumstances(data, walk),
        tooth=_tooth(data, finding, lines, line),
        note=text(data, "note"),
        variant=finding.variant,
        unconfirmed=(role != CLINICIAN or data.get("unconfirmed") is True) and bool(severity or grade),
        both_sides=finding.sideless and line.side in ("left", "right"),
    )
    check_radiograph(entry)
    return entry


def _qualifiers(data: Mapping[str, Any], finding: FindingCode, walk: Walk) -> dict[str, str]:
    sent = data.get("qualifiers", {})
    if not isinstance(sent, dict) or not all(isinstance(v, str) for v in sent.values()):
        raise Refusal("bad-payload", "qualifiers is not a set of texts")
    qualifiers = {name: value.strip() for name, value in sent.items() if value.strip()}
    guards.check_qualifiers(walk, finding, qualifiers)
    return qualifiers


def _circumstances(data: Mapping[str, Any], walk: Walk) -> tuple[str, ...]:
    said = texts(data, "circumstances")
    unknown = [c for c in said if c not in walk.circumstance]
    if unknown:
        raise Refusal("circumstance", f"{unknown[0]!r} is not a circumstance of this walk")
    return said


def _urgency(data: Mapping[str, Any]) -> tuple[str, str]:
    """The class as sent, and why; both empty when none was."""
    letter = text(data, "urgency")
    if letter and letter not in tuple(CLASSES):
        raise Refusal("urgency", f"{letter!r} is not a class of urgency")
    return letter, text(data, "urgency_why") if letter else ""


def _tooth(data: Mapping[str, Any], finding: FindingCode, lines: Lines, line: Line) -> int | None:
    """The tooth of a dental finding: the line's own, its predecessor, or one of the line's quadrant."""
    sent = data.get("tooth")
    if sent is not None and (not isinstance(sent, int) or isinstance(sent, bool)):
        raise Refusal("bad-payload", "tooth is not a number")
    position = int(line.side) if line.side.isdigit() else None
    number = sent if sent is not None else position
    if number is None:
        if finding.side_text == "tooth":
            raise Refusal("needs-tooth", f"{finding.name}: say which tooth")
        return None
    try:
        tooth(lines.animal.species, number)
    except ToothError as error:
        raise Refusal("tooth", str(error)) from error
    wrong = position is not None and not at_position(position, number)
    if wrong or (line.side in QUADRANTS.values() and QUADRANTS[number // 100] != line.side):
        raise Refusal("tooth", f"{number} does not stand at {line.side_words}")
    return number
