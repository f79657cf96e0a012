"""The feeding page as plain values: what is known, what is proposed, what stands against it, and the plan."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from django.urls import reverse
from django.utils import timezone

from clinic.patients.units import Units
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.platform.measures import units_of
from clinic.platform.models import ClinicDetails
from clinic.visits.models import Record
from nutrition import conditions as condition
from nutrition import refusals
from nutrition.amounts import each_meal, in_unit, on_scale, weight
from nutrition.change_table import change_rows
from nutrition.choices import Choices, Known, around, inputs_of, known, offered, why_none
from nutrition.energy import AdultNeed, adult_need, breed_note, floor_kcal, rules_for, usual_rules
from nutrition.explain import Estimate, Line, shown
from nutrition.factors import CERTAINTY_SAYS, Factors, Family
from nutrition.foods import Food
from nutrition.forms import MARKS, Asked, FoodLine
from nutrition.ideal_weight import methods
from nutrition.label import in_measures
from nutrition.letter import until_when
from nutrition.menu import FoodGroup, food_groups
from nutrition.models import FoodVersion, Plan
from nutrition.plan import FeedingPlan, PlanRefused, compose
from nutrition.queries import catalogue
from nutrition.reasons import Question, Refused, is_positive
from nutrition.refusals import Inputs, check, open_items
from nutrition.versions import composed

APART = frozenset({"no_formula", "no_formula_starvation"})
"""Refusals that stand on top of the page: the other answer is the likelier one."""

CAUSE_FIRST = frozenset(
    {"thin_asked", "muscle_asked", "unplanned_loss", "intake_below_plan", "no_sum_below_five"}
    | {"cut_of_low_intake", "no_formula", "no_formula_starvation"}
)
"""Where the answer is a problem, a test or a recheck rather than another amount of food."""

HISTORY_FIRST = frozenset({"intake_below_plan", "cut_of_low_intake", "unplanned_loss", "thin_asked"})
"""Where what it eats is asked again before anything else."""


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


@dataclass(frozen=True)
class FoodShown:
    """One food of the catalogue's list."""

    code: str
    name: str
    words: str
    species: str
    kcal: str
    measure: str


def food_rows() -> tuple[FoodShown, ...]:
    """The clinic's foods by name. One query."""
    return tuple(_food_shown(food) for food in sorted(catalogue().values(), key=lambda food: food.name))


@dataclass(frozen=True)
class VersionShown:
    number: int
    kcal: str
    when: str
    by: str


def food_versions(code: str) -> tuple[VersionShown, ...]:
    """The labels that were kept of a food, the newest first. One query."""
    rows = FoodVersion.objects.filter(food__code=code).select_related("by")
    return tuple(
        VersionShown(
            number=row.number,
            kcal=f"{row.body['kcal_per_kg']:,.0f} kcal/kg"
            if row.body["kcal_per_kg"]
            else "energy not stated",
            when=f"{timezone.localtime(row.at):%-d %B %Y, %H:%M}",
            by=row.by.full_name,
        )
        for row in rows
    )


def _food_shown(food: Food) -> FoodShown:
    stages = ", ".join(sorted(stage.replace("_", " ") for stage in food.life_stages))
    marks = [food.form.replace("_", " "), *(says for name, says in MARKS.items() if getattr(food, name))]
    if food.completeness == "complementary":
        marks.append("complementary")
    return FoodShown(
        code=food.code,
        name=food.name,
        words=f"{', '.join(marks)}; {stages}" if stages else ", ".join(marks),
        species=" and ".join(f"{each}s" for each in sorted(food.species)),
        kcal=f"{food.kcal_per_kg:,.0f}" if food.kcal_per_kg else "not stated",
        measure=f"{food.kcal_per_unit:g} a {food.unit}" if food.unit and food.kcal_per_unit else "",
    )


def feeding_page(
    record: Record, asked: Asked, kept: Plan | None, *, actor: Actor, today: date, details: ClinicDetails
) -> FeedingPage:
    """Everything on the page, reckoned from the record and what was chosen so far. Writes nothing.

    Five queries, however much is on record. `kept`: the record's plan, if one stands.
    """
    factors, foods = composed(), catalogue()
    facts, units = known(record, today=today, foods=foods, details=details), units_of(actor, details)
    inputs = inputs_of(facts, asked.choices, foods, factors)
    plan, standing = _try(inputs, factors)
    ideals, ideal_words = _ideal_part(facts, inputs, units.weight, asked.weight_in, factors)
    need = _need(facts, inputs, asked.choices, factors)
    usual = f"{today + timedelta(days=plan.weigh_in.days):%-d %B %Y}" if plan else ""
    return FeedingPage(
        facts=_facts(facts, units.weight, factors),
        no_weight=facts.weight_kg is None,
        no_score=facts.bcs is None,
        weighed_today=facts.weighed_today,
        aims=_aims(inputs),
        stages=(
            Choice("adult", "grown", inputs.stage == "adult"),
            Choice("growth", "still growing", inputs.stage == "growth"),
        ),
        growing=inputs.stage == "growth",
        bearing=bool(inputs.conditions & {"pregnant", "nursing"}),
        nursing="nursing" in inputs.conditions,
        losing=inputs.aim == "lose",
        ideals=ideals,
        ideal_words=ideal_words,
        rules=_rules(facts, inputs, asked.choices, factors) if need else (),
        energies=_energies(inputs, facts, asked, factors),
        none_because=why_none(inputs, facts, asked.choices, factors),
        own_chosen=asked.choices.energy == "own",
        ruler=_drawn(need, facts.eaten_kcal, _kcal(inputs)) if need else None,
        breed_words=_breed(facts, factors),
        eats=_eats(facts),
        eats_percent=_percent(facts, need),
        foods=food_groups(foods.values(), inputs),
        bowl=asked.bowl,
        standing=standing,
        rows=_rows(plan, units) if plan else (),
        change=_change_rows(plan, units) if plan else (),
        changes=_changes(asked, factors),
        weight_in=asked.weight_in,
        cautions=tuple(each.says for each in plan.cautions) if plan else (),
        apart=tuple(item.sentence for item in standing if item.code in APART),
        ready=plan is not None and not asked.errors,
        why_not=_why_not(asked, standing),
        reason_missing=any(item.needs_reason and item.ticked for item in standing)
        and not inputs.reason.strip(),
        weigh_in_usual=usual,
        typed=asked.typed,
        errors=asked.errors,
        kept=_kept_rows(kept, units),
        kept_change=_change_rows(_content(kept), units) if kept else (),
        kept_steps=tuple(_step(line) for line in _content(kept).lines)
        if kept and kept.kind == Plan.Kind.FED
        else (),
        kept_cautions=_kept_cautions(kept),
        kept_kind=kept.kind if kept else "",
        kept_by=f"{kept.by.full_name}, {timezone.localtime(kept.at):%-d %b %Y, %H:%M}" if kept else "",
        may=actor.may(Right.FEED) and not record.is_signed,
        weigh_ins_url=reverse("weigh-ins", args=[record.visit.patient_id]),
    )


def _try(inputs: Inputs, factors: Factors) -> tuple[FeedingPlan | None, tuple[Standing, ...]]:
    items = check(inputs, factors)
    open_codes = {item.code for item in open_items(items, inputs)}
    standing = tuple(_standing(item, item.code not in open_codes, inputs) for item in items)
    try:
        return compose(inputs, factors), standing
    except PlanRefused:
        return None, standing
    except Refused as refused:
        item = Standing(refused.code, refused.sentence, refused.source, False, False, False, False, True)
        return None, (*standing, item)


def _why_not(asked: Asked, standing: tuple[Standing, ...]) -> str:
    """The gravest thing that stands in the way, and how many more do."""
    reasons = [*asked.errors.values(), *(item.sentence for item in standing if not item.answered)]
    if not reasons:
        return ""
    more = len(reasons) - 1
    return f"{reasons[0]}{f' And {more} more, under “Asked and refused”.' if more else ''}"


def _standing(item: refusals.Refusal | Question, answered: bool, inputs: Inputs) -> Standing:
    lifts = "question" if isinstance(item, Question) else item.lifts
    return Standing(
        code=item.code,
        sentence=item.sentence,
        source=item.source or "common practice",
        answerable=lifts in ("question", "reason") and item.code != "own_plan_without_reason",
        needs_reason=lifts in ("reason", "own_plan"),
        answered=answered,
        ticked=item.code in inputs.answered,
        never=lifts == "never",
        look_for_cause=item.code in CAUSE_FIRST,
        ask_history=item.code in HISTORY_FIRST,
    )


def _facts(facts: Known, unit: str, factors: Factors) -> tuple[PlanRow, ...]:
    rows = []
    if facts.weight_kg is not None:
        when = "today" if facts.weighed_today else f"on {facts.weighed_on:%-d %b %Y}"
        rows.append(PlanRow("Weight", f"{weight(facts.weight_kg, unit)}, {when}"))
    rows.append(PlanRow("Body condition", _condition(facts, factors)))
    muscle = "not scored" if facts.muscle is None else facts.muscle
    rows.append(PlanRow("Muscle", muscle if muscle in ("normal", "not scored") else f"{muscle} loss"))
    if facts.seems_to_need_kcal:
        text = f"about {facts.seems_to_need_kcal:,.0f} kcal a day by its weigh-ins; as good as what was told"
        rows.append(PlanRow("Seems to need", text))
    if facts.expected_adult_kg:
        rows.append(PlanRow("Expected grown weight", weight(facts.expected_adult_kg, unit)))
    if facts.conditions:
        rows.append(
            PlanRow(
                "Conditions",
                ", ".join(
                    sorted(condition.SAYS.get(code, code.replace("_", " ")) for code in facts.conditions)
                ),
            )
        )
    return tuple(rows)


def _condition(facts: Known, factors: Factors) -> str:
    """The score in words; half points take the lower score's."""
    if facts.bcs is None:
        return "not scored"
    words = factors.sentence(f"bcs.{facts.species}.{min(max(int(facts.bcs), 1), 9)}").says
    when = "" if facts.scored_on == facts.weighed_on else f", scored {facts.scored_on:%-d %b %Y}"
    return f"{facts.bcs:g} of 9{when}: {words}"


def _kcal(inputs: Inputs) -> float | None:
    return inputs.estimate.energy_kcal if inputs.estimate else None


def _aims(inputs: Inputs) -> tuple[Choice, ...]:
    words = (("keep", "keep this weight"), ("lose", "lose weight"), ("gain", "gain weight"))
    return tuple(Choice(code, says, inputs.aim == code) for code, says in words)


def _ideal_part(
    facts: Known, inputs: Inputs, unit: str, weight_in: str, factors: Factors
) -> tuple[tuple[Ideal, ...], str]:
    """`unit` is read, `weight_in` is what the target is typed in."""
    if facts.weight_kg is None or facts.bcs is None:
        return (), "Weight and body condition come first."
    try:
        found = methods(
            weight_kg=facts.weight_kg,
            bcs=facts.bcs,
            factors=factors,
            recorded=facts.lean,
            growing=inputs.stage == "growth",
            conditions=inputs.conditions,
        )
    except Refused as refused:
        return (), refused.sentence
    ideals = tuple(
        Ideal(
            says=each.says,
            kg=f"{in_unit(each.weight_kg, unit):.1f} {unit}",
            value=f"{in_unit(each.weight_kg, weight_in):.1f}",
            how=each.line.how,
            source=_source(each.line),
            preferred=each.preferred,
            open_ended=each.open_ended,
        )
        for each in found
    )
    return ideals, ""


def _source(line: Line) -> str:
    says = CERTAINTY_SAYS[line.certainty]
    return f"{line.source} ({says})" if line.source and line.source != says else says


def _step(line: Line) -> Step:
    places = 0 if line.unit.startswith("kcal") else 2
    return Step(line.what, line.how, f"{shown(line.value, places)} {line.unit}", _source(line), line.note)


def _energies(inputs: Inputs, facts: Known, asked: Asked, factors: Factors) -> tuple[Energy, ...]:
    chosen = inputs.estimate.code if inputs.estimate else ""
    aimed = inputs.aimed_weight_kg
    floor = floor_kcal(inputs.species, aimed, factors) if aimed and is_positive(aimed) else 0.0
    return tuple(
        _energy(each, each.code == chosen, floor) for each in offered(inputs, facts, asked.choices, factors)
    )


def _energy(each: Estimate, chosen: bool, floor: float) -> Energy:
    same = round(each.low_kcal) == round(each.high_kcal)
    span = "" if same else f"{each.low_kcal:,.0f} to {each.high_kcal:,.0f}"
    steps = tuple(_step(line) for line in each.lines)
    kcal = f"{each.energy_kcal:,.0f} kcal"
    return Energy(each.code, each.says, kcal, span, steps, chosen, each.energy_kcal < floor)


def _need(facts: Known, inputs: Inputs, choices: Choices, factors: Factors) -> AdultNeed | None:
    """Of a grown animal where a formula may be used: the only case where both families speak."""
    apart = {condition.PREGNANT, condition.NURSING, *condition.NO_FORMULA}
    simple = inputs.stage == "adult" and not inputs.conditions & apart
    if facts.weight_kg is None or not simple:
        return None
    usual = usual_rules(
        facts.species, neutered=facts.neutered, bcs=facts.bcs, obese_prone="obese_prone" in facts.conditions
    )
    chosen = around(facts, choices, factors)
    try:
        return adult_need(
            weight_kg=facts.weight_kg,
            multiples_code=chosen.multiples_code or usual[0],
            body_size_code=chosen.body_size_code or usual[1],
            family=facts.family,
            factors=factors,
        )
    except Refused:
        return None


def _rules(facts: Known, inputs: Inputs, choices: Choices, factors: Factors) -> tuple[RuleChoice, ...]:
    """What one family calls the animal's state, the other its way of life."""
    usual = usual_rules(
        facts.species, neutered=facts.neutered, bcs=facts.bcs, obese_prone="obese_prone" in facts.conditions
    )
    chosen = around(facts, choices, factors)
    families: tuple[tuple[Family, str, str, str], ...] = (
        ("multiples", "multiples", "By multiples of rest", chosen.multiples_code or usual[0]),
        ("body_size", "body_size", "By body size", chosen.body_size_code or usual[1]),
    )
    return tuple(
        RuleChoice(
            name,
            label,
            family == facts.family,
            tuple(
                Choice(rule.code, f"{rule.says}: {shown(rule.value)}", rule.code == code)
                for rule in rules_for(facts.species, family, factors)
            ),
        )
        for family, name, label, code in families
    )


def _percent(facts: Known, need: AdultNeed | None) -> str:
    if not facts.eaten_kcal or need is None:
        return ""
    share = facts.eaten_kcal / need.chosen.energy_kcal * 100
    how = "weighed" if facts.eaten_weighed else "as told"
    return f"{share:.0f} % of what the rules say would keep this weight, {how}."


def _drawn(need: AdultNeed, eats: float | None, plan: float | None) -> Ruler:
    most = max(need.spread_high_kcal, eats or 0, plan or 0) * 1.05

    def x(kcal: float) -> float:
        return round(kcal / most * 700, 1)

    alt = (
        f"Published needs span {need.low_kcal:,.0f} to {need.high_kcal:,.0f} kcal a day; one animal may need "
        f"{need.spread_low_kcal:,.0f} to {need.spread_high_kcal:,.0f}."
    )
    if eats:
        alt += f" It eats {eats:,.0f} by report."
    if plan:
        alt += f" The plan is {plan:,.0f}."
    return Ruler(
        band_x=x(need.low_kcal),
        band_width=max(x(need.high_kcal) - x(need.low_kcal), 3),
        half_x=x(need.spread_low_kcal),
        half_width=x(need.spread_high_kcal) - x(need.spread_low_kcal),
        eats_x=x(eats) if eats else None,
        plan_x=x(plan) if plan else None,
        eats=f"eats {eats:,.0f}" if eats else "",
        plan=f"plan {plan:,.0f}" if plan else "",
        low=f"{need.low_kcal:,.0f}",
        high=f"{need.high_kcal:,.0f}",
        spread_low=f"{need.spread_low_kcal:,.0f}",
        spread_high=f"{need.spread_high_kcal:,.0f}",
        alt=alt,
    )


def _breed(facts: Known, factors: Factors) -> str:
    note = breed_note(facts.breed, factors) if facts.breed else None
    return f"{note.says} ({note.source})" if note else ""


def _eats(facts: Known) -> str:
    if not facts.diet_as_told:
        return ""
    energy = f" (about {facts.eaten_kcal:,.0f} kcal a day by report)" if facts.eaten_kcal else ""
    return f"{facts.diet_as_told}{energy}"


def _rows(plan: FeedingPlan, units: Units) -> tuple[PlanRow, ...]:
    rows = [PlanRow("Energy", f"{plan.energy_kcal:,.0f} kcal a day, {plan.energy_says}")]
    if plan.target_weight_kg:
        rows.append(PlanRow("Target", weight(plan.target_weight_kg, units.weight)))
        if plan.weeks_fewest and plan.weeks_most:
            rows.append(
                PlanRow("Weeks", f"about {plan.weeks_fewest:.0f} to {plan.weeks_most:.0f}; no promise")
            )
    for portion in plan.portions:
        rows.append(
            PlanRow(portion.food_name, f"{on_scale(portion.grams, units.food)} a day{in_measures(portion)}")
        )
    rows.append(PlanRow("Treats", f"{plan.treats_kcal:.0f} kcal; at most {plan.treats_most_kcal or 0:.0f}"))
    if plan.meals:
        rows.append(PlanRow("Meals", _meals(plan, units.food)))
    if plan.water_low_ml and plan.water_high_ml:
        rows.append(
            PlanRow("Water", f"about {plan.water_low_ml:,.0f} to {plan.water_high_ml:,.0f} mL; never less")
        )
    return tuple(rows)


def _meals(plan: FeedingPlan, unit: str) -> str:
    if plan.meals is None or plan.meals.count is None:
        return "free choice: food stands free to take"
    count, most = plan.meals.count, plan.meals.most
    grams = " and ".join(each_meal(portion.grams, count, unit) for portion in plan.portions)
    return f"{count} a day, {grams} each{f'; {most} are right too' if most and most > count else ''}"


def _change_rows(plan: FeedingPlan, units: Units) -> tuple[ChangeRow, ...]:
    return tuple(ChangeRow(*row) for row in change_rows(plan, units.food))


def _changes(asked: Asked, factors: Factors) -> tuple[Choice, ...]:
    """Over how many days the present food gives way, the usual way first."""
    rule, chosen = factors.factor("change.days"), asked.choices.change_days
    days = sorted({int(rule.low or rule.value), 5, int(rule.high or rule.value), 10, 14})
    words = {"": "as usual, where the food is new", "0": "no days: it stays as it is"}
    words |= {str(day): f"{day} days" for day in days}
    now = "" if chosen is None else str(chosen)
    return tuple(Choice(code, says, code == now) for code, says in words.items())


def _kept_rows(kept: Plan | None, units: Units) -> tuple[PlanRow, ...]:
    if kept is None:
        return ()
    if kept.kind == Plan.Kind.KEEP:
        told = _content(kept).diet_as_told
        now = (PlanRow("Eats now", told),) if told else ()
        return (PlanRow("Keep feeding as now", until_when(kept)), *now, *_weigh_row(kept))
    return (*_rows(_content(kept), units), *_weigh_row(kept))


def _content(kept: Plan) -> FeedingPlan:
    return FeedingPlan.from_json(json.dumps(kept.content))


def _weigh_row(kept: Plan) -> tuple[PlanRow, ...]:
    return (PlanRow("Weigh-in", f"{kept.weigh_in_on:%-d %B %Y}"),) if kept.weigh_in_on else ()


def _kept_cautions(kept: Plan | None) -> tuple[str, ...]:
    return tuple(each.says for each in _content(kept).cautions) if kept else ()
