"""A value that was struck out of a signed visit: said in an addendum, and in the letter's next version."""

from datetime import datetime

from clinic.patients.models import Measurement
from clinic.people.actor import Actor
from clinic.visits.actions.addenda import add_addendum
from clinic.visits.models import Record


def tell_of_struck_value(
    record: Record, measurement: Measurement, reason: str, actor: Actor, now: datetime
) -> None:
    """In the transaction that struck it out."""
    what = measurement.get_kind_display()
    add_addendum(
        record=record,
        text=f"{what.capitalize()} struck out: {reason}",
        corrects=what,
        for_owner=True,
        actor=actor,
        now=now,
    )
