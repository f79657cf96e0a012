"""The limits as data: read from `limits/*.toml`, or from tables a clinic has changed, and checked.

Every entry names its source and a certainty: A read in the source, B read as restated by others,
C from memory, to be checked, or common practice. All thresholds are defaults that the practice's
veterinarian may change: build another `Limits` with `limits_from` and pass it to the functions.
"""

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from functools import cache
from pathlib import Path
from typing import Any

from clinic.patients.units import Unit
from clinic.patients.urgency import Urgency

FOLDER = Path(__file__).parent / "limits"
FILES = ("measures", "plausible", "intervals", "levels", "urgency", "rules", "pressure_labels")
CERTAINTIES = {"A", "B", "C", "common practice"}

Table = Mapping[str, Any]


class Setting(StrEnum):
    CLINIC = "clinic"
    HOME_AWAKE = "home-awake"
    HOME_ASLEEP = "home-asleep"


class State(StrEnum):
    """How the animal was while it was measured."""

    ASLEEP = "asleep"
    CALM = "calm"
    EXCITED = "excited"
    PANTING = "panting"
    PURRING = "purring"
    HELD = "held"
    SEDATED = "sedated"


class Sign(StrEnum):
    """What else is known of the animal now, and moves a class up."""

    DULL = "dull"
    WEAK = "weak"
    """Weak pulses, weakness or collapse."""
    EFFORT = "effort"
    """Breathing with effort, open mouth or blue gums."""
    HOT = "hot"
    """Overheated, or from hot surroundings."""
    PAINFUL = "painful"
    NOT_EATING = "not-eating"
    MUSCLE_LOSS = "muscle-loss"
    SENIOR = "senior"
    HEART_DISEASE = "heart-disease"
    ORGAN_DAMAGE = "organ-damage"
    """Sudden blindness, seizures, bleeding in the eye."""


class BadLimits(ValueError):
    """The tables of limits contradict themselves or name something unknown."""


@dataclass(frozen=True)
class Source:
    work: str
    certainty: str


@dataclass(frozen=True)
class Scope:
    """For which animals and circumstances an entry stands; days from inclusive, before exclusive."""

    species: str | None = None
    age_from_days: int | None = None
    age_before_days: int | None = None
    settings: frozenset[Setting] = frozenset(Setting)

    def fits(self, species: str, age_days: int | None, setting: Setting) -> bool:
        """An animal of unknown age counts as an adult."""
        if self.species not in (None, species) or setting not in self.settings:
            return False
        if age_days is None:
            return self.age_before_days is None
        young = self.age_from_days is not None and age_days < self.age_from_days
        old = self.age_before_days is not None and age_days >= self.age_before_days
        return not (young or old)


@dataclass(frozen=True)
class Span:
    """A stretch of numbers; an end that is None is open."""

    at_least: Decimal | None = None
    above: Decimal | None = None
    at_most: Decimal | None = None
    below: Decimal | None = None

    @property
    def is_open(self) -> bool:
        return self == Span()

    def too_low(self, value: Decimal) -> bool:
        under = self.at_least is not None and value < self.at_least
        return under or (self.above is not None and value <= self.above)

    def too_high(self, value: Decimal) -> bool:
        over = self.at_most is not None and value > self.at_most
        return over or (self.below is not None and value >= self.below)

    def holds(self, value: Decimal) -> bool:
        return not (self.too_low(value) or self.too_high(value))


@dataclass(frozen=True)
class Measure:
    """A kind of value: canonical unit first, decimals a device shows, words that may stand for a number."""

    kind: str
    units: tuple[Unit, ...]
    decimals: int
    words: tuple[str, ...] = ()
    required: tuple[str, ...] = ()

    @property
    def canonical(self) -> Unit:
        return self.units[0]


@dataclass(frozen=True)
class Plausible:
    kind: str
    scope: Scope
    hard: Span
    soft: Span
    note: str
    source: Source


@dataclass(frozen=True)
class Interval:
    """A reference interval in canonical units, inclusive unless `span` says above or below."""

    kind: str
    scope: Scope
    span: Span
    decimals: int | None
    low_code: str
    high_code: str
    low_note: str
    borderline_high: Decimal | None
    borderline_note: str
    borderline_flagged: bool
    high_with_effort: Decimal | None
    words: str
    """How the interval reads where the numbers alone would mislead; else empty."""
    note: str
    source: Source

    @property
    def low(self) -> Decimal | None:
        return self.span.at_least if self.span.at_least is not None else self.span.above

    @property
    def high(self) -> Decimal | None:
        return self.span.at_most if self.span.at_most is not None else self.span.below


@dataclass(frozen=True)
class Level:
    """One step of a scale, or one word, with the finding code it suggests (may be empty)."""

    kind: str
    scope: Scope
    category: str
    span: Span
    side: str
    code: str
    urgency: Urgency | None
    note: str
    source: Source


@dataclass(frozen=True)
class Escalation:
    """What moves a code's class up. Any one of `signs` is enough; empty signs ask for none."""

    code: str
    to: Urgency
    scope: Scope
    span: Span
    signs: frozenset[Sign]
    unless_states: frozenset[State]
    because: str
    source: Source


@dataclass(frozen=True)
class Rule:
    name: str
    value: Decimal
    unit: str
    source: Source


@dataclass(frozen=True)
class PressureLabels:
    current: tuple[str, ...]
    old_words: tuple[str, ...]
    old_ranges: tuple[str, ...]
    source: Source


@dataclass(frozen=True)
class Limits:
    measures: Mapping[str, Measure]
    plausible: tuple[Plausible, ...]
    intervals: tuple[Interval, ...]
    levels: tuple[Level, ...]
    usual: Mapping[str, Urgency]
    escalations: tuple[Escalation, ...]
    rules: Mapping[str, Rule]
    pressure_labels: PressureLabels

    def rule(self, name: str) -> Decimal:
        """The figure of that name. Raises BadLimits for an unknown one."""
        if name not in self.rules:
            raise BadLimits(f"no rule is called {name}")
        return self.rules[name].value


@cache
def default_limits() -> Limits:
    """The limits that come with the product."""
    return limits_from(read_tables(FOLDER))


def read_tables(folder: Path) -> dict[str, Table]:
    """The TOML files of `folder` by name, numbers as Decimal."""
    return {
        name: tomllib.loads((folder / f"{name}.toml").read_text("utf-8"), parse_float=Decimal)
        for name in FILES
    }


def limits_from(tables: Mapping[str, Table]) -> Limits:
    """Build and check. Raises BadLimits naming the entry."""
    limits = Limits(
        measures={row["kind"]: _measure(row) for row in tables["measures"]["measure"]},
        plausible=tuple(_plausible(row) for row in tables["plausible"]["plausible"]),
        intervals=tuple(_interval(row) for row in tables["intervals"]["interval"]),
        levels=tuple(_level(row) for row in tables["levels"]["level"]),
        usual={code: Urgency(letter) for code, letter in tables["urgency"]["usual"].items()},
        escalations=tuple(_escalation(row) for row in tables["urgency"]["escalation"]),
        rules={row["name"]: _rule(row) for row in tables["rules"]["rule"]},
        pressure_labels=_labels(tables["pressure_labels"]),
    )
    _check(limits)
    return limits


def _number(row: Table, key: str) -> Decimal | None:
    return Decimal(row[key]) if key in row else None


def _source(row: Table) -> Source:
    if not row.get("source") or row.get("certainty") not in CERTAINTIES:
        raise BadLimits(f"an entry has no source or certainty: {dict(row)}")
    return Source(row["source"], row["certainty"])


def _scope(row: Table) -> Scope:
    return Scope(
        species=row.get("species"),
        age_from_days=row.get("age_from_days"),
        age_before_days=row.get("age_before_days"),
        settings=frozenset(Setting(name) for name in row.get("settings", Setting)),
    )


def _span(row: Table) -> Span:
    return Span(*(_number(row, key) for key in ("at_least", "above", "at_most", "below")))


def _measure(row: Table) -> Measure:
    return Measure(
        kind=row["kind"],
        units=tuple(Unit(name) for name in row["units"]),
        decimals=row["decimals"],
        words=tuple(row.get("words", ())),
        required=tuple(row.get("required", ())),
    )


def _plausible(row: Table) -> Plausible:
    return Plausible(
        kind=row["kind"],
        scope=_scope(row),
        hard=Span(at_least=_number(row, "hard_low"), at_most=_number(row, "hard_high")),
        soft=Span(at_least=_number(row, "soft_low"), at_most=_number(row, "soft_high")),
        note=row.get("note", ""),
        source=_source(row),
    )


def _interval(row: Table) -> Interval:
    return Interval(
        kind=row["kind"],
        scope=_scope(row),
        span=Span(_number(row, "low"), _number(row, "above"), _number(row, "high"), _number(row, "below")),
        decimals=row.get("decimals"),
        low_code=row.get("low_code", ""),
        high_code=row.get("high_code", ""),
        low_note=row.get("low_note", ""),
        borderline_high=_number(row, "borderline_high"),
        borderline_note=row.get("borderline_note", ""),
        borderline_flagged=row.get("borderline_flagged", True),
        high_with_effort=_number(row, "high_with_effort"),
        words=row.get("words", ""),
        note=row.get("note", ""),
        source=_source(row),
    )


def _level(row: Table) -> Level:
    return Level(
        kind=row["kind"],
        scope=_scope(row),
        category=row["category"],
        span=_span(row),
        side=row.get("side", ""),
        code=row.get("code", ""),
        urgency=Urgency(row["urgency"]) if "urgency" in row else None,
        note=row.get("note", ""),
        source=_source(row),
    )


def _escalation(row: Table) -> Escalation:
    return Escalation(
        code=row["code"],
        to=Urgency(row["to"]),
        scope=_scope(row),
        span=_span(row),
        signs=frozenset(Sign(name) for name in row.get("signs", ())),
        unless_states=frozenset(State(name) for name in row.get("unless_states", ())),
        because=row["because"],
        source=_source(row),
    )


def _rule(row: Table) -> Rule:
    return Rule(row["name"], Decimal(row["value"]), row["unit"], _source(row))


def _labels(table: Table) -> PressureLabels:
    old = table["superseded"]
    return PressureLabels(tuple(table["current"]), tuple(old["words"]), tuple(old["ranges"]), _source(old))


def _check(limits: Limits) -> None:
    entries: Iterable[Plausible | Interval | Level] = (
        *limits.plausible,
        *limits.intervals,
        *limits.levels,
    )
    for entry in entries:
        if entry.kind not in limits.measures:
            raise BadLimits(f"{entry.kind} is not measured")
    codes = {level.code for level in limits.levels}
    codes |= {code for interval in limits.intervals for code in (interval.low_code, interval.high_code)}
    codes |= {escalation.code for escalation in limits.escalations}
    unknown = sorted(codes - {""} - set(limits.usual))
    if unknown:
        raise BadLimits(f"no usual class for {', '.join(unknown)}")
    for plausible in limits.plausible:
        _check_order(plausible)


def _check_order(entry: Plausible) -> None:
    ends = (entry.hard.at_least, entry.soft.at_least, entry.soft.at_most, entry.hard.at_most)
    given = [end for end in ends if end is not None]
    if given != sorted(given):
        raise BadLimits(f"limits of {entry.kind} are not in order: {given}")
