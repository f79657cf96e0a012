"""Forms of sign-in and hand-over: they check and tidy what was typed, nothing else."""

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from clinic.people.models import Staff
from clinic.people.pins import LENGTH, weakness


class PinInput(forms.PasswordInput):
    def __init__(self, autocomplete: str = "off") -> None:
        super().__init__({"inputmode": "numeric", "autocomplete": autocomplete, "maxlength": str(LENGTH)})


class PinForm(forms.Form):
    """Who takes the tablet, and their PIN."""

    who = forms.IntegerField(error_messages={"required": "Choose a name first; the digits were not kept."})
    pin = forms.CharField(label="PIN", widget=PinInput(), error_messages={"required": "Enter the PIN."})


class AddForm(forms.Form):
    """A full sign-in on a tablet that others work on already."""

    email = forms.EmailField(
        label="E-mail", widget=forms.EmailInput({"autocomplete": "username", "maxlength": "254"})
    )
    password = forms.CharField(label="Password", widget=forms.PasswordInput({"autocomplete": "off"}))
    code = forms.CharField(
        label="Code of your second step",
        required=False,
        widget=forms.TextInput({"autocomplete": "one-time-code", "inputmode": "numeric", "maxlength": "20"}),
    )


class NewPinForm(forms.Form):
    """The two fields of a new PIN."""

    pin = forms.CharField(
        label="New PIN",
        widget=PinInput(),
        help_text="Four digits, not all the same, not in a row. It picks you on a tablet and signs records.",
    )
    pin_again = forms.CharField(label="New PIN once more", widget=PinInput())

    def clean_pin(self) -> str:
        pin: str = self.cleaned_data["pin"]
        if wrong := weakness(pin):
            raise ValidationError(wrong)
        return pin

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        if data.get("pin") and data.get("pin_again") and data["pin"] != data["pin_again"]:
            self.add_error("pin_again", "The two are not the same.")
        return data


class ChangePinForm(NewPinForm):
    """One's own PIN; the password shows that it is one's own."""

    password = forms.CharField(
        label="Your password", widget=forms.PasswordInput({"autocomplete": "current-password"})
    )
    field_order = ["password", "pin", "pin_again"]


class UnitsForm(forms.Form):
    """In which units one types and reads; left empty, the clinic's."""

    weight = forms.ChoiceField(required=False, label="Weights")
    temperature = forms.ChoiceField(required=False, label="Temperatures")
    food = forms.ChoiceField(required=False, label="Food")

    def __init__(self, *args: Any, offered: Mapping[str, Sequence[tuple[str, str]]], **more: Any) -> None:
        super().__init__(*args, **more)
        for name, choices in offered.items():
            field: Any = self.fields[name]
            field.choices = choices


class AcceptForm(NewPinForm):
    """An invited person's password and PIN."""

    password = forms.CharField(
        label="Password",
        widget=forms.PasswordInput({"autocomplete": "new-password"}),
        help_text="Ten characters or more. Three or four words that do not belong together are easy to keep.",
    )
    password_again = forms.CharField(
        label="Password once more", widget=forms.PasswordInput({"autocomplete": "new-password"})
    )
    field_order = ["password", "password_again", "pin", "pin_again"]

    def __init__(self, *args: Any, invited: Staff, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.invited = invited

    def clean_password(self) -> str:
        password: str = self.cleaned_data["password"]
        validate_password(password, user=self.invited)
        return password

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if data.get("password") and data.get("password_again") and data["password"] != data["password_again"]:
            self.add_error("password_again", "The two are not the same.")
        return data
