"""How amounts are said: food as a kitchen scale reads it, an animal's weight in kilograms or pounds. Pure.

The one place where amounts are rounded, and only for reading: sums go on with what is not rounded. A kitchen
scale reads whole grams, or tenths of an ounce, half up; what is split into meals adds up to the day again.
"""

from math import floor

from nutrition.energy import KG_PER_LB

GRAMS_PER_OUNCE = KG_PER_LB * 1000 / 16
SCALE: dict[str, tuple[float, float, str]] = {"g": (1.0, 1.0, "g"), "oz": (GRAMS_PER_OUNCE, 0.1, "oz")}
"""By unit: grams in one of it, the least step a kitchen scale shows of it, its name."""


def scale_steps(grams: float, unit: str = "g") -> int:
    """So many steps of a kitchen scale; food that is there at all is never rounded to nothing."""
    size, step, _ = SCALE[unit]
    return max(floor(grams / size / step + 0.5), 1 if grams > 0 else 0)


def on_scale(grams: float, unit: str = "g") -> str:
    """ "145 g"; in ounces with the grams beside them: "5.1 oz (145 g)"."""
    said = _said(scale_steps(grams, unit), unit)
    return said if unit == "g" else f"{said} ({_said(scale_steps(grams), 'g')})"


def each_meal(grams: float, meals: int, unit: str = "g", to: str = "to") -> str:
    """A day's food in so many meals, which together are the day's: "72 g", or "72 to 73 g" with `to`."""
    least, over = divmod(scale_steps(grams, unit), meals)
    if not over:
        return _said(least, unit)
    return f"{_number(least, unit)} {to} {_said(least + 1, unit)}"


def _said(steps: int, unit: str) -> str:
    return f"{_number(steps, unit)} {SCALE[unit][2]}"


def _number(steps: int, unit: str) -> str:
    return f"{steps:,}" if unit == "g" else f"{steps * SCALE[unit][1]:.1f}"


def in_unit(kg: float, unit: str) -> float:
    """A weight as a number of kg or lb, not rounded."""
    return kg / KG_PER_LB if unit == "lb" else kg


def to_kg(number: float, unit: str) -> float:
    """A weight that was typed in kg or lb, in kg."""
    return number * KG_PER_LB if unit == "lb" else number


def weight_number(kg: float, unit: str) -> str:
    """ "27.4" kg; pounds to a tenth."""
    return f"{round(kg, 3):g}" if unit == "kg" else f"{round(in_unit(kg, unit), 1):g}"


def weight(kg: float, unit: str = "kg") -> str:
    """ "27.4 kg", "60.4 lb"; what weighs less than a kilogram in grams, less than a pound in ounces."""
    if unit == "lb" and kg < KG_PER_LB:
        return f"{kg * 1000 / GRAMS_PER_OUNCE:.1f} oz"
    if unit == "kg" and kg < 1:
        return f"{kg * 1000:.0f} g"
    return f"{weight_number(kg, unit)} {unit}"


def both(kg: float, first: str = "kg") -> str:
    """To a tenth in both units, the one that is read here first: "33.3 kg (73.4 lb)"."""
    kilograms, pounds = f"{kg:.1f} kg", f"{in_unit(kg, 'lb'):.1f} lb"
    return f"{pounds} ({kilograms})" if first == "lb" else f"{kilograms} ({pounds})"
