"""What a weight says beside the one before: slips of unit or decimal, change, growth, trend.

Weights are kilograms as exact Decimals; percentages are of the earlier weight unless named otherwise.
Figures come from `limits/rules.toml`, each with its source.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import Literal

from dateutil.relativedelta import relativedelta

from clinic.patients.limit_table import Limits, Setting, Sign, default_limits
from clinic.patients.units import POUND_KG, rounded, shown_weight
from clinic.patients.urgency import Suggestion, Urgency, highest

WEEK = Decimal(7)
YEAR_DAYS = Decimal("365.25")


class NotAWeight(ValueError):
    """A weight must be a number above zero."""


class WrongOrder(ValueError):
    """The earlier weighing must come first."""


class SlipKind(StrEnum):
    POUNDS = "pounds"
    DECIMAL = "decimal"


@dataclass(frozen=True)
class Slip:
    """A likely slip; `offer_kg` is what the typed weight would be without it."""

    kind: SlipKind
    ratio: Decimal
    offer_kg: Decimal
    question: str


@dataclass(frozen=True)
class Weighing:
    on: date
    kg: Decimal
    calibrated: bool = True
    """False: a guess, or the owner's scale at home; never compared with."""


@dataclass(frozen=True)
class WeightChange:
    """`percent_per_week` is of the starting weight; None for weighings less than a week apart."""

    kg: Decimal
    percent: Decimal
    days: int
    percent_per_week: Decimal | None


@dataclass(frozen=True)
class WeightFacts:
    """What is known beside the two weights. `planned` None: nobody has asked yet.

    Signs used: NOT_EATING, WEAK, MUSCLE_LOSS, SENIOR (decided elsewhere).
    """

    species: Literal["dog", "cat"]
    age_days: int | None
    planned: bool | None = None
    fluid: bool = False
    pregnant: bool = False
    obese: bool = False
    hours_not_eating: int | None = None
    birth_kg: Decimal | None = None
    signs: frozenset[Sign] = frozenset()


@dataclass(frozen=True)
class WeightAlerts:
    """`ask_planned`: ask the owner before anything of this is said as a finding."""

    change: WeightChange | None
    suggestions: tuple[Suggestion, ...]
    ask_planned: bool
    notes: tuple[str, ...]

    @property
    def urgency(self) -> Urgency | None:
        return highest(suggestion.urgency for suggestion in self.suggestions)

    @property
    def codes(self) -> tuple[str, ...]:
        return tuple(suggestion.code for suggestion in self.suggestions if suggestion.code)


@dataclass(frozen=True)
class Trend:
    """First to last weighing in the window. `percent_per_year` is compound, None over too short a time."""

    first: Weighing
    last: Weighing
    percent: Decimal
    percent_per_year: Decimal | None
    weighings: int


# --- Slips ------------------------------------------------------------------------------------------


def detect_slip(
    last_kg: Decimal,
    new_kg: Decimal,
    age_days: int | None = None,
    days_between: int | None = None,
    limits: Limits | None = None,
) -> Slip | None:
    """Pounds typed as kilograms (or the reverse), or a decimal point off by one place.

    A young animal that may have grown so far since is not asked about. Raises NotAWeight.
    """
    table = limits or default_limits()
    _require_weight(last_kg, new_kg)
    for kind in SlipKind:
        for side in ("high", "low"):
            low = table.rule(f"slip-{kind}-{side}-from") * last_kg
            high = table.rule(f"slip-{kind}-{side}-to") * last_kg
            if low <= new_kg <= high:
                grown = side == "high" and _may_have_grown(last_kg, new_kg, age_days, days_between, table)
                return None if grown else _slip(kind, side, last_kg, new_kg)
    return None


def _slip(kind: SlipKind, side: str, last_kg: Decimal, new_kg: Decimal) -> Slip:
    factor = POUND_KG if kind is SlipKind.POUNDS else Decimal("0.1")
    offer = new_kg * factor if side == "high" else new_kg / factor
    what = (
        "Pounds and kilograms may be swapped" if kind is SlipKind.POUNDS else "The decimal point may be off"
    )
    question = f"{what}: last {shown_weight(last_kg)}, now {shown_weight(new_kg)}."
    return Slip(
        kind, rounded(new_kg / last_kg, 2), offer, f"{question} Is it right, or {shown_weight(offer)}?"
    )


def _may_have_grown(
    last_kg: Decimal, new_kg: Decimal, age_days: int | None, days: int | None, limits: Limits
) -> bool:
    if age_days is None or days is None or age_days >= limits.rule("slip-young-before-days"):
        return False
    if days <= limits.rule("slip-young-interval-over-days"):
        return False
    return new_kg <= last_kg * expected_growth(age_days, days, limits)


def expected_growth(age_days: int, days: int, limits: Limits | None = None) -> Decimal:
    """The largest ratio growth explains for an animal now `age_days` old over the last `days`."""
    table = limits or default_limits()
    born_or_last = max(age_days - days, 0)
    early = max(min(age_days, 182) - born_or_last, 0)
    late = max(age_days - max(born_or_last, 182), 0)
    doublings = Decimal(early) / table.rule("growth-doubling-days-to-26-weeks")
    doublings += Decimal(late) / table.rule("growth-doubling-days-after-26-weeks")
    return Decimal(2) ** doublings


# --- Change -----------------------------------------------------------------------------------------


def percent_change(old_kg: Decimal, new_kg: Decimal) -> Decimal:
    """(new - old) / old x 100, not rounded. Raises NotAWeight."""
    _require_weight(old_kg, new_kg)
    return (new_kg - old_kg) / old_kg * 100


def change(old: Weighing, new: Weighing, limits: Limits | None = None) -> WeightChange:
    """Raises NotAWeight, or WrongOrder if `new` is dated before `old`."""
    days = (new.on - old.on).days
    if days < 0:
        raise WrongOrder(f"{new.on} is before {old.on}")
    percent = percent_change(old.kg, new.kg)
    long_enough = days >= (limits or default_limits()).rule("weekly-rate-from-days")
    return WeightChange(new.kg - old.kg, percent, days, percent * WEEK / days if long_enough else None)


def last_comparable(weighings: Sequence[Weighing], before: date) -> Weighing | None:
    """The latest weighing on a calibrated scale dated before that day."""
    usable = [weighing for weighing in weighings if weighing.calibrated and weighing.on < before]
    return max(usable, key=lambda weighing: weighing.on, default=None)


def weight_alerts(
    old: Weighing | None, new: Weighing, facts: WeightFacts, limits: Limits | None = None
) -> WeightAlerts:
    """What the change suggests; `old` from `last_comparable`, None at a first weighing.

    Without an answer to "planned?" the suggestions stand beside `ask_planned`: ask first.
    """
    table = limits or default_limits()
    moved = change(old, new, table) if old is not None else None
    suggestions = [*_growth_alerts(old, new, moved, facts, table)]
    if moved is not None:
        suggestions += [*_change_alerts(moved, facts, table), *_rate_alerts(moved, facts, table)]
    suggestions += _hungry_cat(facts, table)
    return WeightAlerts(
        moved, tuple(suggestions), _must_ask(moved, facts, table), tuple(_notes(moved, facts, table))
    )


def _must_ask(moved: WeightChange | None, facts: WeightFacts, limits: Limits) -> bool:
    if moved is None or facts.planned is not None or _is_growing(facts, limits):
        return False
    return moved.percent <= -limits.rule("loss-soft-percent")


def _change_alerts(moved: WeightChange, facts: WeightFacts, limits: Limits) -> Iterator[Suggestion]:
    loss = -moved.percent
    newborn = facts.age_days is not None and facts.age_days < limits.rule("neonate-before-days")
    if not (newborn or facts.planned or facts.fluid):  # a newborn's loss is BCM-12
        if loss >= limits.rule("loss-firm-percent"):
            yield _raised("VIT-19", f"{rounded(loss, 1)} % lost", facts, limits)
        elif loss >= limits.rule("loss-soft-percent"):
            yield _raised("VIT-18", f"{rounded(loss, 1)} % lost", facts, limits)
    adult = facts.age_days is None or facts.age_days >= limits.rule("adult-from-days")
    gained = moved.percent >= limits.rule("gain-percent") and not _is_growth(moved, facts, limits)
    if adult and not facts.pregnant and gained:
        yield _raised("VIT-20", f"{rounded(moved.percent, 1)} % gained", facts, limits)


def _is_growth(moved: WeightChange, facts: WeightFacts, limits: Limits) -> bool:
    """Whether the earlier weight is of an animal that still grew, and growth explains the later one."""
    adult = int(limits.rule("adult-from-days"))
    if facts.age_days is None or (grew := adult - (facts.age_days - moved.days)) <= 0:
        return False
    return 1 + moved.percent / 100 <= expected_growth(adult, grew, limits)


def _raised(code: str, because: str, facts: WeightFacts, limits: Limits) -> Suggestion:
    old_cat = (
        facts.species == "cat"
        and facts.age_days is not None
        and facts.age_days > limits.rule("old-cat-from-days")
    )
    signs = facts.signs | {Sign.SENIOR} if old_cat else facts.signs
    urgency, raised = limits.usual[code], ""
    for step in limits.escalations:
        fits = step.code == code and step.scope.fits(facts.species, facts.age_days, Setting.CLINIC)
        if fits and step.signs & signs and step.to.rank > urgency.rank:
            urgency, raised = step.to, step.because
    if code == "VIT-20" and facts.fluid:
        urgency, raised = Urgency.TREAT_SOON, "fluid or a swollen belly"
    return Suggestion(code, urgency, because, raised)


def _rate_alerts(moved: WeightChange, facts: WeightFacts, limits: Limits) -> Iterator[Suggestion]:
    weekly = -(moved.percent_per_week or Decimal(0))
    if weekly <= 0 or facts.fluid:
        return
    shown = f"{rounded(weekly, 1)} % of the starting weight a week"
    if facts.species == "cat" and weekly > limits.rule("cat-loss-per-week-percent"):
        yield Suggestion("", Urgency.TREAT_SOON, f"The cat loses {shown}: risk of a fatty liver.")
    elif facts.planned and weekly > limits.rule("planned-loss-per-week-percent"):
        yield Suggestion(
            "", Urgency.RECHECK, f"The planned loss is too fast, {shown}: look at the diet again."
        )


def _hungry_cat(facts: WeightFacts, limits: Limits) -> list[Suggestion]:
    hours = facts.hours_not_eating
    if facts.species != "cat" or not facts.obese or hours is None:
        return []
    if hours < limits.rule("obese-cat-hours-not-eating"):
        return []
    because = f"An obese cat that has not eaten for {hours} hours: risk of a fatty liver."
    return [Suggestion("", Urgency.TREAT_SOON, because)]


def _notes(moved: WeightChange | None, facts: WeightFacts, limits: Limits) -> Iterator[str]:
    if moved is None:
        return
    if facts.fluid and moved.percent < 0:
        yield "The loss is put down to fluid: weigh again once it has gone."
    weekly = -(moved.percent_per_week or Decimal(0))
    caution = limits.rule("cat-loss-per-week-caution-percent")
    if facts.species == "cat" and caution < weekly <= limits.rule("cat-loss-per-week-percent"):
        yield f"A cat should lose no more than 1 to 2 % a week; this is {rounded(weekly, 1)} %."
    if facts.planned and weekly > 0:
        yield f"Planned loss: {rounded(weekly, 2)} % of the starting weight a week."


# --- Growth -----------------------------------------------------------------------------------------


def _is_growing(facts: WeightFacts, limits: Limits) -> bool:
    return facts.age_days is not None and facts.age_days < limits.rule("growing-before-days")


def _growth_alerts(
    old: Weighing | None, new: Weighing, moved: WeightChange | None, facts: WeightFacts, limits: Limits
) -> Iterator[Suggestion]:
    """At most one BCM-12, the most urgent reason first."""
    if not _is_growing(facts, limits):
        return
    emergency = _neonate_emergency(new.kg, moved, facts, limits)
    poor = _below_expected(new.kg, facts, limits)
    if emergency:
        yield Suggestion("BCM-12", Urgency.EMERGENCY, emergency, "a newborn that does not gain")
    elif moved is not None and moved.percent < 0 and not _first_day(facts):
        yield Suggestion(
            "BCM-12", limits.usual["BCM-12"], f"{rounded(-moved.percent, 1)} % lost while growing"
        )
    elif poor:
        yield Suggestion("BCM-12", limits.usual["BCM-12"], poor)


def _first_day(facts: WeightFacts) -> bool:
    return facts.age_days is not None and facts.age_days <= 1


def _neonate_emergency(kg: Decimal, moved: WeightChange | None, facts: WeightFacts, limits: Limits) -> str:
    age = facts.age_days
    if age is None or age >= limits.rule("neonate-before-days"):
        return ""
    if _first_day(facts):
        if facts.birth_kg is None:
            return ""
        lost = -percent_change(facts.birth_kg, kg)
        too_much = lost > limits.rule("neonate-day-1-loss-percent")
        return f"{rounded(lost, 1)} % of the birth weight lost on the first day" if too_much else ""
    if moved is not None and moved.days >= 1 and moved.percent <= 0:
        return f"no gain in {moved.days} day{'s' if moved.days > 1 else ''}"
    return ""


def expected_newborn_kg(
    species: Literal["dog", "cat"], birth_kg: Decimal, age_days: int, limits: Limits | None = None
) -> Decimal:
    """Straight from birth weight to twice that on the day it should have doubled, level after that.

    Kittens double by 14 days, puppies by 10 (Small Animal Clinical Nutrition 5th ed, Tables 23-1, 16-1).
    """
    table = limits or default_limits()
    days = table.rule("kitten-double-by-days" if species == "cat" else "puppy-double-by-days")
    return birth_kg * (1 + min(Decimal(age_days) / days, Decimal(1)))


def _below_expected(kg: Decimal, facts: WeightFacts, limits: Limits) -> str:
    age = facts.age_days
    if facts.birth_kg is None or age is None or age >= limits.rule("neonate-before-days") or age <= 1:
        return ""
    expected = expected_newborn_kg(facts.species, facts.birth_kg, age, limits)
    short = -percent_change(expected, kg)
    if short <= limits.rule("growth-tolerance-percent"):
        return ""
    return f"{rounded(short, 0)} % below the expected {shown_weight(expected)}"


# --- Trend ------------------------------------------------------------------------------------------


def annualised_percent(percent: Decimal, days: Decimal) -> Decimal:
    """The yearly change if it went on so: -6 % in a quarter of a year is -21.9 %, 1 - 0.94^4."""
    return ((1 + percent / 100) ** (YEAR_DAYS / days) - 1) * 100


def trend(weighings: Sequence[Weighing], as_of: date, limits: Limits | None = None) -> Trend | None:
    """Over the 12 months up to `as_of`, calibrated weighings only; None with fewer than two days of them."""
    since = as_of - relativedelta(months=12)
    usable = [w for w in weighings if w.calibrated and since <= w.on <= as_of]
    usable.sort(key=lambda weighing: weighing.on)
    if not usable or usable[0].on == usable[-1].on:
        return None
    first, last = usable[0], usable[-1]
    percent = percent_change(first.kg, last.kg)
    days = Decimal((last.on - first.on).days)
    long_enough = days >= (limits or default_limits()).rule("annual-rate-from-days")
    yearly = annualised_percent(percent, days) if long_enough else None
    return Trend(first, last, percent, yearly, len(usable))


def _require_weight(*weights: Decimal) -> None:
    if not all(kg.is_finite() and kg > 0 for kg in weights):
        raise NotAWeight(f"not weights: {', '.join(str(kg) for kg in weights)}")
