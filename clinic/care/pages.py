"""The plan page as plain values: what could become a problem, and every problem with what follows from it."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from uuid import uuid4

from django.utils import timezone

from clinic.care.in_house import outcomes_of
from clinic.care.models import Assessment, Medicine, PlanLine, PlanProgress, Problem, Test, TestResult
from clinic.care.sources import Matter, all_matters
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.models import NextVisit, Record

URGENCY = {
    "E": ("danger", "danger", "needs care now"),
    "T": ("abnormal", "look", "treat soon"),
    "R": ("begun", "normal", "look again"),
    "M": ("begun", "normal", "watch"),
}
STANDING = {
    PlanLine.Standing.ADVISED: "new",
    PlanLine.Standing.CONSENTED: "begun",
    PlanLine.Standing.BOOKED: "begun",
    PlanLine.Standing.DECLINED: "unseen",
    PlanLine.Standing.DONE: "normal",
}
SETTLED = (PlanLine.Standing.DONE, PlanLine.Standing.DECLINED)
FEW_CLOSED = 20


@dataclass(frozen=True)
class Mark:
    """A shape, its tone, and the word beside it. Empty words: no mark."""

    shape: str = ""
    tone: str = ""
    words: str = ""


@dataclass(frozen=True)
class MatterRow:
    key: str
    title: str
    words: str
    mark: Mark


@dataclass(frozen=True)
class AssessmentRow:
    id: int
    text: str
    small: str
    for_owner: str
    mine: bool


@dataclass(frozen=True)
class StepRow:
    words: str


@dataclass(frozen=True)
class LineRow:
    """`mine`: of this record, so that it can be taken back. `open`: not done and not declined."""

    id: int
    text: str
    small: str
    mark: Mark
    steps: tuple[StepRow, ...]
    mine: bool
    open: bool
    late: bool

    @property
    def hollow(self) -> bool:
        """Its mark is not filled: it is still to be done, and in time."""
        return self.open and not self.late


@dataclass(frozen=True)
class MedicineRow:
    id: int
    title: str
    directions: str
    small: str
    answers: tuple[str, ...]
    mine: bool


@dataclass(frozen=True)
class ChoiceRow:
    code: str
    value: str


@dataclass(frozen=True)
class ResultRow:
    id: int
    words: str
    small: str
    for_owner: str
    read: bool
    mark: Mark


@dataclass(frozen=True)
class TestRow:
    """`once`: the token of its one-tap results."""

    id: int
    title: str
    small: str
    results: tuple[ResultRow, ...]
    outcomes: tuple[ChoiceRow, ...]
    mine: bool
    once: str


@dataclass(frozen=True)
class ProblemBlock:
    id: int
    title: str
    small: str
    mark: Mark
    today: tuple[AssessmentRow, ...]
    earlier: tuple[AssessmentRow, ...]
    lines: tuple[LineRow, ...]
    medicines: tuple[MedicineRow, ...]
    tests: tuple[TestRow, ...]
    nothing_planned: bool


@dataclass(frozen=True)
class ClosedRow:
    id: int
    title: str
    small: str


@dataclass(frozen=True)
class NextRow:
    id: int
    when: str
    small: str
    mine: bool


@dataclass(frozen=True)
class Rights:
    """What whoever works now may do on this page; nothing but results and progress once it is signed."""

    assess: bool
    plan: bool
    prescribe: bool
    result: bool
    read: bool
    progress: bool
    book: bool


@dataclass(frozen=True)
class PlanPage:
    patient: str
    matters: tuple[MatterRow, ...]
    problems: tuple[ProblemBlock, ...]
    closed: tuple[ClosedRow, ...]
    other_lines: tuple[LineRow, ...]
    other_tests: tuple[TestRow, ...]
    next_visits: tuple[NextRow, ...]
    may: Rights

    def sentence_of_result(self, result_id: int | None) -> str:
        """The owner's sentence that was entered with a result; empty where there is none."""
        tests = (*self.other_tests, *(test for block in self.problems for test in block.tests))
        results = (result for test in tests for result in test.results)
        return next((result.for_owner for result in results if result.id == result_id), "")


def plan_page(record: Record, *, actor: Actor, today: date) -> PlanPage:
    """A fixed number of queries, whatever the number of problems. `record` comes with visit and patient."""
    patient = record.visit.patient
    problems = list(Problem.objects.filter(patient=patient).select_related("opened_by", "closed_by"))
    rows = _Rows(record, today)
    blocks = tuple(rows.block(each) for each in problems if each.closed_at is None)
    closed = [each for each in problems if each.closed_at is not None]
    closed.sort(key=lambda each: each.closed_at or each.opened_at, reverse=True)
    covered = {line for each in problems if each.closed_at is None for line in each.lines}
    # what an earlier problem of this very visit spoke of is settled, though it was closed again
    covered |= {line for each in closed if each.opened_in_id == record.visit_id for line in each.lines}
    return PlanPage(
        patient=patient.name,
        matters=tuple(_matter(each) for each in all_matters(record) if not covered & set(each.line_keys)),
        problems=blocks,
        closed=tuple(_closed(each) for each in closed[:FEW_CLOSED]),
        other_lines=tuple(rows.line(each) for each in rows.lines[None]),
        other_tests=tuple(rows.test(each) for each in rows.tests[None]),
        next_visits=_next_visits(record),
        may=rights(record, actor=actor),
    )


def rights(record: Record, *, actor: Actor) -> Rights:
    """See `Rights`."""
    unsigned = not record.is_signed
    return Rights(
        assess=unsigned and actor.may(Right.ASSESS),
        plan=unsigned and actor.may(Right.PLAN),
        prescribe=unsigned and actor.may(Right.PRESCRIBE),
        result=actor.may(Right.OBSERVE),
        read=actor.may(Right.ASSESS),
        progress=actor.may(Right.MOVE_VISIT),
        book=unsigned and actor.may(Right.BOOK),
    )


def matters_by_key(record: Record) -> dict[str, Matter]:
    """For the form that opens a problem."""
    return {each.key: each for each in all_matters(record)}


class _Rows:
    """The rows of all problems of the patient, read at once and dealt out by problem."""

    def __init__(self, record: Record, today: date) -> None:
        self.record, self.today = record, today
        patient = record.visit.patient_id
        self.assessments = _dealt(
            Assessment.objects.filter(problem__patient=patient)
            .select_related("by")
            .order_by("rank", "at", "pk")
        )
        lines = PlanLine.objects.filter(record__visit__patient=patient)
        self.lines = _dealt(lines.select_related("by", "answerable", "explained_by").order_by("at", "pk"))
        self.steps: dict[int, list[PlanProgress]] = defaultdict(list)
        for step in PlanProgress.objects.filter(line__record__visit__patient=patient).select_related(
            "by", "answerable"
        ):
            self.steps[step.line_id].append(step)
        self.medicines = _dealt(
            Medicine.objects.filter(problem__patient=patient)
            .select_related("prescriber")
            .order_by("at", "pk")
        )
        self.tests: dict[int | None, list[Test]] = defaultdict(list)
        tests = Test.objects.filter(patient=patient).select_related("plan_line", "ordered_by")
        for test in tests.order_by("ordered_at", "pk"):
            self.tests[test.plan_line.problem_id if test.plan_line else None].append(test)
        self.results: dict[int, list[TestResult]] = defaultdict(list)
        for result in TestResult.objects.filter(test__patient=patient, struck_at=None).select_related(
            "entered_by", "read_by"
        ):
            self.results[result.test_id].append(result)
        # lines and tests of no problem are shown where they belong: at the visit that made them
        self.lines[None] = [each for each in self.lines[None] if each.record_id == record.pk]
        self.tests[None] = [each for each in self.tests[None] if each.record_id == record.pk]
        self.tested = {each.plan_line_id for tests in self.tests.values() for each in tests}

    def block(self, problem: Problem) -> ProblemBlock:
        said = self.assessments[problem.pk]
        lines = [each for each in self.lines[problem.pk] if each.pk not in self.tested]
        shown = [each for each in lines if each.record_id == self.record.pk or self._open(each)]
        settled = [each for each in lines if each not in shown][-3:]
        medicines, tests = self.medicines[problem.pk], self.tests[problem.pk]
        planned = [*lines, *medicines, *tests]
        return ProblemBlock(
            id=problem.pk,
            title=problem.title,
            small=f"open since {_day(problem.opened_at)}, {problem.opened_by.full_name}",
            mark=Mark(*URGENCY.get(problem.urgency, ())),
            today=tuple(self._assessment(each) for each in said if each.record_id == self.record.pk),
            earlier=tuple(
                self._assessment(each)
                for each in sorted(said, key=lambda each: each.at, reverse=True)
                if each.record_id != self.record.pk
            )[:3],
            lines=tuple(self.line(each) for each in (*settled, *shown)),
            medicines=tuple(self._medicine(each) for each in medicines),
            tests=tuple(self.test(each) for each in tests),
            nothing_planned=not any(each.record_id == self.record.pk for each in planned),
        )

    def _assessment(self, each: Assessment) -> AssessmentRow:
        mine = each.record_id == self.record.pk
        parts = [each.get_certainty_display(), each.get_course_display(), each.by.full_name]
        if not mine:
            parts.append(_day(each.at))
        return AssessmentRow(
            each.pk, each.text, ", ".join(part for part in parts if part), each.for_owner, mine
        )

    def _last(self, line: PlanLine) -> tuple[str, str, date | None]:
        """Standing, person and day as last agreed."""
        standing, who, due = line.standing, line.answerable.full_name if line.answerable else "", line.due_on
        for step in self.steps[line.pk]:
            standing = step.standing
            who = step.answerable.full_name if step.answerable else who
            due = step.due_on or due
        return standing, who, due

    def _open(self, line: PlanLine) -> bool:
        return self._last(line)[0] not in SETTLED

    def line(self, each: PlanLine) -> LineRow:
        standing, who, due = self._last(each)
        is_open = standing not in SETTLED
        late = is_open and due is not None and due < self.today
        parts = [each.get_kind_display()]
        if who and is_open:
            parts.append(f"{who}{f', by {_on(due)}' if due else ''}")
        elif due and is_open:
            parts.append(f"by {_on(due)}")
        if each.consent_by:
            parts.append(f"agreed: {each.consent_by}")
        if each.standing == PlanLine.Standing.DECLINED:
            parts += _decline(each)
        if each.record_id != self.record.pk:
            parts.append(f"{each.by.full_name}, {_day(each.at)}")
        label = PlanLine.Standing(standing).label
        shape = STANDING[PlanLine.Standing(standing)]
        mark = Mark("abnormal", "look", f"late, {label}") if late else Mark(shape, "", label)
        return LineRow(
            id=each.pk,
            text=each.text,
            small="; ".join(parts),
            mark=mark,
            steps=tuple(StepRow(_step(step)) for step in self.steps[each.pk]),
            mine=each.record_id == self.record.pk,
            open=is_open,
            late=late,
        )

    def _medicine(self, each: Medicine) -> MedicineRow:
        contents = ", ".join(part for part in (" and ".join(each.ingredients), each.strength) if part)
        small = f"{each.get_how_display()} for {each.reason}, {each.prescriber.full_name}, {_day(each.at)}"
        if each.refills:
            small += f", {each.refills} refill{'' if each.refills == 1 else 's'}"
        return MedicineRow(
            id=each.pk,
            title=f"{each.name}{f' ({contents})' if contents else ''}",
            directions=each.directions,
            small=small,
            answers=tuple(f"{one['question']} Answer: “{one['reason']}”" for one in each.answers),
            mine=each.record_id == self.record.pk,
        )

    def test(self, each: Test) -> TestRow:
        results = self.results[each.pk]
        return TestRow(
            id=each.pk,
            title=each.title,
            small=f"{'taken here' if each.in_house else 'ordered'} {_day(each.taken_at or each.ordered_at)}, "
            f"{each.ordered_by.full_name}",
            results=tuple(_result(result) for result in results),
            outcomes=tuple(ChoiceRow(one.code, one.value) for one in outcomes_of(each.kind))
            if not results
            else (),
            mine=each.record_id == self.record.pk and not results,
            once=str(uuid4()),
        )


def _dealt(rows: Iterable[object]) -> dict[int | None, list]:  # type: ignore[type-arg]
    dealt: dict[int | None, list] = defaultdict(list)  # type: ignore[type-arg]
    for row in rows:
        dealt[row.problem_id].append(row)  # type: ignore[attr-defined]
    return dealt


def _decline(line: PlanLine) -> list[str]:
    parts = [f"the owner’s reason: {line.declined_why}"]
    if line.explained_by:
        parts.append(f"risks explained by {line.explained_by.full_name}: {line.risks_explained}")
    if line.offer_again_on:
        parts.append(f"offered again on {_on(line.offer_again_on)}")
    return parts


def _step(step: PlanProgress) -> str:
    who = f", {step.answerable.full_name}" if step.answerable else ""
    due = f" by {_on(step.due_on)}" if step.due_on else ""
    note = f": {step.note}" if step.note else ""
    return f"{_day(step.at)}, {step.by.full_name}: {step.get_standing_display()}{who}{due}{note}"


def _result(each: TestResult) -> ResultRow:
    words = " ".join(part for part in (each.analyte, each.value, each.unit) if part)
    usual = each.meaning in ("negative", "inside")
    interval = f"{each.interval}, " if each.interval else ""
    read = f"read by {each.read_by.full_name}" if each.read_by else "not read by a clinician yet"
    return ResultRow(
        id=each.pk,
        words=words,
        small=f"{interval}{each.entered_by.full_name}, {_day(each.resulted_at)}, {read}",
        for_owner=each.for_owner,
        read=each.read_at is not None,
        mark=Mark("normal", "normal", each.meaning) if usual else Mark("abnormal", "look", each.meaning),
    )


def _matter(each: Matter) -> MatterRow:
    return MatterRow(each.key, each.title, each.words, Mark(*URGENCY.get(each.urgency, ())))


def _closed(each: Problem) -> ClosedRow:
    assert each.closed_at
    by = f", {each.closed_by.full_name}" if each.closed_by else ""
    return ClosedRow(each.pk, each.title, f"closed {_day(each.closed_at)}{by}: {each.closed_reason}")


def _next_visits(record: Record) -> tuple[NextRow, ...]:
    planned = NextVisit.objects.filter(patient=record.visit.patient_id, state=NextVisit.State.PLANNED)
    return tuple(
        NextRow(
            id=each.pk,
            when=f"week of {_on(each.on)}"
            if each.week_of
            else _on(each.on) + (f", {each.at:%H:%M}" if each.at else ""),
            small=f"{each.get_kind_display()}, {each.minutes} minutes: {each.reason}"
            f"{f' ({each.problem.title})' if each.problem else ''}",
            mine=each.record_id == record.pk,
        )
        for each in planned.select_related("problem")
    )


def _day(at: datetime) -> str:
    return _on(timezone.localtime(at).date())


def _on(day: date) -> str:
    return f"{day:%-d %B %Y}"
