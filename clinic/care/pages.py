"""The plan page as plain values: what could become a problem, and every problem with what follows from it."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime

from django.utils import timezone

from clinic.care.models import (
    Assessment,
    DoseGiven,
    Medicine,
    PlanLine,
    PlanProgress,
    Problem,
    ProblemCondition,
    Test,
)
from clinic.care.patient_case import in_use_rows
from clinic.care.plan_rows import (
    SETTLED,
    STANDING,
    URGENCY,
    AgainRow,
    AssessmentRow,
    ClosedRow,
    DoseRow,
    LineRow,
    MatterRow,
    MedicineRow,
    NextRow,
    ProblemBlock,
    StepRow,
)
from clinic.care.queries import to_offer_again
from clinic.care.result_rows import Mark, TestRow, TestRows
from clinic.care.sources import Matter, all_matters
from clinic.patients.condition_cautions import caution_of
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.models import NextVisit, Record

FEW_CLOSED = 20
FEW_OVER = 2


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
    rows = _Rows(record, today)
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
            small=f"declined {_day(each.at)}: {each.declined_why}; to be offered again {_on(day)}",
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
            .select_related("prescriber", "stop__by")
            .prefetch_related("doses__given_by", "doses__struck_by")
            .order_by("at", "pk")
        )
        self.in_use = {each.pk for each in in_use_rows(record.visit.patient, today=today)}
        self.test_rows = TestRows(patient)
        self.tests: dict[int | None, list[Test]] = defaultdict(list)
        for test in self.test_rows.tests:
            self.tests[test.plan_line.problem_id if test.plan_line else None].append(test)
        self.conditions: dict[int, list[str]] = defaultdict(list)
        for link in ProblemCondition.objects.filter(
            problem__patient=patient, condition__until=None
        ).select_related("condition"):
            words = f"{link.condition.get_code_display()}. {caution_of(link.condition.code)}"
            self.conditions[link.problem_id].append(words)
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
            today=tuple(
                replace(self._assessment(each), below=place > 0)
                for place, each in enumerate(row for row in said if row.record_id == self.record.pk)
            ),
            earlier=tuple(
                self._assessment(each)
                for each in sorted(said, key=lambda each: each.at, reverse=True)
                if each.record_id != self.record.pk
            )[:3],
            lines=tuple(self.line(each) for each in (*settled, *shown)),
            medicines=tuple(self._medicine(each) for each in self._shown(medicines)),
            tests=tuple(self.test(each) for each in tests),
            nothing_planned=not any(each.record_id == self.record.pk for each in planned),
            conditions=tuple(self.conditions[problem.pk]),
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
            parts.append(_consent(each))
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

    def _shown(self, medicines: list[Medicine]) -> list[Medicine]:
        """Today's and what is in use; of those that are over the newest."""
        now = [each for each in medicines if each.record_id == self.record.pk or each.pk in self.in_use]
        over = [each for each in medicines if each not in now]
        return [*over[-FEW_OVER:], *now]

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
            state=self._state(each),
            in_use=each.pk in self.in_use and each.how != Medicine.How.GIVEN,
            here=each.how == Medicine.How.GIVEN and each.pk in self.in_use,
            doses=tuple(_dose(dose) for dose in each.doses.all()),
        )

    def _state(self, each: Medicine) -> str:
        stop = getattr(each, "stop", None)
        if stop:
            return f"stopped from {_on(stop.on)} on, {stop.by.full_name}: {stop.why}"
        if each.how == Medicine.How.GIVEN or each.record_id == self.record.pk:
            return ""
        return "in use" if each.pk in self.in_use else "over"

    def test(self, each: Test) -> TestRow:
        return self.test_rows.row(each, mine=each.record_id == self.record.pk)


def _dealt(rows: Iterable[object]) -> dict[int | None, list]:  # type: ignore[type-arg]
    dealt: dict[int | None, list] = defaultdict(list)  # type: ignore[type-arg]
    for row in rows:
        dealt[row.problem_id].append(row)  # type: ignore[attr-defined]
    return dealt


def _consent(line: PlanLine) -> str:
    how = f", {line.get_consent_how_display()}" if line.consent_how else ""
    estimate = f", estimate {line.get_estimate_display()}" if line.estimate else ""
    return f"agreed: {line.consent_by}{how}{estimate}"


def _dose(each: DoseGiven) -> DoseRow:
    at = timezone.localtime(each.given_at)
    lot = f", lot {each.lot}" if each.lot else ""
    until = f", usable until {_on(each.expires_on)}" if each.expires_on else ""
    note = f": {each.note}" if each.note else ""
    struck = ""
    if each.struck_at and each.struck_by:
        struck = f"struck out {_day(each.struck_at)}, {each.struck_by.full_name}: {each.struck_reason}"
    words = f"{each.amount} given {_on(at.date())}, {at:%H:%M}, {each.given_by.full_name}{lot}{until}{note}"
    return DoseRow(each.pk, words, struck)


def _decline(line: PlanLine) -> list[str]:
    parts = [f"the owner’s reason: {line.declined_why}"]
    if line.explained_by:
        parts.append(f"risks explained by {line.explained_by.full_name}: {line.risks_explained}")
    if line.alternative:
        parts.append(f"agreed instead: {line.alternative}")
    if line.come_back:
        parts.append(f"to come back: {line.come_back}")
    if line.signed_by_owner:
        parts.append("the owner signed")
    if line.offer_again_on:
        parts.append(f"offered again on {_on(line.offer_again_on)}")
    return parts


def _step(step: PlanProgress) -> str:
    who = f", {step.answerable.full_name}" if step.answerable else ""
    due = f" by {_on(step.due_on)}" if step.due_on else ""
    note = f": {step.note}" if step.note else ""
    return f"{_day(step.at)}, {step.by.full_name}: {step.get_standing_display()}{who}{due}{note}"


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
