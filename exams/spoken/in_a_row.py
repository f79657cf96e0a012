"""Temperature, pulse and breaths, one behind the other: "T P R thirty-eight six, ninety, twenty-four"."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from exams.spoken.clause import Clause
from exams.spoken.counted import BREATHS, PULSE, TEMPERATURE, in_range
from exams.spoken.terms import FIGURE, Term

ROW = (TEMPERATURE, PULSE, BREATHS)


def in_a_row(clauses: Sequence[Clause], letters: Sequence[str]) -> Iterator[tuple[str, Term]]:
    """What each of three numbers is of, where the three letters lead them or each has its own."""
    terms = [t for c in clauses if not c.drop for t in c.terms]
    words = [w for t in terms for w in t.words if t.kind != FIGURE]
    figures = [t for t in terms if t.kind == FIGURE]
    together = "".join(words) == "".join(letters)
    each = [t.text for t in terms if t.kind != FIGURE] == list(letters) and all(
        t.kind == FIGURE for t in terms[1::2]
    )
    if len(figures) != len(ROW) or not (together or each):
        return
    temperature, pulse, breaths = figures
    assert temperature.number is not None
    if temperature.number.temperature() and in_range(PULSE, pulse) and in_range(BREATHS, breaths):
        yield from zip(ROW, figures, strict=True)
