"""From what a tablet sent to findings as they are kept: every guard on codes, sides, severity and grades."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from exams import guards
from exams.guards import CLINICIAN, Refusal
from exams.lines import Line, Lines
from exams.state import ExamState, FindingEntry
from exams.teeth import QUADRANTS, ToothError, at_position, tooth
from exams.walk import CLASSES, FindingCode, Walk

AWAKE_ESTIMATES = ("periodontal-4",)
_FIELDS = {"code", "severity", "grade", "scale", "qualifiers", "circumstances", "tooth", "note", "urgency"}


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
    """The findings of a payload for one line. Raises Refusal for the first that cannot stand there."""
    sent = payload.get("findings", [])
    if not isinstance(sent, list) or not all(isinstance(d, dict) and set(d) <= _FIELDS for d in sent):
        raise Refusal("bad-payload", "findings is not a list of findings")
    entries = tuple(_entry(d, state, walk, lines, line, role) for d in sent)
    seen = [(e.code, e.tooth, e.qualifiers.get("side", "")) for e in entries]
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


def _entry(
    data: Mapping[str, Any], state: ExamState, walk: Walk, lines: Lines, line: Line, role: str
) -> FindingEntry:
    finding = guards.check_code(walk, lines, line, text(data, "code"))
    qualifiers = _qualifiers(data, finding)
    structure = walk.structure.get(line.structure)
    guards.check_side(finding, line, structure.side_text if structure else "", qualifiers)
    severity = text(data, "severity")
    guards.check_severity(finding, severity)
    scale, grade = guards.check_grade(walk, finding, text(data, "grade"), text(data, "scale"))
    guards.check_thrill(finding, grade, qualifiers)
    guards.check_direction(finding, qualifiers)
    return FindingEntry(
        code=finding.code,
        severity=severity,
        grade=grade,
        scale=scale if grade else "",
        qualifiers=qualifiers,
        circumstances=_circumstances(data, walk),
        tooth=_tooth(data, finding, lines, line),
        note=text(data, "note"),
        urgency=_urgency(data, role),
        variant=finding.variant,
        unconfirmed=role != CLINICIAN and bool(severity or grade),
        awake_estimate=finding.grade_scale in AWAKE_ESTIMATES and state.awake != "anaesthetised",
        both_sides=finding.sideless and line.side in ("left", "right"),
    )


def _qualifiers(data: Mapping[str, Any], finding: FindingCode) -> dict[str, str]:
    sent = data.get("qualifiers", {})
    if not isinstance(sent, dict) or not all(isinstance(v, str) for v in sent.values()):
        raise Refusal("bad-payload", "qualifiers is not a set of texts")
    qualifiers = {name: value.strip() for name, value in sent.items() if value.strip()}
    guards.check_qualifiers(finding, qualifiers)
    return qualifiers


def _circumstances(data: Mapping[str, Any], walk: Walk) -> tuple[str, ...]:
    said = texts(data, "circumstances")
    unknown = [c for c in said if c not in walk.circumstance]
    if unknown:
        raise Refusal("circumstance", f"{unknown[0]!r} is not a circumstance of this walk")
    return said


def _urgency(data: Mapping[str, Any], role: str) -> str:
    letter = text(data, "urgency")
    if letter and letter not in tuple(CLASSES):
        raise Refusal("urgency", f"{letter!r} is not a class of urgency")
    if letter and role != CLINICIAN:
        raise Refusal("role", "only a clinician sets the class of urgency")
    return letter


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
