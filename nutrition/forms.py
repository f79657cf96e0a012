"""Reading the feeding page's form: what can be read becomes choices, what cannot gets a sentence."""

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from datetime import date
from typing import Any, get_args

from django import forms
from django.http import QueryDict
from django.utils.dateparse import parse_date
from django.utils.text import slugify

from nutrition.amounts import to_kg
from nutrition.choices import Choices
from nutrition.foods import Analysis, Completeness, Food, Form, LifeStage, Unit, food_from
from nutrition.label import proximate
from nutrition.models import Plan
from nutrition.reasons import Refused
from nutrition.refusals import Aim
from nutrition.versions import composed

ROWS = 3
AIMS: dict[str, Aim] = {"keep": "keep", "lose": "lose", "gain": "gain"}
NOT_A_NUMBER = "This is not a number."
WEIGHT_UNITS = {"kg": "kg", "lb": "lb"}
WEIGHT_OF = {
    "target_weight_kg": "target_weight",
    "expected_adult_kg": "expected_adult",
    "weight_before_kg": "weight_before",
}
"""The form's field of each chosen weight: it says no unit, `weight_in` does."""
WEIGHTS = tuple(WEIGHT_OF.values())


@dataclass(frozen=True)
class FoodLine:
    """One row of the bowl as typed."""

    code: str = ""
    share: str = ""


@dataclass(frozen=True)
class Asked:
    """The form as it was sent: choices as far as they can be read, errors by field, and what was typed."""

    choices: Choices
    errors: Mapping[str, str]
    typed: Mapping[str, str]
    bowl: tuple[FoodLine, ...]
    weigh_in_on: date | None
    until: str
    own_words: str
    weight_in: str = "kg"


def read(data: QueryDict, unit: str = "kg") -> Asked:
    """Never raises. `unit` is what weights are typed in where the form does not say (`weight_in`)."""
    errors: dict[str, str] = {}
    bowl = _bowl(data)
    weigh_in_on = _day(data, errors)
    unit = WEIGHT_UNITS.get(data.get("weight_in", ""), unit)
    weights = {name: _weight(data, name, errors) for name in WEIGHTS}
    kilograms = {name: None if typed is None else to_kg(typed, unit) for name, typed in weights.items()}
    choices = Choices(
        aim=AIMS.get(data.get("aim", ""), "keep"),
        stage=data.get("stage", ""),
        target_weight_kg=kilograms["target_weight"],
        wanted_percent_a_week=_number(data, "wanted_percent_a_week", errors),
        expected_adult_kg=kilograms["expected_adult"],
        energy=data.get("energy", ""),
        own_kcal=_number(data, "own_kcal", errors),
        multiples=data.get("multiples", ""),
        body_size=data.get("body_size", ""),
        shares=_shares(bowl, errors),
        treats_kcal=_number(data, "treats_kcal", errors) or 0.0,
        week=_whole(data, "week", errors),
        young=_whole(data, "young", errors),
        weight_before_kg=kilograms["weight_before"],
        change_days=_whole(data, "change_days", errors),
        as_typed={
            name: f"{_text(data, name).strip()} {unit}" for name, kg in kilograms.items() if kg is not None
        },
        reason=_text(data, "reason"),
        answered=frozenset(data.getlist("answered")),
    )
    return Asked(
        choices=choices,
        errors=errors,
        typed={name: _text(data, name) for name in data},
        bowl=(*bowl, *(FoodLine(),) * (ROWS - len(bowl))),
        weigh_in_on=weigh_in_on,
        until=_text(data, "until"),
        own_words=_text(data, "own_words"),
        weight_in=unit,
    )


def again(plan: Plan) -> QueryDict:
    """The form that would make the same plan, to go on from."""
    content = plan.content
    data = QueryDict(mutable=True)
    data["own_words"], data["until"], data["reason"] = plan.own_words, plan.until, content["reason"]
    if plan.weigh_in_on:
        data["weigh_in_on"] = plan.weigh_in_on.isoformat()
    if plan.kind == Plan.Kind.KEEP:
        return data
    data["weight_in"] = "kg"
    data["aim"], data["energy"] = content["aim"], content["energy_code"]
    if content["energy_code"] == "own":
        data["own_kcal"] = f"{content['energy_kcal']:g}"
    if content["target_weight_kg"]:
        data["target_weight"] = f"{content['target_weight_kg']:g}"
    if content["treats_kcal"]:
        data["treats_kcal"] = f"{content['treats_kcal']:g}"
    if content["basis"] == "growth":
        data["stage"] = "growth"
    for name, value in plan.asked.items():
        if name != "as_typed":
            data[WEIGHT_OF.get(name, name)] = value if isinstance(value, str) else f"{value:g}"
    _typed_again(data, plan.asked.get("as_typed", {}))
    data.setlist("food", [row["food_code"] for row in content["portions"]])
    data.setlist("share", [f"{row['share_percent']:g}" for row in content["portions"]])
    data.setlist("answered", [row["code"] for row in content["lifted"]])
    return data


def _typed_again(data: QueryDict, as_typed: Mapping[str, str]) -> None:
    """Weights as they were typed, in the unit they were typed in."""
    for name, said in as_typed.items():
        data[name], data["weight_in"] = said.rsplit(" ", 1)


def _text(data: QueryDict, name: str) -> str:
    # the database keeps no NUL in a text
    return str(data.get(name, "")).replace("\x00", "")


def _bowl(data: QueryDict) -> tuple[FoodLine, ...]:
    rows = zip(data.getlist("food"), data.getlist("share"), strict=False)
    return tuple(FoodLine(code, share) for code, share in rows if code or share.strip())[:ROWS]


def _parsed(text: str) -> float | None:
    """A finite number, or None."""
    try:
        number = float(text.strip().replace(",", "."))
    except ValueError:
        return None
    return number if math.isfinite(number) else None


def _number(data: QueryDict, name: str, errors: dict[str, str]) -> float | None:
    text = str(data.get(name, "")).strip()
    if not text:
        return None
    number = _parsed(text)
    if number is None:
        errors[name] = NOT_A_NUMBER
        return None
    if not 0 <= number < 100_000:
        errors[name] = "This number cannot be."
        return None
    return number


def _weight(data: QueryDict, name: str, errors: dict[str, str]) -> float | None:
    number = _number(data, name, errors)
    if number == 0:
        errors[name] = "A weight is more than zero."
        return None
    return number


def _whole(data: QueryDict, name: str, errors: dict[str, str]) -> int | None:
    number = _number(data, name, errors)
    if number is not None and number != int(number):
        errors[name] = "A whole number, please."
        return None
    return None if number is None else int(number)


def _day(data: QueryDict, errors: dict[str, str]) -> date | None:
    text = str(data.get("weigh_in_on", "")).strip()
    if not text:
        return None
    try:
        day = parse_date(text)
    except ValueError:
        day = None
    if day is None:
        errors["weigh_in_on"] = "This is not a day."
    return day


def _shares(bowl: tuple[FoodLine, ...], errors: dict[str, str]) -> dict[str, float]:
    """One food alone is all of it; of several the shares must make 100, give or take what rounding makes."""
    chosen = [row for row in bowl if row.code]
    if len(chosen) == 1 and not chosen[0].share.strip():
        return {chosen[0].code: 100.0}
    shares: dict[str, float] = {}
    for row in chosen:
        share = _parsed(row.share or "0")
        if share is None or share < 0:
            errors["share"] = "A share is a number of percent."
        else:
            shares[row.code] = shares.get(row.code, 0.0) + share
    whole = sum(shares.values())
    if not shares or "share" in errors:
        return shares
    if abs(whole - 100) > 0.5:
        errors["share"] = f"The shares make {whole:g} %, not 100."
        return shares
    return {code: share * 100 / whole for code, share in shares.items()}


STAGE_SAYS: dict[LifeStage, str] = {
    "adult": "adult",
    "senior": "senior",
    "growth": "growth",
    "large_breed_growth": "growth of large breeds",
    "reproduction": "pregnancy and nursing",
}

MARKS = {
    "weight_control": "made for losing weight",
    "therapeutic": "therapeutic, for one illness",
    "raw": "raw",
    "meat_free": "without meat",
    "treat": "a treat",
}


def _choices(literal: Any, *, empty: str = "") -> list[tuple[str, str]]:
    first = [("", empty)] if empty else []
    return first + [(each, each.replace("_", " ")) for each in get_args(literal)]


ANALYSIS = ("protein_percent", "fat_percent", "fibre_percent", "moisture_percent")


def _percent(label: str) -> forms.FloatField:
    return forms.FloatField(min_value=0, max_value=100, required=False, label=label)


class FoodForm(forms.Form):
    """A food of the catalogue as its label states it. An analysis that is not asked for is left as it is."""

    name = forms.CharField(max_length=60, label="Name")
    species = forms.MultipleChoiceField(
        choices=[("dog", "dogs"), ("cat", "cats")], widget=forms.CheckboxSelectMultiple, label="Made for"
    )
    life_stages = forms.MultipleChoiceField(
        choices=list(STAGE_SAYS.items()),
        widget=forms.CheckboxSelectMultiple,
        label="Life stages on the label",
    )
    form = forms.ChoiceField(choices=_choices(Form), label="Form")
    completeness = forms.ChoiceField(choices=_choices(Completeness), label="Complete or complementary")
    kcal_per_kg = forms.FloatField(
        min_value=100, max_value=9500, required=False, label="kcal in a kilogram, as fed"
    )
    unit = forms.ChoiceField(
        choices=_choices(Unit, empty="not stated"), required=False, label="Household measure"
    )
    kcal_per_unit = forms.FloatField(
        min_value=0.1, max_value=5000, required=False, label="kcal in one measure"
    )
    protein_percent = _percent("Protein, %")
    fat_percent = _percent("Fat, %")
    fibre_percent = _percent("Crude fibre, %")
    moisture_percent = _percent("Moisture, %")
    ash_percent = _percent("Ash, %; assumed where left out")
    marks = forms.MultipleChoiceField(
        choices=list(MARKS.items()), widget=forms.CheckboxSelectMultiple, required=False, label="It is"
    )
    note = forms.CharField(max_length=200, required=False, label="Note")

    def clean_name(self) -> str:
        name = str(self.cleaned_data["name"])
        if not slugify(name):
            raise forms.ValidationError("A name needs letters.")
        return name

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if bool(data.get("unit")) != (data.get("kcal_per_unit") is not None):
            self.add_error("kcal_per_unit", "A household measure and its kcal go together.")
        if not self.errors:
            self._look_at_the_label(data)
        return data

    def _look_at_the_label(self, data: dict[str, Any]) -> None:
        """A label that cannot be is refused with the reason."""
        missing = [name for name in ANALYSIS if data.get(name) is None]
        if missing and (len(missing) < len(ANALYSIS) or data.get("ash_percent") is not None):
            self.add_error(missing[0], "Protein, fat, fibre and moisture go together.")
            return
        analysis = self._analysis()
        try:
            if analysis is not None:
                proximate(analysis, data["form"], composed())
        except Refused as refused:
            self.add_error("protein_percent", refused.sentence)
            return
        if data.get("kcal_per_kg") is None and analysis is None and self._asks_analysis:
            self.add_error("kcal_per_kg", "Give the energy on the label, or the analysis to reckon it from.")

    @property
    def _asks_analysis(self) -> bool:
        return any(name in self.data for name in ANALYSIS)

    def _analysis(self) -> Analysis | None:
        if self.cleaned_data.get("protein_percent") is None:
            return None
        return Analysis(*(self.cleaned_data[name] for name in (*ANALYSIS, "ash_percent")))

    def food(self, before: Food | None = None) -> Food:
        """The food as typed; `before` gives its code and the analysis, which the form does not ask."""
        row = {**self.cleaned_data, "unit": self.cleaned_data["unit"] or None}
        marks = row.pop("marks")
        row |= {name: name in marks for name in MARKS}
        for name in (*ANALYSIS, "ash_percent"):
            row.pop(name)
        made = food_from({**row, "code": before.code if before else slugify(row["name"])})
        kept = before.analysis if before and not self._asks_analysis else self._analysis()
        return replace(made, analysis=kept)


def as_typed(food: Food) -> dict[str, Any]:
    """A food as the form's first values."""
    marks = [name for name in MARKS if getattr(food, name)]
    return {
        "name": food.name,
        "species": sorted(food.species),
        "life_stages": sorted(food.life_stages),
        "form": food.form,
        "completeness": food.completeness,
        "kcal_per_kg": food.kcal_per_kg,
        "unit": food.unit or "",
        "kcal_per_unit": food.kcal_per_unit,
        **(asdict(food.analysis) if food.analysis else {}),
        "marks": marks,
        "note": food.note,
    }
