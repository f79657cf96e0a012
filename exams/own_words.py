"""A clinic's changes to the walk in words, and where its walk differs from the published one. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from exams.own_walk import CALLED_FOR, EVERY, Changes, home_of, offered_at
from exams.walk import FindingCode, Structure, Walk
from exams.walk_texts import is_a_test

URGENCY = {"M": "monitor", "R": "recheck", "T": "treat soon", "E": "emergency"}
SIDES = {"none": "no side", "L/R": "left, right or both", "L/R or midline": "left, right, both or midline"}


@dataclass(frozen=True, slots=True)
class Difference:
    """One place where the clinic's walk differs. `code`: the line's or the finding's."""

    kind: str
    code: str
    station: str
    place: str
    title: str
    words: str


def line_name(walk: Walk, s: Structure) -> str:
    """The line with its station: names repeat over the stations."""
    return f"{walk.station[s.station].short}: {s.name}"


def asked_words(s: Structure) -> str:
    """When the line is asked, as the lists say it."""
    often = {EVERY: "every exam", CALLED_FOR: "on indication"}[s.asked]
    return f"measured, {often}" if s.depth == "measured" else often


def effect_words(s: Structure) -> str:
    """What being asked so means on the exam page."""
    if s.asked == CALLED_FOR:
        return "It waits until somebody calls for it, and is left out with the second tap of its station."
    if s.depth == "measured":
        return "Every exam waits for its value, or for a reason why there is none."
    if is_a_test(s):
        return (
            "Every exam waits for its own answer. It is a test, so the station’s one tap “All of these are "
            "normal” never answers it."
        )
    return "Every exam waits for it; the station’s one tap “All of these are normal” answers it too."


def species_words(species: tuple[str, ...]) -> str:
    return "dogs and cats" if len(species) > 1 else f"{species[0]}s"


def finding_facts(walk: Walk, f: FindingCode) -> tuple[tuple[str, str], ...]:
    """A finding of the clinic's own, line by line."""
    return (
        ("Offered at", "; ".join(line_name(walk, walk.structure[s]) for s in f.structures)),
        ("For", species_words(f.species)),
        ("Side", SIDES[f.side_text]),
        ("How much", ", ".join(f.severity_words) or "not asked"),
        ("Urgency", f"{URGENCY[f.urgency]}: {f.urgency_reason}"),
        ("In the owner’s words", f.owner_line),
        ("Also said as", ", ".join(f.spoken) or "nothing else"),
        ("Code", f.code),
    )


def change_words(walk: Walk, change: Mapping[str, Any]) -> str:
    """What a proposal asks for, in a line. `walk`: the clinic's own before it."""
    kind = change.get("kind")
    if kind == "asked":
        home = home_of(walk, str(change["structure"]))
        often = "part of every exam" if change["asked"] == EVERY else "asked on indication only"
        return f"{line_name(walk, home)}: {often}"
    if kind == "first":
        s = walk.structure[str(change["structure"])]
        names = [walk.finding[c].name for c in change["order"] if c in walk.finding]
        return f"{line_name(walk, s)}: the findings in another order, first {', '.join(names[:3])}"
    if kind == "finding":
        s = walk.structure[str(change["structures"][0])]
        verb = "changed" if change.get("code") else "a finding of our own"
        return f"{line_name(walk, s)}: {verb}, “{change['name']}”"
    if kind == "retire":
        f = walk.finding[str(change["code"])]
        again = "offered no longer" if change.get("retired", True) else "offered again"
        return f"“{f.name}” ({f.code}): {again}"
    return "Everything back to the published walk"


def differences(published: Walk, own: Walk, changes: Changes) -> tuple[Difference, ...]:
    """Where the clinic's walk differs from the published one, in walking order."""
    found = []
    for station in own.stations:
        for s in station.structures:
            was = published.structure[s.code]
            if s.asked != was.asked and not s.twin:
                words = f"{asked_words(s)}; published: {asked_words(was)}"
                found.append(Difference("asked", s.code, station.code, station.short, s.name, words))
            if s.code in changes.first:
                names = [own.finding[c].name for c in offered_at(own, s.code)[:3]]
                words = f"first {', '.join(names)}"
                found.append(Difference("first", s.code, station.code, station.short, s.name, words))
        for f in station.findings:
            if f.own:
                words = "our own, offered no longer" if f.retired else "our own finding"
                found.append(Difference("finding", f.code, station.code, station.short, f.name, words))
    return tuple(found)
