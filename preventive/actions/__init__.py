"""Every change of this room's state. `actor` and `now` are passed in; each is one transaction."""

from preventive.actions.doses import (
    Giving,
    give_dose,
    give_doses,
    record_outside_dose,
    rule_on_dose,
    strike_dose,
)
from preventive.actions.dues import refresh_call_backs
from preventive.actions.put_off import decline, defer, hold, release_hold, strike_put_off
from preventive.actions.stock import keep_products, receive_lot
from preventive.actions.supplies import record_supply, record_treatment, strike_supply, strike_treatment

__all__ = [
    "Giving",
    "decline",
    "defer",
    "give_dose",
    "give_doses",
    "hold",
    "keep_products",
    "receive_lot",
    "record_outside_dose",
    "record_supply",
    "record_treatment",
    "refresh_call_backs",
    "release_hold",
    "rule_on_dose",
    "strike_dose",
    "strike_put_off",
    "strike_supply",
    "strike_treatment",
]
