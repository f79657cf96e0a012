"""Exact conversion between the units a value may be typed in and its canonical unit.

A unit is never parsed from text or guessed: it is one of a closed list.
"""

from collections.abc import Callable
from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum

POUND_KG = Decimal("0.45359237")
CANONICAL_STEP = Decimal("0.000001")


class Unit(StrEnum):
    KG = "kg"
    LB = "lb"
    G = "g"
    CELSIUS = "C"
    FAHRENHEIT = "F"
    PER_MIN = "per-min"
    SECONDS = "s"
    MMHG = "mmHg"
    MM_PER_MIN = "mm-per-min"
    BCS_9 = "bcs-9"
    MCS_4 = "mcs-4"
    PAIN_4 = "pain-4"
    GUM_COLOUR = "gum-colour"


UNIT_WORDS = {
    Unit.CELSIUS: "°C",
    Unit.FAHRENHEIT: "°F",
    Unit.PER_MIN: "a minute",
    Unit.MM_PER_MIN: "mm in a minute",
    Unit.BCS_9: "of 9",
}

_TO_CANONICAL: dict[Unit, tuple[Unit, Callable[[Decimal], Decimal]]] = {
    Unit.LB: (Unit.KG, lambda value: value * POUND_KG),
    Unit.G: (Unit.KG, lambda value: value / 1000),
    Unit.FAHRENHEIT: (Unit.CELSIUS, lambda value: (value - 32) * 5 / 9),
}

_FROM_CANONICAL: dict[Unit, Callable[[Decimal], Decimal]] = {
    Unit.LB: lambda value: value / POUND_KG,
    Unit.G: lambda value: value * 1000,
    Unit.FAHRENHEIT: lambda value: value * 9 / 5 + 32,
}


def canonical_unit(unit: Unit) -> Unit:
    """The unit in which a value typed in `unit` is stored and compared."""
    return _TO_CANONICAL[unit][0] if unit in _TO_CANONICAL else unit


def to_canonical(value: Decimal, unit: Unit) -> Decimal:
    """kg, °C or the unit itself. Exact, but for thirds and ninths of a degree (28 digits)."""
    return _TO_CANONICAL[unit][1](value) if unit in _TO_CANONICAL else value


def from_canonical(value: Decimal, unit: Unit) -> Decimal:
    """The canonical value in `unit`, not rounded."""
    return _FROM_CANONICAL[unit](value) if unit in _FROM_CANONICAL else value


def stored(value: Decimal) -> Decimal:
    """A canonical value as it is kept: six decimals (a milligram, a millionth of a degree)."""
    return value.quantize(CANONICAL_STEP, ROUND_HALF_UP)


def rounded(value: Decimal, decimals: int) -> Decimal:
    """Rounded half up, as people do, to `decimals` places."""
    return value.quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_UP)


def plain(value: Decimal) -> str:
    """Digits without an exponent or needless zeros: `Decimal("40.0")` reads 40."""
    text = format(value, "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def with_unit(value: Decimal, unit: Unit) -> str:
    """For people: "38.6 °C", "170 a minute"."""
    return f"{plain(value)} {UNIT_WORDS.get(unit, unit.value)}"


def shown_weight(kg: Decimal) -> str:
    """Both units people use: "5.62 kg (12.4 lb)"; grams under 1 kg: "150 g (0.33 lb)"."""
    pounds = from_canonical(kg, Unit.LB)
    if kg < 1:
        return f"{rounded(kg * 1000, 0)} g ({rounded(pounds, 2)} lb)"
    return f"{rounded(kg, 2)} kg ({rounded(pounds, 1)} lb)"
