"""A lot that is recalled: nothing more is given from it, and everyone who had it is told."""

from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from clinic.mail.actions import call_off, queue_medical
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.actions.common import first_sending
from preventive.actions.common import said
from preventive.actions.dues import refresh_call_backs
from preventive.actions.stock import held_lot, note_step, require_stock
from preventive.errors import Incomplete
from preventive.models import Dose, Lot, LotStep, RecallLetter, RecallTold, Supply
from preventive.recall_letter import letter_to
from preventive.recalls import households_of, letter_house


@transaction.atomic
def recall_lot(*, actor: Actor, now: datetime, lot: Lot, reason: str, once: UUID | None = None) -> Lot:
    """Nothing more is given from it, and every owner stands among the call-backs until somebody told them.

    Whoever reads the notice may enter it. Raises Incomplete, SentBefore.
    """
    require_stock(actor)
    first_sending(once, actor=actor, now=now)
    held = held_lot(lot.pk)
    if held.recalled_on is None:
        held.recalled_on = timezone.localdate(now)
        held.recall_reason = said(reason, field="reason", sentence="By whom, and why?")
        held.save(update_fields=["recalled_on", "recall_reason"])
        note_step(held, LotStep.Kind.RECALLED, held.recall_reason, actor, now)
        _refresh_all(held, now)
    return held


@transaction.atomic
def lift_recall(*, actor: Actor, now: datetime, lot: Lot, reason: str, once: UUID | None = None) -> Lot:
    """It was a mistake, or is over. A clinician says so; letters that wait do not leave.

    Raises Incomplete, SentBefore.
    """
    actor.require(Right.ASSESS)
    first_sending(once, actor=actor, now=now)
    held = held_lot(lot.pk)
    words = said(reason, field="reason", sentence="Say why it may be given again.")
    if held.recalled_on is not None:
        held.recalled_on, held.recall_reason = None, ""
        held.save(update_fields=["recalled_on", "recall_reason"])
        note_step(held, LotStep.Kind.LIFTED, words, actor, now)
        waiting = [each.message for each in held.letters.select_related("message")]
        call_off(messages=waiting, why="the recall was lifted", now=now)
        _refresh_all(held, now)
    return held


@transaction.atomic
def owner_told(
    *, actor: Actor, now: datetime, given: Dose | Supply, how: str, once: UUID | None = None
) -> None:
    """The owner knows of the recall. Doing it twice changes nothing. Raises Incomplete, SentBefore."""
    actor.require(Right.NOTE_CONTACT)
    first_sending(once, actor=actor, now=now)
    how = said(how, field="how", sentence="How was the owner told?")
    of = {"dose": given} if isinstance(given, Dose) else {"supply": given}
    RecallTold.objects.get_or_create(**of, defaults={"how": how, "by": actor.staff, "at": now})
    refresh_call_backs(patient=given.patient, today=timezone.localdate(now), now=now)


@transaction.atomic
def send_recall_letters(
    *, actor: Actor, now: datetime, lot: Lot, words: str, once: UUID | None = None
) -> list[RecallLetter]:
    """One mail to every household that can be reached so and was not written to about this recall.

    `words`: what the clinician says it means and what to do. A recall is medical: a "stop" to reminders does
    not keep it back. Who cannot be written to stays among the call-backs. Raises Incomplete, SentBefore.
    """
    actor.require(Right.ASSESS)
    first_sending(once, actor=actor, now=now)
    held = held_lot(lot.pk)
    if held.recalled_on is None:
        raise Incomplete("words", "This lot is not recalled.")
    words = said(words, field="words", sentence="Say what it means for the animal, and what to do.")
    house, sent = letter_house(held), []
    for household in households_of(held):
        if not household.by_mail or household.letter is not None or household.owner is None:
            continue
        mail = letter_to(household.named, words, house)
        message = queue_medical(
            owner=household.owner,
            animals=household.patients,
            subject=mail.subject,
            body=mail.body,
            once=f"recall:{held.pk}:{held.recalled_on}:{household.owner.pk}",
            actor=actor,
            now=now,
        )
        letter = RecallLetter.objects.create(
            lot=held,
            recalled_on=held.recalled_on,
            owner=household.owner,
            message=message,
            words=words,
            by=actor.staff,
            at=now,
        )
        letter.doses.set(each for each in household.given if isinstance(each, Dose))
        letter.supplies.set(each for each in household.given if isinstance(each, Supply))
        sent.append(letter)
    return sent


def _refresh_all(lot: Lot, now: datetime) -> None:
    had = Patient.objects.filter(
        pk__in=lot.doses.filter(struck_at=None).values("patient")
    ) | Patient.objects.filter(pk__in=lot.supplies.filter(struck_at=None).values("patient"))
    for patient in had:
        refresh_call_backs(patient=patient, today=timezone.localdate(now), now=now)
