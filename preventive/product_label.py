"""A product's label as somebody types it: to the plain facts of the clinic's list, and back. Pure."""

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from preventive.dates import Span, Unit
from preventive.products import preventive_facts, vaccine_facts
from preventive.rules import Rules

SIZES = 8
FORMS = ("chew", "tablet", "spot-on", "liquid", "collar", "injection")
_GRAM = Decimal("0.001")


class SizesWrong(ValueError):
    """The sizes do not follow one another; the message says which."""


@dataclass(frozen=True)
class Size:
    """One size of the label, in the unit it is printed in. A missing end is open."""

    low: Decimal | None
    high: Decimal | None


def band_rows(sizes: Sequence[Size], *, unit: str, kg: Decimal) -> list[dict[str, Any]]:
    """The bands, named as labels name them; `kg`: kilograms in one `unit`.

    A size that begins where the one before ends takes what is heavier: over 5 to 10 kg. Raises SizesWrong.
    """
    rows: list[dict[str, Any]] = []
    before: Decimal | None = None
    for number, size in enumerate(sizes, start=1):
        low, high = size.low, size.high
        if low is not None and high is not None and high <= low:
            raise SizesWrong(f"Size {number}: {_plain(high)} {unit} is not more than {_plain(low)} {unit}.")
        if number > 1 and (before is None or low is None or low < before):
            raise SizesWrong(f"Size {number} begins before size {number - 1} ends.")
        row: dict[str, Any] = {"name": _named(low, high, unit, follows=low is not None and low == before)}
        if low is not None:
            least = (low * kg).quantize(_GRAM, ROUND_HALF_UP)
            row["min_kg"] = float(least + _GRAM if low == before else least)
        if high is not None:
            row["max_kg"] = float((high * kg).quantize(_GRAM, ROUND_HALF_UP))
        rows.append(row)
        before = high
    return rows


def _named(low: Decimal | None, high: Decimal | None, unit: str, *, follows: bool) -> str:
    if low is None:
        return f"up to {_plain(high)} {unit}" if high is not None else "all weights"
    if high is None:
        return f"over {_plain(low)} {unit}" if follows else f"from {_plain(low)} {unit}"
    return f"{'over ' if follows else ''}{_plain(low)} to {_plain(high)} {unit}"


def _plain(value: Decimal | None) -> str:
    return f"{value.normalize():f}" if value is not None else ""


_NAME = re.compile(
    r"(?:up to (?P<most>[\d.]+)|(?:over |from )?(?P<low>[\d.]+)(?: to (?P<high>[\d.]+))?) (kg|lb)"
)


def sizes_typed(bands: Sequence[Mapping[str, Any]]) -> tuple[str, list[Size]]:
    """The unit and the ends as labels print them, read back from the bands' names."""
    names = [str(each["name"]) for each in bands]
    return "lb" if any(name.endswith(" lb") for name in names) else "kg", [_size(name) for name in names]


def _size(name: str) -> Size:
    found = _NAME.fullmatch(name)
    if found is None:
        return Size(None, None)
    high = found["most"] or found["high"]
    return Size(Decimal(found["low"]) if found["low"] else None, Decimal(high) if high else None)


def foreign_antigens(antigens: Collection[str], species: Collection[str], rules: Rules) -> list[str]:
    """Names of those that no rule has for one of these species: a dose of them would move no date."""
    known = {
        each: {rules.rabies.antigen}
        | {code for rule in rules.vaccines.values() if rule.species == each for code in rule.antigens}
        for each in species
    }
    return [rules.antigens[code] for code in antigens if any(code not in known[each] for each in species)]


def antigens_offered(rules: Rules) -> tuple[tuple[str, str], ...]:
    """Those that a rule of some species asks for, in the order of the rules."""
    codes = [rules.rabies.antigen, *(code for rule in rules.vaccines.values() for code in rule.antigens)]
    return tuple((code, rules.antigens[code]) for code in dict.fromkeys(codes))


def unknown_ingredients(ingredients: Collection[str], rules: Rules) -> list[str]:
    """Those of which no class is known, so that no question by class is asked before they go home."""
    return [each for each in ingredients if each not in rules.ingredients]


def vaccine_label(told: Mapping[str, Any]) -> dict[str, Any]:
    """Plain facts of a vaccine, as `products` reads them. Raises ListUnreadable."""
    usual = told["route"]
    facts: dict[str, Any] = {
        "antigens": list(told["antigens"]),
        "type": told["type"],
        "routes": [usual, *(each for each in told["also"] if each != usual)],
    }
    if told["licensed_months"]:
        facts["licensed_months"] = told["licensed_months"]
    for name in ("min_age", "min_interval"):
        if told[name]:
            facts[name] = str(told[name])
    if told["volume"]:
        facts["volume"] = told["volume"]
    vaccine_facts(facts)
    return facts


def preventive_label(told: Mapping[str, Any]) -> dict[str, Any]:
    """Plain facts of a preventive. Raises ListUnreadable."""
    facts: dict[str, Any] = {
        "form": told["form"],
        "ingredients": list(told["ingredients"]),
        "protects": list(told["protects"]),
        "interval": str(told["interval"]),
        "bands": list(told["bands"]),
    }
    if told["min_age"]:
        facts["min_age"] = str(told["min_age"])
    preventive_facts(facts)
    return facts


def span_of(number: int | None, unit: str) -> Span | None:
    return Span(number, Unit(unit)) if number else None
