"""The form of a summary: it reads and normalises; what may be made is the action's to say."""

from typing import Any

from django import forms

from clinic.platform.forms import OnceForm
from clinic.summaries.models import Summary

NOW, WITHOUT = "now", "without"


class SummaryForm(OnceForm):
    purpose = forms.ChoiceField(label="What it is for", choices=Summary.Purpose.choices)
    to_whom = forms.CharField(label="For whom", max_length=200, help_text="A colleague and the practice.")
    why = forms.CharField(
        label="Reason, and what you ask of them",
        widget=forms.Textarea(attrs={"rows": 4}),
    )
    consent = forms.ChoiceField(label="The owner’s consent", required=False, widget=forms.RadioSelect)
    consent_how = forms.ChoiceField(
        label="How they agreed", required=False, choices=[("", "choose"), *Summary.How.choices]
    )
    consent_by = forms.CharField(label="Who agreed, when you note it now", required=False, max_length=160)
    consent_at = forms.DateTimeField(
        label="When, when you note it now",
        required=False,
        input_formats=["%Y-%m-%dT%H:%M"],
        help_text="Empty: just now.",
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
    )
    without = forms.ChoiceField(
        label="Why it may go without",
        required=False,
        choices=[("", "it does not go without"), *Summary.Without.choices],
    )
    without_why = forms.CharField(
        label="In words",
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Stands on the summary. What the law allows, local law says.",
    )
    secret = forms.CharField(
        label="Your PIN",
        max_length=128,
        widget=forms.PasswordInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )

    def __init__(self, *args: Any, noted: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        chosen = self.fields["consent"]
        assert isinstance(chosen, forms.ChoiceField)
        chosen.choices = [
            *noted,
            (NOW, "The owner has agreed; note it now"),
            (WITHOUT, "It goes without the owner’s consent"),
        ]
