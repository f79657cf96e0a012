"""One problem from its opening on: every assessment, line, medicine, test and turn, in the order of time."""

from dataclasses import dataclass
from datetime import datetime

from clinic.care.days import day_of
from clinic.care.models import Assessment, Medicine, PlanLine, PlanProgress, Problem, Test

TURNS = {"closed": "Closed", "reopened": "Opened again"}


@dataclass(frozen=True)
class Event:
    """`what`: the kind in one or two words. `visit_id`: where it was said, if at a visit."""

    at: datetime
    what: str
    words: str
    small: str
    visit_id: int | None = None

    @property
    def day(self) -> str:
        return day_of(self.at)


@dataclass(frozen=True)
class ProblemPage:
    title: str
    small: str
    opened_from: str
    open: bool
    conditions: tuple[str, ...]
    events: tuple[Event, ...]
    course: tuple[tuple[str, str], ...]


def problem_page(problem: Problem) -> ProblemPage:
    """Eight queries, whatever its length."""
    assessments = list(
        Assessment.objects.filter(problem=problem).select_related("by", "record").order_by("at", "rank", "pk")
    )
    events = [
        Event(
            problem.opened_at,
            "Opened",
            problem.opened_from or problem.title,
            problem.opened_by.full_name,
            problem.opened_in_id,
        ),
        *(_assessment(each) for each in assessments),
        *_lines(problem),
        *_medicines(problem),
        *_tests(problem),
        *_turns(problem),
        *_contacts(problem),
    ]
    return ProblemPage(
        title=problem.title,
        small=f"opened {day_of(problem.opened_at)}, {problem.opened_by.full_name}",
        opened_from=problem.opened_from,
        open=problem.closed_at is None,
        conditions=tuple(
            f"{link.condition.get_code_display()}{', over' if link.condition.until else ''}"
            for link in problem.conditions.select_related("condition")
        ),
        events=tuple(sorted(events, key=lambda event: event.at)),
        course=tuple((day_of(each.at), each.get_course_display()) for each in assessments if each.course),
    )


def _assessment(each: Assessment) -> Event:
    parts = [each.get_certainty_display(), each.get_course_display(), each.by.full_name]
    return Event(
        each.at, "Assessed", each.text, ", ".join(part for part in parts if part), each.record.visit_id
    )


def _lines(problem: Problem) -> list[Event]:
    lines = PlanLine.objects.filter(problem=problem, tests=None).select_related("by", "record")
    steps = PlanProgress.objects.filter(line__problem=problem).select_related("by", "line")
    return [
        *(
            Event(
                each.at,
                each.get_standing_display().capitalize(),
                each.text,
                f"{each.get_kind_display()}, {each.by.full_name}",
                each.record.visit_id,
            )
            for each in lines
        ),
        *(
            Event(
                each.at,
                each.get_standing_display().capitalize(),
                each.line.text,
                f"{each.note}, {each.by.full_name}" if each.note else each.by.full_name,
            )
            for each in steps
        ),
    ]


def _medicines(problem: Problem) -> list[Event]:
    rows = Medicine.objects.filter(problem=problem).select_related("prescriber", "record", "stop__by")
    events = []
    for each in rows:
        small = f"{each.get_how_display()}, {each.prescriber.full_name}"
        events.append(
            Event(each.at, "Medicine", f"{each.name}: {each.directions}", small, each.record.visit_id)
        )
        stop = getattr(each, "stop", None)
        if stop:
            events.append(Event(stop.at, "Stopped", f"{each.name}: {stop.why}", stop.by.full_name))
    return events


def _tests(problem: Problem) -> list[Event]:
    tests = Test.objects.filter(plan_line__problem=problem).select_related("record", "ordered_by")
    events = []
    for each in tests.prefetch_related("results__entered_by"):
        events.append(
            Event(each.ordered_at, "Test", each.title, each.ordered_by.full_name, each.record.visit_id)
        )
        reports: dict[tuple[datetime, str], list[str]] = {}
        for result in each.results.all():
            words = " ".join(part for part in (result.analyte, result.value, result.unit) if part)
            struck = ", struck out since" if result.struck_at else ""
            report = reports.setdefault((result.resulted_at, result.entered_by.full_name), [])
            report.append(f"{words} ({result.meaning}{struck})")
        events += [
            Event(at, "Result", f"{each.title}: {'; '.join(values)}", who)
            for (at, who), values in reports.items()
        ]
    return events


def _turns(problem: Problem) -> list[Event]:
    return [
        Event(each.at, TURNS[each.what], each.reason, each.by.full_name, each.visit_id)
        for each in problem.turns.select_related("by")
    ]


def _contacts(problem: Problem) -> list[Event]:
    """What was said about it outside visits, or about one of its tests."""
    said = {each.pk: each for each in problem.contacts.select_related("by")}
    for test in Test.objects.filter(plan_line__problem=problem).prefetch_related("contacts__by"):
        said |= {each.pk: each for each in test.contacts.all()}
    return [
        Event(
            each.happened_at,
            each.get_kind_display().capitalize(),
            each.text,
            f"with {each.with_whom}, {each.by.full_name}",
        )
        for each in said.values()
    ]
