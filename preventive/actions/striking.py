"""Whatever was recorded for prevention is struck out in one way, by its own rules."""

from datetime import datetime
from uuid import UUID

from clinic.people.actor import Actor
from preventive.actions.doses import strike_dose
from preventive.actions.put_off import strike_put_off
from preventive.actions.supplies import strike_supply, strike_treatment
from preventive.models import Decline, Deferral, Dose, Supply, TreatmentGiven


def strike_recorded(
    *,
    actor: Actor,
    now: datetime,
    row: Dose | Supply | TreatmentGiven | Decline | Deferral,
    reason: str,
    once: UUID | None = None,
) -> None:
    """Raises as the action for its sort does."""
    match row:
        case Dose():
            strike_dose(actor=actor, now=now, dose=row, reason=reason, once=once)
        case Supply():
            strike_supply(actor=actor, now=now, supply=row, reason=reason, once=once)
        case TreatmentGiven():
            strike_treatment(actor=actor, now=now, treatment=row, reason=reason, once=once)
        case _:
            strike_put_off(actor=actor, now=now, row=row, reason=reason, once=once)
