"""Foods side by side: energy by label and by both sums, dry matter, grams in 1,000 kcal. Pure."""

from dataclasses import dataclass

from nutrition.factors import Factors, Species
from nutrition.foods import Food
from nutrition.label import (
    Proximate,
    atwater_kcal_per_kg,
    density,
    four_steps,
    grams_per_1000_kcal,
    in_dry_matter_percent,
    proximate,
)
from nutrition.reasons import Refused

PARTS = ("protein", "fat", "fibre", "ash", "nfe")


@dataclass(frozen=True, slots=True)
class Part:
    """One part of a food: % as fed and in dry matter, grams in 1,000 kcal (None without energy)."""

    name: str
    as_fed: float
    dry_matter: float
    per_1000_kcal: float | None


@dataclass(frozen=True, slots=True)
class Compared:
    """kcal/kg as fed. `used` is what portions go by: the label, else modified Atwater. `refused` says why the
    label is not used; `off_percent` is how far the Atwater sum lies from the label's statement."""

    food: Food
    label: float | None
    atwater: float | None
    four_steps: tuple[tuple[Species, float], ...]
    used: float | None
    off_percent: float | None
    moisture_percent: float | None
    ash_assumed: bool
    parts: tuple[Part, ...]
    refused: str


def compared(food: Food, factors: Factors) -> Compared:
    """Everything that its label says about it."""
    refused, parts = "", None
    try:
        parts = None if food.analysis is None else proximate(food.analysis, food.form, factors)
        used: float | None = density(food, factors).kcal_per_kg
    except Refused as why:
        refused, used = why.sentence, None
    atwater = None if parts is None else atwater_kcal_per_kg(parts, factors)
    steps = () if parts is None else tuple(_by_steps(food, parts, factors))
    off = (atwater / food.kcal_per_kg - 1) * 100 if atwater and food.kcal_per_kg else None
    return Compared(
        food=food,
        label=food.kcal_per_kg,
        atwater=atwater,
        four_steps=steps,
        used=used,
        off_percent=off,
        moisture_percent=None if parts is None else parts.moisture_percent,
        ash_assumed=parts is not None and parts.ash_assumed,
        parts=() if parts is None else tuple(_parts(parts, used)),
        refused=refused,
    )


def _by_steps(food: Food, parts: Proximate, factors: Factors) -> list[tuple[Species, float]]:
    return [(kind, four_steps(parts, kind, factors).kcal_per_kg) for kind in sorted(food.species)]


def _parts(parts: Proximate, kcal_per_kg: float | None) -> list[Part]:
    found = []
    for name in PARTS:
        value = getattr(parts, f"{name}_percent")
        dry = in_dry_matter_percent(value, parts.moisture_percent)
        in_energy = None if kcal_per_kg is None else grams_per_1000_kcal(value, kcal_per_kg)
        found.append(Part(name, value, dry, in_energy))
    return found
