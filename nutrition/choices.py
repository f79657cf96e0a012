"""What the clinician chose on the feeding page, and everything else a plan is made from."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from decimal import Decimal

from dateutil.relativedelta import relativedelta
from django.contrib.postgres.expressions import ArraySubquery
from django.db.models.functions import JSONArray
from django.utils import timezone

from clinic.patients.ages import completed_months
from clinic.patients.limit_table import default_limits
from clinic.patients.models import Condition, DietEntry, LifestyleAnswer, Measurement, Patient
from clinic.platform.models import ClinicDetails
from clinic.platform.queries import clinic_details
from clinic.visits.models import Record
from nutrition import conditions as condition
from nutrition.amounts import GRAMS_PER_OUNCE
from nutrition.energy import rules_for
from nutrition.explain import Estimate
from nutrition.factors import Factors, Family, Species, species_of
from nutrition.foods import Food
from nutrition.growth import is_growing, is_large
from nutrition.ideal_weight import RecordedWeight
from nutrition.label import Serving
from nutrition.options import Circumstances, energies
from nutrition.plan import own_number
from nutrition.programme import Programme, recent_pace
from nutrition.reasons import Refused
from nutrition.refusals import Aim, Inputs, Muscle, Stage
from nutrition.running import PlanFacts, Weighed, plans_of, programme_among, weights_among
from nutrition.versions import composed
from nutrition.weight_loss import own_need

YES, NO = "yes", "no"
GRAMS_OF = {"g a day": 1.0, "oz a day": GRAMS_PER_OUNCE}
UNIT_OF = {"cups a day": "cup", "tins a day": "can", "pieces a day": "piece"}
FAMILIES: dict[str, Family] = {
    "rer-multiples": "multiples",
    "multiples": "multiples",
    "body-size": "body_size",
    "body_size": "body_size",
}
MUSCLES: dict[str, Muscle] = {"normal": "normal", "mild": "mild", "moderate": "moderate", "severe": "severe"}


@dataclass(frozen=True)
class Choices:
    """One page's worth of choices. kg, kcal a day; `shares` food code to % of the food energy.

    `energy` is an estimate's code, or "own" with `own_kcal`. `stage` "" takes what the age proposes.
    `multiples`, `body_size`: an adult's rule of each family, "" for the usual one. `weight_before_kg`: a
    mother's own before breeding. `change_days` None: the usual, where the food is new. `as_typed`: weights by
    the form's fields, as typed and with their unit.
    """

    aim: Aim = "keep"
    stage: str = ""
    target_weight_kg: float | None = None
    wanted_percent_a_week: float | None = None
    expected_adult_kg: float | None = None
    energy: str = ""
    own_kcal: float | None = None
    multiples: str = ""
    body_size: str = ""
    shares: Mapping[str, float] = field(default_factory=dict)
    treats_kcal: float = 0.0
    week: int | None = None
    young: int | None = None
    weight_before_kg: float | None = None
    change_days: int | None = None
    reason: str = ""
    answered: frozenset[str] = frozenset()
    as_typed: Mapping[str, str] = field(default_factory=dict)


BESIDE = frozenset(
    {"stage", "multiples", "body_size", "wanted_percent_a_week", "expected_adult_kg"}
    | {"week", "young", "weight_before_kg", "change_days", "as_typed"}
)


def beside(choices: Choices) -> dict[str, object]:
    """What was chosen and stands in no composed plan, or not as it was typed: by name, as JSON values."""
    return {name: value for name in sorted(BESIDE) if (value := getattr(choices, name)) not in (None, "", {})}


@dataclass(frozen=True)
class Known:
    """What the record says of this animal today; weight and scores are of this visit or the last."""

    species: Species
    name: str
    breed: str
    neutered: bool | None
    age_months: int | None
    expected_adult_kg: float | None
    weight_kg: float | None
    weighed_on: date | None
    weighed_today: bool
    bcs: float | None
    scored_on: date | None
    muscle: Muscle | None
    conditions: frozenset[str]
    household: frozenset[str] | None
    eaten_kcal: float | None
    eaten_weighed: bool
    diet_as_told: str
    family: Family
    foods_eaten: frozenset[str] = frozenset()
    lost_percent: float | None = None
    lost_since: str = ""
    seems_to_need_kcal: float | None = None
    lean: RecordedWeight | None = None
    muscle_on: date | None = None


def known(
    record: Record, *, today: date, foods: Mapping[str, Food], details: ClinicDetails | None = None
) -> Known:
    """Four queries, one more without the clinic's `details`.

    `foods` give the energy of what is eaten where nobody entered it.
    """
    patient, details = record.visit.patient, details or clinic_details()
    rows, plans, told = _measured(patient), plans_of(patient), _told_of(patient)
    newest = {row.kind: row for row in rows}
    weight, bcs, mcs = newest.get("weight"), newest.get("bcs"), newest.get("mcs")
    birth, species = patient.birth_date, species_of(patient.species)
    by_name = {food.name.casefold(): food for food in foods.values()}
    weighed = weights_among((row for row in rows if row.kind == "weight"), today)
    lost_percent, lost_since = _unplanned_loss(plans, weight, weighed)
    entries = list(DietEntry.objects.filter(patient=patient, until=None).order_by("part", "pk"))
    return Known(
        species=species,
        name=patient.name,
        breed=patient.breed,
        neutered=patient.is_neutered,
        age_months=completed_months(birth, today) if birth and birth <= today else None,
        expected_adult_kg=float(patient.expected_adult_kg) if patient.expected_adult_kg else None,
        weight_kg=float(weight.value) if weight and weight.value is not None else None,
        weighed_on=timezone.localdate(weight.measured_at) if weight else None,
        weighed_today=bool(weight and weight.visit_id == record.visit_id),
        bcs=float(bcs.value) if bcs and bcs.value is not None else None,
        scored_on=timezone.localdate(bcs.measured_at) if bcs else None,
        muscle=MUSCLES.get(mcs.category) if mcs else None,
        muscle_on=timezone.localdate(mcs.measured_at) if mcs else None,
        conditions=told.conditions,
        household=_household(dict(told.lived)),
        eaten_kcal=_eaten(entries, by_name),
        eaten_weighed=bool(entries) and all(entry.how == DietEntry.How.WEIGHED for entry in entries),
        diet_as_told="; ".join(_entry_words(entry) for entry in entries),
        family=FAMILIES.get(details.energy_rule, "multiples"),
        foods_eaten=frozenset(entry.food.strip().casefold() for entry in entries),
        lost_percent=lost_percent,
        lost_since=lost_since,
        seems_to_need_kcal=_seems_to_need(
            programme_among(plans, species, weighed, beside=record.pk), composed()
        ),
        lean=_lean(rows, patient.birth_date, species, patient.expected_adult_kg),
    )


def _measured(patient: Patient) -> list[Measurement]:
    """Weights and scores of a whole life, the earliest first. One query."""
    rows = Measurement.objects.filter(patient=patient, kind__in=("weight", "bcs", "mcs"), struck_at=None)
    return list(rows.order_by("measured_at", "pk"))


def _lean(
    rows: Sequence[Measurement], birth: date | None, species: Species, expected_adult_kg: Decimal | None
) -> RecordedWeight | None:
    """The newest weight of its grown life taken on a day with a condition of 4 or 5."""
    weights = {
        timezone.localdate(row.measured_at): float(row.value)
        for row in rows
        if row.kind == "weight" and row.value is not None
    }
    scores = [row for row in rows if row.kind == "bcs" and row.value is not None and 4 <= row.value <= 5]
    if birth:
        # a lean puppy's weight is no aim for the dog that it became
        heavy = float(expected_adult_kg) if expected_adult_kg else next(reversed(weights.values()), None)
        large = is_large(species, heavy, composed())
        months = composed().value("growth.large_until_months" if large else "growth.until_months")
        grown = birth + relativedelta(months=int(months))
        scores = [row for row in scores if timezone.localdate(row.measured_at) >= grown]
    if not scores or scores[-1].value is None:
        return None
    day = timezone.localdate(scores[-1].measured_at)
    if day not in weights:
        return None
    return RecordedWeight(weights[day], float(scores[-1].value), f"{day:%B %Y}")


def _unplanned_loss(
    plans: Sequence[PlanFacts], newest: Measurement | None, weighed: Weighed
) -> tuple[float | None, str]:
    """How much lighter than at its heaviest within a year, in %, where that is worth a question.

    The limit is the one that marks a weight at intake. A year with a plan for losing weight asks nothing.
    """
    if newest is None or newest.value is None or newest.details.get("planned") == "yes":
        return None, ""
    year_ago = newest.measured_at - timedelta(days=365)
    since, day = timezone.localdate(year_ago), timezone.localdate(newest.measured_at)
    within = [each for each in weighed if since <= each[0] <= day]
    if not within:
        return None, ""
    on, heaviest_kg = max(within, key=lambda each: each[1])
    percent = (heaviest_kg - float(newest.value)) / heaviest_kg * 100
    planned = any(plan.aim == "lose" and year_ago <= plan.at < newest.measured_at for plan in plans)
    if percent < float(default_limits().rule("loss-soft-percent")) or planned:
        return None, ""
    return percent, f"on {on:%-d %B %Y}"


def _seems_to_need(programme: Programme | None, factors: Factors) -> float | None:
    """What a running programme says that it needs itself, once its pace has a band; None before."""
    found = None if programme is None else recent_pace(programme, factors)
    if programme is None or found is None or found.low is None:
        return None
    value = own_need(programme.energy_kcal, found.kg_a_week, factors).value
    return value if value > 0 else None


@dataclass(frozen=True, slots=True)
class _Told:
    """What stands against a patient, and who lives with it as (question, answer)."""

    conditions: frozenset[str]
    lived: tuple[tuple[str, str], ...]


def _told_of(patient: Patient) -> _Told:
    """One query for both."""
    codes = Condition.objects.filter(patient=patient, until=None).values("code")
    lived = LifestyleAnswer.objects.filter(patient=patient, code__in=condition.HOUSEHOLD)
    row = (
        Patient.objects.filter(pk=patient.pk)
        .values(
            codes=ArraySubquery(codes), lived=ArraySubquery(lived.values(said=JSONArray("code", "answer")))
        )
        .get()
    )
    return _Told(frozenset(row["codes"]), tuple((code, answer) for code, answer in row["lived"]))


def _household(answers: Mapping[str, str]) -> frozenset[str] | None:
    yes = frozenset(code for code, answer in answers.items() if answer == YES)
    # one answer of two is no "nobody": the page asks again
    asked = all(answers.get(code) in (YES, NO) for code in condition.HOUSEHOLD)
    return yes if yes or asked else None


def _eaten(entries: list[DietEntry], by_name: Mapping[str, Food]) -> float | None:
    """The day's energy as told; None where a food's energy is not known."""
    energies_of = [_energy_of(entry, by_name.get(entry.food.strip().casefold())) for entry in entries]
    known_ones = [each for each in energies_of if each is not None]
    return sum(known_ones) if known_ones and len(known_ones) == len(entries) else None


def _energy_of(entry: DietEntry, food: Food | None) -> float | None:
    """As entered, else by the catalogue's food of that name."""
    if entry.kcal_a_day is not None:
        return float(entry.kcal_a_day)
    if food is None or entry.amount is None:
        return None
    if entry.unit in GRAMS_OF and food.kcal_per_kg:
        return float(entry.amount) * GRAMS_OF[entry.unit] * food.kcal_per_kg / 1000
    if UNIT_OF.get(entry.unit) == food.unit and food.kcal_per_unit:
        return float(entry.amount) * food.kcal_per_unit
    return None


def _entry_words(entry: DietEntry) -> str:
    unit = entry.unit.replace("s a ", " a ") if entry.amount == 1 else entry.unit
    amount = f", {entry.amount.normalize():f} {unit}" if entry.amount is not None else ""
    return f"{entry.food}{amount}"


def proposed_stage(facts: Known, expected_adult_kg: float | None, factors: Factors) -> Stage:
    """By age; an unknown age counts as adult and the page asks."""
    growing = is_growing(facts.species, facts.age_months, expected_adult_kg, factors)
    return "growth" if growing else "adult"


def inputs_of(facts: Known, choices: Choices, foods: Mapping[str, Food], factors: Factors) -> Inputs:
    """All of it together, the chosen energy in it. Never raises for what a person may choose."""
    expected = choices.expected_adult_kg or facts.expected_adult_kg
    stage: Stage = "adult"
    if choices.stage == "growth" or (
        not choices.stage and proposed_stage(facts, expected, factors) == "growth"
    ):
        stage = "growth"
    base = Inputs(
        species=facts.species,
        weight_kg=facts.weight_kg,
        stage=stage,
        aim=choices.aim,
        bcs=facts.bcs,
        muscle=facts.muscle,
        age_months=facts.age_months,
        expected_adult_kg=expected,
        target_weight_kg=choices.target_weight_kg if choices.aim == "lose" else None,
        wanted_percent_a_week=choices.wanted_percent_a_week if choices.aim == "lose" else None,
        lost_percent=facts.lost_percent,
        lost_since=facts.lost_since,
        servings=tuple(
            Serving(foods[code], share) for code, share in choices.shares.items() if code in foods
        ),
        treats_kcal=choices.treats_kcal,
        change_days=_change_days(facts, choices, foods, factors),
        reported_intake_kcal=facts.eaten_kcal,
        conditions=facts.conditions,
        household=facts.household,
        reason=choices.reason,
        answered=choices.answered,
    )
    return replace(
        base,
        estimate=chosen_estimate(base, facts, choices, factors),
        maintenance_kcal=maintenance(facts, base, choices, factors),
        maintenance_measured=choices.aim == "lose" and facts.seems_to_need_kcal is not None,
    )


def _change_days(facts: Known, choices: Choices, foods: Mapping[str, Food], factors: Factors) -> int | None:
    """As chosen; else the usual days, or none where it eats all of these foods already; None: not told."""
    if choices.change_days is not None:
        return choices.change_days
    names = {foods[code].name.casefold() for code in choices.shares if code in foods}
    if not facts.foods_eaten:
        return None
    if names <= facts.foods_eaten:
        return 0
    return int(factors.value("change.days"))


def around(facts: Known, choices: Choices, factors: Factors) -> Circumstances:
    """What told intake is not: measured; nor is today's weight a mother's own."""
    return Circumstances(
        neutered=facts.neutered,
        family=facts.family,
        multiples_code=_rule(choices.multiples, facts, "multiples", factors),
        body_size_code=_rule(choices.body_size, facts, "body_size", factors),
        week=choices.week,
        young=choices.young,
        weight_before_kg=choices.weight_before_kg,
        seems_to_need_kcal=facts.seems_to_need_kcal,
        measured_intake_kcal=facts.eaten_kcal if facts.eaten_weighed else None,
    )


def _rule(code: str, facts: Known, family: Family, factors: Factors) -> str | None:
    known_codes = {rule.code for rule in rules_for(facts.species, family, factors)}
    return code if code in known_codes else None


def offered(inputs: Inputs, facts: Known, choices: Choices, factors: Factors) -> tuple[Estimate, ...]:
    """The published energies to choose from; none where something is missing or no formula may be used."""
    try:
        return energies(inputs, around(facts, choices, factors), factors)
    except Refused:
        return ()


def why_none(inputs: Inputs, facts: Known, choices: Choices, factors: Factors) -> str:
    """Why no published energy is offered, where a number given cannot be; empty otherwise."""
    try:
        energies(inputs, around(facts, choices, factors), factors)
    except Refused as refused:
        return refused.sentence
    return ""


def chosen_estimate(inputs: Inputs, facts: Known, choices: Choices, factors: Factors) -> Estimate | None:
    if choices.energy == "own":
        try:
            return own_number(choices.own_kcal or 0)
        except Refused:
            return None
    found = offered(inputs, facts, choices, factors)
    named = [each for each in found if each.code == choices.energy]
    return named[0] if named else (found[0] if found else None)


def maintenance(facts: Known, inputs: Inputs, choices: Choices, factors: Factors) -> float | None:
    """What would keep today's weight, by a programme's weigh-ins, else by the clinic's family."""
    if inputs.aim != "lose" or facts.weight_kg is None:
        return None
    if facts.seems_to_need_kcal is not None:
        return facts.seems_to_need_kcal
    try:
        same_weight = replace(inputs, aim="keep", target_weight_kg=None)
        kept = energies(same_weight, around(facts, choices, factors), factors)
    except Refused:
        return None
    return kept[0].energy_kcal if kept else None
