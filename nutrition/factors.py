"""The published numbers the feeding rules stand on, each with its source and how sure we are of it.

The files in `nutrition/factors/` and the clinic's own changes are composed into one `Factors`, which an
immutable row can keep as JSON under its SHA-256; a plan renders from the version it was made with.
"""

import hashlib
import json
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, fields
from functools import cached_property
from itertools import pairwise
from pathlib import Path
from typing import Any, Literal, TypeVar, cast, get_args

FOLDER = Path(__file__).parent / "factors"

Species = Literal["dog", "cat"]
Family = Literal["multiples", "body_size"]
Certainty = Literal["A", "B", "C", "practice", "clinic"]

CERTAINTY_SAYS: Mapping[Certainty, str] = {
    "A": "read in the source",
    "B": "read as quoted by others",
    "C": "from memory, to be checked",
    "practice": "common practice",
    "clinic": "set by this clinic",
}


class FactorsError(ValueError):
    """The data is not what the rules expect: the message says which entry and why."""


class UnknownFactor(KeyError):
    """A rule asked for an entry that this version of the data does not hold."""


@dataclass(frozen=True, slots=True)
class Factor:
    """One number. `low` and `high` are the source's range where it gives one; `unit` is for reading."""

    code: str
    says: str
    value: float
    unit: str
    source: str
    certainty: Certainty
    low: float | None = None
    high: float | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """Steps: rows of (up to and including, value), rising."""

    code: str
    says: str
    rows: tuple[tuple[float, float], ...]
    unit: str
    source: str
    certainty: Certainty
    note: str = ""


@dataclass(frozen=True, slots=True)
class NeedRule:
    """One published rule of an adult's need: a multiple of RER, or kcal a kg to an exponent."""

    code: str
    species: Species
    family: Family
    says: str
    value: float
    source: str
    certainty: Certainty
    exponent: float | None = None
    low: float | None = None
    high: float | None = None
    at_most: bool = False
    note: str = ""


@dataclass(frozen=True, slots=True)
class Sentence:
    """Words for people: a caution, what a score means, a note on a breed."""

    code: str
    says: str
    source: str
    certainty: Certainty


Entry = Factor | Table | NeedRule | Sentence
E = TypeVar("E", Factor, Table, NeedRule, Sentence)


@dataclass(frozen=True)
class Factors:
    """All entries of one version. Look-ups raise `UnknownFactor`."""

    factors: tuple[Factor, ...] = ()
    tables: tuple[Table, ...] = ()
    needs: tuple[NeedRule, ...] = ()
    sentences: tuple[Sentence, ...] = ()

    @cached_property
    def _by_code(self) -> dict[str, Entry]:
        return {entry.code: entry for entry in self.entries()}

    def entries(self) -> tuple[Entry, ...]:
        return (*self.factors, *self.tables, *self.needs, *self.sentences)

    def _find(self, code: str, kind: type[E]) -> E:
        entry = self._by_code.get(code)
        if not isinstance(entry, kind):
            raise UnknownFactor(code)
        return entry

    def factor(self, code: str) -> Factor:
        return self._find(code, Factor)

    def value(self, code: str) -> float:
        return self.factor(code).value

    def table(self, code: str) -> Table:
        return self._find(code, Table)

    def need(self, code: str) -> NeedRule:
        return self._find(code, NeedRule)

    def sentence(self, code: str) -> Sentence:
        return self._find(code, Sentence)

    def with_changes(self, *changes: Entry) -> "Factors":
        """The clinic's own entries put over these, by code; new codes are added. Raises `FactorsError`."""
        merged = dict(self._by_code)
        for change in changes:
            old = merged.get(change.code)
            if old is not None and type(old) is not type(change):
                raise FactorsError(
                    f"{change.code}: a {type(old).__name__} cannot become another kind of entry"
                )
            merged[change.code] = change
        return _composed(merged.values())

    def to_json(self) -> str:
        """Canonical JSON: the same entries always give the same text, hence the same SHA-256."""
        return json.dumps(asdict(self), sort_keys=True, ensure_ascii=False, separators=(",", ":"))

    @cached_property
    def sha256(self) -> str:
        return hashlib.sha256(self.to_json().encode()).hexdigest()

    @staticmethod
    def from_json(text: str) -> "Factors":
        """Raises `FactorsError` when the text is not what `to_json` wrote."""
        data = json.loads(text)
        if not isinstance(data, dict) or set(data) != set(_KINDS.values()):
            raise FactorsError("not a version of the nutrition data")
        return _composed(_entry(kind, row) for kind, plural in _KINDS.items() for row in data[plural])


_KINDS: dict[str, str] = {
    "factor": "factors",
    "table": "tables",
    "need": "needs",
    "sentence": "sentences",
}
_CLASSES: dict[str, type[Entry]] = {
    "factor": Factor,
    "table": Table,
    "need": NeedRule,
    "sentence": Sentence,
}


def load(folder: Path = FOLDER) -> Factors:
    """Read every `*.toml` of the folder. Raises `FactorsError` for an entry that cannot be trusted."""
    entries: list[Entry] = []
    for path in sorted(folder.glob("*.toml")):
        data = tomllib.loads(path.read_text(encoding="utf-8"))
        unknown = set(data) - set(_KINDS)
        if unknown:
            raise FactorsError(f"{path.name}: unknown kind of entry {sorted(unknown)[0]}")
        entries += [_entry(kind, row) for kind, rows in data.items() for row in rows]
    return _composed(entries)


def _entry(kind: str, row: Mapping[str, Any]) -> Entry:
    cls = _CLASSES[kind]
    known = {field.name for field in fields(cls)}
    if set(row) - known:
        raise FactorsError(f"{row.get('code')}: unknown field {sorted(set(row) - known)[0]}")
    values = {name: _number(value) for name, value in row.items()}
    if kind == "table":
        values["rows"] = tuple((float(upto), float(value)) for upto, value in row["rows"])
    try:
        entry = cls(**values)
    except TypeError as missing:
        raise FactorsError(f"{row.get('code')}: {missing}") from missing
    _trust(entry)
    return entry


def _number(value: Any) -> Any:
    # 70 and 70.0 must give one SHA-256, whichever way a file or a JSON column spells them.
    return float(value) if isinstance(value, int) and not isinstance(value, bool) else value


def _trust(entry: Entry) -> None:
    if entry.certainty not in get_args(Certainty):
        raise FactorsError(f"{entry.code}: certainty {entry.certainty!r} is not one of {get_args(Certainty)}")
    if not entry.source and entry.certainty not in {"practice", "clinic"}:
        raise FactorsError(f"{entry.code}: no source named")
    if isinstance(entry, Table):
        steps = [upto for upto, _ in entry.rows]
        if not steps or steps != sorted(set(steps)):
            raise FactorsError(f"{entry.code}: rows must rise")
    if isinstance(entry, Factor | NeedRule) and not (entry.low or 0) <= entry.value <= (
        entry.high or entry.value
    ):
        raise FactorsError(f"{entry.code}: the value lies outside its own range")
    if isinstance(entry, NeedRule) and (entry.family == "body_size") != (entry.exponent is not None):
        raise FactorsError(f"{entry.code}: an exponent goes with body size, and only with it")


def _composed(entries: Iterable[Entry]) -> Factors:
    ordered = sorted(entries, key=lambda entry: entry.code)
    for before, after in pairwise(ordered):
        if before.code == after.code:
            raise FactorsError(f"{after.code}: stands twice")
    return Factors(
        factors=tuple(e for e in ordered if isinstance(e, Factor)),
        tables=tuple(e for e in ordered if isinstance(e, Table)),
        needs=tuple(e for e in ordered if isinstance(e, NeedRule)),
        sentences=tuple(e for e in ordered if isinstance(e, Sentence)),
    )


def species_of(text: str) -> Species:
    """`"dog"` or `"cat"`; raises `FactorsError` for any other: no rule here was made for it."""
    if text not in get_args(Species):
        raise FactorsError(f"no feeding rules for species {text!r}")
    return cast(Species, text)
