"""A mail that was taken, and came back later: staff or a report in the mailbox say so, and the owner's
address is marked."""

from datetime import datetime

from django.db import transaction

from clinic.mail.actions import mark_bounced
from clinic.mail.models import Message, MessageStep
from clinic.mail.reports import Report
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.platform.registries import message_checks

CAN_COME_BACK = frozenset({Message.State.SENT, Message.State.UNKNOWN})


class NotSent(Exception):
    """Only what left, or may have left, comes back."""


@transaction.atomic
def note_came_back(*, message: Message, why: str = "", actor: Actor, now: datetime) -> Message:
    """It failed after all, and the address does not work, as long as it is still the owner's.

    `why`: what the other side wrote. Raises NotSent, also for a second tap.
    """
    actor.require(Right.SEND_LETTER)
    words = f"it came back: {why.strip()}" if why.strip() else "it came back"
    changed = Message.objects.filter(pk=message.pk, state__in=CAN_COME_BACK).update(
        state=Message.State.FAILED, state_since=now, state_why=words[:300]
    )
    if not changed:
        raise NotSent
    MessageStep.objects.create(
        message=message, state=Message.State.FAILED, why=words[:300], at=now, by=actor.staff
    )
    failed = Message.objects.get(pk=message.pk)
    _address_does_not_work(failed, now)
    return failed


def _address_does_not_work(message: Message, now: datetime) -> None:
    mark_bounced(message)
    for check in message_checks:
        check.came_back(message, now=now)


@transaction.atomic
def note_report(report: Report, *, now: datetime) -> bool:
    """The other side's own report says so. False where it is known, or nothing of ours.

    The address is marked only where the report says that it does not work.
    """
    words = f"it came back: {report.why}"[:300]
    changed = Message.objects.filter(pk=report.message_id, state__in=CAN_COME_BACK).update(
        state=Message.State.FAILED, state_since=now, state_why=words
    )
    if not changed:
        return False
    message = Message.objects.get(pk=report.message_id)
    MessageStep.objects.create(message=message, state=Message.State.FAILED, why=words, at=now)
    if report.lasting:
        _address_does_not_work(message, now)
    return True
