"""Handing on, moving and closing a promise; noting a contact. Each is one transaction."""

from datetime import date, datetime
from uuid import UUID

from django.db import IntegrityError, transaction
from django.utils import timezone

from clinic.care.actions.common import with_reason
from clinic.care.models import PlanLine, Problem, Test
from clinic.patients.facts import died_words
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.models import Owner, Staff
from clinic.people.rights import Right
from clinic.platform.registries import promise_sources
from clinic.promises.errors import ChangedMeanwhile, ClosedBefore, HasDied, Unsaid
from clinic.promises.fold import Promise
from clinic.promises.models import Contact, PromiseStep
from clinic.promises.queries import steps_of
from clinic.promises.rows import said
from clinic.visits.actions.common import first_sending

# Maryland COMAR 15.14.13.13: who may not diagnose or treat gives no advice of their own,
# nor refers; calls, mails, estimates and consents that others obtained may be noted by everybody hands-on.
OF_A_CLINICIAN = frozenset({Contact.Kind.ADVICE, Contact.Kind.REFERRAL})


@transaction.atomic
def hand_on(
    *, promise: Promise, to: Staff, words: str, once: UUID | None = None, actor: Actor, now: datetime
) -> PromiseStep:
    """Give it to a colleague, with a word. Raises Unsaid, ChangedMeanwhile, ClosedBefore, SentBefore."""
    actor.require(Right.MOVE_VISIT)
    if to.pk == promise.who_id:
        raise Unsaid("to", f"{to.full_name} has it already.")
    words = _said(words, "Say a word to whoever takes it over.")
    return _step(promise, PromiseStep.What.HANDED, words, once, actor, now, answerable=to)


@transaction.atomic
def move(
    *, promise: Promise, to: date, words: str, once: UUID | None = None, actor: Actor, now: datetime
) -> PromiseStep:
    """Another day, with the reason. Raises Unsaid, ChangedMeanwhile, ClosedBefore, SentBefore."""
    actor.require(Right.MOVE_VISIT)
    if to < timezone.localdate(now):
        raise Unsaid("on", "This day is past.")
    if to == promise.due_on:
        raise Unsaid("on", "It is due on that day already.")
    words = _said(words, "Say why it is moved.")
    return _step(promise, PromiseStep.What.MOVED, words, once, actor, now, due_on=to)


@transaction.atomic
def close(
    *,
    promise: Promise,
    outcome: str,
    words: str,
    contact: Contact | None = None,
    once: UUID | None = None,
    actor: Actor,
    now: datetime,
) -> PromiseStep:
    """By what happened: done, could not, no longer needed, in words. Raises as `move` does."""
    actor.require(Right.MOVE_VISIT)
    words = _said(words, "Say what happened.")
    kind = PromiseStep.Outcome(outcome)
    return _step(promise, PromiseStep.What.CLOSED, words, once, actor, now, outcome=kind, contact=contact)


def _step(
    promise: Promise,
    what: PromiseStep.What,
    words: str,
    once: UUID | None,
    actor: Actor,
    now: datetime,
    *,
    answerable: Staff | None = None,
    due_on: date | None = None,
    outcome: str = "",
    contact: Contact | None = None,
) -> PromiseStep:
    """Writes the step after the one that was seen: the unique number lets one of two tablets through."""
    first_sending(once, actor=actor, now=now)
    try:
        with transaction.atomic():
            step = PromiseStep.objects.create(
                source=promise.source,
                key=promise.key,
                number=promise.step + 1,
                patient_id=promise.patient_id,
                what=what,
                outcome=outcome,
                words=words,
                answerable_was_id=promise.who_id,
                answerable_id=answerable.pk if answerable else promise.who_id,
                due_was=promise.due_on,
                due_on=due_on or promise.due_on,
                contact=contact,
                by=actor.staff,
                at=now,
            )
    except IntegrityError as rival:
        last = steps_of(promise.source, promise.key)[-1]
        if last.what == PromiseStep.What.CLOSED:
            raise ClosedBefore(said(last)) from rival
        raise ChangedMeanwhile(said(last)) from rival
    for source in promise_sources:
        if source.name == promise.source:
            source.stepped(promise.key, step, actor=actor, now=now)
    return step


def _said(words: str, sentence: str) -> str:
    words = " ".join(words.split())
    if not words:
        raise Unsaid("words", sentence)
    return words


@transaction.atomic
def note_contact(
    *,
    patient: Patient,
    kind: str,
    with_whom: str,
    text: str,
    happened_at: datetime | None = None,
    owner: Owner | None = None,
    problem: Problem | None = None,
    test: Test | None = None,
    plan_line: PlanLine | None = None,
    owner_told: bool = False,
    words_why: str = "",
    corrects: Contact | None = None,
    again_on: date | None = None,
    again_by: Staff | None = None,
    closes: Promise | None = None,
    outcome: str = PromiseStep.Outcome.DONE,
    knows: bool = False,
    once: UUID | None = None,
    actor: Actor,
    now: datetime,
) -> Contact:
    """What was said outside a visit; frozen at once. `closes`: the promise it fulfilled, in the same step.

    `knows`: whoever writes has read that the animal died.
    Raises HasDied, Unsaid, ChangedMeanwhile, ClosedBefore, SentBefore, NotAllowed (advice without the right).
    """
    kind = Contact.Kind(kind)
    actor.require(Right.NOTE_CONTACT)
    if kind in OF_A_CLINICIAN:
        actor.require(Right.ASSESS)
    if not with_whom.strip():
        raise Unsaid("with_whom", "Say with whom.")
    if not text.strip():
        raise Unsaid("text", "Say what was said.")
    if happened_at and happened_at > now:
        raise Unsaid("happened_at", "This lies in the future.")
    if again_on and not again_by:
        raise Unsaid("again_by", "Say who gets back to them.")
    if again_by and not again_on:
        raise Unsaid("again_on", "Say by which day.")
    if again_on and again_on < timezone.localdate(now):
        raise Unsaid("again_on", "This day is past.")
    _of_this_patient(patient, problem, test, corrects, closes)
    if patient.deceased_on and not knows:
        raise HasDied(patient.name, died_words(patient))
    first_sending(once, actor=actor, now=now)
    contact = Contact.objects.create(
        patient=patient,
        kind=kind,
        owner=owner,
        with_whom=with_whom.strip(),
        text=with_reason(text, words_why),
        problem=problem,
        test=test,
        plan_line=plan_line,
        owner_told=owner_told,
        corrects=corrects,
        again_on=again_on,
        again_by=again_by,
        by=actor.staff,
        happened_at=happened_at or now,
        entered_at=now,
    )
    if closes:
        words = f"{contact.get_kind_display()} with {contact.with_whom}"
        close(promise=closes, outcome=outcome, words=words, contact=contact, actor=actor, now=now)
    return contact


def _of_this_patient(
    patient: Patient,
    problem: Problem | None,
    test: Test | None,
    corrects: Contact | None,
    closes: Promise | None,
) -> None:
    for field, other in (("problem", problem), ("test", test), ("corrects", corrects), ("closes", closes)):
        if other is not None and other.patient_id != patient.pk:
            raise Unsaid(field, "This belongs to another patient.")
