"""Every change of this room's state. `actor` and `now` are passed in; each is one transaction."""

from preventive.actions.calendar import write_calendar
from preventive.actions.certificates import issue_certificate, void_certificate
from preventive.actions.doses import (
    Giving,
    give_dose,
    give_doses,
    record_outside_dose,
    rule_on_dose,
    strike_dose,
)
from preventive.actions.dues import refresh_call_backs
from preventive.actions.life_facts import note_life_facts
from preventive.actions.outside import OutsideDose, record_outside_doses
from preventive.actions.own_dates import set_own_date, withdraw_own_date
from preventive.actions.products import keep_product, keep_products, use_product
from preventive.actions.protocol import approve_proposal, decline_proposal, propose_setting, propose_value
from preventive.actions.put_off import decline, defer, hold, release_hold, strike_put_off
from preventive.actions.reactions import (
    follow_reaction,
    look_at_site,
    record_reaction,
    report_reaction,
    strike_reaction,
)
from preventive.actions.recalls import lift_recall, owner_told, recall_lot, send_recall_letters
from preventive.actions.stock import count_lot, receive_lot, throw_away
from preventive.actions.striking import strike_recorded
from preventive.actions.supplies import record_supply, record_treatment, strike_supply, strike_treatment
from preventive.actions.trying import try_again
from preventive.actions.vaccination_certificates import (
    issue_vaccination_certificate,
    replace_certificate,
)

__all__ = [
    "Giving",
    "OutsideDose",
    "approve_proposal",
    "count_lot",
    "decline",
    "decline_proposal",
    "defer",
    "follow_reaction",
    "give_dose",
    "give_doses",
    "hold",
    "issue_certificate",
    "issue_vaccination_certificate",
    "keep_product",
    "keep_products",
    "lift_recall",
    "look_at_site",
    "note_life_facts",
    "owner_told",
    "propose_setting",
    "propose_value",
    "recall_lot",
    "receive_lot",
    "record_outside_dose",
    "record_outside_doses",
    "record_reaction",
    "record_supply",
    "record_treatment",
    "refresh_call_backs",
    "release_hold",
    "replace_certificate",
    "report_reaction",
    "rule_on_dose",
    "send_recall_letters",
    "set_own_date",
    "strike_dose",
    "strike_put_off",
    "strike_reaction",
    "strike_recorded",
    "strike_supply",
    "strike_treatment",
    "throw_away",
    "try_again",
    "use_product",
    "void_certificate",
    "withdraw_own_date",
    "write_calendar",
]
