from collections.abc import Sequence
from typing import Any

from django import forms

from clinic.letters.own_words import LONGEST
from clinic.letters.texts import SOURCE, Entry
from clinic.letters.wordings import language_names


class WordsForm(forms.Form):
    """A sentence in the clinician's own words; empty is refused with a reason.

    `letter_language`: where it is not the clinicians', the form asks in which of the two the words are.
    """

    sentence = forms.CharField(max_length=160, widget=forms.HiddenInput)
    words = forms.CharField(
        label="In your words",
        max_length=10_000,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": "A sentence cannot be empty. To say less, shorten it."},
    )
    language = forms.ChoiceField(label="These words are in", required=False)

    def __init__(self, *args: Any, letter_language: str = SOURCE, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        names = language_names()
        asked = [SOURCE, *([letter_language] if letter_language != SOURCE else [])]
        field = self.fields["language"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [(code, names.get(code, code)) for code in asked]
        if len(asked) == 1:
            del self.fields["language"]


class AdoptForm(forms.Form):
    """A text as the clinic is to say it, one box for each of its plural forms."""

    seen = forms.IntegerField(required=False, widget=forms.HiddenInput)

    def __init__(
        self, *args: Any, entry: Entry, proposed: Sequence[str], language: str, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.boxes = [f"form_{number}" for number in range(len(entry.forms))]
        for number, (name, words) in enumerate(zip(self.boxes, proposed, strict=True)):
            plural = f", form {number + 1} of {len(self.boxes)}" if len(self.boxes) > 1 else ""
            self.fields[name] = forms.CharField(
                label=f"Letters will say{plural}",
                initial=words,
                max_length=LONGEST,
                widget=forms.Textarea(attrs={"rows": 3, "lang": language}),
                error_messages={"required": "A text cannot be empty."},
            )
        if language != SOURCE:
            self.fields["reviewed"] = forms.BooleanField(
                label=f"I read {language_names().get(language, language)} well: no English beside it",
                required=False,
            )

    def words(self) -> list[str]:
        return [self.cleaned_data[name] for name in self.boxes]
