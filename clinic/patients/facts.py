"""A patient in one line, as a letter or a banner says it."""

from datetime import date
from decimal import Decimal

from clinic.letters.texts import Texts
from clinic.letters.wording import EN, capital
from clinic.patients.ages import DAYS_UNTIL_WEEKS, MONTHS_UNTIL_MONTHS, age_days, completed_months
from clinic.patients.models import Measurement, Patient
from clinic.patients.units import weight_in


def newest_weight(patient: Patient) -> Measurement | None:
    """The last weight that was not struck out."""
    return (
        patient.measurements.filter(kind=Measurement.Kind.WEIGHT, struck_at=None)
        .order_by("-measured_at", "-pk")
        .first()
    )


def sex_in_words(patient: Patient) -> str:
    """neutered male; intact female; female (neuter state not known)."""
    state = {"yes": "neutered ", "no": "intact "}.get(patient.neutered, "")
    return f"{state}{patient.get_sex_display()}" if patient.sex != "unknown" else "sex not known"


def died_words(patient: Patient) -> str:
    """died on 3 March 2026; empty for one that lives."""
    if not patient.deceased_on:
        return ""
    return f"{patient.get_deceased_how_display() or 'died'} on {patient.deceased_on:%-d %B %Y}"


def both_weights(weight_kg: Decimal, first: str = "kg") -> str:
    """36.2 kg (79.8 lb); 79.8 lb (36.2 kg) where pounds come first."""
    other = "kg" if first == "lb" else "lb"
    return f"{weight_in(weight_kg, first)} ({weight_in(weight_kg, other)})"


def signalment(
    patient: Patient, *, on: date, weight_kg: Decimal | None, w: Texts = EN, unit: str = "kg"
) -> str:
    """Hound cross, neutered male, 6 years old, 36.2 kg (79.8 lb). The weight is that of the day, or none;
    `unit` (kg or lb), as its reader weighs, comes first."""
    state = {"yes": "_yes", "no": "_no"}.get(patient.neutered, "")
    sex = f"patient.sex.{patient.sex}{state}" if patient.sex != "unknown" else ""
    breed = w.own(patient.breed) if patient.breed else w(f"patient.{patient.species}")
    parts = [breed, w(sex) if sex else w("patient.sex_unknown")]
    if patient.birth_date:
        parts.append(w("patient.old", age=_age(patient, on, w)))
    if weight_kg is not None:
        parts.append(both_weights(weight_kg, unit))
    return capital(", ".join(parts))


def _age(patient: Patient, on: date, w: Texts) -> str:
    """8 years; about 3 years; 1 y 4 m; 14 weeks."""
    assert patient.birth_date is not None
    days, months = age_days(patient.birth_date, on), completed_months(patient.birth_date, on)
    years, rest = divmod(months, 12)
    if years >= 2:
        age = w("age.years", n=years)
    elif years:
        age = w("age.years", n=years)
        age = w("age.years_months", years=age, months=w("age.months", n=rest)) if rest else age
    elif months >= MONTHS_UNTIL_MONTHS:
        age = w("age.months", n=months)
    else:
        age = w("age.days", n=days) if days < DAYS_UNTIL_WEEKS else w("age.weeks", n=days // 7)
    estimated = patient.birth_precision in (Patient.BirthPrecision.ESTIMATE, Patient.BirthPrecision.YEAR)
    return w("patient.about", age=age) if estimated else age
