"""Every change of owners, patients and what is measured on them."""

from clinic.patients.actions.animals import (
    add_microchip,
    change_patient,
    leave_practice,
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
    strike_lasting_fact,
)
from clinic.patients.actions.measuring import (
    Value,
    judged,
    measure,
    measure_several,
    put_on_right_patient,
    strike_measurement,
)
from clinic.patients.actions.owners import (
    add_co_owner,
    change_owner,
    end_ownership,
    make_first_owner,
    register_owner,
)
from clinic.patients.actions.picture import remove_picture, set_picture
from clinic.patients.errors import AskOnce, Impossible

__all__ = [
    "AskOnce",
    "Eaten",
    "Impossible",
    "Value",
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
    "measure_several",
    "put_on_right_patient",
    "register_owner",
    "register_patient",
    "remove_picture",
    "set_condition",
    "set_diet",
    "set_picture",
    "strike_lasting_fact",
    "strike_measurement",
]
