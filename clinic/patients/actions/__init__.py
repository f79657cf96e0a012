"""Every change of owners, patients and what is measured on them."""

from clinic.patients.actions.animals import (
    add_microchip,
    change_patient,
    leave_practice,
    record_death,
    register_patient,
)
from clinic.patients.actions.diet import Eaten, set_diet
from clinic.patients.actions.lasting import (
    add_alert,
    add_lasting_fact,
    answer_lifestyle,
    end_alert,
    end_condition,
    set_condition,
)
from clinic.patients.actions.measuring import judged, measure, put_on_right_patient, strike_measurement
from clinic.patients.actions.owners import (
    add_co_owner,
    change_owner,
    end_ownership,
    make_first_owner,
    register_owner,
)
from clinic.patients.errors import AskOnce, Impossible

__all__ = [
    "AskOnce",
    "Eaten",
    "Impossible",
    "add_alert",
    "add_co_owner",
    "add_lasting_fact",
    "add_microchip",
    "answer_lifestyle",
    "change_owner",
    "change_patient",
    "end_alert",
    "end_condition",
    "end_ownership",
    "judged",
    "leave_practice",
    "make_first_owner",
    "measure",
    "put_on_right_patient",
    "record_death",
    "register_owner",
    "register_patient",
    "set_condition",
    "set_diet",
    "strike_measurement",
]
