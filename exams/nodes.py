"""Lymph nodes measured in mm, each on its own line, and the findings that their sizes speak for.

Normal is under 10 mm (Blois, Clinical Medicine 1, University of Guelph 2021); two or more regions above it
speak for a generalised enlargement (common practice). A size offers a finding and never records one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from exams import grading
from exams.guards import Refusal
from exams.lines import Line, Lines
from exams.state import NOT_EXAMINED, ExamState, LineAnswer

STATION = "LYM"
EVERYWHERE = f"{STATION}.*|-"
MOST_MM = 200.0


@dataclass(frozen=True, slots=True)
class Suggested:
    """A finding to offer on a line, with the sentence that says why."""

    line: str
    code: str
    words: str


def is_node(line: Line) -> bool:
    return line.station == STATION and not line.whole_station


def sized(payload: Mapping[str, Any], line: Line, before: LineAnswer | None) -> dict[str, str]:
    """The long axis, from `size_mm`: what is sent, nothing when it is empty, else what stood before."""
    if not is_node(line):
        return {}
    sent = payload.get("size_mm")
    if sent is None:
        return {"value": before.value, "unit": before.unit} if before and before.value else {}
    text = str(sent).strip().replace(",", ".")
    if not text:
        return {}
    try:
        mm = float(text)
    except ValueError:
        mm = 0.0
    if not 0 < mm <= MOST_MM:
        raise Refusal("size", f"{line.name}: the long axis in mm, up to {MOST_MM:g}")
    return {"value": f"{mm:g}", "unit": "mm"}


def suggested(state: ExamState, lines: Lines) -> tuple[Suggested, ...]:
    """What the sizes speak for and what is not recorded yet."""
    sizes = {line: mm for line in lines if is_node(line) and (mm := _mm(state, line))}
    if not sizes:
        return ()
    told = grading.lymph_nodes({f"{_region(line)} {line.side}": mm for line, mm in sizes.items()})
    found = []
    for code in told.codes:
        if code == "LYM-04":
            large = dict.fromkeys(x.name for x, mm in sizes.items() if mm >= grading.TEN_MM)
            words = (
                f"10 mm or more in {len(large)} regions ({', '.join(large).lower()}). Normal is under 10 mm."
            )
            found.append(Suggested(EVERYWHERE, code, words))
            continue
        usual = grading.TEN_MM if code == "LYM-05" else 0.0
        for line, mm in sizes.items():
            if mm >= usual and (usual or _region(line) in grading.USUALLY_NOT_FELT):
                says = "Normal is under 10 mm." if usual else "Usually not felt."
                found.append(Suggested(line.key, code, f"{line.name}, {line.side_words}: {mm:g} mm. {says}"))
    return tuple(s for s in found if s.line in lines and s.code not in _codes(state, s.line))


def _mm(state: ExamState, line: Line) -> float:
    answer = state.answers.get(line.stored_at[0])
    if answer is None or answer.status == NOT_EXAMINED or answer.unit != "mm":
        return 0.0
    return float(answer.value)


def _region(line: Line) -> str:
    return line.structure.partition(".")[2]


def _codes(state: ExamState, key: str) -> set[str]:
    answer = state.answers.get(key)
    return {f.code for f in answer.findings} if answer else set()
