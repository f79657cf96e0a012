"""The clinic's list of medicines as forms and guards read it. No dose stands in it, and none is reckoned."""

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from django.db.models.functions import Lower

from clinic.care.guards import Caution, Kinds
from clinic.care.kinds import plain, published
from clinic.care.listed_models import IngredientKinds, ListedMedicine
from clinic.care.routes import Route

CAUTIONS = Path(__file__).with_name("cautions.toml")


@dataclass(frozen=True)
class Listed:
    """One medicine as the clinic keeps it. `off`: why it was taken off the list, else empty."""

    name: str
    ingredients: tuple[str, ...]
    strength: str
    species: frozenset[str]
    route: Route
    unit: str
    off: str = ""


def offered() -> tuple[Listed, ...]:
    """What stands on the list, by name. One query."""
    return tuple(_listed(row) for row in ListedMedicine.objects.filter(off_at=None))


def find_listed(name: str) -> Listed | None:
    """By name, however it is written; also one that was taken off. One query."""
    return find_several([name]).get(plain(name))


def find_several(names: Iterable[str]) -> dict[str, Listed]:
    """Those of the names that are or were on the list, by their plain spelling. One query."""
    wanted = [" ".join(name.lower().split()) for name in names]
    rows = ListedMedicine.objects.annotate(spelt=Lower("name")).filter(spelt__in=wanted)
    return {plain(row.name): _listed(row) for row in rows}


def known_kinds() -> Kinds:
    """Kinds of every ingredient, from the file and as the clinic said. One query."""
    own = IngredientKinds.objects.values_list("ingredient", "kinds")
    return published().with_own(dict(own))


def _listed(row: ListedMedicine) -> Listed:
    return Listed(
        name=row.name,
        ingredients=tuple(row.ingredients),
        strength=row.strength,
        species=frozenset(row.species),
        route=Route(row.route),
        unit=row.unit,
        off=row.off_reason,
    )


def read_cautions(path: Path) -> tuple[Caution, ...]:
    """What conditions ask about, in the order of the file."""
    raw = tomllib.loads(path.read_text(encoding="utf-8"))
    return tuple(
        Caution(each["condition"], frozenset(each["kinds"]), each["because"], each["source"])
        for each in raw["caution"]
    )


@cache
def cautions() -> tuple[Caution, ...]:
    """Read once a process."""
    return read_cautions(CAUTIONS)
