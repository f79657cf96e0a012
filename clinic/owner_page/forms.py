"""By which a letter goes to a colleague: it reads and normalises; whether it goes, the action says."""

from typing import Any

from django import forms

from clinic.platform.forms import OnceForm
from clinic.summaries.models import Summary

NOW = "now"


class ColleagueForm(OnceForm):
    to_whom = forms.CharField(label="For whom", max_length=160, help_text="A colleague and the practice.")
    address = forms.EmailField(label="E-mail")
    consent = forms.ChoiceField(label="The owner’s consent", widget=forms.RadioSelect)
    consent_how = forms.ChoiceField(label="How they agreed", choices=[("", "choose"), *Summary.How.choices])
    consent_by = forms.CharField(label="Who agreed, when you note it now", required=False, max_length=160)

    language = forms.ChoiceField(
        label="Language of the mail", required=False, help_text="The PDF is the one that the owner has."
    )

    def __init__(
        self, *args: Any, noted: list[tuple[str, str]], languages: list[tuple[str, str]], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        kept_in = self.fields["language"]
        assert isinstance(kept_in, forms.ChoiceField)
        kept_in.choices = languages
        if len(languages) < 2:
            del self.fields["language"]
        chosen = self.fields["consent"]
        assert isinstance(chosen, forms.ChoiceField)
        chosen.choices = [*noted, (NOW, "The owner has agreed; note it now")]
