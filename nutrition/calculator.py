"""A quick answer on the phone, without a patient: the same rules and refusals; nothing is kept."""

from dataclasses import dataclass, field
from typing import Any

from django import forms

from nutrition import conditions as condition
from nutrition.amounts import both, on_scale, to_kg
from nutrition.choices import Choices, Known, inputs_of, offered, why_none
from nutrition.energy import spread_kcal
from nutrition.explain import Line
from nutrition.factors import CERTAINTY_SAYS, Factors, Family, species_of
from nutrition.foods import Food
from nutrition.ideal_weight import IdealWeight, methods
from nutrition.label import in_measures, mix
from nutrition.letter_texts import for_owner
from nutrition.plan import PlanRefused, compose
from nutrition.reasons import Refused
from nutrition.refusals import Inputs, Stage, check

NEUTERED = {"yes": True, "no": False}
NEUTERED_SAYS = {"": "", "yes": "neutered", "no": "intact"}
STATE_SAYS = {
    "adult": "grown",
    "growth": "growing",
    condition.PREGNANT: "pregnant",
    condition.NURSING: "nursing",
}


class CalculatorForm(forms.Form):
    """What somebody says on the telephone; only species and weight must be known."""

    species = forms.ChoiceField(choices=[("dog", "dog"), ("cat", "cat")], label="Species")
    weight = forms.FloatField(min_value=0.05, max_value=300, label="Weight")
    unit = forms.ChoiceField(choices=[("kg", "kg"), ("lb", "lb")], label="Weights are in")
    bcs = forms.TypedChoiceField(
        choices=[("", "not scored"), *((str(score), f"{score} of 9") for score in range(1, 10))],
        coerce=float,
        empty_value=None,
        required=False,
        label="Body condition",
    )
    neutered = forms.ChoiceField(
        choices=[("", "not known"), ("yes", "neutered"), ("no", "intact")], required=False, label="Neutered"
    )
    state = forms.ChoiceField(choices=list(STATE_SAYS.items()), label="State")
    age_months = forms.IntegerField(min_value=0, max_value=400, required=False, label="Age, months")
    grown = forms.FloatField(min_value=0.2, max_value=260, required=False, label="Expected grown weight")
    week = forms.IntegerField(min_value=1, max_value=12, required=False, label="Week, pregnant or nursing")
    young = forms.IntegerField(min_value=1, max_value=20, required=False, label="Young nursed")
    target = forms.FloatField(min_value=0.2, max_value=260, required=False, label="To lose: target")
    illness = forms.ChoiceField(
        choices=[("", "none told"), *((code, condition.SAYS[code]) for code in condition.NO_FORMULA)],
        required=False,
        label="Illness",
    )
    food = forms.ChoiceField(choices=[("", "no food")], required=False, label="Food")

    def __init__(self, *args: Any, foods: dict[str, Food], **more: Any) -> None:
        super().__init__(*args, **more)
        named = sorted(((food.code, food.name) for food in foods.values()), key=lambda each: each[1])
        self.fields["food"].choices = [("", "no food"), *named]  # type: ignore[attr-defined]

    def kilograms(self, name: str) -> float | None:
        number = self.cleaned_data[name]
        return None if number is None else to_kg(number, self.cleaned_data["unit"])

    def known(self, family: Family) -> Known:
        """The animal as told; nothing about its house, its meals or its past."""
        data = self.cleaned_data
        conditions = {data["illness"], data["state"]} - {"", "adult", "growth"}
        return Known(
            species=species_of(data["species"]),
            name="",
            breed="",
            neutered=NEUTERED.get(data["neutered"]),
            age_months=data["age_months"],
            expected_adult_kg=self.kilograms("grown"),
            weight_kg=self.kilograms("weight"),
            weighed_on=None,
            weighed_today=False,
            bcs=data["bcs"],
            scored_on=None,
            muscle=None,
            conditions=frozenset(conditions),
            household=None,
            eaten_kcal=None,
            eaten_weighed=False,
            diet_as_told="",
            family=family,
        )

    def choices(self, weight_kg: float) -> Choices:
        data = self.cleaned_data
        stage: Stage = "growth" if data["state"] == "growth" else "adult"
        return Choices(
            aim="lose" if data["target"] else "keep",
            stage=stage,
            target_weight_kg=self.kilograms("target"),
            week=data["week"],
            young=data["young"],
            weight_before_kg=weight_kg if data["state"] in (condition.PREGNANT, condition.NURSING) else None,
            shares={data["food"]: 100.0} if data["food"] else {},
        )


@dataclass(frozen=True)
class Step:
    what: str
    how: str
    much: str
    source: str


@dataclass(frozen=True)
class EnergyTold:
    says: str
    kcal: str
    food: str
    steps: tuple[Step, ...]


@dataclass(frozen=True)
class Answer:
    """`about`: for which animal, so that the printed sheet says it."""

    about: str = ""
    energies: tuple[EnergyTold, ...] = ()
    spread: str = ""
    ideals: tuple[tuple[str, str], ...] = ()
    standing: tuple[str, ...] = ()
    cautions: tuple[str, ...] = field(default=())


def answer(
    form: CalculatorForm,
    foods: dict[str, Food],
    factors: Factors,
    *,
    family: Family = "multiples",
    food_unit: str = "g",
) -> Answer:
    """What the rules say; `standing` is all that a plan would be refused or asked for."""
    facts, unit = form.known(family), form.cleaned_data["unit"]
    assert facts.weight_kg is not None
    choices = form.choices(facts.weight_kg)
    inputs = inputs_of(facts, choices, foods, factors)
    energies = offered(inputs, facts, choices, factors)
    spread = ""
    if energies:
        low, high = min(e.low_kcal for e in energies), max(e.high_kcal for e in energies)
        least, most = spread_kcal(low, high, factors)
        spread = f"One animal may need half less or half more: {least:,.0f} to {most:,.0f} kcal a day."
    return Answer(
        about=_about(form, facts.weight_kg),
        energies=tuple(
            EnergyTold(
                says=each.says,
                kcal=f"{each.energy_kcal:,.0f} kcal a day",
                food=_food(inputs, each.energy_kcal, food_unit, factors),
                steps=tuple(_step(line) for line in each.lines),
            )
            for each in energies
        ),
        spread=spread,
        ideals=tuple((both(each.weight_kg, unit), each.says) for each in _ideals(facts, inputs, factors)),
        standing=tuple(
            dict.fromkeys(
                (*_standing(inputs, factors), *filter(None, [why_none(inputs, facts, choices, factors)]))
            )
        ),
        cautions=_cautions(inputs, factors),
    )


def _about(form: CalculatorForm, weight_kg: float) -> str:
    """Dog, 27.4 kg (60.4 lb), 7 of 9, neutered, grown, to lose: target 23.0 kg (50.7 lb)."""
    data = form.cleaned_data
    said = [data["species"].capitalize(), both(weight_kg, data["unit"])]
    if data["bcs"]:
        said.append(f"{data['bcs']:g} of 9")
    said += [
        NEUTERED_SAYS[data["neutered"]],
        STATE_SAYS[data["state"]],
        condition.SAYS.get(data["illness"], ""),
    ]
    for name, told in (("age_months", "{} months old"), ("week", "week {}"), ("young", "{} young nursed")):
        said.append(told.format(data[name]) if data[name] is not None else "")
    for name, label in (("grown", "expected when grown"), ("target", "to lose: target")):
        kg = form.kilograms(name)
        said.append(f"{label} {both(kg, data['unit'])}" if kg is not None else "")
    return ", ".join(each for each in said if each)


def _ideals(facts: Known, inputs: Inputs, factors: Factors) -> tuple[IdealWeight, ...]:
    if facts.bcs is None or facts.weight_kg is None:
        return ()
    try:
        return methods(
            weight_kg=facts.weight_kg,
            bcs=facts.bcs,
            factors=factors,
            growing=inputs.stage == "growth",
            conditions=inputs.conditions,
        )
    except Refused:
        return ()


def _food(inputs: Inputs, kcal: float, unit: str, factors: Factors) -> str:
    try:
        portions = mix(kcal, inputs.servings, factors)
    except Refused:
        return ""
    return f"{on_scale(portions[0].grams, unit)}{in_measures(portions[0])} of {portions[0].food_name}"


def _standing(inputs: Inputs, factors: Factors) -> list[str]:
    """What the food is missing is no refusal here: a quick answer may be about energy alone."""
    left = {"no_food", "energy_missing"} if not inputs.servings else {"energy_missing"}
    return [item.sentence for item in check(inputs, factors) if item.code not in left]


def _cautions(inputs: Inputs, factors: Factors) -> tuple[str, ...]:
    """What is said to the owner on the telephone."""
    try:
        return tuple(for_owner(each) for each in compose(inputs, factors).cautions)
    except PlanRefused:
        return tuple(factors.sentence(f"caution.{name}").says for name in ("estimate", "clinician", "water"))


def _step(line: Line) -> Step:
    places = 0 if line.unit.startswith("kcal") else 2
    certainty = CERTAINTY_SAYS[line.certainty]
    source = f"{line.source} ({certainty})" if line.source else certainty
    return Step(line.what, line.how, f"{line.value:,.{places}f} {line.unit}", source)
