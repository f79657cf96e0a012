"""The feeding page as plain values: what is known, what is proposed, what stands against it, and the plan."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from clinic.patients.models import Measurement
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.models import Record
from nutrition import refusals
from nutrition.choices import Known, inputs_of, known, offered
from nutrition.energy import AdultNeed, adult_need, breed_note, usual_rules
from nutrition.explain import Estimate, Line, shown
from nutrition.factors import CERTAINTY_SAYS, Factors
from nutrition.foods import Food
from nutrition.forms import Asked, FoodLine
from nutrition.ideal_weight import RecordedWeight, methods
from nutrition.models import Plan
from nutrition.plan import FeedingPlan, PlanRefused, compose
from nutrition.queries import catalogue, plan_of
from nutrition.reasons import Question, Refused
from nutrition.refusals import Inputs, check, open_items
from nutrition.versions import composed


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
    never: bool


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
class FeedingPage:
    facts: tuple[PlanRow, ...]
    no_weight: bool
    weighed_today: bool
    aims: tuple[Choice, ...]
    stages: tuple[Choice, ...]
    growing: bool
    bearing: bool
    losing: bool
    ideals: tuple[Ideal, ...]
    ideal_words: str
    energies: tuple[Energy, ...]
    own_chosen: bool
    ruler: Ruler | None
    breed_words: str
    eats: str
    foods: tuple[Choice, ...]
    bowl: tuple[FoodLine, ...]
    standing: tuple[Standing, ...]
    rows: tuple[PlanRow, ...]
    cautions: tuple[str, ...]
    ready: bool
    weigh_in_on: str
    typed: Mapping[str, str]
    errors: Mapping[str, str]
    kept: tuple[PlanRow, ...]
    kept_kind: str
    kept_by: str
    may: bool


def feeding_page(record: Record, asked: Asked, *, actor: Actor, today: date) -> FeedingPage:
    """Everything on the page, reckoned from the record and what was chosen so far. Writes nothing."""
    factors, foods = composed(), catalogue()
    facts = known(record, today=today)
    inputs = inputs_of(facts, asked.choices, foods, factors)
    plan, standing = _try(inputs, factors)
    ideals, ideal_words = _ideal_part(record, facts, inputs, factors)
    kept = plan_of(record)
    days = plan.weigh_in.days if plan else 30
    return FeedingPage(
        facts=_facts(facts),
        no_weight=facts.weight_kg is None,
        weighed_today=facts.weighed_today,
        aims=_aims(inputs),
        stages=(
            Choice("adult", "grown", inputs.stage == "adult"),
            Choice("growth", "still growing", inputs.stage == "growth"),
        ),
        growing=inputs.stage == "growth",
        bearing=bool(inputs.conditions & {"pregnant", "nursing"}),
        losing=inputs.aim == "lose",
        ideals=ideals,
        ideal_words=ideal_words,
        energies=_energies(inputs, facts, asked, factors),
        own_chosen=asked.choices.energy == "own",
        ruler=_ruler(facts, inputs, factors),
        breed_words=_breed(facts, factors),
        eats=_eats(facts),
        foods=_foods(foods, facts),
        bowl=asked.bowl,
        standing=standing,
        rows=_rows(plan) if plan else (),
        cautions=tuple(each.says for each in plan.cautions) if plan else (),
        ready=plan is not None and not asked.errors,
        weigh_in_on=(asked.weigh_in_on or today + timedelta(days=days)).isoformat(),
        typed=asked.typed,
        errors=asked.errors,
        kept=_kept_rows(kept),
        kept_kind=kept.kind if kept else "",
        kept_by=f"{kept.by.full_name}, {kept.at:%-d %b %Y}" if kept else "",
        may=actor.may(Right.FEED) and not record.is_signed,
    )


def _try(inputs: Inputs, factors: Factors) -> tuple[FeedingPlan | None, tuple[Standing, ...]]:
    items = check(inputs, factors)
    open_codes = {item.code for item in open_items(items, inputs)}
    standing = tuple(_standing(item, item.code not in open_codes) for item in items)
    try:
        return compose(inputs, factors), standing
    except PlanRefused:
        return None, standing
    except Refused as refused:
        item = Standing(refused.code, refused.sentence, refused.source, False, False, False, True)
        return None, (*standing, item)


def _standing(item: refusals.Refusal | Question, answered: bool) -> Standing:
    lifts = "question" if isinstance(item, Question) else item.lifts
    return Standing(
        code=item.code,
        sentence=item.sentence,
        source=item.source or "common practice",
        answerable=lifts in ("question", "reason"),
        needs_reason=lifts in ("reason", "own_plan"),
        answered=answered,
        never=lifts == "never",
    )


def _facts(facts: Known) -> tuple[PlanRow, ...]:
    rows = []
    if facts.weight_kg is not None:
        when = "today" if facts.weighed_today else f"on {facts.weighed_on:%-d %b %Y}"
        rows.append(PlanRow("Weight", f"{facts.weight_kg:g} kg, {when}"))
    rows.append(PlanRow("Body condition", f"{facts.bcs:g} of 9" if facts.bcs else "not scored"))
    rows.append(PlanRow("Muscle", f"{facts.muscle}" if facts.muscle else "not scored"))
    if facts.conditions:
        rows.append(
            PlanRow("Conditions", ", ".join(sorted(code.replace("_", " ") for code in facts.conditions)))
        )
    return tuple(rows)


def _aims(inputs: Inputs) -> tuple[Choice, ...]:
    words = (("keep", "keep this weight"), ("lose", "lose weight"), ("gain", "gain weight"))
    return tuple(Choice(code, says, inputs.aim == code) for code, says in words)


def _ideal_part(
    record: Record, facts: Known, inputs: Inputs, factors: Factors
) -> tuple[tuple[Ideal, ...], str]:
    if facts.weight_kg is None or facts.bcs is None:
        return (), "Weight and body condition come first."
    try:
        found = methods(
            weight_kg=facts.weight_kg,
            bcs=facts.bcs,
            factors=factors,
            recorded=_lean_weight(record, facts),
            growing=inputs.stage == "growth",
            conditions=inputs.conditions,
        )
    except Refused as refused:
        return (), refused.sentence
    ideals = tuple(
        Ideal(
            says=each.says,
            kg=f"{each.weight_kg:.1f} kg",
            value=f"{each.weight_kg:.1f}",
            how=each.line.how,
            source=_source(each.line),
            preferred=each.preferred,
            open_ended=each.open_ended,
        )
        for each in found
    )
    return ideals, ""


def _lean_weight(record: Record, facts: Known) -> RecordedWeight | None:
    """The newest weight of its grown life taken on a day with a condition of 4 or 5."""
    patient = record.visit.patient
    score = (
        Measurement.objects.filter(patient=patient, kind="bcs", struck_at=None, value__gte=4, value__lte=5)
        .order_by("-measured_at")
        .first()
    )
    if score is None or score.value is None:
        return None
    weight = Measurement.objects.filter(
        patient=patient, kind="weight", struck_at=None, measured_at__date=score.measured_at.date()
    ).first()
    if weight is None or weight.value is None:
        return None
    return RecordedWeight(float(weight.value), float(score.value), f"{score.measured_at:%B %Y}")


def _source(line: Line) -> str:
    return f"{line.source or 'common practice'} ({CERTAINTY_SAYS[line.certainty]})"


def _step(line: Line) -> Step:
    places = 0 if line.unit.startswith("kcal") else 2
    return Step(line.what, line.how, f"{shown(line.value, places)} {line.unit}", _source(line), line.note)


def _energies(inputs: Inputs, facts: Known, asked: Asked, factors: Factors) -> tuple[Energy, ...]:
    chosen = inputs.estimate.code if inputs.estimate else ""
    return tuple(
        _energy(each, each.code == chosen) for each in offered(inputs, facts, asked.choices, factors)
    )


def _energy(each: Estimate, chosen: bool) -> Energy:
    same = round(each.low_kcal) == round(each.high_kcal)
    span = "" if same else f"{each.low_kcal:,.0f} to {each.high_kcal:,.0f}"
    steps = tuple(_step(line) for line in each.lines)
    return Energy(each.code, each.says, f"{each.energy_kcal:,.0f} kcal", span, steps, chosen)


def _ruler(facts: Known, inputs: Inputs, factors: Factors) -> Ruler | None:
    """For a grown animal that keeps its weight: the only case where both families speak."""
    simple = inputs.stage == "adult" and not inputs.conditions & {"pregnant", "nursing"}
    if facts.weight_kg is None or not simple:
        return None
    usual = usual_rules(
        facts.species, neutered=facts.neutered, bcs=facts.bcs, obese_prone="obese_prone" in facts.conditions
    )
    try:
        need = adult_need(
            weight_kg=facts.weight_kg,
            multiples_code=usual[0],
            body_size_code=usual[1],
            family=facts.family,
            factors=factors,
        )
    except Refused:
        return None
    return _drawn(need, facts.eaten_kcal, inputs.estimate.energy_kcal if inputs.estimate else None)


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


def _foods(foods: Mapping[str, Food], facts: Known) -> tuple[Choice, ...]:
    """Those of the species first; others stand too, and are refused with the reason if chosen."""
    ordered = sorted(foods.values(), key=lambda food: (facts.species not in food.species, food.name))
    return tuple(Choice(food.code, _food_words(food), False) for food in ordered)


def _food_words(food: Food) -> str:
    energy = f", {food.kcal_per_kg:,.0f} kcal/kg" if food.kcal_per_kg else ""
    return f"{food.name} ({'/'.join(sorted(food.species))}{energy})"


def _rows(plan: FeedingPlan) -> tuple[PlanRow, ...]:
    rows = [PlanRow("Energy", f"{plan.energy_kcal:,.0f} kcal a day, {plan.energy_says}")]
    if plan.target_weight_kg:
        rows.append(PlanRow("Target", f"{plan.target_weight_kg:g} kg"))
        if plan.weeks_fewest and plan.weeks_most:
            rows.append(
                PlanRow("Weeks", f"about {plan.weeks_fewest:.0f} to {plan.weeks_most:.0f}; no promise")
            )
    for portion in plan.portions:
        cups = f", about {portion.units_say}" if portion.units_say else ""
        rows.append(PlanRow(portion.food_name, f"{portion.grams:.0f} g a day{cups}"))
    rows.append(PlanRow("Treats", f"{plan.treats_kcal:.0f} kcal; at most {plan.treats_most_kcal or 0:.0f}"))
    if plan.meals:
        rows.append(PlanRow("Meals", plan.meals.says))
    if plan.water_low_ml and plan.water_high_ml:
        rows.append(
            PlanRow("Water", f"about {plan.water_low_ml:,.0f} to {plan.water_high_ml:,.0f} mL; never less")
        )
    return tuple(rows)


def _kept_rows(kept: Plan | None) -> tuple[PlanRow, ...]:
    if kept is None:
        return ()
    if kept.kind == Plan.Kind.KEEP:
        return (PlanRow("Keep feeding as now", kept.until),)
    foods = [PlanRow(row["food_name"], f"{row['grams']:.0f} g a day") for row in kept.content["portions"]]
    energy = PlanRow("Energy", f"{kept.energy_kcal:,.0f} kcal a day")
    weigh = PlanRow("Weigh-in", f"{kept.weigh_in_on:%-d %B %Y}" if kept.weigh_in_on else "")
    return (energy, *foods, weigh)
