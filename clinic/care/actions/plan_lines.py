"""What is to be done, by whom and by when; and what became of it."""

from datetime import date, datetime
from uuid import UUID

from django.db import transaction

from clinic.callbacks.soon import reckon_soon
from clinic.care.actions.common import fits, said, with_reason
from clinic.care.errors import ConsentIncomplete, DateWithoutPerson, DeclineIncomplete, HasTest, WrongPatient
from clinic.care.models import PlanLine, PlanProgress, Problem
from clinic.people.actor import Actor
from clinic.people.models import Staff
from clinic.people.rights import Right
from clinic.visits.actions.common import first_sending, hold_open
from clinic.visits.models import Record


@transaction.atomic
def add_plan_line(
    *,
    actor: Actor,
    now: datetime,
    record: Record,
    problem: Problem | None,
    kind: str,
    text: str,
    for_owner: str = "",
    standing: str = "advised",
    answerable: Staff | None = None,
    due_on: date | None = None,
    consent_by: str = "",
    consent_how: str = "",
    estimate: str = "",
    declined_why: str = "",
    risks_explained: str = "",
    explained_by: Staff | None = None,
    alternative: str = "",
    come_back: str = "",
    signed_by_owner: bool = False,
    offer_again_on: date | None = None,
    words_why: str = "",
    again_of: PlanLine | None = None,
    once: UUID | None = None,
) -> PlanLine:
    """One thing to be done. What is declined has no day by which it is done, only one to offer it again.

    `again_of`: what had been declined and is offered again; the promise to do so ends with it.
    AVMA, Owner Consent: consent is recorded, written or in words. A decline says what was advised, why it was
    declined, the main risks and who explained them; what was agreed on instead, when to return, and whether
    the owner signed. Raises DeclineIncomplete, ConsentIncomplete, DateWithoutPerson, TextMissing,
    WrongPatient, ProblemClosed, NotOpen, SentBefore.
    """
    actor.require(Right.PLAN)
    text = said(text, field="text", sentence="Say what is to be done.")
    declined = standing == PlanLine.Standing.DECLINED
    _complete(standing, (consent_by, consent_how), declined_why, risks_explained, explained_by)
    if due_on and not answerable and not declined:
        raise DateWithoutPerson
    record = hold_open(record)
    first_sending(once, actor=actor, now=now)
    fits(problem, record)
    if again_of and again_of.record.visit.patient_id != record.visit.patient_id:
        raise WrongPatient
    return PlanLine.objects.create(
        record=record,
        problem=problem,
        kind=kind,
        text=text,
        for_owner=for_owner.strip(),
        standing=standing,
        answerable=None if declined else answerable,
        due_on=None if declined else due_on,
        consent_by="" if declined else consent_by.strip(),
        consent_how="" if declined else consent_how,
        estimate="" if declined else estimate,
        declined_why=declined_why.strip() if declined else "",
        risks_explained=risks_explained.strip() if declined else "",
        explained_by=explained_by if declined else None,
        alternative=alternative.strip() if declined else "",
        come_back=come_back.strip() if declined else "",
        signed_by_owner=signed_by_owner and declined,
        offer_again_on=offer_again_on if declined else None,
        words_why=words_why.strip(),
        again_of=again_of,
        by=actor.staff,
        at=now,
    )


def _complete(
    standing: str, consent: tuple[str, str], why: str, risks: str, explained_by: Staff | None
) -> None:
    if standing == PlanLine.Standing.CONSENTED:
        for field, words in zip(("consent_by", "consent_how"), consent, strict=True):
            if not words.strip():
                raise ConsentIncomplete(field)
    if standing == PlanLine.Standing.DECLINED:
        missing = (
            ("declined_why", why.strip()),
            ("risks_explained", risks.strip()),
            ("explained_by", explained_by),
        )
        for field, given in missing:
            if not given:
                raise DeclineIncomplete(field)


@transaction.atomic
def withdraw_plan_line(*, actor: Actor, now: datetime, line: PlanLine) -> None:
    """Take back one that is not signed yet. Raises NotOpen, HasTest."""
    actor.require(Right.PLAN)
    hold_open(line.record)
    if line.tests.exists():
        raise HasTest
    PlanLine.objects.filter(pk=line.pk).delete()


@transaction.atomic
def progress(
    *,
    actor: Actor,
    now: datetime,
    line: PlanLine,
    standing: str,
    note: str = "",
    words_why: str = "",
    answerable: Staff | None = None,
    due_on: date | None = None,
    once: UUID | None = None,
) -> PlanProgress:
    """What became of a plan line; the line itself stays as it was signed. Raises TextMissing, SentBefore.

    A decline after the visit says why: `note`.
    """
    actor.require(Right.MOVE_VISIT)
    if standing == PlanLine.Standing.DECLINED:
        said(note, field="note", sentence="Declined: say the owner’s reason, in neutral words.")
    first_sending(once, actor=actor, now=now)
    reckon_soon(line.record.visit.patient_id)
    return PlanProgress.objects.create(
        line=line,
        standing=standing,
        note=with_reason(note, words_why),
        answerable=answerable,
        due_on=due_on,
        by=actor.staff,
        at=now,
    )
