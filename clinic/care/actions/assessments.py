"""What a clinician thinks a problem is, on one day. The program never makes one."""

from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.db.models import Max

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
    for_owner: str = "",
    once: UUID | None = None,
) -> Assessment:
    """What the clinician thinks it is; of several, the later is the less likely until it is moved up.

    Raises WrongPatient, ProblemClosed, TextMissing, NotOpen, SentBefore.
    """
    actor.require(Right.ASSESS)
    text = said(text, field="text", sentence="The assessment is yours: write it, or leave it for later.")
    record = hold_open(record)
    first_sending(once, actor=actor, now=now)
    fits(problem, record)
    last = Assessment.objects.filter(problem=problem, record=record).aggregate(last=Max("rank"))["last"]
    return Assessment.objects.create(
        problem=problem,
        record=record,
        text=text,
        certainty=certainty,
        course=course,
        rank=0 if last is None else last + 1,
        for_owner=for_owner.strip(),
        by=actor.staff,
        at=now,
    )


@transaction.atomic
def more_likely(*, actor: Actor, now: datetime, assessment: Assessment) -> bool:
    """Before the one that stood above it today. False when it is the first. Raises NotOpen."""
    actor.require(Right.ASSESS)
    hold_open(assessment.record)
    rows = list(
        Assessment.objects.filter(problem=assessment.problem_id, record=assessment.record_id).order_by(
            "rank", "pk"
        )
    )
    at = next((place for place, each in enumerate(rows) if each.pk == assessment.pk), 0)
    if at == 0:
        return False
    rows[at - 1], rows[at] = rows[at], rows[at - 1]
    for rank, each in enumerate(rows):
        if each.rank != rank:
            Assessment.objects.filter(pk=each.pk).update(rank=rank)
    return True


@transaction.atomic
def withdraw_assessment(*, actor: Actor, now: datetime, assessment: Assessment) -> None:
    """Take back one that is not signed yet. Raises NotOpen."""
    actor.require(Right.ASSESS)
    hold_open(assessment.record)
    Assessment.objects.filter(pk=assessment.pk).delete()
