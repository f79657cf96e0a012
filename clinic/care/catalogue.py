"""The clinic's list of medicines, read from its file. Pure. No dose stands in it, and none is reckoned."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from clinic.care.guards import Kinds
from clinic.care.routes import Route

FIXTURE = Path(__file__).parents[2] / "fixtures" / "medicines.toml"


class ListUnreadable(ValueError):
    """The list names something it does not explain, or names it twice."""


@dataclass(frozen=True)
class Listed:
    """One medicine as the clinic keeps it."""

    name: str
    ingredients: tuple[str, ...]
    strength: str
    species: frozenset[str]
    route: Route
    unit: str


@dataclass(frozen=True)
class Catalogue:
    medicines: Mapping[str, Listed]
    kinds: Kinds

    def find(self, name: str) -> Listed | None:
        """By name, however it is written."""
        return self.medicines.get(_plain(name))


def _plain(name: str) -> str:
    return " ".join(name.casefold().split())


def read(path: Path) -> Catalogue:
    """Read a list. Raises ListUnreadable."""
    raw = tomllib.loads(path.read_text(encoding="utf-8"))
    kinds = {_plain(each["name"]): frozenset(each["kinds"]) for each in raw["ingredient"]}
    medicines: dict[str, Listed] = {}
    for each in raw["medicine"]:
        unknown = [one for one in each["ingredients"] if _plain(one) not in kinds]
        if unknown or _plain(each["name"]) in medicines:
            raise ListUnreadable(f"{each['name']}: {', '.join(unknown) or 'stands twice'}")
        medicines[_plain(each["name"])] = Listed(
            name=each["name"],
            ingredients=tuple(each["ingredients"]),
            strength=each["strength"],
            species=frozenset(each["species"]),
            route=Route(each["route"]),
            unit=each["unit"],
        )
    return Catalogue(medicines, Kinds(kinds))


@cache
def catalogue() -> Catalogue:
    """The clinic's list; read once a process."""
    return read(FIXTURE)
