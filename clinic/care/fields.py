"""Fields that the forms of care share."""

from typing import Any

from django import forms

from clinic.people.models import Staff

SIDES = [("", "no side"), ("left", "left"), ("right", "right"), ("both", "both")]


def day_field(label: str, **kwargs: Any) -> forms.DateField:
    return forms.DateField(
        label=label,
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        **kwargs,
    )


def text_field(label: str, *, rows: int = 2, **kwargs: Any) -> forms.CharField:
    return forms.CharField(label=label, widget=forms.Textarea(attrs={"rows": rows}), **kwargs)


def fill_people(field: forms.Field, people: list[Staff]) -> None:
    assert isinstance(field, forms.TypedChoiceField)
    field.choices = [("", "nobody yet"), *((each.pk, each.full_name) for each in people)]
