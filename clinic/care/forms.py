"""The forms of the plan page: they read and normalise; what may be done is the actions' to say."""

from datetime import date
from typing import Any

from django import forms

from clinic.care.catalogue import find_listed
from clinic.care.directions import Directions
from clinic.care.guards import Question
from clinic.care.models import Assessment, Certainty, Medicine, PlanLine
from clinic.care.neutral import NeutralForm
from clinic.care.routes import Route
from clinic.patients.models import ConditionCode
from clinic.people.models import Staff
from clinic.platform.forms import OnceForm

SIDES = [("", "no side"), ("left", "left"), ("right", "right"), ("both", "both")]


def day_field(label: str, **kwargs: Any) -> forms.DateField:
    return forms.DateField(
        label=label,
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        **kwargs,
    )


def _text(label: str, *, rows: int = 2, **kwargs: Any) -> forms.CharField:
    return forms.CharField(label=label, widget=forms.Textarea(attrs={"rows": rows}), **kwargs)


def fill_people(field: forms.Field, people: list[Staff]) -> None:
    assert isinstance(field, forms.TypedChoiceField)
    field.choices = [("", "nobody yet"), *((each.pk, each.full_name) for each in people)]


class OpenForm(OnceForm):
    """Matters of today, one's own words, or both; into a new problem or one that is open."""

    matters = forms.TypedMultipleChoiceField(required=False, choices=[])
    title = forms.CharField(
        label="What to call it",
        required=False,
        max_length=160,
        help_text="Empty: as the first that is chosen. A problem is no diagnosis yet: “red left ear”.",
    )
    into = forms.TypedChoiceField(label="Into", required=False, coerce=int, empty_value=None)

    def __init__(
        self, *args: Any, matters: list[str], problems: list[tuple[int, str]], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["matters"].choices = [(key, key) for key in matters]  # type: ignore[attr-defined]
        self.fields["into"].choices = [("", "a new problem"), *problems]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if not cleaned.get("matters") and not cleaned.get("title") and "matters" not in self.errors:
            self.add_error("title", "Choose what was found, or write in your own words what the problem is.")
        return cleaned


class AssessForm(OnceForm):
    text = _text("Assessment", rows=2, help_text="What you think it is. Nothing is filled in for you.")
    certainty = forms.ChoiceField(
        label="How sure",
        choices=Certainty.choices,
        initial=Certainty.DIFFERENTIAL.value,
        widget=forms.RadioSelect,
    )
    course = forms.ChoiceField(
        label="Course",
        required=False,
        choices=[("", "not said"), *Assessment.Course.choices],
        widget=forms.RadioSelect,
    )
    for_owner = _text(
        "The same for the owner",
        rows=2,
        required=False,
        help_text="In plain words; stands first in the letter. “The left ear has a yeast infection.”",
    )


class LineForm(NeutralForm, OnceForm):
    neutral = ("text", "for_owner", "declined_why", "alternative")

    kind = forms.ChoiceField(
        label="What kind", choices=PlanLine.Kind.choices, initial=PlanLine.Kind.RECHECK.value
    )
    text = forms.CharField(label="What is to be done", max_length=300)
    for_owner = forms.CharField(
        label="The same for the owner",
        required=False,
        max_length=400,
        help_text="In plain words. Empty: the letter uses the words above.",
    )
    standing = forms.ChoiceField(
        label="Where it stands",
        choices=PlanLine.Standing.choices,
        initial=PlanLine.Standing.ADVISED.value,
        widget=forms.RadioSelect,
    )
    answerable = forms.TypedChoiceField(
        label="Who answers for it", required=False, coerce=int, empty_value=None
    )
    due_on = day_field("By when")
    consent_by = forms.CharField(label="Who agreed", required=False, max_length=120)
    consent_how = forms.ChoiceField(
        label="How",
        required=False,
        choices=[("", "not said"), *PlanLine.ConsentHow.choices],
        widget=forms.RadioSelect,
    )
    estimate = forms.ChoiceField(
        label="Estimate of the costs",
        required=False,
        choices=[("", "not said"), *PlanLine.Estimate.choices],
        widget=forms.RadioSelect,
    )
    declined_why = forms.CharField(
        label="The owner’s reason",
        required=False,
        max_length=300,
        help_text="In neutral words: “declined X-rays today”, never a judgement of the owner.",
    )
    risks_explained = forms.CharField(label="Risks that were explained", required=False, max_length=300)
    explained_by = forms.TypedChoiceField(
        label="Who explained them", required=False, coerce=int, empty_value=None
    )
    alternative = forms.CharField(
        label="What was agreed instead", required=False, max_length=300, help_text="Stands in the letter."
    )
    come_back = forms.CharField(
        label="When to come back all the same",
        required=False,
        max_length=200,
        help_text="“at once when it stops eating”. Stands in the letter.",
    )
    signed_by_owner = forms.BooleanField(label="The owner signed that they decline", required=False)
    offer_again_on = day_field("Offered again on")
    again_of = forms.IntegerField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, people: list[Staff], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fill_people(self.fields["answerable"], people)
        fill_people(self.fields["explained_by"], people)


class ProgressForm(NeutralForm, OnceForm):
    neutral = ("note",)

    standing = forms.ChoiceField(
        label="What became of it", choices=[("", "choose"), *PlanLine.Standing.choices]
    )
    note = forms.CharField(
        label="In a few words", required=False, max_length=300, help_text="Who was reached, what was said."
    )
    answerable = forms.TypedChoiceField(label="Handed to", required=False, coerce=int, empty_value=None)
    due_on = day_field("New day")

    def __init__(self, *args: Any, people: list[Staff], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fill_people(self.fields["answerable"], people)


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
    own_words = _text(
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


class CloseForm(forms.Form):
    """`ends`: conditions that the problem set and that end with it."""

    reason = forms.CharField(
        label="Why it is closed", max_length=200, help_text="Healed, under control, was none …"
    )
    ends = forms.MultipleChoiceField(
        label="Ends with it", required=False, choices=[], widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, *args: Any, conditions: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["ends"].choices = conditions  # type: ignore[attr-defined]
        if not conditions:
            del self.fields["ends"]


class ReopenForm(forms.Form):
    reason = forms.CharField(
        label="Why it is opened again", max_length=200, help_text="It came back, the result was wrong …"
    )


class ConditionForm(forms.Form):
    code = forms.ChoiceField(
        label="Condition",
        choices=[("", "choose"), *ConditionCode.choices],
        help_text="Feeding, prevention and the questions before a medicine reckon with it.",
    )
    note = forms.CharField(label="Note", required=False, max_length=200)


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
