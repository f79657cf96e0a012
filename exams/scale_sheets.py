"""Published scales as the page shows them: wording, picture, source, how sure we are, what may be shown."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from exams.lines import Lines
from exams.walk import Grade, Scale, Walk

# what helps to read a line that is no scale itself
OF_LINE = {
    "EYE.tear-test": "tear-test",
    "EYE.pressure": "eye-pressure",
    "EYE.light-reflex": "light-reflex",
    "VIT.blood-pressure": "systolic-pressure",
}
DRAWN = ("bcs-9",)  # for which there is a drawing of ours, a species each


def sheets_of(lines: Lines) -> dict[str, str]:
    """Structure to the scale that its line is read with."""
    nodes = {x.structure: "lymph-node" for x in lines if x.station == "LYM" and not x.whole_station}
    return {x.structure: OF_LINE[x.structure] for x in lines if x.structure in OF_LINE} | nodes


def sheets_for(walk: Walk, lines: Lines, offered: Iterable[str]) -> list[str]:
    """The scales that this animal's page may open: of findings, values, qualifiers, and those beside them."""
    keys = {walk.finding[c].grade_scale for c in offered} | {x.value for x in lines}
    keys |= {k for q in walk.qualifiers for k in q.scales} | set(sheets_of(lines).values())
    keys |= {walk.scale[k].beside for k in keys if k in walk.scale}
    fits = (walk.scale[k] for k in keys if k in walk.scale)
    return sorted(s.key for s in fits if not s.species or lines.animal.species in s.species)


def sheet_json(scale: Scale, species: str) -> dict[str, Any]:
    """Only what is said. `drawn`: there is a drawing of it."""
    plain = {
        "title": scale.title,
        "version": scale.version,
        "source": scale.source,
        "certainty": scale.certainty,
        "permission": scale.permission,
        "note": scale.note,
        "normal": scale.normal,
        "items": scale.items,
        "item_max": scale.item_max,
        "total_max": scale.total_max,
        "act_at": scale.act_at,
        "acts": scale.acts,
        "act_ratio": scale.act_ratio,
        "bands": scale.bands,
        "beside": scale.beside,
        "parts": [
            {"key": p.key, "label": p.label, "grades": _grades(p.grades, species)} for p in scale.parts
        ],
        "drawn": scale.key in DRAWN,
    }
    return {"grades": _grades(scale.grades, species)} | {k: v for k, v in plain.items() if v}


def _grades(grades: Iterable[Grade], species: str) -> list[dict[str, str]]:
    return [
        {"key": g.key, "label": g.label, "wording": (g.wording_cat if species == "cat" else "") or g.wording}
        for g in grades
    ]
