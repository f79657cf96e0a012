"""Tests: ordered, taken here, sent out, taken back."""

from datetime import date, datetime
from uuid import UUID

from django.db import transaction

from clinic.care.actions.plan_lines import add_plan_line
from clinic.care.errors import HasResult
from clinic.care.in_house import InHouse
from clinic.care.models import PlanLine, Problem, Test
from clinic.people.actor import Actor
from clinic.people.models import Staff
from clinic.people.rights import Right
from clinic.visits.actions.common import hold_open
from clinic.visits.models import Record


@transaction.atomic
def order_test(
    *,
    actor: Actor,
    now: datetime,
    record: Record,
    kind: str,
    title: str,
    plan_line: PlanLine | None = None,
    taken_at: datetime | None = None,
    sent_at: datetime | None = None,
    laboratory: str = "",
    in_house: bool = False,
) -> Test:
    """A test at this visit; its results follow, also after signing."""
    actor.require(Right.PLAN)
    return Test.objects.create(
        patient=record.visit.patient,
        record=record,
        plan_line=plan_line,
        kind=kind,
        title=title,
        ordered_by=actor.staff,
        ordered_at=now,
        taken_at=taken_at,
        sent_at=sent_at,
        laboratory=laboratory.strip(),
        in_house=in_house,
    )


@transaction.atomic
def take_in_house(
    *,
    actor: Actor,
    now: datetime,
    record: Record,
    problem: Problem,
    test: InHouse,
    once: UUID | None = None,
) -> Test:
    """First tap: the sample is taken here. Done as a plan line of the problem. Raises as add_plan_line."""
    line = add_plan_line(
        actor=actor,
        now=now,
        record=record,
        problem=problem,
        kind=PlanLine.Kind.TEST,
        text=test.title,
        for_owner=test.for_owner,
        standing=PlanLine.Standing.DONE,
        once=once,
    )
    return order_test(
        actor=actor,
        now=now,
        record=record,
        kind=test.kind,
        title=test.title,
        plan_line=line,
        taken_at=now,
        in_house=True,
    )


@transaction.atomic
def send_out(
    *,
    actor: Actor,
    now: datetime,
    record: Record,
    problem: Problem,
    title: str,
    laboratory: str = "",
    for_owner: str = "",
    answerable: Staff | None = None,
    due_on: date | None = None,
    here: bool = False,
    once: UUID | None = None,
) -> Test:
    """A test that a laboratory does; somebody tells the owner by a day. Raises as add_plan_line.

    `here`: one of the house that no list names, by its own words (urine, blood smear); its values follow.
    """
    line = add_plan_line(
        actor=actor,
        now=now,
        record=record,
        problem=problem,
        kind=PlanLine.Kind.TEST,
        text=title,
        for_owner=for_owner,
        standing=PlanLine.Standing.DONE if here and due_on is None else PlanLine.Standing.BOOKED,
        answerable=answerable,
        due_on=due_on,
        once=once,
    )
    return order_test(
        actor=actor,
        now=now,
        record=record,
        kind="here" if here else "laboratory",
        title=line.text[:160],
        plan_line=line,
        taken_at=now,
        sent_at=None if here else now,
        laboratory="" if here else laboratory,
        in_house=here,
    )


@transaction.atomic
def withdraw_test(*, actor: Actor, now: datetime, test: Test) -> None:
    """Take back one without a result, and its plan line, before the signature. Raises NotOpen, HasResult."""
    actor.require(Right.PLAN)
    hold_open(test.record)
    # a result that comes in meanwhile waits for this row, or is seen here
    held = Test.objects.select_for_update().get(pk=test.pk)
    if held.results.exists():
        raise HasResult(held.title)
    line_id = held.plan_line_id
    held.delete()
    if line_id is not None:
        PlanLine.objects.filter(pk=line_id).delete()
