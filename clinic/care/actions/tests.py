"""Tests and their results; results also come after the signature."""

from datetime import date, datetime
from uuid import UUID

from django.db import transaction

from clinic.care.actions.common import said
from clinic.care.actions.plan_lines import add_plan_line
from clinic.care.errors import HasResult, OwnerSentenceMissing
from clinic.care.in_house import InHouse
from clinic.care.models import PlanLine, Problem, Test, TestResult
from clinic.people.actor import Actor
from clinic.people.models import Staff
from clinic.people.rights import Right
from clinic.visits.actions.common import first_sending, hold_open
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
    for_owner: str = "",
    answerable: Staff | None = None,
    due_on: date | None = None,
    once: UUID | None = None,
) -> Test:
    """A test that a laboratory does; somebody tells the owner by a day. Raises as add_plan_line."""
    line = add_plan_line(
        actor=actor,
        now=now,
        record=record,
        problem=problem,
        kind=PlanLine.Kind.TEST,
        text=title,
        for_owner=for_owner,
        standing=PlanLine.Standing.BOOKED,
        answerable=answerable,
        due_on=due_on,
        once=once,
    )
    return order_test(
        actor=actor,
        now=now,
        record=record,
        kind="laboratory",
        title=line.text[:160],
        plan_line=line,
        taken_at=now,
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


@transaction.atomic
def enter_result(
    *,
    actor: Actor,
    now: datetime,
    test: Test,
    value: str,
    meaning: str,
    analyte: str = "",
    unit: str = "",
    interval: str = "",
    for_owner: str = "",
    resulted_at: datetime | None = None,
    once: UUID | None = None,
) -> TestResult:
    """One result as reported. Read at once where a clinician enters it with a sentence for the owner.

    Raises TextMissing, SentBefore.
    """
    actor.require(Right.OBSERVE)
    value = said(value, field="value", sentence="Write the result as it was reported.")
    first_sending(once, actor=actor, now=now)
    reads = actor.may(Right.ASSESS) and bool(for_owner.strip())
    return TestResult.objects.create(
        test=test,
        analyte=analyte,
        value=value,
        unit=unit,
        interval=interval,
        meaning=meaning,
        for_owner=for_owner.strip(),
        resulted_at=resulted_at or now,
        entered_by=actor.staff,
        read_by=actor.staff if reads else None,
        read_at=now if reads else None,
    )


@transaction.atomic
def read_result(*, actor: Actor, now: datetime, result: TestResult, for_owner: str) -> bool:
    """A clinician has read it and says what it means for the owner. False when it was read already.

    Raises OwnerSentenceMissing.
    """
    actor.require(Right.ASSESS)
    if not for_owner.strip():
        raise OwnerSentenceMissing
    unread = TestResult.objects.filter(pk=result.pk, read_at=None, struck_at=None)
    return unread.update(read_by=actor.staff, read_at=now, for_owner=for_owner.strip()) == 1
