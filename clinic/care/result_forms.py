"""The forms of tests and results: they read and normalise; what may be done is the actions' to say."""

from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.forms import BoundField

from clinic.care.actions import Value
from clinic.care.fields import day_field, fill_people
from clinic.care.models import MEANINGS
from clinic.care.result_rows import SAID
from clinic.people.models import Staff
from clinic.platform.forms import OnceForm

LINES, SHOWN = 16, 3
COLUMNS = (
    ("analyte", "What was measured", 80),
    ("value", "Result", 80),
    ("unit", "Unit", 30),
    ("interval", "The laboratory’s interval", 60),
)
SEE_REPORT = "see the report"


class TestForm(OnceForm):
    code = forms.CharField(max_length=40)


class OutsideTestForm(OnceForm):
    title = forms.CharField(label="Test", max_length=160)
    laboratory = forms.CharField(
        label="Laboratory", required=False, max_length=120, help_text="Where it goes."
    )
    for_owner = forms.CharField(label="The same for the owner", required=False, max_length=400)
    answerable = forms.TypedChoiceField(
        label="Who tells the owner", required=False, coerce=int, empty_value=None
    )
    due_on = day_field("By when")

    def __init__(self, *args: Any, people: list[Staff], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fill_people(self.fields["answerable"], people)


class ResultForm(OnceForm):
    """Either one tap (`outcome`), or what the laboratory reported: up to 16 values, or its file, or both."""

    outcome = forms.CharField(required=False, max_length=40)
    report = forms.FileField(
        label="The laboratory’s report",
        required=False,
        help_text="A PDF or a picture, up to 10 MB. Kept as it came, beside the values.",
    )
    resulted_on = day_field("Reported on", help_text="Empty: today.")
    for_owner = forms.CharField(
        label="In one sentence for the owner",
        required=False,
        max_length=300,
        help_text="A clinician’s sentence: with it the result counts as read.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for row in _rows():
            for name, label, most in COLUMNS:
                self.fields[f"{name}{row}"] = forms.CharField(label=label, required=False, max_length=most)
            self.fields[f"meaning{row}"] = forms.ChoiceField(
                label="Which is",
                required=False,
                choices=[("", "by interval"), *((each, SAID.get(each, each)) for each in MEANINGS)],
            )
            for name in (*(column[0] for column in COLUMNS), "meaning"):
                # sixteen lines of five cells: that most stay empty is seen without a word at each
                self.fields[f"{name}{row}"].asked = True  # type: ignore[attr-defined]

    def lines(self) -> list[list[BoundField]]:
        """The cells of every line, as a table shows them."""
        return [[self[f"{name}{row}"] for name in (*(c[0] for c in COLUMNS), "meaning")] for row in _rows()]

    @property
    def first_lines(self) -> list[list[BoundField]]:
        return self.lines()[:SHOWN]

    @property
    def more_lines(self) -> list[list[BoundField]]:
        return self.lines()[SHOWN:]

    @property
    def more_open(self) -> bool:
        """Something was typed in a line that is folded away."""
        return any(cell.value() or cell.errors for line in self.more_lines for cell in line[:-1])

    def values(self) -> list[Value]:
        """From a valid form: the lines that say something; a report alone is one value."""
        asked = self.cleaned_data
        told = []
        for row in _rows():
            parts = {name: asked[f"{name}{row}"] for name in (*(c[0] for c in COLUMNS), "meaning")}
            if parts["value"] or parts["analyte"]:
                told.append(Value(**parts, row=row))
        if not told and asked["report"]:
            told.append(Value(value=SEE_REPORT, meaning=asked["meaning"], row=""))
        return told

    def report_file(self) -> "UploadedFile[Any] | None":
        return self.cleaned_data["report"] or None


def _rows() -> list[str]:
    """How the fields of each line end: the first has nothing."""
    return ["", *(str(number) for number in range(1, LINES))]


class ReadForm(forms.Form):
    for_owner = forms.CharField(label="In one sentence for the owner", max_length=300)


class StrikeResultForm(OnceForm):
    """Why, and what it should have been; empty: nothing takes its place."""

    reason = forms.CharField(label="Why it is struck out", max_length=200)
    value = forms.CharField(label="The right result", required=False, max_length=80)
    unit = forms.CharField(label="Unit", required=False, max_length=30)
    interval = forms.CharField(label="The laboratory’s interval", required=False, max_length=60)
    meaning = forms.ChoiceField(
        label="Which is",
        required=False,
        choices=[("", "by interval"), *((each, SAID.get(each, each)) for each in MEANINGS)],
    )
    for_owner = forms.CharField(
        label="In one sentence for the owner",
        required=False,
        max_length=300,
        help_text="What the owner reads in the corrected letter, where a letter told the wrong one.",
    )


class ResultLetterForm(OnceForm):
    """What happens next, in the clinician's words; the PIN releases it."""

    next_words = forms.CharField(
        label="What happens now",
        required=False,
        max_length=600,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="In plain words, as you would say it. Nothing is filled in for you.",
    )
    secret = forms.CharField(
        label="Your PIN",
        max_length=128,
        widget=forms.PasswordInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )
