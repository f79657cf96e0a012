"""Findings in words: for the record, in the trade's terms, and for the owner, in the owner's line."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from exams.lines import Line, side_words
from exams.state import ABNORMAL, MEASURED, NORMAL, FindingEntry, LineAnswer
from exams.teeth import tooth
from exams.walk import Station, Walk


@dataclass(frozen=True, slots=True)
class OwnerSentence:
    """Where it is, what was seen, and the clinical term in brackets, which stands last."""

    heading: str
    text: str
    term: str


def for_record(walk: Walk, line: Line, answer: LineAnswer) -> str:
    """One line as the record says it: "left: excess wax, moderate, brown; in part: wax in the way"."""
    told = {
        NORMAL: "" if answer.findings else "normal",
        ABNORMAL: "" if answer.findings else "abnormal",
        MEASURED: f"{answer.value} {answer.unit}".strip(),
    }.get(answer.status, f"not examined, {reason_words(walk, answer) or 'no reason yet'}")
    parts = [told, *(finding_words(walk, f) for f in answer.findings)]
    if answer.in_part:
        parts.append(f"in part: {reason_words(walk, answer) or 'no reason yet'}")
    if answer.together:
        parts.append("marked together")
    words = "; ".join(p for p in parts if p)
    side = "" if all(f.both_sides for f in answer.findings) and answer.findings else line.side_words
    return f"{side}: {words}" if side else words


def finding_words(walk: Walk, entry: FindingEntry) -> str:
    """The clinical term with what qualifies it: "excess wax, moderate, brown"."""
    finding = walk.finding[entry.code]
    scale = walk.scale.get(entry.scale)
    grade = scale.grade(entry.grade) if scale else None
    fixed = len(finding.grades) == 1
    parts = [
        _lower(finding.name),
        entry.severity,
        f"grade {grade.label}" if grade and grade.label[0].isdigit() else grade.label if grade else "",
        *(_qualifier(name, value) for name, value in entry.qualifiers.items()),
        f"tooth {entry.tooth}" if entry.tooth else "",
        "provisional, awake" if entry.awake_estimate else "",
        "not confirmed" if entry.unconfirmed else "",
        entry.note,
    ]
    if fixed:
        parts[2] = ""
    return ", ".join(p for p in parts if p)


def for_owner(
    walk: Walk, line: Line, entry: FindingEntry, *, pet: str = "your pet", species: str = "dog"
) -> OwnerSentence:
    """The owner's line under a heading that carries the side; grade in words; the clinical term apart.

    pet: the animal's name, put for "your pet". The line says what was seen, never a diagnosis.
    """
    finding = walk.finding[entry.code]
    station = walk.station[line.station]
    text = finding.owner_line.replace("Your pet", _capital(pet)).replace("your pet", pet)
    degree = owner_degree(walk, entry)
    if degree:
        text = f"{text} Degree: {degree}."
    return OwnerSentence(
        owner_heading(station, line, entry, species), text, f"({finding_words(walk, entry)})"
    )


def owner_degree(walk: Walk, entry: FindingEntry) -> str:
    """Severity or grade in an owner's words: "moderate", "grade 3 of 6, medium"; empty: the line says it."""
    if entry.severity:
        return entry.severity
    scale = walk.scale.get(entry.scale)
    grade = scale.grade(entry.grade) if scale else None
    if grade is None or len(walk.finding[entry.code].grades) == 1:
        return ""
    return grade.owner or grade.label


def owner_heading(station: Station, line: Line, entry: FindingEntry, species: str = "dog") -> str:
    """Where it is, side first and spelled out: "Left ear", "Right back leg", "Tooth 307 (lower left ...)"."""
    if entry.tooth:
        return f"Tooth {entry.tooth} ({tooth(species, entry.tooth).name})"
    side = line.side if line.side != "-" else entry.qualifiers.get("side", "")
    if entry.both_sides or not side:
        return station.owner_name
    if side in ("left", "right", "both"):
        return _sided(station, side)
    if side.partition("-")[0] in ("left", "right"):
        left_right, _, number = side.partition("-")
        return f"{_capital(left_right)} milk gland {number}"
    return f"{station.owner_name}, {side_words(side, species)}"


def normal_line(stations: Iterable[Station]) -> str:
    """Neighbours that were normal, joined: "Eyes, ears and nose and face: normal."."""
    names = [s.owner_name if i == 0 else _lower(s.owner_name) for i, s in enumerate(stations)]
    joined = ", ".join(names[:-1]) + (" and " if len(names) > 1 else "") + names[-1] if names else ""
    return f"{joined}: normal." if joined else ""


def not_examined_for_owner(walk: Walk, station: Station, line: Line, answer: LineAnswer) -> str:
    """Not examined, or seen in part, with why: "Left ear, canal: not examined. It hurt too much."."""
    reason = walk.reason.get(answer.reason)
    why = answer.reason_words or (reason.owner if reason else "")
    heading = owner_heading(station, line, FindingEntry(""))
    state = "seen in part" if answer.in_part else "not examined"
    sentence = f"{heading}, {_lower(line.name)}: {state}."
    return f"{sentence} {_capital(why)}." if why else sentence


def reason_words(walk: Walk, answer: LineAnswer) -> str:
    reason = walk.reason.get(answer.reason)
    said = [reason.words if reason and not reason.needs_words else "", answer.reason_words]
    return ", ".join(s for s in said if s)


def _sided(station: Station, side: str) -> str:
    part = station.owner_part
    if part:
        return f"Both {part}s" if side == "both" else f"{_capital(side)} {part}"
    return f"{station.owner_name}, {'both sides' if side == 'both' else f'{side} side'}"


def _qualifier(name: str, value: str) -> str:
    """Values that speak for themselves stand alone; yes and no need their question."""
    return f"{name.rstrip('?')}: {value}" if value in ("yes", "no") else value


def _lower(text: str) -> str:
    """Lower the first letter unless the word is an abbreviation or a score (BCS 7, S1, Horner's)."""
    keep = text[:2].isupper() or text.startswith(("Horner", "Ortolani", "Schirmer"))
    return text if keep else text[:1].lower() + text[1:]


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
