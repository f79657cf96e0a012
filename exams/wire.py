"""What the exam page is given: the patient's lines with their findings, and how each stands. Plain JSON."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from exams.asking import asked, circumstances_of
from exams.lines import Line, Lines
from exams.operations import version_of
from exams.scale_sheets import sheet_json, sheets_for, sheets_of
from exams.state import ExamState, answer_to_json, shown, standing, why_absent
from exams.walk import Walk


def walk_json(walk: Walk, lines: Lines) -> dict[str, Any]:
    """What does not change while the exam is open: stations, lines, findings offered, scales, reasons."""
    offered = {c for line in lines for c in (*line.codes, *line.limits)}
    ways: list[dict[str, Any]] = []
    scales = sheets_for(walk, lines, offered)
    return {
        "version": walk.sha256,
        "stations": [_station(walk, lines, code) for code in walk.station],
        "findings": {c: _finding(walk, c, ways) for c in sorted(offered)},
        "ways": ways,
        "scales": {k: sheet_json(walk.scale[k], lines.animal.species) for k in scales},
        "sheets": sheets_of(lines),
        "reasons": [
            {"key": r.key, "words": r.words, "use": r.use, "roles": r.roles, "needs_words": r.needs_words}
            for r in walk.reasons
        ],
        "circumstances": circumstances_of(walk),
    }


def state_json(state: ExamState, lines: Lines) -> dict[str, Any]:
    """How each line stands, with the version that the next operation on it has to follow."""
    return {
        "lines": {line.key: _standing(state, lines, line) for line in lines if not line.hidden},
        "stations": {
            code: version_of(state, lines, code) for code in dict.fromkeys(x.station for x in lines)
        },
        "exam": {
            "version": version_of(state, lines, "exam"),
            "kind": state.kind,
            "stations": state.stations,
            "awake": state.awake,
        },
        "heads_ups": [
            {
                "id": h.id,
                "station": h.station,
                "words": h.words,
                "person": h.person,
                "answer": h.answer,
                "version": version_of(state, lines, h.id),
            }
            for h in state.heads_ups.values()
        ],
        "notes": dict(state.notes),
    }


def _station(walk: Walk, lines: Lines, code: str) -> dict[str, Any]:
    station = walk.station[code]
    return {
        "code": code,
        "title": station.title,
        "short": station.short,
        "per_side": station.per_side,
        "lines": [_line(walk, line) for line in lines.at(code) if not line.hidden],
    }


def _line(walk: Walk, line: Line) -> dict[str, Any]:
    structure = walk.structure.get(line.structure)
    return {
        "key": line.key,
        "structure": line.structure,
        "side": line.side,
        "name": line.name,
        "side_words": line.side_words,
        "depth": line.depth,
        "asked": line.asked,
        "value": line.value,
        "within": line.within,
        "covered_by": line.covered_by,
        "absent": line.absent,
        "why": line.why,
        "stored_at": line.stored_at,
        "normal_means": structure.normal_means if structure else "",
        "how_to_check": structure.how_to_check if structure else "",
        "codes": line.codes,
        "limits": line.limits,
    }


NOT_SAID: Mapping[str, Any] = {"codes": (), "limits": ()}  # what a line has that does not say it; others: ""


def packed(told: Mapping[str, Any]) -> dict[str, Any]:
    """`walk_json` for the way to the tablet: of each line what the line before of its structure does not say.

    `unpacked` (model.js) puts it together again. The page has hundreds of lines, most of them of pairs.
    """
    return {
        **told,
        "stations": [{**each, "lines": list(_packed(each["lines"]))} for each in told["stations"]],
    }


def _packed(lines: Iterable[Mapping[str, Any]]) -> Iterator[dict[str, Any]]:
    before: Mapping[str, Any] = {}
    for line in lines:
        base = before if before.get("structure") == line["structure"] else {}
        own = {k: v for k, v in line.items() if v != base.get(k, NOT_SAID.get(k, ""))}
        for name, usual in (("key", f"{line['structure']}|{line['side']}"), ("stored_at", (line["key"],))):
            own.pop(name, None)
            if line[name] != usual:
                own[name] = line[name]
        yield own
        before = line


def _finding(walk: Walk, code: str, ways: list[dict[str, Any]]) -> dict[str, Any]:
    f = walk.finding[code]
    return {
        "name": f.name,
        "qualifiers": f.qualifiers,
        "side": f.side_text,
        "variant": f.variant,
        "scale": f.grade_scale,
        "grades": f.grades,
        "severity": f.severity_words,
        "urgency": f.urgency,
        "change_class_when": f.change_class_when,
        "change": [[c.to, c.all] for c in f.change],
        "asked": asked(walk, f, ways),
    }


def _standing(state: ExamState, lines: Lines, line: Line) -> dict[str, Any]:
    word, _ = standing(state, lines, line.key)
    return {
        "state": word,
        "why": why_absent(state, line),
        "version": version_of(state, lines, line.key),
        "answer": answer_to_json(shown(state, lines, line.key)),
    }
