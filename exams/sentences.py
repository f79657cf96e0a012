"""Findings in words: for the record, in the trade's terms, and for the owner, in the owner's line."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from exams.lines import Line, side_words
from exams.qualifiers import in_words
from exams.state import ABNORMAL, MEASURED, NORMAL, FindingEntry, LineAnswer
from exams.teeth import tooth
from exams.tooth_chart import HOW_MISSING, KNOWN_EXTRACTION, MISSING, charted_words
from exams.urgency import WORDS
from exams.walk import Station, Walk

# of a unit's code; others are words already
UNIT_WORDS = {
    "C": "°C",
    "F": "°F",
    "per-min": "a minute",
    "mm-per-min": "mm in a minute",
    "bcs-9": "of 9",
    "mcs-4": "",
    "pain-4": "",
}
# a finding named for several grades: "heart murmur grade III-IV of VI"
SPAN = re.compile(r"\b[IVX\d]+-[IVX\d]+ of [IVX\d]+")
# nobody need look under the gum for a tooth that is known to be out
TAKEN_OUT = "A tooth is missing. It was taken out before."


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
        MEASURED: value_words(answer),
    }.get(answer.status, f"not examined, {reason_words(walk, answer) or 'no reason yet'}")
    parts = [told, *(finding_words(walk, f) for f in answer.findings)]
    if answer.charted:
        parts += charted_words(answer.charted, line.side)
    if answer.value and answer.status in (NORMAL, ABNORMAL):
        parts.append(value_words(answer))
    parts += [f"taken as {WORDS[f.urgency]}: {f.urgency_why}" for f in answer.findings if f.urgency]
    if answer.in_part:
        parts.append(f"in part: {reason_words(walk, answer) or 'no reason yet'}")
    if answer.together:
        parts.append("marked together")
    words = "; ".join(p for p in parts if p)
    side = "" if all(f.both_sides for f in answer.findings) and answer.findings else line.side_words
    return f"{side}: {words}" if side else words


def value_words(answer: LineAnswer) -> str:
    """The number as people write it: "38.6 °C", "96 a minute"."""
    return f"{answer.value} {UNIT_WORDS.get(answer.unit, answer.unit)}".strip()


def finding_words(walk: Walk, entry: FindingEntry, *, for_letter: bool = False) -> str:
    """The clinical term with what qualifies it: "excess wax, moderate, brown".

    A letter leaves out what is the staff's own: the note, and who has yet to confirm.
    """
    finding = walk.finding[entry.code]
    scale = walk.scale.get(entry.scale)
    grade = scale.grade(entry.grade) if scale else None
    name = finding.name if entry.awake_estimate else finding.name.removesuffix(", provisional stage")
    degree = f"grade {grade.label}" if grade and grade.label[0].isdigit() else grade.label if grade else ""
    if grade and SPAN.search(name):
        name, degree = SPAN.sub(grade.label, name), ""
    if len(finding.grades) == 1:
        degree = ""
    parts = [
        _lower(name),
        entry.severity,
        degree,
        *(in_words(walk.qualifiers, entry.code, k, v) for k, v in entry.qualifiers.items()),
        f"tooth {entry.tooth}" if entry.tooth else "",
        f"provisional, {entry.made_in or 'awake'}" if entry.awake_estimate else "",
        "not confirmed" if entry.unconfirmed and not for_letter else "",
        "" if for_letter else entry.note,
    ]
    return ", ".join(p for p in parts if p)


def for_owner(
    walk: Walk, line: Line, entry: FindingEntry, *, pet: str = "your pet", species: str = "dog"
) -> OwnerSentence:
    """The owner's line under a heading that carries the side; grade in words; the clinical term apart.

    pet: the animal's name, put for "your pet". The line says what was seen, never a diagnosis.
    """
    station = walk.station[line.station]
    taken_out = entry.code == MISSING and entry.qualifiers.get(HOW_MISSING) == KNOWN_EXTRACTION
    owner_line = TAKEN_OUT if taken_out else walk.finding[entry.code].owner_line
    text = owner_line.replace("Your pet", _capital(pet)).replace("your pet", pet)
    degree = owner_degree(walk, entry)
    if degree:
        text = f"{text} Degree: {degree}."
    return OwnerSentence(
        owner_heading(station, line, entry, species), text, f"({finding_words(walk, entry, for_letter=True)})"
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


def place_for_owner(walk: Walk, structure: str, side: str, species: str) -> str:
    """A structure by its station, side first: "Left ear", "Tooth 307 (lower left ...)"."""
    station = walk.station[walk.structure[structure].station]
    if side.isdigit():
        return f"Tooth {side} ({tooth(species, int(side)).name})"
    if side in ("left", "right", "both"):
        return _sided(station, side)
    return station.owner_name


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


def _lower(text: str) -> str:
    """Lower the first letter unless the word is an abbreviation or a score (BCS 7, S1, Horner's)."""
    keep = text[:2].isupper() or text.startswith(("Horner", "Ortolani", "Schirmer"))
    return text if keep else text[:1].lower() + text[1:]


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
