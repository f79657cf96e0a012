"""The forms of writing to households: they read and normalise."""

import re
from typing import Any

from django import forms

from clinic.callbacks.composing import PLACES, wrong_words
from clinic.callbacks.planning import WAYS
from clinic.callbacks.reminder_models import INACTIVE_LEAST, INACTIVE_MOST, AskingPlan
from clinic.owner_page.texts import FIRST, every
from clinic.platform.forms import OnceForm

WEEKDAYS = [("0", "Monday"), ("1", "Tuesday"), ("2", "Wednesday"), ("3", "Thursday"), ("4", "Friday"),
            ("5", "Saturday"), ("6", "Sunday")]  # fmt: skip
CLOCK = {"type": "time"}


class WriteForm(OnceForm):
    """To whom."""

    owner = forms.TypedMultipleChoiceField(coerce=int, required=False)

    def __init__(self, *args: Any, offered: list[int], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["owner"]
        assert isinstance(field, forms.MultipleChoiceField)
        field.choices = [(str(each), str(each)) for each in offered]


class DaysField(forms.CharField):
    """-30, 0, 30: days from the due date, those before it with a minus."""

    def clean(self, value: Any) -> Any:
        text = super().clean(value).replace("−", "-").replace("–", "-")
        parts = [part for part in re.split(r"[,;\s]+", text) if part]
        if not all(re.fullmatch(r"[+-]?\d{1,4}", part) for part in parts):
            raise forms.ValidationError("Write days as numbers, such as -30, 0, 30.")
        return [int(part) for part in parts]


class WordsField(forms.CharField):
    """A plan's own sentence: only what can be put in stands in braces."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(required=False, max_length=280, **kwargs)

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if wrong := wrong_words(text):
            raise forms.ValidationError(wrong)
        return text


class PlanForm(OnceForm):
    what = forms.ChoiceField(label="For what", required=False)
    way = forms.ChoiceField(
        label="How",
        choices=list(WAYS.items()),
        help_text="A letter waits under “By post”, a call under “By telephone, as planned”, till done.",
    )
    days = DaysField(
        label="Days from the due date",
        initial="-30, 0, 30",
        help_text="At most three; with a minus: before it.",
    )
    series_days = DaysField(label="For a dose of a series, a recheck", initial="-7, -1")
    words_before = WordsField(
        label="A sentence for what is still to come",
        help_text=f"It may hold {', '.join(f'{{{name}}}' for name in PLACES)}.",
    )
    words_after = WordsField(
        label="A sentence for what is overdue",
        help_text="Neutral, and no offer: an offer would make it an advertisement everywhere.",
    )

    def __init__(self, *args: Any, labels: list[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["what"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [("", "everything without a plan of its own"), *((each, each) for each in labels)]
        for language, told in every().items():
            if language != FIRST:
                usual = "Left empty, the usual sentence stands there."
                self.fields[f"before_{language}"] = WordsField(
                    label=f"{told.name}: still to come", help_text=usual
                )
                self.fields[f"after_{language}"] = WordsField(label=f"{told.name}: overdue", help_text=usual)

    @staticmethod
    def like(plan: AskingPlan) -> dict[str, Any]:
        """What a plan says, to be changed and proposed anew."""
        said = {
            f"{part}_{language}": text
            for language, parts in plan.words_in.items()
            for part, text in parts.items()
        }
        shown = {"days": ", ".join(map(str, plan.days)), "series_days": ", ".join(map(str, plan.series_days))}
        kept = {name: getattr(plan, name) for name in ("what", "way", "words_before", "words_after")}
        return kept | shown | said

    def clean(self) -> dict[str, Any]:
        """The sentences in other languages become `words_in`, as a plan keeps them."""
        cleaned = super().clean() or self.cleaned_data
        words_in = {}
        for language in every():
            said = {part: cleaned.pop(f"{part}_{language}", "") for part in ("before", "after")}
            if any(said.values()):
                words_in[language] = said
        return {**cleaned, "words_in": words_in}


class SettingsForm(forms.Form):
    rehearsal = forms.BooleanField(label="Rehearsal: everything is shown, nothing leaves", required=False)
    sends_at = forms.TimeField(label="Leaves at", widget=forms.TimeInput(attrs=CLOCK, format="%H:%M"))
    quiet_from = forms.TimeField(label="Quiet from", widget=forms.TimeInput(attrs=CLOCK, format="%H:%M"))
    quiet_until = forms.TimeField(label="Quiet until", widget=forms.TimeInput(attrs=CLOCK, format="%H:%M"))
    hold_out = forms.IntegerField(
        label="Hold out, of 100 households",
        min_value=0,
        max_value=50,
        help_text="They are not asked about harmless things, so that asking can be compared with not asking. "
        "0: everybody is asked. Never held out: rabies and whatever the law wants, doses of a series, "
        "heartworm, rechecks, results, recalls, and animals with an urgent problem or an unsigned record.",
    )
    inactive_months = forms.IntegerField(
        label="Not asked any more after, in months",
        min_value=INACTIVE_LEAST,
        max_value=INACTIVE_MOST,
        help_text="Without a visit for so long: 24 to 36 is common practice. Where Canada’s CASL counts, "
        "consent is implied for 24 months after the last purchase (from memory; ask your lawyer).",
    )
    quiet_days = forms.TypedMultipleChoiceField(
        label="Quiet days", choices=WEEKDAYS, coerce=int, required=False, widget=forms.CheckboxSelectMultiple
    )
