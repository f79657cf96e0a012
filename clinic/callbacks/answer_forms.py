"""By which staff settle an owner's answer: they read and normalise."""

from django import forms

from clinic.platform.forms import OnceForm

TEXT = {"autocomplete": "off"}


class BookAnswerForm(forms.Form):
    on = forms.DateField(label="Day", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    at = forms.TimeField(
        label="Time", required=False, widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
    )


class ElsewhereForm(forms.Form):
    """What staff read on the proof; all empty is the owner's word alone."""

    words = forms.CharField(
        label="Which proof was seen", required=False, max_length=200, widget=forms.TextInput(attrs=TEXT)
    )
    product = forms.CharField(
        label="Product, as on it", required=False, max_length=120, widget=forms.TextInput(attrs=TEXT)
    )
    lot = forms.CharField(label="Lot", required=False, max_length=40, widget=forms.TextInput(attrs=TEXT))


class ReplyForm(OnceForm):
    words = forms.CharField(
        label="What they should read",
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 8}),
        help_text="A greeting, your name and our telephone stand around it, in their language.",
        error_messages={"required": "Write what they should read."},
    )
