"""The forms of a problem: they read and normalise; what may be done is the actions' to say."""

from typing import Any

from django import forms

from clinic.care.fields import text_field
from clinic.care.models import Assessment, Certainty
from clinic.patients.models import ConditionCode
from clinic.platform.forms import OnceForm


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
        # it stands beside the form of a test, which has a title too
        super().__init__(*args, **{"auto_id": "open_%s"} | kwargs)
        self.fields["matters"].choices = [(key, key) for key in matters]  # type: ignore[attr-defined]
        self.fields["into"].choices = [("", "a new problem"), *problems]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if not cleaned.get("matters") and not cleaned.get("title") and "matters" not in self.errors:
            self.add_error("title", "Choose what was found, or write in your own words what the problem is.")
        return cleaned


class AssessForm(OnceForm):
    text = text_field("Assessment", rows=2, help_text="What you think it is. Nothing is filled in for you.")
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
    for_owner = text_field(
        "The same for the owner",
        rows=2,
        required=False,
        help_text="In plain words; stands first in the letter. “The left ear has a yeast infection.”",
    )


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
