"""The forms of promises and contacts: they read and normalise; what may be done is the actions' to say."""

from typing import Any

from django import forms

from clinic.care.neutral import NeutralForm
from clinic.people.models import Staff
from clinic.platform.forms import OnceForm
from clinic.promises.models import Contact, PromiseStep


def _people(staff: list[Staff], nobody: str) -> list[tuple[str, str]]:
    return [("", nobody), *((str(each.pk), each.full_name) for each in staff)]


class StepForm(OnceForm):
    """`step`: how many steps the person saw; another number means that somebody was there meanwhile."""

    step = forms.IntegerField(min_value=0, widget=forms.HiddenInput)


class HandForm(StepForm):
    to = forms.TypedChoiceField(label="To whom", coerce=int)
    words = forms.CharField(label="A word to them", max_length=280, widget=forms.Textarea(attrs={"rows": 2}))

    def __init__(self, *args: Any, people: list[Staff], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        to = self.fields["to"]
        assert isinstance(to, forms.TypedChoiceField)
        to.choices = _people(people, "choose")


class MovePromiseForm(StepForm):
    on = forms.DateField(label="New day", widget=forms.DateInput(attrs={"type": "date"}))
    words = forms.CharField(label="Why", max_length=280)


class ClosePromiseForm(StepForm):
    outcome = forms.ChoiceField(
        label="What happened", choices=PromiseStep.Outcome.choices, widget=forms.RadioSelect
    )
    words = forms.CharField(label="In words", max_length=280, widget=forms.Textarea(attrs={"rows": 2}))


class ContactForm(NeutralForm, OnceForm):
    neutral = ("text",)

    knows = forms.BooleanField(required=False, widget=forms.HiddenInput)
    kind = forms.ChoiceField(label="What it was", choices=Contact.Kind.choices)
    with_whom = forms.CharField(label="With whom", max_length=160)
    text = forms.CharField(
        label="What was said",
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="Facts, and their words where they matter. A consent says for what, and how it was given.",
    )
    happened_at = forms.DateTimeField(
        label="When it happened",
        required=False,
        input_formats=["%Y-%m-%dT%H:%M"],
        help_text="Empty: now. The time of writing is kept beside it.",
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
    )
    problem = forms.TypedChoiceField(label="About a problem", required=False, coerce=int, empty_value=None)
    test = forms.TypedChoiceField(label="About a test", required=False, coerce=int, empty_value=None)
    owner_told = forms.BooleanField(label="The owner knows the result now", required=False)
    closes = forms.ChoiceField(
        label="This fulfils a promise", required=False, help_text="It is closed as done, with these words."
    )
    again_by = forms.TypedChoiceField(
        label="Who gets back to them", required=False, coerce=int, empty_value=None
    )
    again_on = forms.DateField(
        label="By which day", required=False, widget=forms.DateInput(attrs={"type": "date"})
    )

    def __init__(
        self,
        *args: Any,
        kinds: list[tuple[str, str]],
        people: list[Staff],
        problems: list[tuple[int, str]],
        tests: list[tuple[int, str]],
        promises: list[tuple[str, str]],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        for name, choices in (
            ("kind", kinds),
            ("problem", [("", "none"), *problems]),
            ("test", [("", "none"), *tests]),
            ("closes", [("", "none"), *promises]),
            ("again_by", _people(people, "nobody")),
        ):
            chosen = self.fields[name]
            assert isinstance(chosen, forms.ChoiceField)
            chosen.choices = choices
