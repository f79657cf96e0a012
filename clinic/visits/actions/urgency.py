"""How urgent today's findings are, kept with the record so that Today can say it."""

from django.db import transaction

from clinic.visits.actions.common import hold_open
from clinic.visits.models import Record


@transaction.atomic
def note_urgency(*, record: Record, urgency: str) -> Record:
    """`urgency`: M, R, T, E, or empty; reckoned by the room that knows the findings. Raises NotOpen."""
    held = hold_open(record)
    if held.urgency != urgency:
        held.urgency = urgency
        held.save(update_fields=["urgency"])
    return held
