"""What care says in a letter: medicines word for word, tests, what was declined, who does what by when."""

from dataclasses import dataclass
from datetime import date

from clinic.care.models import Medicine, PlanLine, Problem, Test
from clinic.letters.document import Dated, Line, Mark, Part, Point, Section, Sentence, Text, Walk
from clinic.letters.wording import long_day, weekday
from clinic.visits.models import Record

OPEN = frozenset({"advised", "consented", "booked"})
URGENT_KINDS = frozenset({"medicine", "test", "procedure", "referral"})


@dataclass(frozen=True)
class CareInLetter:
    name: str = "care"
    order: int = 10

    def part(self, record: Record, *, language: str, today: date) -> Part:
        """Problems of this record in short, then the sections that follow from them."""
        lines = list(record.plan_lines.select_related("problem", "answerable", "explained_by"))
        medicines = list(record.medicines.select_related("problem", "prescriber"))
        assessments = list(record.assessments.select_related("problem", "by"))
        tests = list(
            record.tests.select_related("plan_line__answerable", "plan_line__problem").prefetch_related(
                "results"
            )
        )
        tested = {each.plan_line_id for each in tests}
        lines = [line for line in lines if line.pk not in tested]
        said = [each for each in assessments if each.for_owner]
        headline = None
        if said:
            headline = Sentence(
                key="headline",
                text=" ".join(_ended(each.for_owner) for each in said[:2]),
                origin="assessment",
                recorded="; ".join(f"{each.problem.title}: {each.text}" for each in said[:2]),
                by=said[0].by.printed_name,
            )
        touched: list[Problem | None] = [each.problem for each in assessments]
        touched += [each.problem for each in medicines] + [each.problem for each in lines]
        touched += [each.plan_line.problem for each in tests if each.plan_line]
        problems = {each.pk: each for each in touched if each}
        sections = (_medicines(medicines), _to_do(lines), _tests(tests), _declined(lines))
        return Part(
            headline=headline,
            points=tuple(_point(each, lines, medicines) for each in problems.values()),
            sections=tuple(section for section in sections if section.blocks),
            next_things=tuple(_dated(line) for line in lines if line.due_on and line.standing in OPEN)
            + tuple(_told(each) for each in tests if each.plan_line and each.plan_line.due_on),
        )


def _ended(text: str) -> str:
    text = text.strip()
    return text if text.endswith((".", "!", "?")) else f"{text}."


def _near_day(day: date) -> str:
    """Friday 13 March 2026: a day that is near is known by its weekday."""
    return f"{weekday(day)} {long_day(day)}"


def _point(problem: Problem, lines: list[PlanLine], medicines: list[Medicine]) -> Point:
    own = [line for line in lines if line.problem_id == problem.pk and line.standing in OPEN]
    given = [
        medicine for medicine in medicines if medicine.problem_id == problem.pk and medicine.how != "given"
    ]
    do = by = None
    if given:
        first = given[0]
        text = f"Give {first.name}, {first.times}{'' if first.first_dose else '.'}"
        do = Sentence(
            f"point:{problem.pk}:do", text + ("," if first.first_dose else ""), "a medicine", first.directions
        )
        if first.first_dose:
            by = Sentence(
                f"point:{problem.pk}:by", f"from {first.first_dose}.", "a medicine", first.directions
            )
    elif own:
        first_line = own[0]
        do = Sentence(
            f"point:{problem.pk}:do",
            _ended(first_line.for_owner or first_line.text),
            "a plan line",
            first_line.text,
        )
        if first_line.due_on:
            by = Sentence(
                f"point:{problem.pk}:by",
                f"By {_near_day(first_line.due_on)}.",
                "a plan line",
                first_line.text,
            )
    urgency = problem.urgency or ("T" if given or any(line.kind in URGENT_KINDS for line in own) else "R")
    what = Sentence(f"point:{problem.pk}", _ended(problem.title), "a problem", problem.title)
    return Point(what=what, urgency=urgency, do=do, by=by)


def _medicines(medicines: list[Medicine]) -> Section:
    blocks = tuple(Text(sentences=_medicine(each)) for each in medicines)
    return Section("medicine", "Medicine", 20, blocks)


def _medicine(each: Medicine) -> tuple[Sentence, ...]:
    key, by = f"medicine:{each.pk}", each.prescriber.printed_name
    inside = ", ".join(part for part in (" and ".join(each.ingredients), each.strength) if part)
    contents = f"{each.name} ({inside})" if inside else each.name
    given = "Given here today: " if each.how == Medicine.How.GIVEN else ""
    return (
        Sentence(f"{key}:name", f"{given}{contents}.", "the prescription", contents, by, strong=True),
        Sentence(
            f"{key}:directions", _ended(each.directions), "the prescription", each.directions, by, strong=True
        ),
        Sentence(
            f"{key}:for",
            f"For {each.reason.rstrip('.')}. Prescribed by {by}.",
            "the prescription",
            each.reason,
            by,
        ),
    )


def _to_do(lines: list[PlanLine]) -> Section:
    """What has no day of its own: care at home, what to watch, what is still to be arranged."""
    undated = [line for line in lines if line.standing in OPEN and line.due_on is None]
    spoken = tuple(
        Text((Sentence(f"to-do:{line.pk}", _ended(line.for_owner or line.text), "a plan line", line.text),))
        for line in undated
    )
    return Section("to-do", "To do", 25, spoken)


def _tests(tests: list[Test]) -> Section:
    walk = Walk(tuple(_test(each) for each in tests))
    return Section("tests", "Tests", 80, (walk,) if tests else ())


def _test(each: Test) -> Line:
    key = f"test:{each.pk}"
    results = [result for result in each.results.all() if result.struck_at is None]
    if not results:
        label = Sentence(key, f"{each.title}: result pending.", "the test", each.title)
        return Line(label, _pending(each, key), Mark.PENDING)
    words = "; ".join(
        " ".join(part for part in (result.analyte, result.value, result.unit) if part) for result in results
    )
    usual = all(result.meaning in ("negative", "inside") for result in results)
    told = tuple(
        Sentence(f"{key}:{result.pk}", _ended(result.for_owner), "the result", result.value)
        for result in results
        if result.for_owner and result.read_at
    )
    label = Sentence(key, f"{each.title}: {words}.", "the result", words)
    return Line(label, told, Mark.NORMAL if usual else Mark.ABNORMAL)


def _pending(each: Test, key: str) -> tuple[Sentence, ...]:
    """What was taken, who calls by when, and what to do when nobody does."""
    line, said = each.plan_line, []
    if line and line.for_owner:
        said.append(Sentence(f"{key}:taken", _ended(line.for_owner), "a plan line", line.text))
    if line and line.due_on and line.answerable:
        who = line.answerable.printed_name
        said.append(
            Sentence(
                f"{key}:by", f"{who} calls you by {_near_day(line.due_on)}.", "a plan line", line.text, who
            )
        )
    said.append(Sentence(f"{key}:hear", "If you hear nothing from us, please call.", "the test", each.title))
    return tuple(said)


def _told(each: Test) -> Dated:
    """The day by which somebody tells the owner."""
    line = each.plan_line
    assert line is not None
    assert line.due_on is not None
    who = line.answerable.printed_name if line.answerable else "We"
    words = f"{who} {'calls' if line.answerable else 'call'} you about the result: {each.title}"
    return Dated(line.due_on, Sentence(f"test:{each.pk}:day", words, "a plan line", line.text))


def _declined(lines: list[PlanLine]) -> Section:
    declined = [line for line in lines if line.standing == PlanLine.Standing.DECLINED]
    walk = Walk(tuple(_decline(line) for line in declined))
    return Section("declined", "Not done", 85, (walk,) if declined else ())


def _decline(line: PlanLine) -> Line:
    """Neutral: what was advised, why, who explained which risk, and when it is offered again."""
    key = f"declined:{line.pk}"
    by = line.explained_by.printed_name if line.explained_by else ""
    sentences = []
    if line.for_owner:
        sentences.append(Sentence(f"{key}:shows", _ended(line.for_owner), "a plan line", line.text, by))
    sentences.append(Sentence(f"{key}:advised", "We advised it.", "a plan line", line.text, by))
    if line.risks_explained:
        sentences.append(
            Sentence(
                f"{key}:risk",
                f"{by} explained the risk: {_ended(line.risks_explained)}",
                "a plan line",
                line.text,
                by,
            )
        )
    sentences.append(
        Sentence(f"{key}:why", f"Your reason: {_ended(line.declined_why)}", "a plan line", line.text, by)
    )
    if line.offer_again_on:
        again = f"We ask again on {long_day(line.offer_again_on)}."
        sentences.append(Sentence(f"{key}:again", again, "a plan line", line.text, by))
    label = Sentence(key, f"{line.text.rstrip('.')}: declined today.", "a plan line", line.text, by)
    return Line(label, tuple(sentences), Mark.DECLINED)


def _dated(line: PlanLine) -> Dated:
    assert line.due_on is not None
    text = line.for_owner or line.text
    if line.kind == PlanLine.Kind.CALL and line.answerable:
        text = f"{line.answerable.printed_name} calls you: {text}"
    return Dated(line.due_on, Sentence(f"plan:{line.pk}", text.rstrip("."), "a plan line", line.text))
