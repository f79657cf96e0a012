"""Forms of the Records pages."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from clinic.people.rights import Role
from clinic.platform.forms import OnceForm
from clinic.platform.measures import FOODS, TEMPERATURES, WEIGHTS
from clinic.platform.models import ClinicDetails
from clinic.records.choices import ENERGY_RULES, PAPER, places

ROLES = (
    (Role.ASSISTANT.value, "assistant: checks in, asks, weighs"),
    (Role.TECHNICIAN.value, "technician: measures, observes, gives"),
    (Role.CLINICIAN.value, "clinician: examines, decides, signs"),
    (Role.MANAGER.value, "manager: staff, clinic, catalogues, export"),
)


class StaffForm(OnceForm):
    """Names, roles and licence of somebody who works here."""

    full_name = forms.CharField(label="Name", max_length=200)
    printed_name = forms.CharField(
        label="Name as printed under a letter", max_length=200, required=False, help_text="Empty: the name."
    )
    roles = forms.MultipleChoiceField(
        label="Roles",
        choices=ROLES,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Choose at least one role."},
    )
    licence_number = forms.CharField(
        label="Licence number", max_length=60, required=False, help_text="A clinician signs with it."
    )
    licence_place = forms.CharField(label="Licensed in", max_length=100, required=False)

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        if Role.CLINICIAN in data.get("roles", []) and not data.get("licence_number", "").strip():
            self.add_error(
                "licence_number",
                "A clinician signs with a licence number. Enter it, or leave that role out.",
            )
        return data

    def facts(self) -> dict[str, Any]:
        """What the actions take, without the token."""
        return {key: value for key, value in self.cleaned_data.items() if key != "once"}


class InviteForm(StaffForm):
    email = forms.EmailField(
        label="E-mail", widget=forms.EmailInput({"autocomplete": "off"}), help_text="They sign in with it."
    )
    field_order = ["email", "full_name", "printed_name", "roles", "licence_number", "licence_place"]

    def clean_email(self) -> str:
        return str(self.cleaned_data["email"]).lower()


class LeftForm(OnceForm):
    on = forms.DateField(label="Left on", widget=forms.DateInput({"type": "date"}, format="%Y-%m-%d"))


class DetailsForm(forms.ModelForm):  # type: ignore[type-arg]
    """The clinic's own details, on every letter."""

    class Meta:
        model = ClinicDetails
        fields = (
            "name",
            "street",
            "city",
            "region",
            "postal_code",
            "country",
            "phone",
            "email",
            "emergency_name",
            "emergency_phone",
            "paper",
            "letters_carry",
            "weight_unit",
            "temperature_unit",
            "food_unit",
            "jurisdiction",
            "energy_rule",
        )
        labels = {
            "name": "Name of the clinic",
            "postal_code": "Postal code",
            "country": "Country (two letters)",
            "phone": "Telephone",
            "email": "E-mail",
            "emergency_name": "Who answers out of hours",
            "emergency_phone": "Emergency telephone",
            "paper": "Paper of the letters",
            "letters_carry": "A letter’s mail carries",
            "weight_unit": "Weights are shown in",
            "temperature_unit": "Temperatures are shown in",
            "food_unit": "Food is weighed in",
            "jurisdiction": "Whose rabies rules apply",
            "energy_rule": "Energy is reckoned by",
        }
        help_texts = {
            "emergency_name": "Your own night duty, or the clinic you send owners to.",
            "emergency_phone": "Stands on every letter under “when to call”, so it may not be empty.",
            "letters_carry": "Without an address for owners (PUBLIC_URL) every mail carries the PDF.",
            "jurisdiction": "A local ordinance may be stricter: follow local law.",
            "energy_rule": "Both published families are shown side by side; this one is proposed first.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        now = self.initial.get("jurisdiction")
        offered = places()
        if now and now not in {code for code, _ in offered}:
            offered.append((now, str(now)))
        for name, choices in (
            ("paper", PAPER),
            ("letters_carry", ClinicDetails.LettersCarry.choices),
            ("weight_unit", WEIGHTS),
            ("temperature_unit", TEMPERATURES),
            ("food_unit", FOODS),
            ("jurisdiction", offered),
            ("energy_rule", ENERGY_RULES),
        ):
            self.fields[name] = forms.ChoiceField(
                label=self.fields[name].label, help_text=self.fields[name].help_text, choices=choices
            )

    def clean_country(self) -> str:
        country = str(self.cleaned_data["country"]).strip().upper()
        if len(country) != 2 or not (country.isascii() and country.isalpha()):
            raise ValidationError("Two letters, as in ISO 3166: US, CA, GB.")
        return country

    def clean_emergency_phone(self) -> str:
        phone = str(self.cleaned_data["emergency_phone"]).strip()
        if sum(sign.isdigit() for sign in phone) < 3:
            raise ValidationError("An owner must be able to dial this. Enter a telephone number.")
        return phone
