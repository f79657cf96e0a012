"""Exact conversion between the units a value may be typed in and its canonical unit.

A unit is never parsed from text or guessed: it is one of a closed list.
"""

from collections.abc import Callable
from dataclasses import dataclass
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


@dataclass(frozen=True)
class Units:
    """What a reader weighs and reads by: `weight` kg or lb, `temperature` C or F, `food` g or oz."""

    weight: str = "kg"
    temperature: str = "C"
    food: str = "g"


METRIC = Units()

WORD_LABELS = {
    "under-1": "under 1 s",
    "1-2": "1 to 2 s",
    "over-2-to-3": "over 2 to 3 s",
    "over-3": "over 3 s",
    "cannot-assess": "cannot tell",
}

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


def shown_weight(kg: Decimal, first: str = "kg") -> str:
    """Both units people use, the reader's `first`: "5.62 kg (12.4 lb)", "12.4 lb (5.62 kg)".

    Under 1 kg in grams: "150 g (0.33 lb)".
    """
    small = kg < 1
    metric = f"{rounded(kg * 1000, 0)} g" if small else f"{rounded(kg, 2)} kg"
    pounds = f"{rounded(from_canonical(kg, Unit.LB), 2 if small else 1)} lb"
    return f"{pounds} ({metric})" if first == "lb" else f"{metric} ({pounds})"


def weight_in(kg: Decimal, unit: str) -> str:
    """In the reader's kg or lb alone: "27.4 kg", "60.4 lb"."""
    return f"{plain(kg)} kg" if unit != "lb" else f"{plain(rounded(from_canonical(kg, Unit.LB), 1))} lb"


def both_temperatures(celsius: Decimal, first: str) -> str:
    """Both scales, the reader's `first`: "38.6 °C (101.5 °F)"."""
    other = "C" if first == "F" else "F"
    return f"{temperature_in(celsius, first)} ({temperature_in(celsius, other)})"


def temperature_in(celsius: Decimal, unit: str) -> str:
    """In the reader's C or F alone, to a tenth: "38.6 °C", "101.5 °F"."""
    scale = Unit.FAHRENHEIT if unit == "F" else Unit.CELSIUS
    return with_unit(rounded(from_canonical(celsius, scale), 1), scale)
