"""A medicine is stopped, also between visits: the directions stay as signed, and what is in use changes."""

from datetime import date, datetime
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from clinic.care.actions.common import said
from clinic.care.errors import StoppedBefore, StoppedTooEarly
from clinic.care.models import Medicine, MedicineStop
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.actions.common import first_sending


@transaction.atomic
def stop_medicine(
    *,
    actor: Actor,
    now: datetime,
    medicine: Medicine,
    why: str,
    on: date,
    owner_told: bool = False,
    once: UUID | None = None,
) -> MedicineStop:
    """`on`: the first day without it. Raises StoppedBefore, StoppedTooEarly, TextMissing, SentBefore."""
    actor.require(Right.PRESCRIBE)
    why = said(why, field="why", sentence="Say why it is stopped.")
    first_sending(once, actor=actor, now=now)
    # two tablets stopping it: the second waits here and sees the first
    held = Medicine.objects.select_for_update(no_key=True).get(pk=medicine.pk)
    if MedicineStop.objects.filter(medicine=held).exists():
        raise StoppedBefore(held.name)
    if on < timezone.localdate(held.at):
        raise StoppedTooEarly
    return MedicineStop.objects.create(
        medicine=held,
        on=on,
        why=why[:200],
        owner_told=owner_told,
        by=actor.staff,
        at=now,
    )
