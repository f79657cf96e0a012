"""Owners' answers to a reminder, and what staff make of them. Each is one transaction.

An answer counts at once: what is queued about the same thing is cancelled while the owner is held.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime

from django.db import transaction
from django.db.models import F, Q, QuerySet
from django.utils import timezone

from clinic.callbacks.actions import stop_by_link, stop_thing_by_link
from clinic.callbacks.answer_models import OF_ANIMALS, Answer
from clinic.callbacks.asked_today import hold_owners
from clinic.callbacks.errors import CallBackError
from clinic.callbacks.models import AskedItem, Asking
from clinic.callbacks.reminder_models import ReminderItem
from clinic.callbacks.still_true import review_owner
from clinic.mail.models import Message
from clinic.patients.models import Ownership, Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.platform.registries import outside_takers
from clinic.visits.actions import booking
from clinic.visits.models import NextVisit, Visit

EARLIEST = date(1980, 1, 1)
PROOFS_AT_MOST = 6  # files by one link
UNWANTED, STOP = "unwanted", "stop"


class AnswerWrong(CallBackError):
    """The code names the sentence that the owner reads, in their language."""

    def __init__(self, code: str, *, field: str = "") -> None:
        self.code = code
        super().__init__(code, field=field)


@dataclass(frozen=True)
class Given:
    """What an owner said. `things`: keys of reminder items; `animals`: of patients. `stored`: the proof."""

    kind: str
    things: tuple[int, ...] = ()
    animals: tuple[int, ...] = ()
    words: str = ""
    done_on: date | None = None
    stored: str = ""


def things_of(message: Message) -> list[ReminderItem]:
    """What the message spoke of, of animals that live here and are still this owner's. One query."""
    theirs = Ownership.objects.filter(owner=message.owner_id, until=None).values("patient")
    rows = ReminderItem.objects.filter(
        reminder__message=message, reminder__owner=message.owner_id, skipped=False, patient__in=theirs
    )
    alive = rows.filter(patient__deceased_on=None, patient__merged_into=None)
    return list(alive.select_related("patient").order_by("patient__name", "patient", "due_on", "pk"))


def answers_to(message: Message) -> list[Answer]:
    return list(Answer.objects.filter(message=message, undone_at=None).select_related("patient"))


@transaction.atomic
def answer(*, message: Message, given: Given, now: datetime) -> int:
    """How many things, or animals, it is about now; 0 where all of it was said before. Raises AnswerWrong.

    What was answered once stands until staff take it back: a second sending changes nothing.
    """
    if message.owner is None or message.owner_id is None:
        raise AnswerWrong("choose")
    hold_owners([message.owner_id])
    if given.kind == STOP:
        return int(stop_by_link(owner_id=message.owner_id, message_id=message.pk, now=now))
    things = [each for each in things_of(message) if each.pk in given.things]
    if given.kind in OF_ANIMALS:
        rows = _of_animals(message, given, now)
    elif not things:
        raise AnswerWrong("choose", field="things")
    elif given.kind == UNWANTED:
        for each in things:
            stop_thing_by_link(message=message, item=each, now=now)
        return len(things)
    else:
        rows = _of_things(message, things, given, now)
    before = Answer.objects.filter(message=message).count()
    Answer.objects.bulk_create(rows, ignore_conflicts=True)
    if message.owner:
        review_owner(message.owner, now=now)
    return Answer.objects.filter(message=message).count() - before


def _of_animals(message: Message, given: Given, now: datetime) -> list[Answer]:
    animals = {each.patient_id: each.patient for each in things_of(message)}
    chosen = [animals[each] for each in given.animals if each in animals]
    if not chosen:
        raise AnswerWrong("choose_animal", field="animals")
    return [
        Answer(
            owner=message.owner, message=message, patient=each, kind=given.kind,
            words=_short(given.words), at=now,
        )
        for each in chosen
    ]  # fmt: skip


def _of_things(message: Message, things: Sequence[ReminderItem], given: Given, now: datetime) -> list[Answer]:
    elsewhere = given.kind == Answer.Kind.ELSEWHERE
    if elsewhere and (given.done_on is None or not EARLIEST <= given.done_on <= timezone.localdate(now)):
        raise AnswerWrong("which_day", field="done_on")
    return [
        Answer(
            owner=message.owner, message=message, patient_id=each.patient_id, source=each.source,
            key=each.key, label=each.label, due_on=each.due_on, kind=Answer.Kind(given.kind),
            words=_short(given.words), done_on=given.done_on if elsewhere else None,
            proof=given.stored if elsewhere else "", at=now,
        )
        for each in things
    ]  # fmt: skip


def may_send_proof(message: Message) -> bool:
    kept = Answer.objects.filter(message=message).exclude(proof="")
    return kept.values("proof").distinct().count() < PROOFS_AT_MOST


def _short(words: str) -> str:
    return " ".join(words.split())[:280]


# --- What staff make of it ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Outside:
    """What staff read on the proof; `paper_seen`: without it, it is the owner's word."""

    words: str = ""
    product: str = ""
    lot: str = ""
    wrong: dict[str, str] = field(default_factory=dict)


@transaction.atomic
def book_answer(*, answer: Answer, expected_at: datetime, actor: Actor, now: datetime) -> Visit | None:
    """Book what they asked for; None where somebody else settled it, or took it back, meanwhile.

    All that the household asked a day for about this animal, by the same message, is in this booking.
    """
    actor.require(Right.BOOK)
    row = _held(answer)
    if row is None or row.kind != Answer.Kind.BOOK:
        return None
    rows = list(_asked_alike(row))
    what = ", ".join(each.label for each in rows)[:280]
    visit = booking.book(patient=row.patient, expected_at=expected_at, booked_for=what, actor=actor, now=now)
    _settle(rows, how="booked", actor=actor, now=now)
    return visit


@transaction.atomic
def accept_elsewhere(*, answer: Answer, read: Outside, actor: Actor, now: datetime) -> bool:
    """Done elsewhere: into the record by the room that asked for it, else noted as they say.

    False where somebody was faster. The room's own errors come through; nothing is settled then.
    """
    actor.require(Right.NOTE_CONTACT)
    row = _held(answer)
    if row is None or row.kind != Answer.Kind.ELSEWHERE or row.done_on is None or row.due_on is None:
        return False
    taker = next((each for each in outside_takers if each.name == row.source), None)
    how = ""
    if taker is not None:
        how = taker.take(
            patient=row.patient, key=row.key, on=row.done_on, stored=row.proof, words=read.words,
            product=read.product, lot=read.lot, actor=actor, now=now,
        )  # fmt: skip
    if not how:
        _note_elsewhere(row, row.due_on, actor=actor, now=now)
    _settle([row], how=how or "noted as done elsewhere", actor=actor, now=now)
    return True


@transaction.atomic
def settle_answer(*, answer: Answer, actor: Actor, now: datetime) -> bool:
    """Seen and done with. False where somebody was faster."""
    actor.require(Right.NOTE_CONTACT)
    row = _held(answer)
    if row is None:
        return False
    _settle(list(_asked_alike(row)), how="seen", actor=actor, now=now)
    return True


@transaction.atomic
def undo_answer(*, answer: Answer, actor: Actor, now: datetime) -> bool:
    """It was a mistake: they are asked as if it had not been said. False when it was taken back before."""
    actor.require(Right.NOTE_CONTACT)
    Patient.objects.select_for_update(no_key=True).get(pk=answer.patient_id)
    row = Answer.objects.filter(pk=answer.pk, undone_at=None).first()
    return row is not None and bool(_asked_alike(row).update(undone_at=now, undone_by=actor.staff))


class Booked:
    """Who asked for a day and is booked after that, by whatever way, is answered."""

    name, order = "answers", 20

    def changed(self, patient_ids: Sequence[int], *, now: datetime) -> None:
        waiting = Answer.objects.filter(
            patient__in=patient_ids, kind=Answer.Kind.BOOK, undone_at=None, settled_at=None
        )
        today = timezone.localdate(now)
        coming = Q(
            patient__visits__place=Visit.Place.EXPECTED,
            patient__visits__expected_at__gte=now,
            patient__visits__made_at__gte=F("at"),
        )
        planned = Q(
            patient__next_visits__on__gte=today,
            patient__next_visits__state=NextVisit.State.PLANNED,
            patient__next_visits__made_at__gte=F("at"),
        )
        found = list(waiting.filter(coming | planned).values_list("pk", flat=True).distinct())
        Answer.objects.filter(pk__in=found).update(settled_at=now, settled_how="booked")


def _held(answer: Answer) -> Answer | None:
    """The row as it is now, while it waits; held until the transaction ends."""
    Patient.objects.select_for_update(no_key=True).get(pk=answer.patient_id)
    rows = Answer.objects.select_for_update(of=("self",)).select_related("patient", "owner")
    return rows.filter(pk=answer.pk, undone_at=None, settled_at=None).first()


def _asked_alike(row: Answer) -> QuerySet[Answer]:
    """A day asked for about several things of one animal is one request, settled or not."""
    rows = Answer.objects.filter(undone_at=None, settled_at=row.settled_at)
    if row.kind != Answer.Kind.BOOK:
        return rows.filter(pk=row.pk)
    return rows.filter(message=row.message_id, patient=row.patient_id, kind=row.kind)


def _settle(rows: Sequence[Answer], *, how: str, actor: Actor, now: datetime) -> None:
    Answer.objects.filter(pk__in=[each.pk for each in rows]).update(
        settled_at=now, settled_by=actor.staff, settled_how=how[:160]
    )


def _note_elsewhere(row: Answer, due_on: date, *, actor: Actor, now: datetime) -> None:
    asking = Asking.objects.create(
        owner=row.owner, how=Asking.How.MAIL, outcome=Asking.Outcome.ELSEWHERE,
        again_on=timezone.localdate(now), words=row.words, by=actor.staff, at=now,
    )  # fmt: skip
    AskedItem.objects.create(
        asking=asking, patient=row.patient, source=row.source, key=row.key, label=row.label,
        due_on=due_on,
    )  # fmt: skip
