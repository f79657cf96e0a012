"""Every problem of a patient with what follows from it, as plain values for the plan page."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import replace
from datetime import date

from clinic.care.days import day_of, on_day
from clinic.care.models import (
    Assessment,
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
    AssessmentRow,
    LineRow,
    MedicineRow,
    ProblemBlock,
    StepRow,
)
from clinic.care.plan_words import consent_words, decline_parts, dose_row, step_words
from clinic.care.result_rows import Mark, TestRow, TestRows
from clinic.patients.condition_cautions import caution_of
from clinic.visits.models import Record

FEW_OVER = 2


class ProblemRows:
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
            small=f"open since {day_of(problem.opened_at)}, {problem.opened_by.full_name}",
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
            about=tuple(problem.lines),
        )

    def _assessment(self, each: Assessment) -> AssessmentRow:
        mine = each.record_id == self.record.pk
        parts = [each.get_certainty_display(), each.get_course_display(), each.by.full_name]
        if not mine:
            parts.append(day_of(each.at))
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
            parts.append(f"{who}{f', by {on_day(due)}' if due else ''}")
        elif due and is_open:
            parts.append(f"by {on_day(due)}")
        if each.consent_by:
            parts.append(consent_words(each))
        if each.standing == PlanLine.Standing.DECLINED:
            parts += decline_parts(each)
        if each.record_id != self.record.pk:
            parts.append(f"{each.by.full_name}, {day_of(each.at)}")
        label = PlanLine.Standing(standing).label
        shape = STANDING[PlanLine.Standing(standing)]
        mark = Mark("abnormal", "look", f"late, {label}") if late else Mark(shape, "", label)
        return LineRow(
            id=each.pk,
            text=each.text,
            small="; ".join(parts),
            mark=mark,
            steps=tuple(StepRow(step_words(step)) for step in self.steps[each.pk]),
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
        small = f"{each.get_how_display()} for {each.reason}, {each.prescriber.full_name}, {day_of(each.at)}"
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
            doses=tuple(dose_row(dose) for dose in each.doses.all()),
        )

    def _state(self, each: Medicine) -> str:
        stop = getattr(each, "stop", None)
        if stop:
            return f"stopped from {on_day(stop.on)} on, {stop.by.full_name}: {stop.why}"
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
