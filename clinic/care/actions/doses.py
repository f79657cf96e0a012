"""Doses given in the house on a clinician's order, each by whoever's hands gave it."""

from datetime import date, datetime
from uuid import UUID

from django.db import transaction

from clinic.care.actions.common import said
from clinic.care.errors import DoseNotHere, TextMissing
from clinic.care.models import DoseGiven, Medicine
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.actions.common import first_sending


@transaction.atomic
def give_dose(
    *,
    actor: Actor,
    now: datetime,
    medicine: Medicine,
    amount: str,
    lot: str = "",
    expires_on: date | None = None,
    given_at: datetime | None = None,
    note: str = "",
    once: UUID | None = None,
) -> DoseGiven:
    """One dose of a medicine that a clinician ordered to be given here; `amount` with its unit, as given.

    Maryland COMAR 15.14.13.13: a technician treats on instruction; the order is the clinician's. A lot past
    its day is refused. Raises DoseNotHere, TextMissing, SentBefore.
    """
    actor.require(Right.GIVE_DOSE)
    if medicine.how != Medicine.How.GIVEN:
        raise DoseNotHere(medicine.name)
    amount = said(amount, field="amount", sentence="Say how much was given, with its unit.")
    at = given_at or now
    if at > now:
        raise TextMissing("given_at", "This lies in the future.")
    if at < medicine.at.replace(second=0, microsecond=0):
        raise TextMissing("given_at", "This lies before the order.")
    if expires_on and expires_on < at.date():
        raise TextMissing("expires_on", "This lot was past its day when it was given.")
    first_sending(once, actor=actor, now=now)
    return DoseGiven.objects.create(
        medicine=medicine,
        amount=amount,
        lot=lot.strip(),
        expires_on=expires_on,
        note=note.strip(),
        given_by=actor.staff,
        given_at=at,
        entered_at=now,
    )


@transaction.atomic
def strike_dose(
    *, actor: Actor, now: datetime, dose: DoseGiven, reason: str, once: UUID | None = None
) -> bool:
    """It was not given, or not so. False when it was struck out already. Raises TextMissing, SentBefore."""
    actor.require(Right.STRIKE_OWN if dose.given_by_id == actor.staff.pk else Right.STRIKE_ANY)
    reason = said(reason, field="reason", sentence="Say why it is struck out.")
    first_sending(once, actor=actor, now=now)
    standing = DoseGiven.objects.filter(pk=dose.pk, struck_at=None)
    return standing.update(struck_at=now, struck_by=actor.staff, struck_reason=reason) == 1
