"""A weight, and perhaps a condition score, as somebody at the scale types them."""

from decimal import Decimal
from typing import Any
from uuid import uuid4

from django import forms

from clinic.patients.actions import Value
from clinic.patients.judgement import Kind
from clinic.patients.units import Unit
from nutrition.amounts import to_kg
from nutrition.growing import GrownWeight, grown_weight
from nutrition.models import ExpectedGrownWeight

NOT_A_NUMBER = "This is not a number: type the weight as the scale reads, 26.4 for example."


class WeighForm(forms.Form):
    """The number stays as typed; which numbers can be is judged by the action, which may ask (`asked`)."""

    asked = False

    typed = forms.CharField(max_length=12, label="Weight")
    unit = forms.ChoiceField(
        choices=[("kg", "kg"), ("lb", "lb")], widget=forms.RadioSelect, label="The scale shows"
    )
    bcs = forms.TypedChoiceField(
        choices=[("", "not scored"), *((str(score), f"{score} of 9") for score in range(1, 10))],
        coerce=Decimal,
        empty_value=None,
        required=False,
        label="Body condition",
    )
    looked_twice = forms.BooleanField(required=False, label="I looked twice: keep it")
    once = forms.UUIDField(widget=forms.HiddenInput, required=False)

    @classmethod
    def blank(cls, unit: str) -> "WeighForm":
        return cls(initial={"unit": unit, "once": uuid4()})

    def clean_typed(self) -> Decimal:
        try:
            number = Decimal(str(self.cleaned_data["typed"]).strip().replace(",", "."))
        except ArithmeticError:
            raise forms.ValidationError(NOT_A_NUMBER) from None
        if not number.is_finite():
            raise forms.ValidationError(NOT_A_NUMBER)
        return number

    def values(self, *, planned: bool | None) -> list[Value]:
        """What the action keeps. `planned`: whether a loss is meant; None asks."""
        data: dict[str, Any] = self.cleaned_data
        twice = data["looked_twice"]
        weight = Value(
            kind=Kind.WEIGHT,
            typed=data["typed"],
            unit=data["unit"],
            looked_twice=twice,
            planned_change=planned,
        )
        if data["bcs"] is None:
            return [weight]
        return [weight, Value(kind=Kind.BCS, typed=data["bcs"], unit=Unit.BCS_9, looked_twice=twice)]


class GrownWeightForm(forms.Form):
    """What it will weigh when grown, and how anybody knows."""

    how = forms.ChoiceField(choices=ExpectedGrownWeight.How.choices, label="How it is known")
    unit = forms.ChoiceField(choices=[("kg", "kg"), ("lb", "lb")], required=False, label="In")
    first = forms.FloatField(min_value=0.2, max_value=260, label="As known; the mother, or the lower end")
    second = forms.FloatField(
        min_value=0.2, max_value=260, required=False, label="The father, or the upper end"
    )

    @classmethod
    def blank(cls, unit: str) -> "GrownWeightForm":
        return cls(initial={"unit": unit})

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("how") in ("parents", "breed") and not self.errors and data.get("second") is None:
            self.add_error("second", "An estimate needs both: the two parents, or both ends of the range.")
        return data

    def weight(self) -> GrownWeight:
        data = self.cleaned_data
        first, second = data["first"], data["second"]
        unit = data["unit"] or "kg"
        return grown_weight(data["how"], to_kg(first, unit), None if second is None else to_kg(second, unit))
