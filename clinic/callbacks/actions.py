"""Noting that a household was asked; stopping reminders, and lifting a stop. Each is one transaction."""

from collections.abc import Sequence
from datetime import date, datetime
from uuid import UUID

from django.db import IntegrityError, transaction
from django.utils import timezone

from clinic.callbacks.asked_today import hold_owners
from clinic.callbacks.errors import AgainInThePast, NothingSpokenOf, NotTheirs
from clinic.callbacks.models import AskedItem, Asking, AskingTakenBack, CallBack, ReminderStop
from clinic.callbacks.reasons import again_on
from clinic.callbacks.reminder_models import ReminderItem, Suppressed, fingerprint
from clinic.callbacks.still_true import review_owner
from clinic.mail.models import Message
from clinic.patients.models import Ownership
from clinic.people.actor import Actor
from clinic.people.models import Owner, Staff
from clinic.people.rights import Right
from clinic.visits.actions.common import first_sending


@transaction.atomic
def note_asking(
    *,
    owner: Owner,
    rows: Sequence[CallBack],
    how: str,
    outcome: str,
    again: date | None = None,
    words: str = "",
    number: str = "",
    once: UUID | None = None,
    actor: Actor,
    now: datetime,
) -> Asking:
    """A household was asked about these things. Without a day they rest as is usual after such an outcome.

    `number`: the one that was dialled; where it was wrong, it counts as no way to reach them until that is
    taken back. Raises NothingSpokenOf, AgainInThePast, NotTheirs, SentBefore.
    """
    actor.require(Right.NOTE_CONTACT)
    today = timezone.localdate(now)
    if not rows:
        raise NothingSpokenOf
    if again is not None and again <= today:
        raise AgainInThePast
    theirs = set(
        Ownership.objects.filter(
            owner=owner, until=None, patient__in=[row.patient_id for row in rows]
        ).values_list("patient", flat=True)
    )
    for row in rows:
        if row.patient_id not in theirs:
            raise NotTheirs(row.patient.name)
    first_sending(once, actor=actor, now=now)
    asking = Asking.objects.create(
        owner=owner,
        how=Asking.How(how),
        outcome=Asking.Outcome(outcome),
        again_on=again_on(outcome, today=today, wished=again),
        words=" ".join(words.split()),
        number=number if outcome == Asking.Outcome.WRONG_NUMBER else "",
        by=actor.staff,
        at=now,
    )
    AskedItem.objects.bulk_create(
        AskedItem(
            asking=asking,
            patient_id=row.patient_id,
            source=row.source,
            key=row.key,
            label=row.label,
            due_on=row.due_on,
        )
        for row in rows
    )
    review_owner(owner, now=now)
    return asking


@transaction.atomic
def take_back(*, asking: Asking, actor: Actor, now: datetime) -> bool:
    """It was noted by mistake: it counts for nothing any more. False when it was taken back before."""
    actor.require(Right.NOTE_CONTACT)
    try:
        with transaction.atomic():
            AskingTakenBack.objects.create(asking=asking, by=actor.staff, at=now)
    except IntegrityError:
        return False
    return True


@transaction.atomic
def stop_reminders(*, owner: Owner, row: CallBack | None = None, actor: Actor, now: datetime) -> ReminderStop:
    """The owner wants no reminders about this thing, or (without one) none at all. It lasts until lifted.

    A second tap finds the first one's stop. Two tablets at once: the unique constraint lets one through. What
    waits is cancelled; the owner is held, so a sender has either taken it before, or finds the stop.
    """
    actor.require(Right.NOTE_CONTACT)
    return _stop(owner=owner, row=row, by=actor.staff, now=now)


@transaction.atomic
def stop_by_link(*, owner_id: int, message_id: UUID, now: datetime) -> bool:
    """The owner says stop by the link in a mail. False where the two do not belong together. Idempotent."""
    message = Message.objects.filter(pk=message_id, owner=owner_id).select_related("owner").first()
    if message is None or message.owner is None:
        return False
    _stop(owner=message.owner, row=None, by=None, now=now)
    _suppress(message.to_address, now)
    return True


@transaction.atomic
def stop_thing_by_link(*, message: Message, item: ReminderItem, now: datetime) -> None:
    """The owner wants no reminders about this one thing that the message spoke of. Idempotent."""
    if message.owner is not None:
        _stop(owner=message.owner, row=item, by=None, now=now)


def _stop(
    *, owner: Owner, row: CallBack | ReminderItem | None, by: Staff | None, now: datetime
) -> ReminderStop:
    hold_owners([owner.pk])
    about = {
        "owner": owner,
        "patient_id": row.patient_id if row else None,
        "source": row.source if row else "",
        "key": row.key if row else "",
    }
    try:
        with transaction.atomic():
            made = ReminderStop.objects.create(**about, label=row.label if row else "", by=by, at=now)
    except IntegrityError:
        made = ReminderStop.objects.get(**about, lifted_at=None)
    if row is None and owner.email:
        _suppress(owner.email, now)
    review_owner(owner, now=now)
    return made


def _suppress(address: str, now: datetime) -> None:
    """What is suppressed stays so though the owner's row should go."""
    Suppressed.objects.bulk_create(
        [Suppressed(address_sha256=fingerprint(address), at=now)], ignore_conflicts=True
    )


@transaction.atomic
def lift_stop(*, stop: ReminderStop, actor: Actor, now: datetime) -> bool:
    """The owner wants reminders again, or the stop was a mistake. False when it was lifted before."""
    actor.require(Right.NOTE_CONTACT)
    found = ReminderStop.objects.filter(pk=stop.pk, lifted_at=None)
    lifted = bool(found.update(lifted_by=actor.staff, lifted_at=now))
    if lifted and stop.patient_id is None and stop.owner.email:
        Suppressed.objects.filter(address_sha256=fingerprint(stop.owner.email), lifted_at=None).update(
            lifted_at=now
        )
    return lifted
