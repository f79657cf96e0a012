"""What the page asks of a finding: its qualifiers as controls, and the circumstances that move its class."""

from __future__ import annotations

import re
from typing import Any

from exams import nodes
from exams.guards import SHARED_QUALIFIERS
from exams.qualifiers import LASTING, Qualifier, how
from exams.walk import FindingCode, Walk

ASKED_APART = ("side", "number", "onset", "duration", "change", "seen by", "certainty")
LASTS = ("lasting_days", "present_days")
_NAME = re.compile(r"^[a-z_]\w*")


def asked(walk: Walk, finding: FindingCode, ways: list[dict[str, Any]]) -> list[list[Any]]:
    """[name, number of its way in `ways`] for what the finding's own row asks; a new way is put into `ways`.

    Nothing that the line, the grade or a measurement says already.
    """
    found = []
    for name in _names(finding):
        way = _way(how_asked(walk, finding, name))
        if way["kind"] == "known":
            continue
        if way not in ways:
            ways.append(way)
        found.append([name, ways.index(way)])
    return found


def how_asked(walk: Walk, finding: FindingCode, name: str) -> Qualifier:
    if name in SHARED_QUALIFIERS:
        return Qualifier((name,), "one", words=name.removesuffix("?"), values=SHARED_QUALIFIERS[name])
    return how(walk.qualifiers, finding.code, name)


def circumstances_of(walk: Walk) -> dict[str, dict[str, Any]]:
    """By key: its words, the findings and the other circumstances that imply it."""
    return {
        c.key: {"words": c.words}
        | ({"codes": c.codes} if c.codes else {})
        | ({"from": c.implied_by} if c.implied_by else {})
        for c in walk.circumstances
    }


def _names(finding: FindingCode) -> list[str]:
    names = [n for n in finding.qualifiers if n not in ASKED_APART or n == "number"]
    if finding.station == nodes.STATION:  # the line itself holds its node's size
        names = [n for n in names if n != "mm"]
    if finding.grade_scale == "murmur-6" and "thrill" not in names:
        names.append("thrill")
    conditions = [c for change in finding.change for c in change.all]
    if any(_NAME.match(c) and _NAME.match(c)[0] in LASTS for c in conditions):  # type: ignore[index]
        names.append(LASTING)
    return names


def _way(q: Qualifier) -> dict[str, Any]:
    """Only what is said; the names and the findings it is for stay here."""
    plain = {
        "kind": q.kind,
        "words": q.words,
        "values": q.values,
        "unit": q.unit,
        "least": q.least,
        "most": q.most,
        "scales": q.scales,
        "fact": q.fact,
    }
    return {k: v for k, v in plain.items() if v not in ("", (), None)}
