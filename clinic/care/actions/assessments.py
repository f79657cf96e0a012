"""What a clinician thinks a problem is, on one day. The program never makes one."""

from datetime import datetime
from uuid import UUID

from django.db import transaction

from clinic.care.actions.common import fits, said
from clinic.care.models import Assessment, Problem
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.actions.common import first_sending, hold_open
from clinic.visits.models import Record


@transaction.atomic
def assess(
    *,
    actor: Actor,
    now: datetime,
    problem: Problem,
    record: Record,
    text: str,
    certainty: str = "differential",
    course: str = "",
    rank: int = 0,
    for_owner: str = "",
    once: UUID | None = None,
) -> Assessment:
    """What the clinician thinks it is.

    Raises WrongPatient, ProblemClosed, TextMissing, NotOpen, SentBefore.
    """
    actor.require(Right.ASSESS)
    text = said(text, field="text", sentence="The assessment is yours: write it, or leave it for later.")
    record = hold_open(record)
    first_sending(once, actor=actor, now=now)
    fits(problem, record)
    return Assessment.objects.create(
        problem=problem,
        record=record,
        text=text,
        certainty=certainty,
        course=course,
        rank=rank,
        for_owner=for_owner.strip(),
        by=actor.staff,
        at=now,
    )


@transaction.atomic
def withdraw_assessment(*, actor: Actor, now: datetime, assessment: Assessment) -> None:
    """Take back one that is not signed yet. Raises NotOpen."""
    actor.require(Right.ASSESS)
    hold_open(assessment.record)
    Assessment.objects.filter(pk=assessment.pk).delete()
