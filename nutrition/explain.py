"""How a sum is shown: one line a step, with what, how, how much and the source under it."""

from dataclasses import dataclass, replace
from typing import Literal

from nutrition.factors import Certainty, Factor, NeedRule, Sentence, Table

Basis = Literal["adult", "growth", "gestation", "lactation", "loss", "own"]


@dataclass(frozen=True, slots=True)
class Line:
    """One step. `how` writes powers with `^`; `value` is not rounded, the page rounds it."""

    what: str
    how: str
    value: float
    unit: str
    source: str
    certainty: Certainty
    note: str = ""


@dataclass(frozen=True, slots=True)
class Estimate:
    """A day's energy in kcal by one rule, with the rule's own range and the steps that lead to it."""

    code: str
    basis: Basis
    says: str
    energy_kcal: float
    low_kcal: float
    high_kcal: float
    lines: tuple[Line, ...]


KCAL_A_DAY = "kcal/day"


def shown(number: float, places: int = 2) -> str:
    """A number as people write it in a sum: no trailing zeros, thousands apart."""
    text = f"{round(number, places):,.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def line(
    what: str,
    how: str,
    value: float,
    rule: Factor | Table | NeedRule | Sentence,
    *,
    unit: str = KCAL_A_DAY,
    note: str = "",
) -> Line:
    """A line that takes source, certainty and note from the rule it used."""
    own = "" if isinstance(rule, Sentence) else rule.note
    return Line(what, how, value, unit, rule.source, rule.certainty, note or own)


def estimate(
    code: str,
    basis: Basis,
    says: str,
    *lines: Line,
    low_kcal: float | None = None,
    high_kcal: float | None = None,
) -> Estimate:
    """An estimate whose energy is the value of its last line; without a range the range is that value."""
    energy = lines[-1].value
    low = energy if low_kcal is None else low_kcal
    high = energy if high_kcal is None else high_kcal
    return Estimate(code, basis, says, energy, low, high, lines)


def with_note(step: Line, note: str) -> Line:
    return replace(step, note=f"{step.note}; {note}" if step.note else note)
