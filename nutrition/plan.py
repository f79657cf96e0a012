"""A feeding plan, composed from the clinician's choices without a clock or a database.

`compose` gives energy, food, amounts, treats inside, meals, the next weigh-in, cautions and the sum by lines;
`keep_feeding` is the other answer: "keep feeding as now until we call".
"""

import json
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import Any, Literal

from nutrition import conditions as condition
from nutrition.changeover import ChangeStep, change_over
from nutrition.energy import spread_kcal
from nutrition.explain import KCAL_A_DAY, Basis, Estimate, Line, estimate, line, shown
from nutrition.factors import Certainty, Factors, Sentence, Species
from nutrition.growth import UNWEANED, is_large
from nutrition.label import Portion, mix
from nutrition.reasons import Question, Refusal, Refused, is_positive, refuse, require_weight
from nutrition.refusals import Aim, Inputs, check, open_items
from nutrition.weight_loss import percent_a_week, weeks_to_target

Kind = Literal["fed", "keep"]


class PlanRefused(Refused):
    """Something still stands against the plan; `items` holds all of it, the gravest first."""

    def __init__(self, items: list[Refusal | Question]) -> None:
        first = items[0]
        if isinstance(first, Question):
            first = Refusal(first.code, first.sentence, first.source, first.certainty, "reason")
        super().__init__(first)
        self.items = tuple(items)


@dataclass(frozen=True, slots=True)
class Meals:
    """`count` meals a day, or None where food stands free; `most` where the source gives a range."""

    count: int | None
    says: str
    source: str
    certainty: Certainty
    most: int | None = None


@dataclass(frozen=True, slots=True)
class WeighIn:
    """Weigh again in `days`, later every `then_days` (None: as the clinician says)."""

    days: int
    then_days: int | None
    says: str
    source: str
    certainty: Certainty


@dataclass(frozen=True, slots=True)
class Lifted:
    """A refusal or question that was there and was answered, in the words that were shown."""

    code: str
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedingPlan:
    """What stands in the record and the letter. kcal a day, kg, mL a day; nothing rounded.

    `energy_kcal` None, no portions: keep feeding as now (`diet_as_told`). `spread_*` is half to half again.
    `lifted` are the refusals and questions that were there and were answered, with `reason` as written.
    `change` are the steps from the present food to this one; `because`, of keep feeding as now: the
    illnesses for which no sum is made, in words.
    """

    kind: Kind
    species: Species
    weight_kg: float | None
    aim: Aim
    target_weight_kg: float | None
    basis: Basis | None
    energy_code: str
    energy_says: str
    energy_kcal: float | None
    low_kcal: float | None
    high_kcal: float | None
    spread_low_kcal: float | None
    spread_high_kcal: float | None
    treats_kcal: float
    treats_most_kcal: float | None
    portions: tuple[Portion, ...]
    meals: Meals | None
    weigh_in: WeighIn
    expected_percent_a_week: float | None
    weeks_fewest: float | None
    weeks_most: float | None
    water_low_ml: float | None
    water_high_ml: float | None
    cautions: tuple[Sentence, ...]
    lines: tuple[Line, ...]
    lifted: tuple[Lifted, ...]
    reason: str
    diet_as_told: str
    factors_sha256: str
    change: tuple[ChangeStep, ...] = ()
    because: tuple[str, ...] = ()

    def grams_a_meal(self, portion: Portion) -> float | None:
        """Grams of that food in each meal; None where food stands free."""
        return portion.grams / self.meals.count if self.meals and self.meals.count else None

    def to_json(self) -> str:
        return json.dumps(asdict(self), sort_keys=True, ensure_ascii=False)

    @staticmethod
    def from_json(text: str) -> "FeedingPlan":
        data: dict[str, Any] = json.loads(text)
        data["portions"] = tuple(Portion(**{**row, "line": Line(**row["line"])}) for row in data["portions"])
        data["meals"] = Meals(**data["meals"]) if data["meals"] else None
        data["weigh_in"] = WeighIn(**data["weigh_in"])
        data["cautions"] = tuple(Sentence(**row) for row in data["cautions"])
        data["lines"] = tuple(Line(**row) for row in data["lines"])
        data["change"] = tuple(ChangeStep(**row) for row in data.get("change", ()))
        data["because"] = tuple(data.get("because", ()))
        data["lifted"] = tuple(Lifted(**row) for row in data["lifted"])
        return FeedingPlan(**data)


def own_number(energy_kcal: float, says: str = "The clinician's own number") -> Estimate:
    """The clinician's own energy a day; `Refused` when it is not above zero."""
    if not is_positive(energy_kcal):
        raise refuse("energy_not_positive")
    step = Line(says, "entered by hand", energy_kcal, KCAL_A_DAY, "the clinician", "clinic")
    return estimate("own", "own", says, step)


def compose(inputs: Inputs, factors: Factors) -> FeedingPlan:
    """The plan, or `PlanRefused` with everything that still stands against it."""
    items = check(inputs, factors)
    standing = open_items(items, inputs)
    if standing:
        raise PlanRefused(standing)
    chosen, weight = inputs.estimate, require_weight(inputs.weight_kg)
    assert chosen is not None
    portions = mix(chosen.energy_kcal - inputs.treats_kcal, inputs.servings, factors)
    spread_low, spread_high = spread_kcal(chosen.low_kcal, chosen.high_kcal, factors)
    fewest, most = _weeks(inputs, factors)
    water = factors.factor("water.per_kg")
    return FeedingPlan(
        kind="fed",
        species=inputs.species,
        weight_kg=weight,
        aim=inputs.aim,
        target_weight_kg=inputs.target_weight_kg,
        basis=chosen.basis,
        energy_code=chosen.code,
        energy_says=chosen.says,
        energy_kcal=chosen.energy_kcal,
        low_kcal=chosen.low_kcal,
        high_kcal=chosen.high_kcal,
        spread_low_kcal=spread_low,
        spread_high_kcal=spread_high,
        treats_kcal=inputs.treats_kcal,
        treats_most_kcal=chosen.energy_kcal * factors.value("treats.share"),
        portions=portions,
        meals=meals(inputs, factors),
        weigh_in=weigh_in(inputs, factors),
        expected_percent_a_week=_expected(inputs, factors),
        weeks_fewest=fewest,
        weeks_most=most,
        water_low_ml=None if _is_unweaned(inputs) else (water.low or water.value) * weight,
        water_high_ml=None if _is_unweaned(inputs) else (water.high or water.value) * weight,
        cautions=tuple(factors.sentence(f"caution.{name}") for name in _cautions(inputs, factors)),
        lines=_lines(inputs, chosen, portions, factors),
        lifted=tuple(Lifted(item.code, item.sentence) for item in items),
        reason=inputs.reason.strip(),
        diet_as_told="",
        factors_sha256=factors.sha256,
        # from one milk to another there is no step by step
        change=() if _is_unweaned(inputs) else change_over(inputs.change_days or 0, factors),
    )


def keep_feeding(inputs: Inputs, diet_as_told: str, factors: Factors) -> FeedingPlan:
    """ "Keep feeding as now until we call": no sum, no food, only what is eaten now and when to call."""
    rule = factors.factor(_weigh_rule(inputs, factors))
    intake = inputs.reported_intake_kcal
    told = () if intake is None else (Line("Eats now", diet_as_told, intake, KCAL_A_DAY, "as told", "B"),)
    return FeedingPlan(
        kind="keep",
        species=inputs.species,
        weight_kg=inputs.weight_kg,
        aim="keep",
        target_weight_kg=None,
        basis=None,
        energy_code="",
        energy_says="keep feeding as now until we call",
        energy_kcal=None,
        low_kcal=None,
        high_kcal=None,
        spread_low_kcal=None,
        spread_high_kcal=None,
        treats_kcal=0.0,
        treats_most_kcal=None,
        portions=(),
        meals=None,
        weigh_in=WeighIn(int(rule.value), None, rule.says, rule.source, rule.certainty),
        expected_percent_a_week=None,
        weeks_fewest=None,
        weeks_most=None,
        water_low_ml=None,
        water_high_ml=None,
        cautions=tuple(factors.sentence(f"caution.{name}") for name in _keep_cautions(inputs)),
        lines=told,
        lifted=(),
        reason=inputs.reason.strip(),
        diet_as_told=diet_as_told,
        factors_sha256=factors.sha256,
        because=tuple(condition.SAYS[code] for code in condition.NO_FORMULA if code in inputs.conditions),
    )


def state_of(plan: FeedingPlan) -> str:
    """What a plan is made for, as the end of the code of its sentence for the owner (`state.…`)."""
    if plan.kind == "keep":
        return "refused" if plan.because else "keep"
    if plan.energy_code == UNWEANED:
        return "unweaned"
    if plan.aim == "lose":
        return "loss"
    return plan.basis or "own"


def meals(inputs: Inputs, factors: Factors) -> Meals:
    """How often: free choice in late gestation and lactation, more often while small, twice when grown."""
    basis = inputs.estimate.basis if inputs.estimate else None
    late = inputs.estimate is not None and inputs.estimate.code == "gestation.dog.late"
    if condition.NURSING in inputs.conditions or basis == "lactation" or late:
        free = factors.sentence("caution.free_choice")
        return Meals(None, "free choice", free.source, free.certainty)
    rule = factors.factor("meals.unweaned" if _is_unweaned(inputs) else _meal_rule(inputs, factors))
    count, most = int(rule.value), None if rule.high is None else int(rule.high)
    return Meals(count, rule.says, rule.source, rule.certainty, most)


def _is_unweaned(inputs: Inputs) -> bool:
    return inputs.estimate is not None and inputs.estimate.code == UNWEANED


def _meal_rule(inputs: Inputs, factors: Factors) -> str:
    if inputs.stage == "adult":
        return "meals.adult"
    if inputs.species == "dog":
        return "meals.puppy"
    older_from = factors.value("meals.kitten_older_from_months")
    older = inputs.age_months is not None and inputs.age_months >= older_from
    return "meals.kitten_older" if older else "meals.kitten"


def weigh_in(inputs: Inputs, factors: Factors) -> WeighIn:
    """When to weigh again, by what the plan is for."""
    rule, then = factors.factor(_weigh_rule(inputs, factors)), None
    if inputs.aim == "lose":
        then = int(factors.value("weigh.loss_later"))
    return WeighIn(int(rule.value), then, rule.says, rule.source, rule.certainty)


def _weigh_rule(inputs: Inputs, factors: Factors) -> str:
    if _is_unweaned(inputs):
        return "weigh.unweaned"
    if inputs.aim == "lose":
        return "weigh.loss"
    if inputs.conditions & {condition.PREGNANT, condition.NURSING}:
        return "weigh.reproduction"
    if inputs.stage == "growth":
        large = is_large(inputs.species, inputs.expected_adult_kg, factors)
        return "weigh.large_puppy" if large else "weigh.growth"
    if inputs.aim == "gain" or (inputs.conditions & set(condition.NO_FORMULA)):
        return "weigh.clinician"
    if inputs.bcs is not None and inputs.bcs < factors.value("thin.below"):
        return "weigh.thin"
    return "weigh.adult"


def _expected(inputs: Inputs, factors: Factors) -> float | None:
    if inputs.aim != "lose" or inputs.maintenance_kcal is None or inputs.estimate is None:
        return None
    weight = require_weight(inputs.weight_kg)
    return percent_a_week(inputs.maintenance_kcal, inputs.estimate.energy_kcal, weight, factors)


def _weeks(inputs: Inputs, factors: Factors) -> tuple[float | None, float | None]:
    if inputs.aim != "lose" or inputs.target_weight_kg is None:
        return None, None
    weight, usual = require_weight(inputs.weight_kg), factors.factor(f"loss.rate.{inputs.species}")
    fast, slow = usual.high or usual.value, usual.low or usual.value
    return (
        weeks_to_target(weight, inputs.target_weight_kg, fast, factors),
        weeks_to_target(weight, inputs.target_weight_kg, slow, factors),
    )


def _lines(
    inputs: Inputs, chosen: Estimate, portions: tuple[Portion, ...], factors: Factors
) -> tuple[Line, ...]:
    left = chosen.energy_kcal - inputs.treats_kcal
    rule = factors.factor("treats.share")
    share = shown(inputs.treats_kcal / chosen.energy_kcal * 100, 0)
    most = shown(rule.value * 100, 0)
    treats = line("Treats, inside the day", f"{share} %, at most {most} %", inputs.treats_kcal, rule)
    food = line(
        "Left for food", f"{shown(chosen.energy_kcal, 0)} − {shown(inputs.treats_kcal, 0)}", left, rule
    )
    return (*chosen.lines, treats, food, *(portion.line for portion in portions))


def _cautions(inputs: Inputs, factors: Factors) -> Iterator[str]:
    yield from ("estimate", "clinician")
    if _is_unweaned(inputs):
        yield "unweaned"
    else:
        yield from ("water", "weigh_food")
        if inputs.change_days != 0:
            yield "change"
    if inputs.aim == "lose":
        yield from _loss_cautions(inputs, factors)
    if inputs.stage == "growth":
        yield "growth_score"
        if is_large(inputs.species, inputs.expected_adult_kg, factors):
            yield "large_puppy"
    if inputs.conditions & {condition.PREGNANT, condition.NURSING}:
        yield "reproduction"
    if meals(inputs, factors).count is None:
        yield "free_choice"
    if inputs.stage == "adult" and inputs.bcs is not None and inputs.bcs < factors.value("thin.below"):
        yield "thin"
    if inputs.muscle not in {None, "normal"}:
        yield "muscle"
    if any(food.raw for food in inputs.foods):
        yield "raw"
    if any(food.therapeutic for food in inputs.foods):
        yield "therapeutic"
    yield from _illness_cautions(inputs)


def _loss_cautions(inputs: Inputs, factors: Factors) -> Iterator[str]:
    yield from ("loss_food", "loss_adjust")
    expected = _expected(inputs, factors)
    if expected is not None and expected > factors.value("loss.most"):
        yield "loss_fast"
    if inputs.bcs is not None and inputs.bcs >= 9:
        yield "open_ended"
    yield from ("cat_never_fast", "cat_loss_seen") if inputs.species == "cat" else ("lean",)


def _illness_cautions(inputs: Inputs) -> Iterator[str]:
    if condition.STARVATION in inputs.conditions:
        yield "refeeding"
    if condition.INSULIN_DIABETES in inputs.conditions:
        yield "insulin"
    if inputs.species == "cat" and inputs.aim != "lose" and condition.NOT_EATING in inputs.conditions:
        yield "cat_never_fast"


def _keep_cautions(inputs: Inputs) -> Iterator[str]:
    if inputs.conditions & {condition.NOT_EATING, condition.STARVATION}:
        yield "keep_not_eating"
    else:
        yield from ("keep", "keep_call")
    yield "water"
    yield from _illness_cautions(inputs)
    yield "clinician"
