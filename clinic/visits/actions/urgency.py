"""How urgent today's findings are, kept with the record so that Today can say it."""

from django.db import transaction

from clinic.platform.one_statement import Part, execute, update
from clinic.visits.actions.common import hold_open
from clinic.visits.models import Record


@transaction.atomic
def note_urgency(*, record: Record, urgency: str) -> Record:
    """`urgency`: M, R, T, E, or empty; reckoned by the room that knows the findings. Raises NotOpen."""
    held = hold_open(record)
    execute(urgency_noted(record=held, urgency=urgency))
    return held


def urgency_noted(*, record: Record, urgency: str) -> tuple[Part, ...]:
    """The same for a record that is held and open already: to be written together with what made it so.

    Nothing, where the record says so already.
    """
    if record.urgency == urgency:
        return ()
    record.urgency = urgency
    return (update(Record.objects.filter(pk=record.pk), {"urgency": urgency}),)
