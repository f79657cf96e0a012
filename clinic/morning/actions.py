"""One tap in the morning: paper from now on; a word to whoever has not signed. Each is one transaction."""

from datetime import datetime

from django.db import IntegrityError, transaction
from django.utils import timezone

from clinic.mail.actions import queue_staff_mail
from clinic.mail.models import Message
from clinic.patients.actions import change_owner
from clinic.people.actor import Actor
from clinic.people.models import Owner
from clinic.people.rights import Right
from clinic.visits.errors import VisitError
from clinic.visits.models import Record


class NoStreet(VisitError):
    """Paper needs an address to go to."""

    def __init__(self, name: str) -> None:
        super().__init__(f"{name} has no postal address on record. Enter it on the owner’s page first.")


class SignedBy(VisitError):
    def __init__(self) -> None:
        super().__init__("It is signed by now, or nobody is named who should sign it.")


@transaction.atomic
def paper_from_now_on(*, owner: Owner, actor: Actor, now: datetime) -> Owner:
    """Letters and reminders go on paper; the address that did not work stays on record. Raises NoStreet."""
    if not owner.street:
        raise NoStreet(owner.name)
    return change_owner(actor=actor, now=now, owner=owner, letters_by=Owner.LettersBy.PAPER)


@transaction.atomic
def remind_to_sign(*, record: Record, actor: Actor, now: datetime) -> Message | None:
    """A mail to the clinician of an unsigned record; one a day. None where it went today. Raises SignedBy."""
    actor.require(Right.MANAGE_CLINIC)
    who = record.visit.clinician
    if record.signed_at or who is None:
        raise SignedBy
    name, today = record.visit.patient.name, timezone.localdate(now)
    body = (
        f"The record of {name} is not signed yet, so its owner has no letter.\n\n"
        f"Asked by {actor.staff.full_name}.\n"
    )
    try:
        with transaction.atomic():
            return queue_staff_mail(
                to_address=who.email,
                subject=f"Not signed yet: {name}",
                body=body,
                once=f"unsigned:{record.pk}:{today.isoformat()}",
                actor=actor,
                now=now,
            )
    except IntegrityError:
        return None
