"""The units in which somebody types and reads: their own choice, else the clinic's.

What was typed is kept in its own unit all the same; these only say which comes first.
"""

from clinic.patients.units import Units
from clinic.people.actor import Actor
from clinic.platform.models import ClinicDetails
from clinic.platform.queries import clinic_details

WEIGHTS = (("kg", "kilograms"), ("lb", "pounds"))
TEMPERATURES = (("C", "degrees Celsius"), ("F", "degrees Fahrenheit"))
FOODS = (("g", "grams"), ("oz", "ounces"))


def units_of_clinic(details: ClinicDetails) -> Units:
    """What owners read."""
    return Units(details.weight_unit, details.temperature_unit, details.food_unit)


def units_of(actor: Actor, details: ClinicDetails | None = None) -> Units:
    """What this person reads. One query, none where `details` were read already or everything is chosen."""
    own = actor.staff
    if own.weight_unit and own.temperature_unit and own.food_unit:
        return Units(own.weight_unit, own.temperature_unit, own.food_unit)
    if details is None:
        details = ClinicDetails.objects.filter(pk=1).first()
    house = units_of_clinic(details) if details else Units()
    return Units(
        own.weight_unit or house.weight,
        own.temperature_unit or house.temperature,
        own.food_unit or house.food,
    )


def units_for_owners() -> Units:
    """What a letter says. One query."""
    return units_of_clinic(clinic_details())
