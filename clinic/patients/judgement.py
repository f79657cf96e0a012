"""The nouns of a judgement: what is measured, on which animal and how, and what is to be said about it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from typing import Literal

from clinic.patients.limit_table import Interval, Level, Limits, Measure, Plausible, Setting, Sign, State
from clinic.patients.units import METRIC, Unit, Units, from_canonical, plain, rounded, with_unit
from clinic.patients.urgency import Suggestion, Urgency, highest

Species = Literal["dog", "cat"]


class Kind(StrEnum):
    WEIGHT = "weight"
    TEMPERATURE = "temperature"
    HEART_RATE = "heart-rate"
    PULSE_RATE = "pulse-rate"
    RESPIRATORY_RATE = "respiratory-rate"
    CAPILLARY_REFILL = "capillary-refill"
    BLOOD_PRESSURE = "blood-pressure"
    BCS = "bcs"
    MCS = "mcs"
    PAIN = "pain"
    STT_LEFT = "stt-left"
    STT_RIGHT = "stt-right"
    IOP_LEFT = "iop-left"
    IOP_RIGHT = "iop-right"
    MUCOUS_MEMBRANES = "mucous-membranes"

    @property
    def subject(self) -> str:
        """The name in the limits, which know no side: "iop" for both eyes."""
        return self.value.removesuffix("-left").removesuffix("-right")


class Flag(StrEnum):
    INSIDE = "inside"
    LOW = "low"
    HIGH = "high"


@dataclass(frozen=True)
class Method:
    """How it was measured. Cuff, site, device and number of readings are needed for a blood pressure."""

    cuff: str = ""
    site: str = ""
    device: str = ""
    readings: int | None = None


@dataclass(frozen=True)
class LastValue:
    """The value before this one: canonical, how many days ago, and where it was taken."""

    canonical: Decimal
    days_ago: int
    setting: Setting = Setting.CLINIC


@dataclass(frozen=True)
class Context:
    """The animal and the circumstances. Species and setting have no default on purpose.

    `heart_rate`, `pulse_rate`, `other_eye`, `bcs`, `mcs` are today's other values (canonical), where known.
    """

    species: Species
    setting: Setting
    age_days: int | None = None
    state: State | None = None
    signs: frozenset[Sign] = frozenset()
    method: Method = Method()
    half_points: bool = False
    heart_rate: Decimal | None = None
    pulse_rate: Decimal | None = None
    other_eye: Decimal | None = None
    bcs: Decimal | None = None
    mcs: str = ""
    last: Mapping[Kind, LastValue] = field(default_factory=dict)


@dataclass(frozen=True)
class Offer:
    """Another reading of what was typed, to be confirmed, never swapped in silently."""

    unit: Unit
    typed: Decimal
    canonical: Decimal
    text: str


@dataclass(frozen=True)
class Question:
    """Asked once. Keys: rare-low, rare-high, slip-pounds, slip-decimal."""

    key: str
    text: str
    offer: Offer | None = None


@dataclass(frozen=True)
class Judgement:
    """What is to be said about one value. `refused` is the reason; empty means it may be kept.

    `canonical` has six decimals and is None for a word; `category` is the word or the step of the scale.
    `missing` names what the method still needs before the value is final.
    """

    kind: Kind
    unit: Unit
    typed: Decimal | None
    canonical: Decimal | None
    canonical_unit: Unit
    refused: str = ""
    offers: tuple[Offer, ...] = ()
    questions: tuple[Question, ...] = ()
    flag: Flag | None = None
    category: str = ""
    interval: Interval | None = None
    suggestions: tuple[Suggestion, ...] = ()
    notes: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    deficit: Decimal | None = None

    @property
    def accepted(self) -> bool:
        return not self.refused

    @property
    def complete(self) -> bool:
        """May be kept as final: accepted, and nothing of the method is missing."""
        return self.accepted and not self.missing

    @property
    def urgency(self) -> Urgency | None:
        return highest(suggestion.urgency for suggestion in self.suggestions)

    @property
    def leading(self) -> Suggestion | None:
        """The most urgent suggestion, for a row that keeps one."""
        return max(self.suggestions, key=lambda suggestion: suggestion.urgency.rank, default=None)

    @property
    def see_now(self) -> bool:
        """Alarming: the animal should be seen before those who wait."""
        return self.urgency is Urgency.EMERGENCY

    @property
    def codes(self) -> tuple[str, ...]:
        return tuple(suggestion.code for suggestion in self.suggestions)


@dataclass(frozen=True)
class Case:
    """One value with all that is needed to judge it."""

    kind: Kind
    unit: Unit
    context: Context
    limits: Limits
    measure: Measure

    def plausible(self) -> Plausible | None:
        rows = self.limits.plausible
        return next((row for row in rows if row.kind == self.kind.subject and self._fits(row)), None)

    def interval(self, subject: str | None = None) -> Interval | None:
        wanted = subject or self.kind.subject
        return next((row for row in self.limits.intervals if row.kind == wanted and self._fits(row)), None)

    def levels(self) -> Iterator[Level]:
        return (row for row in self.limits.levels if row.kind == self.kind.subject and self._fits(row))

    def level_of(self, value: Decimal) -> Level | None:
        return next((row for row in self.levels() if not row.span.is_open and row.span.holds(value)), None)

    def level_named(self, word: str) -> Level | None:
        return next((row for row in self.levels() if row.category == word), None)

    def age_matters(self) -> bool:
        rows = (row for row in self.limits.intervals if row.kind == interval_subject(self.kind))
        return any(row.scope.age_before_days is not None for row in rows)

    def _fits(self, row: Plausible | Interval | Level) -> bool:
        return row.scope.fits(self.context.species, self.context.age_days, self.context.setting)


def interval_subject(kind: Kind) -> str:
    return Kind.HEART_RATE.subject if kind is Kind.PULSE_RATE else kind.subject


def interval_words(interval: Interval, unit: Unit, units: Units = METRIC) -> str:
    """For people: "37.7–39.5 °C", "up to 30 a minute", "15 or more mm in a minute".

    `unit` is that of the interval; who reads degrees Fahrenheit (`units`) has them.
    """
    if interval.words:
        return interval.words
    low, high = interval.low, interval.high
    if unit is Unit.CELSIUS and units.temperature == "F":
        unit, low, high = Unit.FAHRENHEIT, _fahrenheit(low), _fahrenheit(high)
    if low is not None and high is not None:
        return f"{plain(low)}–{with_unit(high, unit)}"
    if high is not None:
        return f"up to {with_unit(high, unit)}"
    return f"{with_unit(low, unit)} or more" if low is not None else ""


def _fahrenheit(celsius: Decimal | None) -> Decimal | None:
    return None if celsius is None else rounded(from_canonical(celsius, Unit.FAHRENHEIT), 1)
