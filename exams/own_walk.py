"""The clinic's own changes to the published walk: what is asked, what comes first, what it adds. Pure.

A clinic changes neither what normal means nor how a finding of the files reads; letters can be corrected one
by one. Codes of its own are never used again: a finding is retired, not deleted, so that every exam of old
reads as it did.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from exams.lines import offered
from exams.walk import CLASSES, OWN, SEVERITY, SPECIES, FindingCode, Structure, Walk, WalkError, check_walk
from exams.walk_texts import faults_of, is_a_test, owner_line_faults

KINDS = ("asked", "first", "finding", "retire", "undo")
EVERY, CALLED_FOR = "every", "called-for"
SIDE_RULES = ("none", "L/R", "L/R or midline")
MOST_SPOKEN = 8
AFTER_ALL = 1000  # rank: behind the findings of the files, until the clinic puts one first


class CannotChange(WalkError):
    """This change cannot be made to the walk; the message is for whoever asked, `field` names where."""

    def __init__(self, words: str, where: str = "") -> None:
        super().__init__(words)
        self.where = where


@dataclass(frozen=True, slots=True)
class Changes:
    """Everything a clinic changed, all told. `asked` and `first` by structure code; `findings` by code."""

    asked: Mapping[str, str] = field(default_factory=dict)
    first: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    findings: Mapping[str, FindingCode] = field(default_factory=dict)

    @property
    def any(self) -> bool:
        """Whether the walk differs from the published one; what is only retired is not offered."""
        return bool(self.asked or self.first or any(not f.retired for f in self.findings.values()))


NONE = Changes()


def changes_to_json(changes: Changes) -> dict[str, Any]:
    return {
        "asked": dict(changes.asked),
        "first": {k: list(v) for k, v in changes.first.items()},
        "findings": [_finding_json(f) for f in changes.findings.values()],
    }


def changes_from_json(data: Mapping[str, Any]) -> Changes:
    """The inverse of `changes_to_json`; an empty dict is no change."""
    found = [_finding_of(d) for d in data.get("findings", ())]
    return Changes(
        dict(data.get("asked", {})),
        {k: tuple(v) for k, v in data.get("first", {}).items()},
        {f.code: f for f in found},
    )


def composed_with(published: Walk, changes: Changes) -> Walk:
    """The published walk with the clinic's changes, checked like the files. Raises WalkError."""
    unknown = (set(changes.asked) | set(changes.first)) - set(published.structure)
    if unknown:
        raise CannotChange(f"not in the walk: {', '.join(sorted(unknown))}")
    stations = []
    for station in published.stations:
        own = tuple(f for f in changes.findings.values() if f.station == station.code)
        stations.append(
            dataclasses.replace(
                station,
                structures=tuple(_structure(published, s, changes) for s in station.structures),
                findings=(*station.findings, *own),
            )
        )
    walk = dataclasses.replace(published, stations=tuple(stations))
    check_walk(walk)
    for fault in faults_of(walk):
        raise CannotChange(fault)
    return walk


def home_of(walk: Walk, code: str) -> Structure:
    """The line that decides for its twins too."""
    structure = walk.structure[code]
    return walk.structure[structure.twin] if structure.twin else structure


def _structure(published: Walk, s: Structure, changes: Changes) -> Structure:
    asked = changes.asked.get(home_of(published, s.code).code, s.asked)
    first = changes.first.get(s.code, ())
    if asked == s.asked:
        return dataclasses.replace(s, first=first)
    if asked not in (EVERY, CALLED_FOR):
        raise CannotChange(f"{s.code}: it is asked every time, or when called for")
    depth = s.depth
    if depth == "routine":
        depth = "indication"
    elif depth == "indication" and not is_a_test(s):
        depth = "routine"
    # a test becomes part of every exam, yet no station's one tap says that it was done
    return dataclasses.replace(s, asked=asked, depth=depth, first=first)


# ---- One change


def with_change(published: Walk, before: Changes, change: Mapping[str, Any]) -> Changes:
    """The clinic's changes after one more. Raises CannotChange.

    change, by its "kind": "asked" has structure, asked; "first" has structure, order (codes as offered);
    "finding" has code ("" for a new one), name, structures, species, side, severity, urgency, urgency_reason,
    owner_line, spoken; "retire" has code, retired; "undo" nothing.
    """
    kind = change.get("kind")
    if kind == "undo":
        gone = {c: dataclasses.replace(f, retired=True) for c, f in before.findings.items()}
        return Changes(findings=gone)
    if kind in ("asked", "first"):
        code = str(change.get("structure", ""))
        if code not in published.structure:
            raise CannotChange("That line is not in the walk.")
        return (_with_asked if kind == "asked" else _with_first)(published, before, code, change)
    if kind == "finding":
        code = str(change.get("code") or "") or next_code(before)
        if change.get("code") and code not in before.findings:
            raise CannotChange("Only a finding of the clinic's own can be changed.")
        finding = own_finding(composed_with(published, before), code, change)
        if code in before.findings:
            finding = dataclasses.replace(finding, retired=before.findings[code].retired)
        after = dataclasses.replace(before, findings={**before.findings, code: finding})
    elif kind == "retire":
        code = str(change.get("code", ""))
        if code not in before.findings:
            raise CannotChange("Only a finding of the clinic's own can be retired.")
        again = dataclasses.replace(before.findings[code], retired=bool(change.get("retired", True)))
        after = dataclasses.replace(before, findings={**before.findings, code: again})
    else:
        raise CannotChange("That is not a change to the walk.")
    composed_with(published, after)
    return after


def next_code(before: Changes) -> str:
    """The next number of the clinic's own; none is ever given twice."""
    return f"{OWN}{1 + max((int(c.removeprefix(OWN)) for c in before.findings), default=0)}"


def _with_asked(published: Walk, before: Changes, code: str, change: Mapping[str, Any]) -> Changes:
    home, asked = home_of(published, code), str(change.get("asked", ""))
    if asked not in (EVERY, CALLED_FOR):
        raise CannotChange("Say whether it is part of every exam.", "asked")
    kept = {k: v for k, v in before.asked.items() if k != home.code}
    if asked != home.asked:
        kept[home.code] = asked
    after = dataclasses.replace(before, asked=kept)
    composed_with(published, after)
    return after


def _with_first(published: Walk, before: Changes, code: str, change: Mapping[str, Any]) -> Changes:
    wanted = tuple(str(c) for c in change.get("order", ()))
    bare = dataclasses.replace(before, first={k: v for k, v in before.first.items() if k != code})
    usual = offered_at(composed_with(published, bare), code)
    if set(wanted) - set(usual):
        raise CannotChange("A finding in this order is not offered at this line.")
    first = shortest_first((*wanted, *(c for c in usual if c not in wanted)), usual)
    return dataclasses.replace(bare, first={**bare.first, code: first}) if first else bare


def shortest_first(wanted: Iterable[str], usual: Iterable[str]) -> tuple[str, ...]:
    """The least that must stand in front, so that the rest in its usual order gives the wanted one."""
    order, rest = list(wanted), list(usual)
    for n in range(len(order) + 1):
        if order[n:] == [c for c in rest if c not in order[:n]]:
            return tuple(order[:n])
    return tuple(order)


def offered_at(walk: Walk, code: str) -> tuple[str, ...]:
    """Every finding that some animal is offered at this line, in the order of the page; limits apart."""
    structure = walk.structure[code]
    side = {"none": "-", "four": "LF", "quadrant": "upper-left", "gland": "left-1", "tooth": "104"}
    here = side.get(structure.sided, "left")
    found = [f for f in offered(walk, code, here) if f.variant != "limit"]
    return tuple(f.code for f in found)


# ---- A finding of the clinic's own


def own_finding(walk: Walk, code: str, said: Mapping[str, Any]) -> FindingCode:
    """The finding that a proposal describes. Raises CannotChange with the field that is wrong."""
    structures = tuple(str(s) for s in said.get("structures", ()))
    if not structures or set(structures) - set(walk.structure):
        raise CannotChange("Choose at least one line where it is offered.", "structures")
    station = walk.structure[structures[0]].station
    if any(walk.structure[s].station != station for s in structures):
        raise CannotChange("All its lines stand at one station.", "structures")
    species = tuple(s for s in SPECIES if s in said.get("species", ()))
    where = set.intersection(*(set(walk.structure[s].species) for s in structures))
    if not species or not set(species) <= where:
        raise CannotChange("Choose for which animals: the line must be one of theirs.", "species")
    name = _one_line(said, "name", 80, "Name it in the trade's words.")
    taken = {f.name.casefold() for f in walk.finding.values() if f.station == station and f.code != code}
    if name.casefold() in taken:
        raise CannotChange("A finding of that name is there already.", "name")
    side, urgency = str(said.get("side", "")), str(said.get("urgency", ""))
    if side not in SIDE_RULES:
        raise CannotChange("Say whether it has a side.", "side")
    if urgency not in tuple(CLASSES):
        raise CannotChange("Choose a class of urgency.", "urgency")
    reason = _one_line(said, "urgency_reason", 200, "Say why this class: the next clinician asks.")
    owner_line = str(said.get("owner_line", "")).strip()
    for fault in owner_line_faults(owner_line):
        raise CannotChange(fault, "owner_line")
    spoken = tuple(dict.fromkeys(s for each in said.get("spoken", ()) if (s := " ".join(str(each).split()))))
    if len(spoken) > MOST_SPOKEN or any(len(s) > 80 for s in spoken):
        raise CannotChange(f"At most {MOST_SPOKEN} spoken forms, each short.", "spoken")
    return _finding_of(
        {
            "code": code,
            "name": name,
            "structures": structures,
            "species": species,
            "side": side,
            "severity": bool(said.get("severity")),
            "urgency": urgency,
            "urgency_reason": reason,
            "owner_line": owner_line,
            "spoken": spoken,
            "retired": False,
        }
    )


def _one_line(said: Mapping[str, Any], name: str, most: int, lacks: str) -> str:
    text = " ".join(str(said.get(name, "")).split())
    if not text:
        raise CannotChange(lacks, name)
    if len(text) > most:
        raise CannotChange(f"At most {most} letters.", name)
    return text


def _finding_json(f: FindingCode) -> dict[str, Any]:
    return {
        **{n: getattr(f, n) for n in ("code", "name", "urgency", "urgency_reason", "owner_line", "retired")},
        **{n: list(getattr(f, n)) for n in ("structures", "species", "spoken")},
        "side": f.side_text,
        "severity": bool(f.severity_words),
    }


def _finding_of(data: Mapping[str, Any]) -> FindingCode:
    """From what was approved once: its texts were checked then."""
    code, species = str(data["code"]), tuple(data["species"])
    return FindingCode(
        code=code,
        name=data["name"],
        qualifiers=(),
        side_text=data["side"],
        applies_text="".join(s[0].upper() for s in species),
        structures=tuple(data["structures"]),
        rank=AFTER_ALL + int(code.removeprefix(OWN)),
        species=species,
        urgency=data["urgency"],
        change_class_when="",
        owner_line=data["owner_line"],
        severity_words=SEVERITY if data["severity"] else (),
        retired=data["retired"],
        urgency_reason=data["urgency_reason"],
        spoken=tuple(data["spoken"]),
    )
