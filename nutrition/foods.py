"""A food as the feeding rules see it, and the reader of a catalogue file."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any, Literal, get_args

from nutrition.factors import Species

Form = Literal["dry", "semi_moist", "canned"]
LifeStage = Literal["adult", "senior", "growth", "large_breed_growth", "reproduction"]
Completeness = Literal["complete", "complementary"]
Unit = Literal["cup", "can", "pouch", "piece"]


class FoodError(ValueError):
    """The catalogue holds something that is no food: the message says which entry and why."""


@dataclass(frozen=True, slots=True)
class Analysis:
    """Percent as fed, as the label states it; ash is often missing."""

    protein_percent: float
    fat_percent: float
    fibre_percent: float
    moisture_percent: float
    ash_percent: float | None = None


@dataclass(frozen=True, slots=True)
class Food:
    """`kcal_per_kg` as fed; `kcal_per_unit` for one household unit; None where the label does not say."""

    code: str
    name: str
    species: frozenset[Species]
    form: Form
    life_stages: frozenset[LifeStage]
    completeness: Completeness = "complete"
    kcal_per_kg: float | None = None
    unit: Unit | None = None
    kcal_per_unit: float | None = None
    raw: bool = False
    meat_free: bool = False
    therapeutic: bool = False
    weight_control: bool = False
    treat: bool = False
    analysis: Analysis | None = None
    note: str = ""


def read(path: Path) -> tuple[Food, ...]:
    """The foods of a catalogue file, in its order. Raises `FoodError`."""
    rows = tomllib.loads(path.read_text(encoding="utf-8")).get("food", [])
    foods = tuple(food_from(row) for row in rows)
    if len({food.code for food in foods}) != len(foods):
        raise FoodError(f"{path.name}: a code stands twice")
    return foods


def food_from(row: Mapping[str, Any]) -> Food:
    """A food from plain values (a TOML table, a JSON row). Raises `FoodError`."""
    code = row.get("code")
    unknown = set(row) - {field.name for field in fields(Food)}
    if unknown:
        raise FoodError(f"{code}: unknown field {sorted(unknown)[0]}")
    values = dict(row)
    values["species"] = _among(row, "species", get_args(Species))
    values["life_stages"] = _among(row, "life_stages", get_args(LifeStage))
    if row.get("analysis") is not None:
        values["analysis"] = Analysis(**row["analysis"])
    _one_of(row, "form", get_args(Form))
    _one_of(row, "completeness", get_args(Completeness))
    _one_of(row, "unit", get_args(Unit))
    try:
        return Food(**values)
    except TypeError as missing:
        raise FoodError(f"{code}: {missing}") from missing


def _among(row: Mapping[str, Any], name: str, allowed: tuple[str, ...]) -> frozenset[Any]:
    chosen = frozenset(row.get(name, ()))
    if not chosen <= set(allowed):
        raise FoodError(f"{row.get('code')}: {name} {sorted(chosen - set(allowed))[0]!r} is not known")
    return chosen


def _one_of(row: Mapping[str, Any], name: str, allowed: tuple[str, ...]) -> None:
    if row.get(name) is not None and row[name] not in allowed:
        raise FoodError(f"{row.get('code')}: {name} {row[name]!r} is not known")
