"""The feeding page as plain values."""

from collections.abc import Mapping
from dataclasses import dataclass

from nutrition.forms import FoodLine
from nutrition.menu import FoodGroup


@dataclass(frozen=True)
class Step:
    """One line of a sum: what, how, how much, and its source under it."""

    what: str
    how: str
    much: str
    source: str
    note: str


@dataclass(frozen=True)
class Energy:
    code: str
    says: str
    kcal: str
    range: str
    steps: tuple[Step, ...]
    chosen: bool
    below_floor: bool = False


@dataclass(frozen=True)
class Ideal:
    says: str
    kg: str
    value: str
    how: str
    source: str
    preferred: bool
    open_ended: bool


@dataclass(frozen=True)
class Standing:
    """A refusal or question. `answerable`: a tick (with a reason, where `needs_reason`) lets it through."""

    code: str
    sentence: str
    source: str
    answerable: bool
    needs_reason: bool
    answered: bool
    ticked: bool
    never: bool
    look_for_cause: bool = False
    ask_history: bool = False


@dataclass(frozen=True)
class Choice:
    code: str
    words: str
    chosen: bool


@dataclass(frozen=True)
class Ruler:
    """The families' band, half to half again, what it eats and the plan. x from 0 to 700."""

    band_x: float
    band_width: float
    half_x: float
    half_width: float
    eats_x: float | None
    plan_x: float | None
    eats: str
    plan: str
    low: str
    high: str
    spread_low: str
    spread_high: str
    alt: str


@dataclass(frozen=True)
class PlanRow:
    label: str
    text: str


@dataclass(frozen=True)
class ChangeRow:
    """One step of a change of food: which days, how much of the food as now, how much of the new."""

    days: str
    old: str
    new: str


@dataclass(frozen=True)
class RuleChoice:
    """The rules of one family, to choose from."""

    name: str
    label: str
    ours: bool
    rules: tuple[Choice, ...]


@dataclass(frozen=True)
class FeedingPage:
    facts: tuple[PlanRow, ...]
    no_weight: bool
    no_score: bool
    weighed_today: bool
    aims: tuple[Choice, ...]
    stages: tuple[Choice, ...]
    growing: bool
    bearing: bool
    nursing: bool
    losing: bool
    ideals: tuple[Ideal, ...]
    ideal_words: str
    rules: tuple[RuleChoice, ...]
    energies: tuple[Energy, ...]
    none_because: str
    own_chosen: bool
    ruler: Ruler | None
    breed_words: str
    eats: str
    eats_percent: str
    foods: tuple[FoodGroup, ...]
    bowl: tuple[FoodLine, ...]
    standing: tuple[Standing, ...]
    rows: tuple[PlanRow, ...]
    change: tuple[ChangeRow, ...]
    changes: tuple[Choice, ...]
    weight_in: str
    cautions: tuple[str, ...]
    apart: tuple[str, ...]
    ready: bool
    why_not: str
    reason_missing: bool
    weigh_in_usual: str
    typed: Mapping[str, str]
    errors: Mapping[str, str]
    kept: tuple[PlanRow, ...]
    kept_change: tuple[ChangeRow, ...]
    kept_steps: tuple[Step, ...]
    kept_cautions: tuple[str, ...]
    kept_kind: str
    kept_by: str
    may: bool
    weigh_ins_url: str
