"""The plan page as plain values: what could become a problem, and every problem with what follows from it."""

from dataclasses import dataclass
from datetime import date

from clinic.care.days import day_of, on_day
from clinic.care.models import Problem
from clinic.care.plan_rows import URGENCY, AgainRow, ClosedRow, LineRow, MatterRow, NextRow, ProblemBlock
from clinic.care.problem_rows import ProblemRows
from clinic.care.queries import to_offer_again
from clinic.care.result_rows import Mark, TestRow
from clinic.care.sources import Matter, all_matters
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.models import NextVisit, Record

FEW_CLOSED = 20


@dataclass(frozen=True)
class Rights:
    """What whoever works now may do on this page; nothing but results and progress once it is signed."""

    assess: bool
    plan: bool
    prescribe: bool
    give: bool
    result: bool
    read: bool
    progress: bool
    book: bool


@dataclass(frozen=True)
class PlanPage:
    patient: str
    visit_id: int
    signed: bool
    matters: tuple[MatterRow, ...]
    problems: tuple[ProblemBlock, ...]
    closed: tuple[ClosedRow, ...]
    other_lines: tuple[LineRow, ...]
    other_tests: tuple[TestRow, ...]
    next_visits: tuple[NextRow, ...]
    may: Rights
    again: tuple[AgainRow, ...] = ()

    @property
    def tests(self) -> tuple[TestRow, ...]:
        return (*self.other_tests, *(test for block in self.problems for test in block.tests))

    def sentence_of_test(self, test_id: int | None) -> str:
        """The owner's sentence that came with an unread result; empty where there is none."""
        return next((test.sentence for test in self.tests if test.id == test_id), "")

    @property
    def results_to_tell(self) -> bool:
        """Whether the owner of this signed visit is still to be told of a result that was read."""
        return self.signed and any(
            test.untold and not test.unread for test in self.tests if test.visit_id == self.visit_id
        )


def plan_page(record: Record, *, actor: Actor, today: date) -> PlanPage:
    """A fixed number of queries, whatever the number of problems. `record` comes with visit and patient."""
    patient = record.visit.patient
    problems = list(Problem.objects.filter(patient=patient).select_related("opened_by", "closed_by"))
    rows = ProblemRows(record, today)
    blocks = tuple(rows.block(each) for each in problems if each.closed_at is None)
    closed = [each for each in problems if each.closed_at is not None]
    closed.sort(key=lambda each: each.closed_at or each.opened_at, reverse=True)
    covered = {line for each in problems if each.closed_at is None for line in each.lines}
    # what an earlier problem of this very visit spoke of is settled, though it was closed again
    covered |= {line for each in closed if each.opened_in_id == record.visit_id for line in each.lines}
    return PlanPage(
        patient=patient.name,
        visit_id=record.visit_id,
        signed=record.is_signed,
        matters=tuple(_matter(each) for each in all_matters(record) if not covered & set(each.line_keys)),
        problems=blocks,
        closed=tuple(_closed(each) for each in closed[:FEW_CLOSED]),
        other_lines=tuple(rows.line(each) for each in rows.lines[None]),
        other_tests=tuple(rows.test(each) for each in rows.tests[None]),
        next_visits=_next_visits(record),
        may=rights(record, actor=actor),
        again=again_rows(patient, today=today) if not record.is_signed else (),
    )


def again_rows(patient: Patient, *, today: date) -> tuple[AgainRow, ...]:
    """What was declined earlier and is to be offered again by now."""
    return tuple(
        AgainRow(
            id=each.pk,
            text=each.text,
            small=f"declined {day_of(each.at)}: {each.declined_why}; to be offered again {on_day(day)}",
            problem=each.problem_id if each.problem and each.problem.closed_at is None else None,
        )
        for each, day in to_offer_again(patient, today=today)
    )


def rights(record: Record, *, actor: Actor) -> Rights:
    """See `Rights`."""
    unsigned = not record.is_signed
    return Rights(
        assess=unsigned and actor.may(Right.ASSESS),
        plan=unsigned and actor.may(Right.PLAN),
        prescribe=unsigned and actor.may(Right.PRESCRIBE),
        give=actor.may(Right.GIVE_DOSE),
        result=actor.may(Right.OBSERVE),
        read=actor.may(Right.ASSESS),
        progress=actor.may(Right.MOVE_VISIT),
        book=unsigned and actor.may(Right.BOOK),
    )


def matters_by_key(record: Record) -> dict[str, Matter]:
    """For the form that opens a problem."""
    return {each.key: each for each in all_matters(record)}


def _matter(each: Matter) -> MatterRow:
    return MatterRow(each.key, each.title, each.words, Mark(*URGENCY.get(each.urgency, ())))


def _closed(each: Problem) -> ClosedRow:
    assert each.closed_at
    by = f", {each.closed_by.full_name}" if each.closed_by else ""
    return ClosedRow(each.pk, each.title, f"closed {day_of(each.closed_at)}{by}: {each.closed_reason}")


def _next_visits(record: Record) -> tuple[NextRow, ...]:
    planned = NextVisit.objects.filter(patient=record.visit.patient_id, state=NextVisit.State.PLANNED)
    return tuple(
        NextRow(
            id=each.pk,
            when=f"week of {on_day(each.on)}"
            if each.week_of
            else on_day(each.on) + (f", {each.at:%H:%M}" if each.at else ""),
            small=f"{each.get_kind_display()}, {each.minutes} minutes: {each.reason}"
            f"{f' ({each.problem.title})' if each.problem else ''}",
            mine=each.record_id == record.pk,
        )
        for each in planned.select_related("problem")
    )
