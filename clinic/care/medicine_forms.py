"""The forms of a medicine: directing, stopping, giving a dose, striking one out."""

from datetime import date
from typing import Any

from django import forms

from clinic.care.catalogue import find_listed
from clinic.care.directions import Directions
from clinic.care.fields import SIDES, day_field, text_field
from clinic.care.guards import Question
from clinic.care.models import Medicine
from clinic.care.routes import Route
from clinic.platform.forms import OnceForm


class MedicineForm(OnceForm):
    """Every part in words; the sentence is composed from them. Reasons for the guards come by `answer-…`."""

    name = forms.CharField(
        label="Medicine",
        max_length=160,
        widget=forms.TextInput(attrs={"list": "medicines", "autocomplete": "off"}),
    )
    ingredients = forms.CharField(
        label="Active ingredients",
        required=False,
        max_length=400,
        help_text="With commas between. Empty: as on the clinic’s list.",
    )
    strength = forms.CharField(
        label="Strength", required=False, max_length=80, help_text="Empty: as on the list."
    )
    how = forms.ChoiceField(
        label="How it gets there", choices=Medicine.How.choices, initial="dispensed", widget=forms.RadioSelect
    )
    dose = forms.CharField(
        label="How much each time", max_length=80, help_text="With its unit, spelled out: “5 drops”."
    )
    route = forms.ChoiceField(
        label="Route", choices=[("", "choose"), *((each.value, each.value) for each in Route)]
    )
    side = forms.ChoiceField(label="Side", required=False, choices=SIDES, widget=forms.RadioSelect)
    times = forms.CharField(
        label="How often", max_length=80, help_text="“morning and evening for 10 days”, “once”."
    )
    first_dose = forms.CharField(
        label="First dose", required=False, max_length=80, help_text="“this evening”"
    )
    last_on = day_field("Day of the last dose", help_text="Empty: until you change it.")
    last_when = forms.CharField(
        label="And when on that day", required=False, max_length=40, help_text="“morning”"
    )
    quantity = forms.CharField(
        label="Taken home", required=False, max_length=80, help_text="“1 bottle of 10 ml”"
    )
    refills = forms.IntegerField(label="Refills", required=False, min_value=0, max_value=12, initial=0)
    reason = forms.CharField(label="What it is for", max_length=200)
    own_words = text_field(
        "The sentence in your words", rows=3, required=False, help_text="Empty: as composed above."
    )
    corrected_from = forms.CharField(required=False, widget=forms.HiddenInput)
    instead_of = forms.IntegerField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.questions: tuple[Question, ...] = ()

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        listed = find_listed(cleaned.get("name", ""))
        where = "Not on the clinic’s list"
        if listed and listed.off:
            where, listed = f"Taken off the clinic’s list ({listed.off})", None
        typed = [each.strip() for each in cleaned.get("ingredients", "").split(",") if each.strip()]
        cleaned["ingredients"] = tuple(typed) or (listed.ingredients if listed else ())
        cleaned["strength"] = cleaned.get("strength") or (listed.strength if listed else "")
        for field, sentence in (
            ("ingredients", f"{where}: write its active ingredients."),
            ("strength", f"{where}: write its strength with the unit."),
        ):
            if not cleaned[field] and cleaned.get("name"):
                self.add_error(field, sentence)
        return cleaned

    def directions(self) -> Directions:
        """From a valid form."""
        return directions_of(self.cleaned_data)

    def answers(self) -> list[dict[str, str]]:
        """Reasons as they were typed, by the question's code."""
        prefix = "answer-"
        return [
            {"code": key.removeprefix(prefix), "reason": value}
            for key, value in self.data.items()
            if key.startswith(prefix) and value.strip()
        ]

    def ask(self, questions: tuple[Question, ...], *, still_open: tuple[Question, ...]) -> None:
        """Show all questions, with what was answered so far."""
        given = {each["code"]: each["reason"] for each in self.answers()}
        missing = {each.code for each in still_open}
        self.questions = questions
        self.asked = [
            {
                "question": each,
                "reason": given.get(each.code, ""),
                "missing": bool(given) and each.code in missing,
            }
            for each in questions
        ]


def directions_of(parts: dict[str, Any]) -> Directions:
    """The parts of the medicine form as directions; missing ones stay empty."""

    def part(name: str) -> str:
        return " ".join(str(parts.get(name) or "").split())

    return Directions(
        name=part("name"),
        ingredients=tuple(parts.get("ingredients") or ()),
        strength=part("strength"),
        dose=part("dose"),
        route=part("route"),
        side=part("side"),
        times=part("times"),
        first_dose=part("first_dose"),
        last_dose=last_dose(parts.get("last_on"), part("last_when")),
        quantity=part("quantity"),
    )


def last_dose(on: date | None, when: str) -> str:
    """5 December 2026, morning."""
    day = f"{on:%-d %B %Y}" if on else ""
    return ", ".join(part for part in (day, when) if part)


class StopForm(OnceForm):
    why = forms.CharField(
        label="Why it is stopped",
        max_length=200,
        help_text="In words that the record may keep: healed, not borne, changed to another.",
    )
    on = day_field("First day without it")
    owner_told = forms.BooleanField(label="The owner knows", required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["on"].required = True


class DoseForm(OnceForm):
    amount = forms.CharField(label="How much was given", max_length=80, help_text="With its unit: “1.2 ml”.")
    lot = forms.CharField(label="Lot", required=False, max_length=40)
    expires_on = day_field("Usable until")
    given_at = forms.DateTimeField(
        label="When",
        required=False,
        input_formats=["%Y-%m-%dT%H:%M"],
        help_text="Empty: now.",
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
    )
    note = forms.CharField(label="Note", required=False, max_length=200)


class ReasonForm(OnceForm):
    reason = forms.CharField(label="Why it is struck out", max_length=200)


def form_of(medicine: Medicine) -> dict[str, Any]:
    """What the form shows when a medicine is changed: everything as it was directed, but for its last day."""
    return {
        "name": medicine.name,
        "ingredients": ", ".join(medicine.ingredients),
        "strength": medicine.strength,
        "how": medicine.how,
        "dose": medicine.dose,
        "route": medicine.route,
        "side": medicine.side,
        "times": medicine.times,
        "refills": medicine.refills,
        "reason": medicine.reason,
        "instead_of": medicine.pk,
    }
