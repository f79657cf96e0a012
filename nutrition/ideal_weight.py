"""How heavy it should be: the answer of every published method side by side, never one number alone."""

from collections.abc import Set
from dataclasses import dataclass

from nutrition import conditions as condition
from nutrition.explain import Line, line, shown
from nutrition.factors import Factors, Sentence
from nutrition.reasons import refuse, require_bcs, require_weight


@dataclass(frozen=True, slots=True)
class IdealWeight:
    """One method's answer. `preferred` marks a recorded adult weight at ideal condition."""

    code: str
    says: str
    weight_kg: float
    line: Line
    preferred: bool = False
    open_ended: bool = False


@dataclass(frozen=True, slots=True)
class RecordedWeight:
    """A weight of its adult life at a body condition of 4–5; `when` is for reading ("November 2023")."""

    weight_kg: float
    bcs: float
    when: str


def by_points_kg(weight_kg: float, bcs: float, percent_a_point: float) -> float:
    """BW × 100 / (100 + percent × (BCS − 5))."""
    return weight_kg * 100 / (100 + percent_a_point * (bcs - 5))


def fat_percent(bcs: float, factors: Factors) -> float:
    """Body fat by score: 20, 30, 40 % at 5, 7, 9 (SACN5 Table 27-3)."""
    return factors.value("ideal.fat_at_ideal") + factors.value("ideal.fat_a_point") * (bcs - 5)


def by_fat_kg(weight_kg: float, fat: float, factors: Factors) -> float:
    """BW × (100 − fat %) / (100 − fat % at ideal)."""
    return require_weight(weight_kg) * (100 - fat) / (100 - factors.value("ideal.fat_at_ideal"))


def methods(
    *,
    weight_kg: float,
    bcs: float,
    factors: Factors,
    recorded: RecordedWeight | None = None,
    growing: bool = False,
    conditions: Set[str] = frozenset(),
) -> tuple[IdealWeight, ...]:
    """Each method's answer, a recorded weight first. `Refused` at BCS ≤ 5, in growth, pregnancy, nursing."""
    _refuse_where_there_is_no_sum(require_bcs(bcs), growing, conditions)
    require_weight(weight_kg)
    found = [_by_points("ten", weight_kg, bcs, factors), _by_points("fifteen", weight_kg, bcs, factors)]
    found.append(_by_fat(weight_kg, bcs, factors))
    if recorded is not None and 4 <= recorded.bcs <= 5:
        found.insert(0, _recorded(recorded, factors.sentence("ideal.record")))
    return tuple(found)


def _refuse_where_there_is_no_sum(bcs: float, growing: bool, conditions: Set[str]) -> None:
    if growing:
        raise refuse("no_sum_in_growth")
    if condition.PREGNANT in conditions:
        raise refuse("no_sum_in_pregnancy")
    if condition.NURSING in conditions:
        raise refuse("no_sum_in_nursing")
    if bcs <= 5:
        raise refuse("no_sum_at_ideal")


def _by_points(name: str, weight_kg: float, bcs: float, factors: Factors) -> IdealWeight:
    rule = factors.factor(f"ideal.{name}")
    says = f"{shown(rule.value)} % a point"
    answer = by_points_kg(weight_kg, bcs, rule.value)
    how = f"{shown(weight_kg)} × 100 / {shown(100 + rule.value * (bcs - 5))}"
    return IdealWeight(name, says, answer, line(says, how, answer, rule, unit="kg"), open_ended=bcs >= 9)


def _by_fat(weight_kg: float, bcs: float, factors: Factors) -> IdealWeight:
    rule, fat = factors.factor("ideal.fat_at_ideal"), fat_percent(bcs, factors)
    answer = by_fat_kg(weight_kg, fat, factors)
    how = f"{shown(fat)} % fat: {shown(weight_kg)} × {shown(100 - fat)} / {shown(100 - rule.value)}"
    step = line("By body fat", how, answer, rule, unit="kg")
    return IdealWeight("fat", "By body fat", answer, step, open_ended=bcs >= 9)


def _recorded(recorded: RecordedWeight, rule: Sentence) -> IdealWeight:
    weight = require_weight(recorded.weight_kg)
    how = f"{recorded.when}, at {shown(recorded.bcs)} of 9"
    step = line("It weighed", how, weight, rule, unit="kg", note=rule.says)
    return IdealWeight("record", "It weighed", weight, step, preferred=True)
