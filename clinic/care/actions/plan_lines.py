"""What is to be done, by whom and by when; and what became of it."""

from datetime import date, datetime
from uuid import UUID

from django.db import transaction

from clinic.care.actions.common import fits, said
from clinic.care.errors import ConsentIncomplete, DateWithoutPerson, DeclineIncomplete, HasTest
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
    declined_why: str = "",
    risks_explained: str = "",
    explained_by: Staff | None = None,
    offer_again_on: date | None = None,
    once: UUID | None = None,
) -> PlanLine:
    """One thing to be done. What is declined has no day by which it is done, only one to offer it again.

    Raises DeclineIncomplete, ConsentIncomplete (AVMA policy on informed consent: it is recorded, written or
    in words; a decline with what was advised, why, the risks and who explained them), DateWithoutPerson,
    TextMissing, WrongPatient, ProblemClosed, NotOpen, SentBefore.
    """
    actor.require(Right.PLAN)
    text = said(text, field="text", sentence="Say what is to be done.")
    declined = standing == PlanLine.Standing.DECLINED
    _complete(standing, consent_by, declined_why, risks_explained, explained_by)
    if due_on and not answerable and not declined:
        raise DateWithoutPerson
    record = hold_open(record)
    first_sending(once, actor=actor, now=now)
    fits(problem, record)
    return PlanLine.objects.create(
        record=record,
        problem=problem,
        kind=kind,
        text=text,
        for_owner=for_owner.strip(),
        standing=standing,
        answerable=None if declined else answerable,
        due_on=None if declined else due_on,
        consent_by=consent_by.strip(),
        declined_why=declined_why.strip() if declined else "",
        risks_explained=risks_explained.strip() if declined else "",
        explained_by=explained_by if declined else None,
        offer_again_on=offer_again_on if declined else None,
        by=actor.staff,
        at=now,
    )


def _complete(standing: str, consent: str, why: str, risks: str, explained_by: Staff | None) -> None:
    if standing == PlanLine.Standing.CONSENTED and not consent.strip():
        raise ConsentIncomplete
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
    return PlanProgress.objects.create(
        line=line,
        standing=standing,
        note=note.strip(),
        answerable=answerable,
        due_on=due_on,
        by=actor.staff,
        at=now,
    )
