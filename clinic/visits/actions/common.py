"""What several actions of a visit share: the form sent twice, the open record."""

from datetime import datetime
from uuid import UUID

from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.platform.once import spend
from clinic.visits.errors import HasDied, NeedsWords, NotOpen, SentBefore
from clinic.visits.models import PlaceStep, Record, Visit


def first_sending(once: UUID | None, *, actor: Actor, now: datetime) -> None:
    """Raise SentBefore when the form's token was spent. None: work without a form."""
    if once is not None and not spend(once, by=actor.staff, now=now):
        raise SentBefore


def alive(patient: Patient) -> None:
    """Held until the transaction ends: a death was entered before, or comes after and ends this too.

    Raises HasDied.
    """
    held = Patient.objects.select_for_update(no_key=True).get(pk=patient.pk)
    if held.deceased_on:
        raise HasDied(held)


def hold_open(record: Record) -> Record:
    """The record, held until the transaction ends, so that it cannot be signed meanwhile. Raises NotOpen."""
    held = (
        Record.objects.select_for_update(no_key=True, of=("self",)).select_related("visit").get(pk=record.pk)
    )
    if held.is_signed:
        raise NotOpen
    return held


def words(text: str, *, field: str, sentence: str) -> str:
    """The text without outer blanks; raises NeedsWords when nothing is left."""
    text = text.strip()
    if not text:
        raise NeedsWords(field, sentence)
    return text


def step(visit: Visit, *, actor: Actor, now: datetime) -> None:
    """Note that the visit has come to its place."""
    PlaceStep.objects.create(visit=visit, place=visit.place, at=now, by=actor.staff)
