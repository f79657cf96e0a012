"""The forms of a visit: they read and normalise; what may be done is the actions' to say."""

from typing import Any

from django import forms

from clinic.platform.forms import OnceForm
from clinic.visits.models import HeadsUp, Visit


class CheckInForm(OnceForm):
    q = forms.CharField(required=False)
    owner = forms.IntegerField()
    patients = forms.TypedMultipleChoiceField(coerce=int, choices=[])
    see_now = forms.CharField(required=False)

    def __init__(self, data: Any) -> None:
        super().__init__(data)
        # which animals these may be is the household's to say, see `access_household`
        patients = self.fields["patients"]
        assert isinstance(patients, forms.TypedMultipleChoiceField)
        patients.choices = [(value, value) for value in data.getlist("patients") if value.isdigit()]


class MoveForm(forms.Form):
    to = forms.ChoiceField(choices=Visit.Place.choices)
    seen = forms.ChoiceField(choices=Visit.Place.choices, required=False)
    room = forms.CharField(required=False, max_length=60)
    clinician = forms.IntegerField(required=False)


class GoHomeForm(forms.Form):
    outcome = forms.ChoiceField(
        label="How did it go on?", choices=Visit.Outcome.choices, widget=forms.RadioSelect
    )
    seen = forms.ChoiceField(choices=Visit.Place.choices, required=False)


class SeeNowForm(forms.Form):
    why = forms.CharField(
        label="What worries you",
        required=False,
        max_length=200,
        help_text="Breathing hard, collapsed, bleeding, fits, cannot pass urine, eaten something. "
        "No reason is needed.",
    )


class KindForm(forms.Form):
    kind = forms.ChoiceField(label="Kind of visit", choices=Visit.Kind.choices, widget=forms.RadioSelect)
    reason = forms.CharField(
        label="Why not the full walk", required=False, max_length=200, help_text="Stands in the record."
    )


class WhyForm(forms.Form):
    owners_words = forms.CharField(
        label="Reason, in the owner’s words", required=False, widget=forms.Textarea(attrs={"rows": 2})
    )


class GivenForm(OnceForm):
    name = forms.CharField(label="Something given", max_length=160)
    how_much = forms.CharField(label="How much", required=False, max_length=160)
    last_given = forms.CharField(label="Last given", required=False, max_length=80)


class HeadsUpForm(OnceForm):
    station = forms.CharField(label="Where on the animal", required=False, max_length=3)
    side = forms.ChoiceField(
        label="Side",
        required=False,
        choices=[("", "no side"), ("left", "left"), ("right", "right")],
    )
    words = forms.CharField(label="One sentence, as you saw it", max_length=500)


class AnswerForm(forms.Form):
    answer = forms.ChoiceField(choices=HeadsUp.Answer.choices)
    reason = forms.CharField(label="Why not today", required=False, max_length=200)


class PutRightForm(OnceForm):
    """Which rows, by their tokens, and that somebody is sure whose they are."""

    rows = forms.TypedMultipleChoiceField(required=False, choices=[])
    sure = forms.BooleanField(error_messages={"required": "Say that you are sure whose this is."})

    def __init__(self, data: Any = None, **more: Any) -> None:
        super().__init__(data, **more)
        # what may be chosen is the action's to say: a token that is not shown any more refuses all of it
        rows = self.fields["rows"]
        assert isinstance(rows, forms.TypedMultipleChoiceField)
        rows.choices = [(value, value) for value in data.getlist("rows")] if data else []


class ExcuseForm(forms.Form):
    reason = forms.CharField(label="Why not", max_length=200)


class BookForm(OnceForm):
    on = forms.DateField(label="Day", widget=forms.DateInput(attrs={"type": "date"}))
    at = forms.TimeField(label="Time", required=False, widget=forms.TimeInput(attrs={"type": "time"}))
    booked_for = forms.CharField(label="What for", max_length=200)
    kind = forms.ChoiceField(label="Kind of visit", choices=Visit.Kind.choices)
    minutes = forms.IntegerField(label="Minutes", min_value=5, max_value=480, initial=30)


class NextVisitForm(OnceForm):
    on = forms.DateField(label="Day", widget=forms.DateInput(attrs={"type": "date"}))
    at = forms.TimeField(label="Time", required=False, widget=forms.TimeInput(attrs={"type": "time"}))
    week_of = forms.BooleanField(label="Any day of that week", required=False)
    kind = forms.ChoiceField(
        label="Kind of visit", choices=Visit.Kind.choices, initial=Visit.Kind.FOCUSED.value
    )
    reason = forms.CharField(label="What for", max_length=200)
    minutes = forms.IntegerField(label="Minutes", min_value=5, max_value=480, initial=20)
    problem = forms.TypedChoiceField(label="Problem", required=False, coerce=int, empty_value=None)

    def __init__(self, *args: Any, problems: list[tuple[int, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        chosen = self.fields["problem"]
        assert isinstance(chosen, forms.TypedChoiceField)
        chosen.choices = [("", "no single problem"), *problems]


class SignForm(OnceForm):
    secret = forms.CharField(
        label="Your PIN",
        strip=True,
        max_length=128,
        widget=forms.PasswordInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )


class AddendumForm(OnceForm):
    text = forms.CharField(label="What is added", widget=forms.Textarea(attrs={"rows": 3}))
    corrects = forms.CharField(
        label="The line it corrects",
        required=False,
        max_length=120,
        widget=forms.TextInput(attrs={"list": "signed-lines"}),
    )
    happened_at = forms.DateTimeField(
        label="When it happened",
        required=False,
        input_formats=["%Y-%m-%dT%H:%M"],
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
    )
    for_owner = forms.BooleanField(
        label="The owner should read it", required=False, help_text="The letter goes out again, corrected."
    )


class RebookForm(OnceForm):
    """`seen`: what the person saw; another value means that somebody changed it meanwhile."""

    seen = forms.CharField(widget=forms.HiddenInput, max_length=40)
    on = forms.DateField(label="New day", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    at = forms.TimeField(
        label="Time", required=False, widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
    )
    week_of = forms.BooleanField(label="Any day of that week", required=False)
    why = forms.CharField(label="Why it is moved", max_length=200)
    tell = forms.BooleanField(label="Tell the owner by mail", required=False)


class CallOffForm(OnceForm):
    seen = forms.CharField(widget=forms.HiddenInput, max_length=40)
    why = forms.CharField(label="Why it is called off", max_length=200)
    tell = forms.BooleanField(label="Tell the owner by mail", required=False)
