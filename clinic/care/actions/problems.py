"""A finding becomes a problem when a clinician says so; it is closed with a reason, and may open again."""

from collections.abc import Sequence
from datetime import datetime
from uuid import UUID

from django.db import transaction

from clinic.care.actions.common import said
from clinic.care.errors import AlreadyOpen
from clinic.care.models import Problem
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.actions.common import first_sending
from clinic.visits.models import Visit


@transaction.atomic
def open_problem(
    *,
    actor: Actor,
    now: datetime,
    patient: Patient,
    visit: Visit | None,
    title: str,
    station: str = "",
    lines: Sequence[str] = (),
    urgency: str = "",
    once: UUID | None = None,
) -> Problem:
    """A clinician makes a finding into a problem. `lines` are the walk's line keys it speaks of.

    Raises AlreadyOpen when an open problem of the patient speaks of one of the lines; TextMissing,
    SentBefore.
    """
    actor.require(Right.ASSESS)
    title = said(" ".join(title.split()), field="title", sentence="Give the problem a name.")
    first_sending(once, actor=actor, now=now)
    # two tablets making the same finding a problem: the second waits here and sees the first
    Patient.objects.select_for_update().get(pk=patient.pk)
    if lines:
        same = Problem.objects.filter(patient=patient, closed_at=None, lines__overlap=list(lines)).first()
        if same:
            raise AlreadyOpen(same)
    return Problem.objects.create(
        patient=patient,
        title=title,
        station=station,
        lines=list(lines),
        urgency=urgency,
        opened_in=visit,
        opened_at=now,
        opened_by=actor.staff,
    )


@transaction.atomic
def add_lines(
    *, actor: Actor, now: datetime, problem: Problem, lines: Sequence[str], urgency: str = ""
) -> Problem:
    """The problem speaks of more findings than it was opened from; the most urgent of them counts."""
    actor.require(Right.ASSESS)
    locked = Problem.objects.select_for_update().get(pk=problem.pk)
    locked.lines = sorted({*locked.lines, *lines})
    locked.urgency = max(locked.urgency, urgency, key="MRTE".find)
    locked.save(update_fields=["lines", "urgency"])
    return locked


@transaction.atomic
def close_problem(*, actor: Actor, now: datetime, problem: Problem, reason: str) -> bool:
    """Closed once, with a reason. False when it was closed already. Raises TextMissing."""
    actor.require(Right.ASSESS)
    reason = said(reason, field="reason", sentence="Say why it is closed: healed, under control, was none …")
    return (
        Problem.objects.filter(pk=problem.pk, closed_at=None).update(
            closed_at=now, closed_by=actor.staff, closed_reason=reason
        )
        == 1
    )


@transaction.atomic
def reopen_problem(*, actor: Actor, now: datetime, problem: Problem) -> bool:
    """Open again; the history keeps why it was closed. False when it was open."""
    actor.require(Right.ASSESS)
    closed = Problem.objects.filter(pk=problem.pk).exclude(closed_at=None)
    return closed.update(closed_at=None, closed_by=None, closed_reason="") == 1
