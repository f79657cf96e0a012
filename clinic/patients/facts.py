"""A patient in one line, as a letter or a banner says it."""

from datetime import date
from decimal import Decimal

from clinic.patients.ages import completed_months, in_words
from clinic.patients.models import Measurement, Patient

LB_PER_KG = Decimal("2.2046226218")


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


def both_weights(weight_kg: Decimal) -> str:
    """36.2 kg (79.8 lb)."""
    return f"{weight_kg.normalize():f} kg ({(weight_kg * LB_PER_KG).quantize(Decimal('0.1'))} lb)"


def signalment(patient: Patient, *, on: date, weight_kg: Decimal | None) -> str:
    """Hound cross, neutered male, 6 years old, 36.2 kg (79.8 lb). The weight is that of the day, or none."""
    parts = [patient.breed or patient.get_species_display(), sex_in_words(patient)]
    if patient.birth_date:
        parts.append(f"{_age(patient, on)} old")
    if weight_kg is not None:
        parts.append(both_weights(weight_kg))
    text = ", ".join(parts)
    return text[0].upper() + text[1:]


def _age(patient: Patient, on: date) -> str:
    """8 years; about 3 years; 14 weeks."""
    assert patient.birth_date is not None
    estimated = patient.birth_precision in (Patient.BirthPrecision.ESTIMATE, Patient.BirthPrecision.YEAR)
    months = completed_months(patient.birth_date, on)
    if months < 24:
        return in_words(patient.birth_date, on, estimated=estimated)
    return f"{'about ' if estimated else ''}{months // 12} years"
