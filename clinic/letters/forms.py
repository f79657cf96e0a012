from django import forms


class WordsForm(forms.Form):
    """A sentence in the clinician's own words; empty is refused with a reason."""

    sentence = forms.CharField(max_length=160, widget=forms.HiddenInput)
    words = forms.CharField(
        label="In your words",
        max_length=10_000,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": "A sentence cannot be empty. To say less, shorten it."},
    )
