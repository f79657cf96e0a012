"""The forms of owners, patients and measurements: they read and normalise; the rules are the actions'."""

from datetime import date
from decimal import Decimal
from typing import Any

from django import forms

from clinic.letters.texts import LETTERS
from clinic.patients.ages import AgeNotUnderstood, birth_from_age, stated_age
from clinic.patients.models import Alert, ConditionCode, Neutered, Patient, Sex, Species
from clinic.patients.units import Unit, from_canonical, rounded, to_canonical
from clinic.people.models import Owner
from clinic.people.phones import NotAPhone, normalise
from clinic.platform.forms import OnceForm

PHONES = 4
NOT_SURE = [("", "choose")]


def _line(label: str, *, required: bool = False, most: int = 200, **more: Any) -> forms.CharField:
    return forms.CharField(label=label, required=required, max_length=most, **more)


def _day(label: str, *, required: bool = False, **more: Any) -> forms.DateField:
    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    return forms.DateField(label=label, required=required, widget=widget, **more)


class OwnerForm(OnceForm):
    given_name = _line("Given name", most=120)
    family_name = _line("Family name, or the one name", required=True, most=120)
    email = forms.EmailField(label="E-mail", required=False)
    letters_by = forms.ChoiceField(
        label="Letters", choices=Owner.LettersBy.choices, widget=forms.RadioSelect, initial="email"
    )
    print_size = forms.ChoiceField(
        label="Print on paper", choices=Owner.Print.choices, widget=forms.RadioSelect, initial="usual"
    )
    language = forms.ChoiceField(label="Language of letters", choices=LETTERS.languages, initial="en")
    street = _line("Street")
    city = _line("City", most=120)
    region = _line("Region", most=120)
    postal_code = _line("Postal code", most=20)
    country = _line("Country, two letters", most=2)
    desk_note = forms.CharField(
        label="For the front desk",
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Never on a letter, never among the clinical notes.",
    )
    anyway = forms.BooleanField(label="Somebody else: make a new owner", required=False)

    def __init__(self, data: Any = None, **more: Any) -> None:
        super().__init__(data, **more)
        for number in range(1, PHONES + 1):
            self.fields[f"phone_label_{number}"] = _line(f"Telephone {number}: mobile, work", most=40)
            self.fields[f"phone_{number}"] = _line(
                f"Telephone {number}",
                most=40,
                widget=forms.TextInput(attrs={"type": "tel", "autocomplete": "off"}),
            )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for number in range(1, PHONES + 1):
            text = cleaned.get(f"phone_{number}", "").strip()
            try:
                if text:
                    normalise(text)
            except NotAPhone as error:
                self.add_error(f"phone_{number}", str(error))
        by_mail = cleaned.get("letters_by") != Owner.LettersBy.PAPER
        if by_mail and not cleaned.get("email") and not self.errors.get("email"):
            self.add_error("email", "Letters by e-mail need an address; else choose paper.")
        return cleaned

    def clean_country(self) -> str:
        return str(self.cleaned_data["country"]).strip().upper()

    def phones(self) -> list[tuple[str, str]]:
        """Label and number of each that was given, in order."""
        pairs = [
            (self.cleaned_data[f"phone_label_{number}"], self.cleaned_data[f"phone_{number}"])
            for number in range(1, PHONES + 1)
        ]
        return [(label, number) for label, number in pairs if number.strip()]

    def details(self) -> dict[str, Any]:
        """What the actions take, without telephones."""
        left_out = {"once", "anyway"}
        return {
            name: value
            for name, value in self.cleaned_data.items()
            if name not in left_out and not name.startswith("phone_")
        }

    def _phone_fields(self, *numbers: int) -> list[tuple[forms.BoundField, forms.BoundField]]:
        return [(self[f"phone_{n}"], self[f"phone_label_{n}"]) for n in numbers]

    @property
    def first_phones(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        return self._phone_fields(1, 2)

    @property
    def more_phones(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        return self._phone_fields(*range(3, PHONES + 1))

    @property
    def more_phones_used(self) -> bool:
        return any(number.value() or number.errors for number, _ in self.more_phones)


class PatientForm(OnceForm):
    name = _line("Name", required=True, most=120)
    species = forms.ChoiceField(label="Species", choices=Species.choices, widget=forms.RadioSelect)
    sex = forms.ChoiceField(label="Sex", choices=Sex.choices, widget=forms.RadioSelect)
    neutered = forms.ChoiceField(label="Neutered", choices=Neutered.choices, widget=forms.RadioSelect)
    breed = _line("Breed", most=120, help_text="As the owner says it; “cross” is welcome.")
    colour = _line("Colour and marks", most=120)
    birth_date = _day("Born on")
    age = _line(
        "or about how old",
        most=40,
        help_text="“about 3 years”, “10 weeks”, or a year such as 2019. Kept as an estimate.",
    )
    expected_adult_kg = forms.DecimalField(
        label="Expected grown weight",
        required=False,
        min_value=0,
        max_digits=6,
        decimal_places=2,
        help_text="For a young animal: feeding reckons with it.",
    )
    expected_in = forms.ChoiceField(
        choices=[("kg", "kg"), ("lb", "lb")], required=False, widget=forms.HiddenInput
    )
    microchip = _line("Microchip", most=30, help_text="Scan or read twice: the number has no check digit.")
    anyway = forms.BooleanField(label="Another animal: make a new patient", required=False)

    def __init__(
        self, data: Any = None, *, today: date, new: bool = True, unit: str = "kg", **more: Any
    ) -> None:
        """`unit` (kg or lb) is what the grown weight is typed in. A form that was sent says it itself."""
        super().__init__(data, **more)
        self.today = today
        self.unit = "lb" if (data or {}).get("expected_in", unit) == "lb" else "kg"
        self.initial["expected_in"] = self.unit
        if kg := self.initial.get("expected_adult_kg"):
            self.initial["expected_adult_kg"] = _typed_in(kg, self.unit)
        self.fields["expected_adult_kg"].label = f"Expected grown weight, {self.unit}"
        if not new:
            del self.fields["microchip"], self.fields["anyway"]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        day, said = cleaned.get("birth_date"), cleaned.get("age", "").strip()
        if day and said:
            self.add_error("age", "Give the day or the age, not both.")
            return cleaned
        cleaned["birth_precision"] = Patient.BirthPrecision.DAY.value if day else ""
        if said:
            try:
                cleaned["birth_date"], cleaned["birth_precision"] = estimated_birth(said, self.today)
            except AgeNotUnderstood as error:
                self.add_error("age", str(error))
        return cleaned

    def details(self) -> dict[str, Any]:
        """What is kept, in kg. A grown weight that nobody touched is left out: pounds would round it anew."""
        left_out = {"once", "anyway", "age", "expected_in"}
        found = {name: value for name, value in self.cleaned_data.items() if name not in left_out}
        if "expected_adult_kg" not in self.changed_data:
            del found["expected_adult_kg"]
        elif found["expected_adult_kg"] is not None:
            found["expected_adult_kg"] = rounded(to_canonical(found["expected_adult_kg"], Unit(self.unit)), 2)
        return found


def _typed_in(kg: Decimal, unit: str) -> Decimal:
    return rounded(from_canonical(kg, Unit.LB), 1) if unit == "lb" else kg


def estimated_birth(said: str, today: date) -> tuple[date, str]:
    """The day to keep for "2019" (its middle) or "about 3 years". Raises AgeNotUnderstood."""
    if said.isdigit() and len(said) == 4:
        year = int(said)
        if not today.year - 40 <= year <= today.year:
            raise AgeNotUnderstood(f"{said} is not a year a dog or cat of today can be born in.")
        return min(date(year, 7, 1), today), Patient.BirthPrecision.YEAR.value
    birth = birth_from_age(stated_age(said), today)
    return birth.on, birth.precision.value


class AlertForm(OnceForm):
    kind = forms.ChoiceField(label="Kind", choices=Alert.Kind.choices, widget=forms.RadioSelect)
    text = _line("What everybody must know", required=True)
    ingredient = _line("For an allergy: to what", most=120)
    since = _day("Since")


class ConditionForm(OnceForm):
    code = forms.ChoiceField(label="Condition", choices=[*NOT_SURE, *ConditionCode.choices])
    since = _day("Since")
    note = _line("Note")


class ChipForm(OnceForm):
    microchip = _line("Number", required=True, most=30)
    implanted_on = _day("Implanted on")
    place = _line("Where in the body", most=120)


GONE_PARTS = [
    ("limb:LF", "left foreleg"),
    ("limb:RF", "right foreleg"),
    ("limb:LH", "left hindleg"),
    ("limb:RH", "right hindleg"),
    ("station:EYE|left", "left eye"),
    ("station:EYE|right", "right eye"),
    ("station:EAR|left", "left ear"),
    ("station:EAR|right", "right ear"),
    ("structure:SPN.tail", "tail"),
]


class LastingForm(OnceForm):
    structure = forms.ChoiceField(label="Part", choices=[*NOT_SURE, *GONE_PARTS])
    why = _line("Why it is gone", required=True, most=120)
    since = _day("Since")


class CoOwnerForm(OnceForm):
    q = _line("Name or telephone of the other owner", required=True, most=120)


class LeaveForm(OnceForm):
    on = _day("Since", required=True)


class StrikeForm(forms.Form):
    reason = _line(
        "Why",
        required=True,
        help_text="“typed on the wrong animal”, “scale was not at zero”. It stays readable.",
    )
