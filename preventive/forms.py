"""What is sent to the prevention page. Forms validate and normalise only; rules stand in the actions."""

from datetime import date
from typing import Any

from django import forms
from django.http import QueryDict

from clinic.platform.forms import OnceForm
from preventive.life_facts import LifeCode
from preventive.models import Source, TreatmentGiven
from preventive.wording import ROUTES

NOBODY = "nobody"  # no veterinarian is in the house
DAY = forms.DateInput(attrs={"type": "date"})


def is_yes(sent: str) -> bool:
    return sent == "yes"


class GiveForm(OnceForm):
    """The part above the vials: is it well, who agreed."""

    well = forms.ChoiceField(
        choices=[("well", "no, well"), ("ill", "yes, or not sure")],
        error_messages={"required": "First: ill or feverish today? Asked before every vaccine."},
    )
    consent = forms.CharField(
        max_length=200, error_messages={"required": "Who agreed, and how: in words or in writing."}
    )


class SupplyForm(OnceForm):
    product = forms.IntegerField(error_messages={"required": "Which one goes home?"})
    band = forms.CharField(max_length=60, required=False)
    count = forms.IntegerField(
        min_value=1,
        max_value=24,
        error_messages={"required": "How many?", "invalid": "How many: a whole number."},
    )
    first_on = forms.DateField(error_messages={"required": "On which day is the first one given?"})
    source = forms.ChoiceField(
        choices=[(Source.HERE, "from here"), (Source.OWNER, "they have it already")], required=False
    )


class PutOffForm(OnceForm):
    """`how`: later (put off) or no (declined)."""

    code = forms.CharField(max_length=60)
    how = forms.ChoiceField(choices=[("later", "not today"), ("no", "the owner says no")])
    why = forms.CharField(max_length=200, required=False)
    words = forms.CharField(max_length=200, required=False)
    risks = forms.CharField(max_length=300, required=False)
    signed = forms.BooleanField(required=False)
    until = forms.DateField(required=False)

    @property
    def reason(self) -> str:
        """What was tapped, and what was written."""
        parts = (self.cleaned_data["why"].strip(), self.cleaned_data["words"].strip())
        return "; ".join(part for part in parts if part)


class OwnDateForm(OnceForm):
    day = forms.DateField(error_messages={"required": "Due on which day?", "invalid": "Due on which day?"})
    reason = forms.CharField(max_length=200, error_messages={"required": "Say why it is due on another day."})


class LifeForm(OnceForm):
    """What the schedule goes by; each field may stay empty, and its rules stand in the action."""

    def __init__(self, sent: QueryDict) -> None:
        super().__init__(sent)
        for code in LifeCode:
            if code in sent:
                self.fields[code] = forms.CharField(max_length=20, required=False)

    def clean(self) -> dict[str, Any]:
        """What was told by its code, apart from the token."""
        found = self.cleaned_data
        return {"once": found.pop("once", None), "told": found}


class TreatmentForm(OnceForm):
    kind = forms.ChoiceField(choices=TreatmentGiven.Kind.choices)
    words = forms.CharField(max_length=200, required=False)
    on = forms.DateField(required=False)
    source = forms.ChoiceField(
        choices=[(Source.HERE, "here"), (Source.OWNER, "elsewhere, as the owner says")], required=False
    )


class ResultForm(OnceForm):
    outcome = forms.CharField(max_length=30)


class RulingForm(OnceForm):
    """Whether a dose counts that the schedule leaves out."""

    counted = forms.TypedChoiceField(
        choices=[("yes", "it counts"), ("no", "it does not count")],
        coerce=is_yes,
        error_messages={"required": "Does it count, or not?"},
    )
    reason = forms.CharField(max_length=200, error_messages={"required": "Say why it counts, or why not."})


class CertificateForm(OnceForm):
    control_licence = forms.CharField(max_length=80, required=False)


class StrikeForm(OnceForm):
    reason = forms.CharField(max_length=200, error_messages={"required": "Say why it is struck out."})


def lots_of(sent: QueryDict) -> dict[str, int]:
    """Chosen lot by vial's key; what is no number was not chosen."""
    return {
        name.removeprefix("lot-"): int(value)
        for name, value in sent.items()
        if name.startswith("lot-") and isinstance(value, str) and value.isdigit()
    }


def route_of(sent: QueryDict, key: str) -> str:
    """How one vial is given; empty: the label's usual way."""
    route = sent.get(f"route-{key}", "")
    return route if route in ROUTES else ""


def answers_of(sent: QueryDict, key: str) -> dict[str, str]:
    """Typed reason by question's code, for one vial or the supply."""
    start = f"reason-{key}-"
    return {name.removeprefix(start): str(value) for name, value in sent.items() if name.startswith(start)}


def day_or_none(text: str) -> date | None:
    """An ISO day; None for anything else."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None
