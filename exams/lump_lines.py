"""What lumps of today mean for the walk: the finding on its line, written from the lumps and never apart from
them.

A lump at a mammary gland is GUM-01 on that gland's line, one of an anal sac PER-05 on that side's, any other
SKN-27 on the line of lumps. Several on one line are one finding, as urgent as its most urgent lump.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping

from exams.guards import Refusal
from exams.lines import Lines
from exams.lump_places import Place
from exams.lump_today import MEASURED, LumpToday
from exams.state import ABNORMAL, NOT_EXAMINED, FindingEntry, LineAnswer

SKIN_LINE = "SKN.lumps|-"
SIZE_SAID = {"SKN-27": "mm x mm x mm", "GUM-01": "mm x mm x mm", "PER-05": "mm"}
CONTRARY = ("set_normal", "set_not_examined")


def line_of(place: Place, lines: Lines) -> tuple[str, str]:
    """(line, code) of a lump at this place."""
    wanted = (SKIN_LINE, "SKN-27")
    if place.gland:
        wanted = (f"GUM.mammary|{place.side}-{place.gland}", "GUM-01")
    elif place.rule_region == "anal sac":
        wanted = (f"PER.anal-sacs|{place.side}", "PER-05")
    line, _code = wanted
    return wanted if line in lines and lines[line].applies else (SKIN_LINE, "SKN-27")


def settled(
    answers: Mapping[str, LineAnswer], lumps: Mapping[str, LumpToday], lines: Lines
) -> dict[str, LineAnswer | None]:
    """The lines that read otherwise once the lumps have their say. None: not looked at yet."""
    wanted: dict[str, list[LumpToday]] = {}
    for lump in lumps.values():
        if lump.said == MEASURED and lump.line in lines:
            wanted.setdefault(lump.line, []).append(lump)
    told = [key for key, answer in answers.items() if any(f.from_lumps for f in answer.findings)]
    changed: dict[str, LineAnswer | None] = {}
    for key in dict.fromkeys((*told, *wanted)):
        before = answers.get(key)
        after = _with(before, wanted[key]) if key in wanted else _without(before)
        if after != before:
            changed[key] = after
    return changed


def refuse_contrary(what: str, target_lines: Iterable[str], lumps: Mapping[str, LumpToday]) -> None:
    """A line whose lump was measured today is neither normal nor unseen."""
    if what not in CONTRARY:
        return
    here = [x for x in lumps.values() if x.said == MEASURED and x.line in set(target_lines)]
    if here:
        raise Refusal("lump", f"Lump {here[0].number} was measured here today: this line is abnormal.")


def _with(before: LineAnswer | None, lumps: list[LumpToday]) -> LineAnswer:
    ranked = sorted(lumps, key=lambda x: (len(x.asks), max(x.axes_mm, default=0)), reverse=True)
    newest = max(lumps, key=lambda x: x.made_at)
    code = ranked[0].code
    kept = [f for f in (before.findings if before else ()) if f.code != code]
    by_hand = next((f for f in (before.findings if before else ()) if f.code == code), None)
    entry = _entry(code, ranked, by_hand)
    if before and before.status == ABNORMAL and tuple(before.findings) == (entry, *kept):
        return before
    base = before if before and before.status != NOT_EXAMINED else None
    return LineAnswer(
        ABNORMAL,
        findings=(entry, *kept),
        in_part=bool(base and base.in_part),
        reason=base.reason if base and base.in_part else "",
        reason_words=base.reason_words if base and base.in_part else "",
        person=newest.person,
        role="",
        observed_by=newest.observed_by,
        made_at=newest.made_at,
        operation=newest.operation,
    )


def _entry(code: str, ranked: list[LumpToday], by_hand: FindingEntry | None) -> FindingEntry:
    worst = ranked[0]
    size = " x ".join(f"{a:g}" for a in worst.axes_mm)
    listed = sorted(ranked, key=lambda x: x.number)
    note = "; ".join(f"lump {x.number}" + (f", {x.size}" if len(listed) > 1 else "") for x in listed)
    return FindingEntry(
        code,
        qualifiers={SIZE_SAID[code]: size.partition(" ")[0] if SIZE_SAID[code] == "mm" else size},
        circumstances=tuple(k for k, v in worst.facts.items() if v is True),
        numbers={k: float(v) for k, v in worst.facts.items() if v is not True},
        note=note,
        urgency=by_hand.urgency if by_hand else "",
        urgency_why=by_hand.urgency_why if by_hand else "",
        from_lumps=True,
    )


def _without(before: LineAnswer | None) -> LineAnswer | None:
    kept = tuple(f for f in (before.findings if before else ()) if not f.from_lumps)
    return dataclasses.replace(before, findings=kept) if before and kept else None
