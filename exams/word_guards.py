"""Words that contradict what they stand beside: asked about once, with the reason. Pure.

Left and right mixed up: letters gave the wrong side in 5 of 150 patients of a human audit (Urology Annals
2014, wrong side in letters). Abbreviations: the ISMP list of error-prone abbreviations (OD has been read as
once daily, and mixed with AD). The words for thin and heavy are common practice.

Every question is answered with `sure: true` in the payload of the same tap.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any

from exams.guards import Refusal
from exams.lines import Line
from exams.state import FindingEntry
from exams.walk import Walk

SCORE_LINE = "BCM.score"
THIN = ("thin", "skinny", "bony", "emaciated", "underweight", "wasted")
HEAVY = ("fat", "obese", "overweight", "heavy", "chubby", "plump")
HEAVIEST_THIN, LIGHTEST_HEAVY = 5, 5  # of 9: at 6 and more nothing is thin, at 4 and less nothing is heavy
_SIDE = re.compile(r"\b(?<!all )(left|right)\b(?! away| now| after)", re.IGNORECASE)
_SHORT = re.compile(r"\b(OD|OS|OU|AD|AS|AU|WNL)\b")
FULL = {
    "OD": "right eye", "OS": "left eye", "OU": "both eyes", "AD": "right ear", "AS": "left ear",
    "AU": "both ears", "WNL": "what was normal",
}  # fmt: skip


def is_sure(payload: Mapping[str, Any]) -> bool:
    """Whether somebody was asked and said that it is so."""
    return payload.get("sure") is True


def check_words(line: Line | None, side: str, words: str, *, name: str) -> None:
    """side: left, right or empty, as the line or the finding has it. Raises Refusal."""
    short = _SHORT.search(words)
    if short:
        full = FULL[short.group(1)]
        raise Refusal("abbreviation", f"{name}: {short.group(1)} is misread easily. Write “{full}”?")
    named = {each.lower() for each in _SIDE.findall(words)}
    if side in ("left", "right") and named and side not in named:
        raise Refusal(
            "side-named", f"{name}: the note says {named.pop()}, this is the {side} side. Is it so?"
        )


def check_finding_words(line: Line, entries: Iterable[FindingEntry], note: str, walk: Walk) -> None:
    """A finding's own side, or the line's, against what its note and the line's note say. Raises Refusal."""
    for entry in entries:
        side = entry.qualifiers.get("side", "") or line.side
        for words in (entry.note, note):
            if words:
                check_words(line, side, words, name=walk.finding[entry.code].name)


def check_condition(walk: Walk, line: Line, score: str, entries: Iterable[FindingEntry], words: str) -> None:
    """A body condition score against codes and words that say the opposite. Raises Refusal."""
    if line.structure != SCORE_LINE or not score:
        return
    value = float(score)
    for entry in entries:
        finding = walk.finding[entry.code]
        if finding.grade_scale == "bcs-9" and finding.grades and str(int(value)) not in finding.grades:
            raise Refusal("contradiction", f"{finding.name} does not go with {score} of 9: which is it?")
    said = set(re.findall(r"[a-z]+", words.lower()))
    opposite = (
        said & set(THIN) if value > HEAVIEST_THIN else said & set(HEAVY) if value < LIGHTEST_HEAVY else ()
    )
    if opposite:
        raise Refusal("contradiction", f"{score} of 9, and the note says “{min(opposite)}”: is it so?")
