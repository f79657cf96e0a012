"""The forms of the due list: they read and normalise."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from django import forms

from clinic.callbacks.models import Asking
from clinic.callbacks.queries import After, Wanted
from clinic.callbacks.reasons import LEFT_OUT_WORDS, REACH_WORDS
from clinic.patients.models import Species
from clinic.people.models import Staff
from clinic.platform.forms import OnceForm

OVER = [("1", "any time"), ("7", "a week"), ("30", "30 days"), ("90", "90 days")]

MORE = ("species", "life", "clinician")  # asked for seldom: behind a fold


class WhichForm(forms.Form):
    """What the list shows. A value that is not offered counts as not chosen."""

    what = forms.ChoiceField(label="What", required=False)
    over = forms.TypedChoiceField(
        label="Over by at least", required=False, choices=OVER, coerce=int, empty_value=None
    )
    reach = forms.ChoiceField(
        label="Reached",
        required=False,
        choices=[("", "any way"), *((r.value, w) for r, w in REACH_WORDS.items())],
    )
    asked = forms.ChoiceField(
        label="Asked",
        required=False,
        choices=[("", "yes or no"), ("0", "not yet"), ("1", "once"), ("2", "twice or more")],
    )
    species = forms.ChoiceField(label="Species", required=False, choices=[("", "both"), *Species.choices])
    life = forms.ChoiceField(label="How it lives", required=False)
    clinician = forms.TypedChoiceField(label="Seen last by", required=False, coerce=int, empty_value=None)
    why = forms.ChoiceField(
        label="Whom",
        required=False,
        choices=[
            ("", "to be asked"),
            ("any", "left out, all"),
            *((each.value, f"left out: {words}") for each, words in LEFT_OUT_WORDS.items()),
        ],
    )

    def __init__(
        self, *args: Any, labels: list[str], people: list[Staff], lives: Mapping[str, str], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        for name, choices in (
            ("what", [("", "anything"), *((each, each) for each in labels)]),
            ("life", [("", "any way"), *sorted(lives.items(), key=lambda each: each[1].lower())]),
            ("clinician", [("", "anybody"), *((str(each.pk), each.full_name) for each in people)]),
        ):
            field = self.fields[name]
            assert isinstance(field, forms.ChoiceField)
            field.choices = choices
        for field in self.fields.values():
            field.asked = True  # type: ignore[attr-defined]  # a filter is never "optional"

    @property
    def at_hand(self) -> list[forms.BoundField]:
        return [self[name] for name in self.fields if name not in MORE]

    @property
    def more(self) -> list[forms.BoundField]:
        return [self[name] for name in MORE]

    @property
    def more_are_chosen(self) -> bool:
        return any(self.data.get(name) for name in MORE)

    @property
    def chosen(self) -> tuple[str, ...]:
        """What is chosen, as the form names it: "Reached: on paper"."""
        found = []
        for each in self:
            words = dict(each.field.choices).get(each.data or "") if each.data else None  # type: ignore[attr-defined]
            if words:
                found.append(f"{each.label}: {words}")
        return tuple(found)

    def wanted(self) -> Wanted:
        self.is_valid()
        given = self.cleaned_data
        return Wanted(
            what=given.get("what", ""),
            over=given.get("over") or 1,
            clinician=given.get("clinician"),
            reach=given.get("reach", ""),
            why=given.get("why") or None,
            species=given.get("species", ""),
            asked=given.get("asked", ""),
            life=given.get("life", ""),
        )


def read_after(text: str) -> After | None:
    """2026-03-01.17; None for anything else: the first page."""
    day, _, owner = text.partition(".")
    try:
        return After(date.fromisoformat(day), int(owner))
    except ValueError:
        return None


class NameForm(forms.Form):
    name = forms.CharField(
        label="Name of this view", max_length=60, error_messages={"required": "Give it a name."}
    )


class KeepForm(NameForm):
    """The filters in hand under a name."""

    asked_for = forms.CharField(required=False, max_length=400, widget=forms.HiddenInput)
    everybody = forms.BooleanField(label="For everybody here", required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["everybody"].asked = True  # type: ignore[attr-defined]  # a tick is never "optional"


class AskingForm(OnceForm):
    """What was done about the things that were ticked."""

    items = forms.TypedMultipleChoiceField(
        label="About what",
        coerce=int,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Tick at least one thing that was spoken of."},
    )
    how = forms.ChoiceField(label="How", choices=Asking.How.choices, initial=Asking.How.CALL)
    outcome = forms.ChoiceField(
        label="What came of it",
        choices=Asking.Outcome.choices,
        widget=forms.RadioSelect,
        error_messages={"required": "Say what came of it."},
    )
    number = forms.ChoiceField(
        label="Which number", required=False, help_text="A wrong one counts as no way to reach them."
    )
    again_on = forms.DateField(
        label="Ask again on",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}),
        help_text="Empty: two days after nobody was reached, two weeks after “they will call”, else 30 days.",
    )
    words = forms.CharField(label="In words", required=False, max_length=280)

    def __init__(
        self, *args: Any, offered: list[tuple[int, str]], numbers: Sequence[str] = (), **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        if numbers:
            number = self.fields["number"]
            assert isinstance(number, forms.ChoiceField)
            number.choices = [(each, each) for each in numbers]
        else:
            del self.fields["number"]
        about = self.fields["items"]
        assert isinstance(about, forms.MultipleChoiceField)
        about.choices = offered
