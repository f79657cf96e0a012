"""A form that asks once about words that judge the owner; what was typed stays as it is."""

from typing import Any

from django import forms

from clinic.care.wording import judging_words, question


class NeutralForm(forms.Form):
    """`neutral`: the fields whose words go into the record. A reason lets them stay; it is kept with them."""

    neutral: tuple[str, ...] = ()
    words_why = forms.CharField(label="Why these words stay", required=False, max_length=200)
    asks_words = False

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        found = judging_words(*(cleaned.get(name) or "" for name in self.neutral))
        if not found:
            cleaned["words_why"] = ""
            return cleaned
        self.asks_words = True
        if not (cleaned.get("words_why") or "").strip():
            self.add_error("words_why", question(found))
        return cleaned
