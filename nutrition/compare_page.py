"""Foods side by side as a table of words: one column a food."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from nutrition.comparison import PARTS, Compared, Part, compared
from nutrition.factors import Factors
from nutrition.foods import Food

MOST = 4
NAMES = {
    "protein": "Protein",
    "fat": "Fat",
    "fibre": "Fibre",
    "ash": "Ash",
    "nfe": "Carbohydrate (NFE)",
}


@dataclass(frozen=True)
class Line:
    label: str
    cells: tuple[str, ...]
    note: str = ""


@dataclass(frozen=True)
class Group:
    title: str
    source: str
    lines: tuple[Line, ...]


@dataclass(frozen=True)
class ComparePage:
    names: tuple[str, ...]
    columns: int
    groups: tuple[Group, ...]
    refused: tuple[str, ...]
    too_few: bool


def compare_page(foods: Sequence[Food], factors: Factors) -> ComparePage:
    """At most four foods, in the order they were chosen."""
    shown = [compared(food, factors) for food in foods[:MOST]]
    return ComparePage(
        names=tuple(each.food.name for each in shown),
        columns=len(shown) + 1,
        groups=(_energy(shown), *_analysis(shown)),
        refused=tuple(each.refused for each in shown if each.refused),
        too_few=len(shown) < 2,
    )


def _kcal(value: float | None) -> str:
    return "–" if value is None else f"{value:,.0f}"


def _line(label: str, shown: Sequence[Compared], say: Callable[[Compared], str], note: str = "") -> Line:
    return Line(label, tuple(say(each) for each in shown), note)


def _energy(shown: Sequence[Compared]) -> Group:
    def off(each: Compared) -> str:
        return "–" if each.off_percent is None else f"{each.off_percent:+.0f} %"

    def steps(each: Compared) -> str:
        return "; ".join(f"{_kcal(kcal)} ({kind})" for kind, kcal in each.four_steps) or "–"

    def measure(each: Compared) -> str:
        food = each.food
        return f"{food.kcal_per_unit:g} a {food.unit}" if food.unit and food.kcal_per_unit else "–"

    lines = (
        _line("On the label", shown, lambda each: _kcal(each.label)),
        _line("By modified Atwater", shown, lambda each: _kcal(each.atwater)),
        _line("That differs from the label by", shown, off),
        _line("By the four steps", shown, steps),
        _line("Portions go by", shown, lambda each: _kcal(each.used), "the label first"),
        _line("In one measure", shown, measure),
    )
    return Group("kcal in a kilogram as fed", "AAFCO Model Regulation PF9; NRC 2006", lines)


def _analysis(shown: Sequence[Compared]) -> list[Group]:
    def of(name: str, say: Callable[[Part], str]) -> Callable[[Compared], str]:
        def cell(each: Compared) -> str:
            found = [part for part in each.parts if part.name == name]
            assumed = " assumed" if name == "ash" and each.ash_assumed else ""
            return f"{say(found[0])}{assumed}" if found else "–"

        return cell

    def grams(part: Part) -> str:
        return "–" if part.per_1000_kcal is None else f"{part.per_1000_kcal:.0f} g"

    dry = [_line(NAMES[name], shown, of(name, lambda part: f"{part.dry_matter:.1f} %")) for name in PARTS]
    rich = [_line(NAMES[name], shown, of(name, grams)) for name in PARTS]
    moisture = _line(
        "Moisture as fed",
        shown,
        lambda each: "–" if each.moisture_percent is None else f"{each.moisture_percent:g} %",
    )
    return [
        Group("In dry matter", "value × 100 / (100 − moisture)", (moisture, *dry)),
        Group("In 1,000 kcal", "% as fed × 10,000 / (kcal/kg)", tuple(rich)),
    ]
