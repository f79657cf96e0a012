"""What a label says, as the clinic's list keeps it. Pure: reads a file or a row's plain data.

No dose in millilitres or milligrams is reckoned here: the label and the veterinarian say it.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from preventive.dates import Span
from preventive.decoding import DecodingError, decode
from preventive.facts import ProductKind, Route, Species, VaccineProduct
from preventive.safety import PreventiveProduct

FIXTURE = Path(__file__).parents[1] / "fixtures" / "products.toml"


class ListUnreadable(ValueError):
    """The list of products does not fit its shape, or names one twice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class VaccineFacts:
    """`routes`: the label's, the usual one first. `licensed_months` None: the label names none."""

    antigens: tuple[str, ...]
    type: ProductKind
    routes: tuple[Route, ...]
    licensed_months: int | None = None
    min_age: Span | None = None
    min_interval: Span | None = None
    volume: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """One size of a preventive; both ends belong to it. A missing end is open."""

    name: str
    min_kg: float | None = None
    max_kg: float | None = None

    def holds(self, weight_kg: float) -> bool:
        low = self.min_kg is None or weight_kg >= self.min_kg
        return low and (self.max_kg is None or weight_kg <= self.max_kg)


@dataclass(frozen=True, slots=True, kw_only=True)
class PreventiveFacts:
    """`protects`: heartworm, fleas_ticks, intestinal."""

    form: str
    ingredients: tuple[str, ...]
    protects: tuple[str, ...]
    interval: Span
    bands: tuple[Band, ...] = ()
    min_age: Span | None = None

    def band_for(self, weight_kg: float | None) -> Band | None:
        """The size for a weight; None where no weight is known or none fits."""
        fitting = (band for band in self.bands if weight_kg is not None and band.holds(weight_kg))
        return next(fitting, None)

    def band(self, name: str) -> Band | None:
        return next((band for band in self.bands if band.name == name), None)


@dataclass(frozen=True, slots=True)
class Lot:
    number: str
    expires_on: date
    received_on: date
    band: str = ""  # of a preventive: the size on the box


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """One product of the list. `facts`: plain data that fits its kind."""

    code: str
    kind: str
    name: str
    maker: str
    species: tuple[str, ...]
    facts: dict[str, Any]
    lots: tuple[Lot, ...] = ()


def vaccine_facts(raw: Mapping[str, Any]) -> VaccineFacts:
    """Raises ListUnreadable."""
    try:
        return decode(VaccineFacts, dict(raw), "vaccine")
    except DecodingError as error:
        raise ListUnreadable(str(error)) from error


def preventive_facts(raw: Mapping[str, Any]) -> PreventiveFacts:
    """Raises ListUnreadable."""
    try:
        return decode(PreventiveFacts, dict(raw), "preventive")
    except DecodingError as error:
        raise ListUnreadable(str(error)) from error


def vaccine_on_label(name: str, species: tuple[str, ...], facts: VaccineFacts) -> VaccineProduct:
    """The product as the schedule reads it."""
    return VaccineProduct(
        name=name,
        species=tuple(Species(each) for each in species),
        kind=facts.type,
        licensed_months=facts.licensed_months,
        min_age=facts.min_age,
        min_interval=facts.min_interval,
    )


def preventive_on_label(
    name: str, species: tuple[str, ...], facts: PreventiveFacts, band: Band | None
) -> PreventiveProduct:
    """The product in one size, as the safety questions read it."""
    return PreventiveProduct(
        name=name,
        ingredients=facts.ingredients,
        species=tuple(Species(each) for each in species),
        protects=frozenset(facts.protects),
        min_age=facts.min_age,
        min_weight_kg=band.min_kg if band else None,
        max_weight_kg=band.max_kg if band else None,
    )


def read(path: Path = FIXTURE) -> tuple[Listed, ...]:
    """Read a list of products. Raises ListUnreadable."""
    raw = tomllib.loads(path.read_text(encoding="utf-8"))
    products = [_listed(each) for each in raw["product"]]
    codes = [each.code for each in products]
    twice = sorted({code for code in codes if codes.count(code) > 1})
    if twice:
        raise ListUnreadable(f"{', '.join(twice)} stands twice")
    return tuple(products)


def _listed(raw: dict[str, Any]) -> Listed:
    facts = raw["facts"]
    (vaccine_facts if raw["kind"] == "vaccine" else preventive_facts)(facts)
    return Listed(
        code=raw["code"],
        kind=raw["kind"],
        name=raw["name"],
        maker=raw["maker"],
        species=tuple(raw["species"]),
        facts=facts,
        lots=tuple(
            Lot(each["number"], each["expires_on"], each["received_on"], each.get("band", ""))
            for each in raw.get("lots", [])
        ),
    )
