"""What certificates say of the animal, its owner and the clinic, as text; empty where nothing is known."""

from datetime import date

from clinic.patients.ages import in_full
from clinic.patients.models import Ownership, Patient
from clinic.platform.addresses import one_line
from clinic.platform.models import ClinicDetails

POUND_KG = 0.45359237


def animal_values(patient: Patient, *, on: date) -> dict[str, str]:
    """`on`: the day for which the age is said."""
    chip = patient.microchips.order_by("-pk").first()
    return {
        "microchip": chip.number if chip else "",
        "species": patient.get_species_display(),
        "age": _age(patient, on),
        "breed": patient.breed,
        "colours": patient.colour,
        "sex": patient.get_sex_display(),
        "neutered": patient.get_neutered_display(),
        "animal_name": patient.name,
    }


def owner_values(patient: Patient) -> dict[str, str]:
    rows = Ownership.objects.filter(patient=patient, is_first=True, until=None)
    first = rows.select_related("owner").first()
    owner = first.owner if first else None
    return {
        "owner_name": owner.name if owner else "",
        "owner_phone": ", ".join(each.number for each in owner.phones.all()) if owner else "",
        "owner_address": one_line(owner) if owner and owner.street and owner.city else "",
    }


def house_address(clinic: ClinicDetails) -> str:
    return ", ".join(part for part in (clinic.name, one_line(clinic)) if part)


def size_band(weight_kg: float | None) -> str:
    """The bands of NASPHV Form 51, in pounds."""
    if weight_kg is None:
        return ""
    pounds = weight_kg / POUND_KG
    if pounds < 20:
        return "under 20 lb"
    return "20 to 50 lb" if pounds <= 50 else "over 50 lb"


def _age(patient: Patient, on: date) -> str:
    if patient.birth_date is None:
        return ""
    estimated = patient.birth_precision != Patient.BirthPrecision.DAY
    return in_full(patient.birth_date, on, estimated=estimated)
