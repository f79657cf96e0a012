"""What kind an ingredient is, and how people write a kind: the trade's data, read from `kinds.toml`. Pure."""

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from clinic.care.guards import Kinds

KINDS = Path(__file__).with_name("kinds.toml")


class KindsUnreadable(ValueError):
    """The file names a kind it does not explain, an ingredient twice, or one without a source."""


@dataclass(frozen=True)
class Kind:
    """`name` is stored; `title` says it to people; `words`: how they write it."""

    name: str
    title: str
    words: tuple[str, ...]
    source: str


@dataclass(frozen=True)
class Published:
    """`of`: kinds by ingredient; an empty set says that it is of none of these kinds."""

    kinds: tuple[Kind, ...]
    of: Mapping[str, frozenset[str]]

    def with_own(self, own: Mapping[str, Iterable[str]]) -> Kinds:
        """What the clinic says of an ingredient adds to the file and takes nothing away."""
        of = dict(self.of)
        for ingredient, kinds in own.items():
            of[plain(ingredient)] = of.get(plain(ingredient), frozenset()) | frozenset(kinds)
        return Kinds(of, {each.name: each.words for each in self.kinds})

    def names(self) -> frozenset[str]:
        return frozenset(each.name for each in self.kinds)

    def knows(self, ingredient: str) -> bool:
        return plain(ingredient) in self.of

    def titles(self, kinds: Iterable[str]) -> tuple[str, ...]:
        """In the order of the file; a kind that it no longer names, as it was stored."""
        wanted = set(kinds)
        named = tuple(each.title for each in self.kinds if each.name in wanted)
        return (*named, *sorted(wanted - self.names()))


def plain(word: str) -> str:
    """One spelling for all: case and blanks do not count."""
    return " ".join(word.casefold().split())


def read(path: Path) -> Published:
    """Raises KindsUnreadable."""
    raw = tomllib.loads(path.read_text(encoding="utf-8"))
    kinds = tuple(
        Kind(each["name"], each["title"], tuple(plain(word) for word in each["words"]), each["source"])
        for each in raw["kind"]
    )
    names = {each.name for each in kinds}
    of: dict[str, frozenset[str]] = {}
    for each in raw["ingredient"]:
        name = plain(each["name"])
        wrong = set(each["kinds"]) - names
        if wrong or name in of or not each.get("source"):
            raise KindsUnreadable(f"{name}: {', '.join(sorted(wrong)) or 'stands twice, or has no source'}")
        of[name] = frozenset(each["kinds"])
    return Published(kinds, of)


@cache
def published() -> Published:
    """Read once a process."""
    return read(KINDS)
