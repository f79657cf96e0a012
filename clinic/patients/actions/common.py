"""What several actions share: the form sent twice."""

from datetime import datetime
from uuid import UUID

from clinic.patients.errors import SentBefore
from clinic.people.actor import Actor
from clinic.platform.once import spend


def first_sending(once: UUID | None, *, actor: Actor, now: datetime) -> None:
    """Raise SentBefore when the form's token was spent. None: work without a form."""
    if once is not None and not spend(once, by=actor.staff, now=now):
        raise SentBefore
