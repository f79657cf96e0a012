"""How much it weighs today, where the sentence also says what it was before or elsewhere."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from exams.spoken.clause import Clause
from exams.spoken.counted import MASSES, WEIGHT, in_range
from exams.spoken.terms import FIGURE, Term

ELSEWHERE = ("past", "owner", "others", "plan", "if", "later")  # talk of another day or another scale


def weighed_today(clauses: Sequence[Clause], now: Collection[str]) -> tuple[Term, str, list[Term]] | None:
    """ "Was forty-two kilos in June, forty point five today.", "Lost half a kilo, now five point one.": the
    number of today, its unit if any was said, and the other numbers of the sentence."""
    terms = [t for c in clauses for t in c.terms]
    units = [k for t in terms for k in t.keys("number-unit")]
    figures = [t for t in terms if t.kind == FIGURE]
    named = any(t.has("noun", "VIT.weight") for t in terms)
    if any(u not in MASSES for u in units) or not (units or named) or len(figures) != 2:
        return None
    if not (named or set(units) & {"kg", "lb"}):
        return None
    today = [
        t
        for clause in clauses
        for t in clause.terms
        if t.kind == FIGURE and _of_today(clause, t, now, any(c.drop == "owner" for c in clauses))
    ]
    if len(today) != 1 or not in_range(WEIGHT, today[0]):
        return None
    unit = next((u for u in units if u in ("kg", "lb")), "")
    return today[0], unit, [t for t in figures if t is not today[0]]


def _of_today(clause: Clause, figure: Term, now: Collection[str], two_scales: bool) -> bool:
    """ "Five point one now", and of two scales "on ours"."""
    others = [t for t in clause.terms if t is not figure]
    if any(t.has("talk", *ELSEWHERE) or t.kind == FIGURE for t in others):
        return False
    if any(t.has("finding") or (t.has("noun") and not t.has("noun", "VIT.weight")) for t in others):
        return False
    said = any(t.text in now for t in others)
    return said or (two_scales and any(t.has("noun", "VIT.weight") for t in others))


def a_change(before: Sequence[Term], change: Collection[str]) -> Term | None:
    """The word of "down thirty grams", "a loss of four hundred grams": how much less, not how much."""
    if before and before[-1].has("word", "towards"):
        return None  # "up to eight kilos" is how much
    near = [t for t in before[-4:] if not t.has("number", "about", "of") and not t.has("word", "article")]
    return near[-1] if near and any(w in change for w in near[-1].words) else None
