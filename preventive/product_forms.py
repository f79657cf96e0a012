"""What is typed of a product's label. One form for vaccines, one for what goes home."""

from collections.abc import Mapping
from decimal import Decimal, InvalidOperation
from typing import Any, cast

from django import forms

from clinic.patients.units import Unit as Typed
from clinic.patients.units import to_canonical
from clinic.platform.forms import OnceForm
from clinic.platform.measures import WEIGHTS
from preventive.dates import Span
from preventive.facts import ProductKind as Made
from preventive.models import Product, ProductKind
from preventive.product_label import (
    FORMS,
    SIZES,
    Size,
    SizesWrong,
    antigens_offered,
    band_rows,
    preventive_label,
    sizes_typed,
    span_of,
    vaccine_label,
)
from preventive.rules import Rules
from preventive.wording import PROTECTS, ROUTES

UNITS = [("d", "days"), ("wk", "weeks"), ("mo", "months"), ("yr", "years")]
SPECIES = [("dog", "dogs"), ("cat", "cats")]
MADE = [
    (Made.LIVE, "modified live"),
    (Made.INACTIVATED, "inactivated"),
    (Made.RECOMBINANT, "recombinant"),
]


def _ticks(label: str, choices: list[tuple[str, str]], missing: str) -> forms.MultipleChoiceField:
    return forms.MultipleChoiceField(
        label=label,
        choices=choices,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": missing},
    )


def _number(label: str, help_text: str = "", *, missing: str = "") -> forms.IntegerField:
    return forms.IntegerField(
        label=label,
        min_value=1,
        max_value=400,
        required=bool(missing),
        help_text=help_text,
        error_messages={"required": missing, "invalid": "A whole number."},
    )


def _unit(label: str, first: str) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, choices=UNITS, initial=first)


class LabelForm(OnceForm):
    """What both kinds of product have. Lists of the protocol come from `rules`."""

    kind: str

    name = forms.CharField(
        max_length=120,
        label="Name, as on the label",
        error_messages={"required": "Which name stands on the label?"},
    )
    maker = forms.CharField(
        max_length=120, error_messages={"required": "Who makes it? A report of a reaction asks for it."}
    )
    species = _ticks("For", SPECIES, "For which species, by the label?")

    def __init__(self, *args: Any, rules: Rules, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.rules = rules
        for name in {"min_age", "min_interval"} & self.fields.keys():
            self.fields[name].asked = True  # type: ignore[attr-defined]

    def facts(self) -> dict[str, Any]:
        raise NotImplementedError


class VaccineForm(LabelForm):
    kind = ProductKind.VACCINE.value

    antigens = _ticks("Against", [], "Against what?")
    type = forms.ChoiceField(
        label="Made as",
        choices=MADE,
        widget=forms.RadioSelect,
        error_messages={"required": "Live, inactivated or recombinant? Questions before a dose ask it."},
    )
    route = forms.ChoiceField(label="Given", choices=list(ROUTES.items()))
    also = forms.MultipleChoiceField(
        label="Or, by the label, also",
        choices=list(ROUTES.items()),
        widget=forms.CheckboxSelectMultiple,
        required=False,
    )
    licensed_months = _number("Licensed for, in months", "12, 24, 36 …; empty where the label names none.")
    min_age = _number("Not before")
    min_age_unit = _unit("of age", "wk")
    min_interval = _number("At least")
    min_interval_unit = _unit("apart", "wk")
    volume = forms.CharField(label="One dose is", max_length=20, required=False, help_text="1 ml, a tube …")

    def __init__(self, *args: Any, rules: Rules, **kwargs: Any) -> None:
        super().__init__(*args, rules=rules, **kwargs)
        cast(forms.MultipleChoiceField, self.fields["antigens"]).choices = list(antigens_offered(rules))

    def facts(self) -> dict[str, Any]:
        told = self.cleaned_data
        spans = {name: span_of(told[name], told[f"{name}_unit"]) for name in ("min_age", "min_interval")}
        return vaccine_label({**told, **spans})


class PreventiveForm(LabelForm):
    """`low_0`, `high_0` …: the sizes, in `weight_in`."""

    kind = ProductKind.PREVENTIVE.value

    form = forms.ChoiceField(label="It is a", choices=[(each, each) for each in FORMS])
    ingredients = forms.CharField(
        max_length=300,
        label="Active ingredients",
        help_text="All of them, with commas between: the safety questions go by them.",
        error_messages={"required": "Which active ingredients? The safety questions go by them."},
    )
    sure = forms.BooleanField(
        label="Spelled as on the label; no safety question by class is asked for it", required=False
    )
    protects = _ticks("Against", list(PROTECTS.items()), "Against what?")
    interval = _number("One every", missing="How long until the next, by the label?")
    interval_unit = _unit("by the label", "mo")
    min_age = _number("Not before")
    min_age_unit = _unit("of age", "wk")
    weight_in = forms.ChoiceField(label="Weights on the label are in", choices=WEIGHTS)

    def __init__(self, *args: Any, rules: Rules, **kwargs: Any) -> None:
        super().__init__(*args, rules=rules, **kwargs)
        for number in range(SIZES):
            for end, label in (("low", "from"), ("high", "to")):
                self.fields[f"{end}_{number}"] = forms.CharField(
                    label=f"Size {number + 1}, {label}",
                    max_length=8,
                    required=False,
                    widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
                )
                self.fields[f"{end}_{number}"].asked = True  # type: ignore[attr-defined]

    def clean_ingredients(self) -> tuple[str, ...]:
        typed = self.cleaned_data["ingredients"].replace(";", ",").split(",")
        return tuple(dict.fromkeys(each.strip().lower() for each in typed if each.strip()))

    @property
    def size_rows(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        return [(self[f"low_{number}"], self[f"high_{number}"]) for number in range(SIZES)]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        sizes = []
        for number in range(SIZES):
            low, high = self._weight(f"low_{number}"), self._weight(f"high_{number}")
            if low is not None or high is not None:
                sizes.append(Size(low, high))
        unit = str(cleaned.get("weight_in", "kg"))
        try:
            cleaned["bands"] = band_rows(sizes, unit=unit, kg=to_canonical(Decimal(1), Typed(unit)))
        except SizesWrong as error:
            self.add_error("weight_in", str(error))
        return cleaned

    def _weight(self, name: str) -> Decimal | None:
        typed = str(self.cleaned_data.get(name, "")).strip().replace(",", ".")
        if not typed:
            return None
        try:
            value = Decimal(typed)
        except InvalidOperation:
            value = Decimal(-1)
        if not 0 < value < 1000:
            self.add_error(name, "A weight.")
            return None
        return value

    def facts(self) -> dict[str, Any]:
        told = self.cleaned_data
        spans = {name: span_of(told[name], told[f"{name}_unit"]) for name in ("interval", "min_age")}
        return preventive_label({**told, **spans})


FORM_OF: Mapping[str, type[LabelForm]] = {each.kind: each for each in (VaccineForm, PreventiveForm)}


def typed_of(product: Product) -> dict[str, Any]:
    """What its form begins with."""
    facts = product.facts
    typed: dict[str, Any] = {
        "name": product.name,
        "maker": product.maker,
        "species": list(product.species),
        **{name: facts[name] for name in ("antigens", "type", "form", "protects", "volume") if name in facts},
        "licensed_months": facts.get("licensed_months"),
        "route": facts.get("routes", [""])[0],
        "also": facts.get("routes", [])[1:],
        "ingredients": ", ".join(facts.get("ingredients", ())),
        "sure": True,
    }
    for name in ("min_age", "min_interval", "interval"):
        if name in facts:
            span = Span.parse(facts[name])
            typed |= {name: span.value, f"{name}_unit": span.unit.value}
    unit, sizes = sizes_typed(facts.get("bands", ()))
    if sizes:
        typed["weight_in"] = unit
    for number, size in enumerate(sizes):
        typed |= {f"low_{number}": size.low, f"high_{number}": size.high}
    return typed
