"""Teeth by the modified Triadan system: which numbers exist, their names, sides and quadrants.

Sources: modified Triadan numbering as taught by RVC and WikiVet; dental formulas: Bellows, Feline Dentistry;
eruption: common practice (adult set complete by 6-7 months, ranges).
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

QUADRANTS = {
    1: "upper-right", 2: "upper-left", 3: "lower-left", 4: "lower-right",
    5: "upper-right", 6: "upper-left", 7: "lower-left", 8: "lower-right",
}  # fmt: skip
QUADRANT_KEYS = ("upper-right", "upper-left", "lower-left", "lower-right")

_POSITIONS: dict[tuple[str, int], range | tuple[int, ...]] = {
    ("dog", 1): range(1, 11), ("dog", 2): range(1, 11), ("dog", 3): range(1, 12), ("dog", 4): range(1, 12),
    ("cat", 1): (1, 2, 3, 4, 6, 7, 8, 9), ("cat", 2): (1, 2, 3, 4, 6, 7, 8, 9),
    ("cat", 3): (1, 2, 3, 4, 7, 8, 9), ("cat", 4): (1, 2, 3, 4, 7, 8, 9),
    ("dog", 5): (1, 2, 3, 4, 6, 7, 8), ("dog", 6): (1, 2, 3, 4, 6, 7, 8),
    ("dog", 7): (1, 2, 3, 4, 6, 7, 8), ("dog", 8): (1, 2, 3, 4, 6, 7, 8),
    ("cat", 5): (1, 2, 3, 4, 6, 7, 8), ("cat", 6): (1, 2, 3, 4, 6, 7, 8),
    ("cat", 7): (1, 2, 3, 4, 7, 8), ("cat", 8): (1, 2, 3, 4, 7, 8),
}  # fmt: skip
_NAMES = {
    1: "first incisor", 2: "second incisor", 3: "third incisor", 4: "canine", 5: "first premolar",
    6: "second premolar", 7: "third premolar", 8: "fourth premolar", 9: "first molar", 10: "second molar",
    11: "third molar",
}  # fmt: skip
_CARNASSIALS = (108, 208, 309, 409)

DECIDUOUS_UNTIL_DAYS = 90  # mixed teeth from 3-4 months
MIXED_UNTIL_DAYS = 213  # adult set complete by 6-7 months


class ToothError(ValueError):
    """The number or its side does not exist in this species; the message says why."""


@dataclass(frozen=True, slots=True)
class Tooth:
    number: int
    name: str
    side: str
    quadrant: str
    deciduous: bool
    carnassial: bool


def valid_teeth(species: str, *, deciduous: bool = False) -> tuple[int, ...]:
    """Every Triadan number of the full set: dog 42 or 28, cat 30 or 26."""
    digits = range(5, 9) if deciduous else range(1, 5)
    return tuple(100 * d + p for d in digits for p in _POSITIONS[species, d])


def tooth(species: str, number: int) -> Tooth:
    """The tooth of that number. Raises ToothError when this species has none."""
    digit, position = divmod(number, 100)
    if (species, digit) not in _POSITIONS or position not in _POSITIONS[species, digit]:
        raise ToothError(_why_not(species, number))
    quadrant = QUADRANTS[digit]
    jaw, _, side = quadrant.partition("-")
    words = f"{'deciduous ' if digit > 4 else ''}{jaw} {side} {_NAMES[position]}"
    return Tooth(number, words, side, quadrant, digit > 4, number in _CARNASSIALS)


def check_side(number: int, side: str) -> None:
    """The side follows from the number and is never typed; a side that disagrees raises ToothError."""
    quadrant = QUADRANTS.get(number // 100)
    if quadrant is None:
        raise ToothError(f"{number} is not a Triadan number")
    derived = quadrant.partition("-")[2]
    if side.lower() != derived:
        raise ToothError(f"{number // 100}xx is {derived}")


def at_position(line_number: int, number: int) -> bool:
    """Whether a tooth stands at a line's position: the tooth itself or its deciduous predecessor."""
    return number == line_number or (line_number < 500 and number == line_number + 400)


def dentition(species: str, age_days: int | None) -> tuple[int, ...]:
    """The positions to look at: deciduous under 3 months, the adult set from then on (age unknown: adult).

    In mixed teeth a line is an adult position; the tooth found there may still be its predecessor.
    """
    young = age_days is not None and age_days < DECIDUOUS_UNTIL_DAYS
    return valid_teeth(species, deciduous=young)


def retained(present: Collection[int], age_months: float) -> tuple[int, ...]:
    """Baby teeth to be coded MTH-12: still there at 7 months, or beside their successor from 6 months on."""
    baby = sorted(n for n in present if n >= 500)
    return tuple(n for n in baby if age_months >= 7 or (age_months >= 6 and n - 400 in present))


def unexplained_gaps(
    species: str, age_months: float, missing: Collection[int], extracted: Collection[int]
) -> tuple[int, ...]:
    """Adult teeth to be coded MTH-07: not seen from 7 months on, and no extraction recorded."""
    if age_months < 7:
        return ()
    return tuple(sorted(n for n in set(missing) - set(extracted) if tooth(species, n).number < 500))


def _why_not(species: str, number: int) -> str:
    digit, position = divmod(number, 100)
    if digit not in QUADRANTS or position not in _NAMES:
        return f"{number} is not a Triadan number"
    if digit > 4 and position == 5:
        return f"{number}: there is no deciduous first premolar"
    if digit > 4 and position > 8:
        return f"{number}: there is no deciduous molar"
    return f"{number}: a {species} has no {QUADRANTS[digit].replace('-', ' ')} {_NAMES[position]}"
