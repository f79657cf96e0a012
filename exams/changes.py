"""What is abnormal today, and what became of it since last time: better, same, worse, new, gone. Pure.

Better and worse are said only where both exams stand on the same scale: the same grade scale, the same words
of severity, one measured size in the same unit. What cannot be compared so is "changed"; no guess is made.
What somebody called better or worse themselves (the qualifier "change") goes before any reckoning.

"Gone" needs a look: a line that was not examined today says nothing of what was there, which reads "not
looked at again". These words are ours [common practice].
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from exams.lines import Line, Lines
from exams.sentences import value_words
from exams.state import MEASURED, NOT_EXAMINED, ExamState, FindingEntry, LineAnswer, why_absent
from exams.state import shown as read
from exams.walk import Walk

BETTER, SAME, WORSE, NEW, GONE = "better", "same", "worse", "new", "gone"
CHANGED, UNSEEN = "changed", "not looked at again"
SEVERITIES = ("mild", "moderate", "severe")
SAID = {"better": BETTER, "worse": WORSE, "unchanged": SAME}
# names of qualifiers that hold one size, larger being worse for a lump, a wound or a swelling
SIZES = ("mm", "cm", "size mm", "size")

TWO_ENDED = ("bcs-9",)  # too thin and too heavy lie at both ends of it

Answers = Mapping[str, LineAnswer]


@dataclass(frozen=True, slots=True)
class Change:
    """One finding on one line. `how`: one of the words above; `before`, `now`: its entries, None where none.

    `line` as today's exam has it. `value_before`, `value_now`: for a measured line, with its unit.
    """

    line: Line
    code: str
    how: str
    before: FindingEntry | None = None
    now: FindingEntry | None = None
    value_before: str = ""
    value_now: str = ""


def changes(before: Answers | None, state: ExamState, walk: Walk, lines: Lines) -> tuple[Change, ...]:
    """In walking order. before: the last exam's answers by stored key, None when there was no exam.

    Only lines where either exam found something; variants and limits are left out.
    """
    found: list[Change] = []
    for line in _once(lines):
        then = _answer(before, line)
        now = None if why_absent(state, line) else read(state, lines, line.key)
        if now is not None and now.derived_from and now.derived_from != line.stored_at:
            continue  # it is told where it was recorded
        found += _on_line(line, then, now, walk, known=before is not None)
    return tuple(found)


def changes_on(line: Line, then: LineAnswer, now: LineAnswer, walk: Walk) -> tuple[Change, ...]:
    """What became of one line between two looks at it."""
    return tuple(_on_line(line, then, now, walk, known=True))


def _once(lines: Lines) -> list[Line]:
    """Every line that is kept by itself: twins are told at their home."""
    told: dict[tuple[str, ...], Line] = {}
    for line in lines:
        if not line.hidden:
            told.setdefault(line.stored_at, line)
    return list(told.values())


def _answer(before: Answers | None, line: Line) -> LineAnswer | None:
    if before is None:
        return None
    return next((before[k] for k in line.stored_at if k in before), None)


def _on_line(
    line: Line, then: LineAnswer | None, now: LineAnswer | None, walk: Walk, *, known: bool
) -> list[Change]:
    was, stands = _entries(then, walk), _entries(now, walk)
    looked = now is not None and now.status != NOT_EXAMINED
    values = (_value(then), _value(now))
    if line.depth == "measured" and (_flagged(then) or _flagged(now)) and not (was or stands):
        return [Change(line, "", _by_flag(then, now, looked), None, None, *values)]
    found = []
    for key in dict.fromkeys((*stands, *was)):
        a, b = was.get(key), stands.get(key)
        how = _how(a, b, walk, known=known, seen_whole=looked and not (now and now.in_part))
        found.append(Change(line, b.code if b else a.code if a else "", how, a, b, *values))
    return found


def _entries(answer: LineAnswer | None, walk: Walk) -> dict[tuple[object, ...], FindingEntry]:
    """Findings by what makes two of them the same one: their scale or their code, the tooth, their own side.

    Codes that are grades of one scale are one finding: a murmur that got louder is worse, not another one.
    """
    if answer is None or answer.status == NOT_EXAMINED:
        return {}
    told = [entry for entry in answer.findings if not entry.variant]
    return {(_family(e, walk), e.tooth, e.qualifiers.get("side", "")): e for e in told}


def _family(entry: FindingEntry, walk: Walk) -> str:
    finding = walk.finding.get(entry.code)
    return entry.scale or (finding.grade_scale if finding else "") or entry.code


def _how(a: FindingEntry | None, b: FindingEntry | None, walk: Walk, *, known: bool, seen_whole: bool) -> str:
    if b is None:
        return GONE if seen_whole else UNSEEN
    if a is None:
        return SAID.get(b.qualifiers.get("change", ""), NEW) if known else NEW
    return compare(a, b, walk)


def compare(a: FindingEntry, b: FindingEntry, walk: Walk) -> str:
    """Two records of one finding: better, same, worse, or changed where no common scale says which."""
    said = SAID.get(b.qualifiers.get("change", ""))
    if said:
        return said
    steps = [s for s in (_grade(a, b, walk), _severity(a, b), _size(a, b)) if s]
    if WORSE in steps and BETTER in steps:
        return CHANGED
    if CHANGED in steps:
        return CHANGED
    for word in (WORSE, BETTER):
        if word in steps:
            return word
    return SAME if _says(a) == _says(b) else CHANGED


def _grade(a: FindingEntry, b: FindingEntry, walk: Walk) -> str:
    if not a.grade and not b.grade:
        return ""
    if a.grade == b.grade and a.scale == b.scale:
        return SAME
    scale = walk.scale.get(b.scale)
    if a.scale != b.scale or scale is None:
        return CHANGED
    order = [g.key for g in scale.grades]
    if a.grade not in order or b.grade not in order or scale.key in TWO_ENDED:
        return CHANGED
    return WORSE if order.index(b.grade) > order.index(a.grade) else BETTER


def _severity(a: FindingEntry, b: FindingEntry) -> str:
    if not a.severity and not b.severity:
        return ""
    if a.severity == b.severity:
        return SAME
    if a.severity not in SEVERITIES or b.severity not in SEVERITIES:
        return CHANGED
    return WORSE if SEVERITIES.index(b.severity) > SEVERITIES.index(a.severity) else BETTER


def _size(a: FindingEntry, b: FindingEntry) -> str:
    """One number in the same unit under the same name; several numbers are not put in order."""
    for name in SIZES:
        old, new = _number(a.qualifiers.get(name, "")), _number(b.qualifiers.get(name, ""))
        if old is not None and new is not None:
            return SAME if old == new else WORSE if new > old else BETTER
    return ""


def _number(text: str) -> float | None:
    plain = text.strip().replace(",", ".")
    return float(plain) if re.fullmatch(r"\d+(\.\d+)?", plain) else None


def _says(entry: FindingEntry) -> tuple[object, ...]:
    plain = {k: v for k, v in entry.qualifiers.items() if k not in ("change", "onset", "duration", "seen by")}
    return entry.code, entry.grade, entry.severity, tuple(sorted(plain.items()))


# ---- Measured lines without a code of their own


def _flagged(answer: LineAnswer | None) -> bool:
    return answer is not None and answer.status == MEASURED and answer.flag in ("high", "low")


def _by_flag(then: LineAnswer | None, now: LineAnswer | None, looked: bool) -> str:
    if not _flagged(now):
        return GONE if looked else UNSEEN
    if not _flagged(then):
        return NEW
    assert then is not None
    assert now is not None
    return SAME if (then.flag, _value(then)) == (now.flag, _value(now)) else CHANGED


def _value(answer: LineAnswer | None) -> str:
    return value_words(answer) if answer and answer.status == MEASURED else ""
