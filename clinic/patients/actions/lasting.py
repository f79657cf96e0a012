"""What stays with a patient: alerts, conditions, parts that are gone, and how it lives."""

from datetime import date, datetime
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from clinic.callbacks.soon import reckon_soon
from clinic.patients.actions.common import first_sending
from clinic.patients.errors import NameMissing
from clinic.patients.models import Alert, Condition, LastingFact, LifestyleAnswer, Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.platform.registries import lasting_changes

MOST_WHY, MOST_REASON = 120, 200


@transaction.atomic
def add_alert(
    *,
    actor: Actor,
    now: datetime,
    patient: Patient,
    kind: str,
    text: str,
    ingredient: str = "",
    since: date | None = None,
    once: UUID | None = None,
) -> Alert:
    """What everybody must see first. A handling note is for staff and never prints on a letter."""
    actor.require(Right.EDIT_PEOPLE)
    first_sending(once, actor=actor, now=now)
    if not text.strip():
        raise NameMissing("text", "Say what everybody must know.")
    return Alert.objects.create(
        patient=patient,
        kind=kind,
        text=text.strip(),
        ingredient=ingredient.strip(),
        since=since,
        entered_by=actor.staff,
        entered_at=now,
    )


@transaction.atomic
def end_alert(*, actor: Actor, now: datetime, alert: Alert) -> None:
    """It holds no more from today; it stays in the history."""
    actor.require(Right.EDIT_PEOPLE)
    Alert.objects.filter(pk=alert.pk, until=None).update(until=timezone.localdate(now))


@transaction.atomic
def set_condition(
    *,
    actor: Actor,
    now: datetime,
    patient: Patient,
    code: str,
    since: date | None = None,
    note: str = "",
    once: UUID | None = None,
) -> Condition:
    """A coded condition that other rooms read; one that stands already stays as it is."""
    actor.require(Right.TAKE_HISTORY)
    first_sending(once, actor=actor, now=now)
    made, new = Condition.objects.get_or_create(
        patient=patient,
        code=code,
        until=None,
        defaults={
            "since": since or timezone.localdate(now),
            "note": note.strip(),
            "entered_by": actor.staff,
            "entered_at": now,
        },
    )
    if new:
        reckon_soon(patient.pk)
    return made


@transaction.atomic
def end_condition(
    *, actor: Actor, now: datetime, patient: Patient, code: str, until: date | None = None, why: str = ""
) -> None:
    """It is over; the row stays, with who said so and why."""
    actor.require(Right.TAKE_HISTORY)
    ended = Condition.objects.filter(patient=patient, code=code, until=None).update(
        until=until or timezone.localdate(now), ended_by=actor.staff, ended_why=why.strip()[:MOST_REASON]
    )
    if ended:
        reckon_soon(patient.pk)


@transaction.atomic
def add_lasting_fact(
    *,
    actor: Actor,
    now: datetime,
    patient: Patient,
    structure: str,
    why: str,
    words: str = "",
    since: date | None = None,
    once: UUID | None = None,
) -> LastingFact:
    """A part that is gone for good: `limb:LH`, `station:EYE|left`, `structure:SPN.tail`, `tooth:409`.

    `words`: the part as people name it. One that is noted already stays as it is.
    """
    actor.require(Right.ASSESS)
    first_sending(once, actor=actor, now=now)
    if not structure.strip() or not why.strip():
        raise NameMissing("why" if structure.strip() else "structure", "Say which part is gone, and why.")
    if len(why.strip()) > MOST_WHY:
        raise NameMissing("why", f"At most {MOST_WHY} letters: more belongs into a note.")
    made, new = LastingFact.objects.get_or_create(
        patient=patient,
        structure=structure,
        struck_at=None,
        defaults={
            "words": words,
            "why": why.strip(),
            "since": since,
            "entered_by": actor.staff,
            "entered_at": now,
        },
    )
    if new:
        for room in lasting_changes:
            room.changed(patient, actor=actor, now=now)
    return made


@transaction.atomic
def strike_lasting_fact(*, actor: Actor, now: datetime, fact: LastingFact, reason: str) -> None:
    """It was a mistake: the part is there. Signed exams keep what they said. Twice changes nothing."""
    actor.require(Right.ASSESS)
    if not reason.strip():
        raise NameMissing("reason", "Say why it is struck out.")
    if len(reason.strip()) > MOST_REASON:
        raise NameMissing("reason", f"At most {MOST_REASON} letters.")
    struck = LastingFact.objects.filter(pk=fact.pk, struck_at=None).update(
        struck_at=now, struck_by=actor.staff, struck_reason=reason.strip()
    )
    if struck:
        for room in lasting_changes:
            room.changed(fact.patient, actor=actor, now=now)


@transaction.atomic
def answer_lifestyle(
    *, actor: Actor, now: datetime, patient: Patient, code: str, answer: str, review_on: date
) -> LifestyleAnswer:
    """The newest answer stands; the history keeps the earlier ones."""
    actor.require(Right.TAKE_HISTORY)
    made, _ = LifestyleAnswer.objects.update_or_create(
        patient=patient,
        code=code,
        defaults={"answer": answer, "review_on": review_on, "answered_at": now, "entered_by": actor.staff},
    )
    reckon_soon(patient.pk)
    return made
