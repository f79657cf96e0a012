"""Which code of several a grade, a severity, the species or the age picks; grades as the walk writes them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from exams.spoken.shapes import About
from exams.walk import SEVERITY, FindingCode, Walk

ROMAN = ("0", "I", "II", "III", "IV", "V", "VI")


def choose(
    result: str,
    grade: str,
    severity: str,
    about: About,
    walk: Walk,
    places: Sequence[str] = (),
    placed: Mapping[str, frozenset[str]] = MappingProxyType({}),
) -> str:
    """One code of "A|B|C", or of one; empty if none is this animal's. `placed`: those that a place picks."""
    codes = [walk.finding[c] for c in result.split("|") if c in walk.finding]
    codes = [c for c in codes if _of(c, about)]
    if len(codes) <= 1:
        return codes[0].code if codes else ""
    placed_here = [c for c in codes if placed.get(c.code, frozenset()) & set(places)]
    if placed_here:
        return placed_here[0].code
    graded = [c for c in codes if grade and grade in c.grades]
    if graded:
        return graded[0].code
    worded = [c for c in codes if severity and severity in c.grades]
    if worded:
        return worded[0].code
    young = [c for c in codes if c.applies_when.startswith("under")]
    if young:
        return young[0].code
    if severity in SEVERITY and len(codes) == len(SEVERITY) and not any(c.grades for c in codes):
        return codes[SEVERITY.index(severity)].code
    return codes[0].code


def ungraded(result: str, grade: str, severity: str, about: About, walk: Walk) -> tuple[str, ...]:
    """The codes of "A|B|C" that stand for grades of one scale, where no word says which: none is taken for
    another. Empty where the words decide, or need not."""
    codes = [walk.finding[c] for c in result.split("|") if c in walk.finding]
    codes = [c for c in codes if _of(c, about)]
    decided = any({grade, severity} & set(c.grades) for c in codes)
    scales = {c.grade_scale for c in codes}
    if len(codes) < 2 or decided or len(scales) != 1 or not all(c.grades for c in codes):
        return ()
    return tuple(c.code for c in codes)


def _of(code: FindingCode, about: About) -> bool:
    if about.species and about.species not in code.species:
        return False
    if code.applies_when == "under-6-months":
        return about.age_months is not None and about.age_months < 6
    if code.applies_when == "under-16-weeks":
        return about.age_months is not None and about.age_months < 4
    if code.applies_when.startswith("female") and about.sex.startswith("male"):
        return False
    return not (code.applies_when.startswith("male") and about.sex.startswith("female"))


def grade_key(codes: Sequence[str], grade: str, walk: Walk) -> str:
    """The key of the finding's scale for a grade that was said, else what was said."""
    if not grade:
        return ""
    for code in codes:
        finding = walk.finding.get(code)
        scale = walk.scale.get(finding.grade_scale) if finding else None
        if scale is not None and scale.grade(grade) is not None:
            return grade
    return grade
