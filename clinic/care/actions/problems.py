"""A finding becomes a problem when a clinician says so; it is closed with a reason, and may open again."""

from collections.abc import Sequence
from datetime import datetime
from uuid import UUID

from django.db import transaction

from clinic.care.actions.common import said
from clinic.care.errors import AlreadyOpen, ProblemClosed, TextMissing
from clinic.care.models import Problem, ProblemCondition, ProblemTurn
from clinic.patients.actions import end_condition, set_condition
from clinic.patients.models import ConditionCode, Patient
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
    opened_from: str = "",
    once: UUID | None = None,
) -> Problem:
    """A clinician makes a finding into a problem.

    `lines` are the walk's line keys it speaks of, `opened_from` what had been recorded there.

    A finding becomes a problem only when a veterinarian promotes it (problem-oriented record after Weed, in
    McCurnin's Clinical Textbook for Veterinary Technicians).
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
        opened_from=opened_from.strip(),
        opened_in=visit,
        opened_at=now,
        opened_by=actor.staff,
    )


@transaction.atomic
def add_lines(
    *,
    actor: Actor,
    now: datetime,
    problem: Problem,
    lines: Sequence[str],
    urgency: str = "",
    opened_from: str = "",
) -> Problem:
    """The problem speaks of more findings than it was opened from; the most urgent of them counts."""
    actor.require(Right.ASSESS)
    locked = Problem.objects.select_for_update().get(pk=problem.pk)
    locked.lines = sorted({*locked.lines, *lines})
    locked.urgency = max(locked.urgency, urgency, key="MRTE".find)
    locked.opened_from = "; ".join(each for each in (locked.opened_from, opened_from.strip()) if each)
    locked.save(update_fields=["lines", "urgency", "opened_from"])
    return locked


@transaction.atomic
def close_problem(
    *,
    actor: Actor,
    now: datetime,
    problem: Problem,
    reason: str,
    visit: Visit | None = None,
    ends: Sequence[str] = (),
) -> bool:
    """Closed once, with a reason. `ends`: codes of conditions it set that end with it.

    False when it was closed already. Raises TextMissing.
    """
    actor.require(Right.ASSESS)
    reason = said(reason, field="reason", sentence="Say why it is closed: healed, under control, was none …")
    closed = Problem.objects.filter(pk=problem.pk, closed_at=None).update(
        closed_at=now, closed_by=actor.staff, closed_reason=reason
    )
    if not closed:
        return False
    _turn(problem, ProblemTurn.What.CLOSED, reason, visit, actor, now)
    own = {each.condition.code for each in problem.conditions.select_related("condition")}
    for code in own & set(ends):
        end_condition(patient=problem.patient, code=code, why=reason, actor=actor, now=now)
    return True


@transaction.atomic
def reopen_problem(
    *, actor: Actor, now: datetime, problem: Problem, reason: str, visit: Visit | None = None
) -> bool:
    """Open again, with a reason; its turns keep why it had been closed. False when it was open.

    Raises TextMissing; AlreadyOpen when another open problem speaks of one of its lines.
    """
    actor.require(Right.ASSESS)
    reason = said(reason, field="reason", sentence="Say why it is opened again: it came back …")
    Patient.objects.select_for_update().get(pk=problem.patient_id)
    others = Problem.objects.filter(patient=problem.patient_id, closed_at=None).exclude(pk=problem.pk)
    if problem.lines and (same := others.filter(lines__overlap=problem.lines).first()):
        raise AlreadyOpen(same)
    closed = Problem.objects.filter(pk=problem.pk).exclude(closed_at=None)
    if not closed.update(closed_at=None, closed_by=None, closed_reason=""):
        return False
    _turn(problem, ProblemTurn.What.REOPENED, reason, visit, actor, now)
    return True


def _turn(
    problem: Problem, what: ProblemTurn.What, reason: str, visit: Visit | None, actor: Actor, now: datetime
) -> None:
    ProblemTurn.objects.create(problem=problem, what=what, reason=reason, visit=visit, by=actor.staff, at=now)


@transaction.atomic
def problem_sets_condition(
    *, actor: Actor, now: datetime, problem: Problem, code: str, note: str = ""
) -> ProblemCondition:
    """The patient has a coded condition because of this problem; one that stands already is shared.

    Raises ProblemClosed, TextMissing (a code that is not on the list).
    """
    actor.require(Right.ASSESS)
    if code not in ConditionCode.values:
        raise TextMissing("code", "Choose a condition of the list.")
    if problem.closed_at:
        raise ProblemClosed(problem.title)
    condition = set_condition(patient=problem.patient, code=code, note=note, actor=actor, now=now)
    made, _ = ProblemCondition.objects.get_or_create(
        problem=problem, condition=condition, defaults={"by": actor.staff, "at": now}
    )
    return made
