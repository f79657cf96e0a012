"""How much of each active ingredient one dose holds, and how much that is for each kilogram. Pure.

Reckoned only where strength and dose are written in units that fit each other; nothing is judged by it, and
no dose stands here. Amounts are in mg, weights in kg.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

_MG = {"mg": 1.0, "g": 1000.0, "µg": 0.001, "mcg": 0.001, "microgram": 0.001, "micrograms": 0.001}
_NUMBER = r"(\d+(?:[.,]\d+)?)"
_AMOUNT = re.compile(rf"{_NUMBER}\s*(mg|g|µg|mcg|micrograms?)\b", re.IGNORECASE)
_PER = re.compile(rf"(?:\bin|/|\bper)\s*(?:(an?|one)\s+|{_NUMBER}\s*)?([a-zµ]+)", re.IGNORECASE)
_FRACTIONS = {"½": 0.5, "¼": 0.25, "¾": 0.75, "⅓": 1 / 3}
_WORDS = {
    "half": 0.5, "quarter": 0.25, "a": 1.0, "an": 1.0, "one": 1.0, "two": 2.0, "three": 3.0, "four": 4.0,
}  # fmt: skip


@dataclass(frozen=True)
class Given:
    """One ingredient of one dose. `mg_per_kg`: None without a weight."""

    ingredient: str
    mg: float
    mg_per_kg: float | None


def given_in_a_dose(
    *, strength: str, dose: str, ingredients: Sequence[str], weight_kg: float | None
) -> tuple[Given, ...]:
    """Each ingredient with its mg and mg/kg; nothing when strength or dose cannot be reckoned with.

    >>> given_in_a_dose(
    ...     strength="50 mg in a chew", dose="half a chew", ingredients=["carprofen"], weight_kg=12.5
    ... )
    (Given(ingredient='carprofen', mg=25.0, mg_per_kg=2.0),)
    """
    per, taken = _strength(strength), _dose(dose)
    if per is None or taken is None:
        return ()
    amounts, count, unit = per
    if unit != taken[1] or len(amounts) != len(ingredients):
        return ()
    times = taken[0] / count
    return tuple(
        Given(name, round(mg * times, 4), round(mg * times / weight_kg, 4) if weight_kg else None)
        for name, mg in zip(ingredients, amounts, strict=True)
    )


def in_words(given: Sequence[Given]) -> str:
    """carprofen 25 mg, 2 mg/kg; for each ingredient."""
    return "; ".join(
        f"{each.ingredient} {_plain(each.mg)} mg"
        + (f", {_plain(each.mg_per_kg)} mg/kg" if each.mg_per_kg is not None else "")
        for each in given
    )


def _plain(number: float) -> str:
    """Three figures that mean something, without zeros at the end."""
    return f"{number:.3g}" if abs(number) < 1000 else f"{number:.0f}"


def _strength(text: str) -> tuple[list[float], float, str] | None:
    """mg of each ingredient, in how many, of what: ([3.0, 1.0], 1.0, "ml")."""
    per = _PER.search(text)
    if per is None:
        return None
    amounts = [_float(number) * _MG[unit.lower()] for number, unit in _AMOUNT.findall(text[: per.start()])]
    if not amounts:
        return None
    number = _float(per[2]) if per[2] else 1.0
    return (amounts, number, _unit(per[3])) if number > 0 else None


def _dose(text: str) -> tuple[float, str] | None:
    """How many, of what: "1½ tablets" is (1.5, "tablet")."""
    words = text.casefold().strip()
    for sign, part in _FRACTIONS.items():
        words = re.sub(rf"(\d+)\s*{sign}", lambda found, part=part: str(int(found[1]) + part), words)  # type: ignore[misc]
        words = words.replace(sign, str(part))
    found = re.fullmatch(rf"(?:{_NUMBER}|({'|'.join(_WORDS)}))(?:\s+of)?(?:\s+an?)?\s*([a-zµ]+)", words)
    if not found:
        return None
    number = _float(found[1]) if found[1] else _WORDS[found[2]]
    return (number, _unit(found[3])) if number > 0 else None


def _unit(word: str) -> str:
    word = word.casefold()
    if word in ("millilitre", "millilitres", "milliliter", "milliliters"):
        return "ml"
    return word.removesuffix("s") if len(word) > 2 else word


def _float(text: str) -> float:
    return float(text.replace(",", "."))
