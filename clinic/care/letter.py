"""What care says in a letter: medicines word for word, tests, what was declined, who does what by when."""

from dataclasses import dataclass
from datetime import date

from clinic.care.models import Medicine, PlanLine, Problem, Test
from clinic.letters.document import Dated, Line, Mark, Part, Point, Section, Sentence, Text, Walk
from clinic.letters.wording import long_day
from clinic.visits.models import Record

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
        tests = list(record.tests.prefetch_related("results"))
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
        problems = {each.pk: each for each in touched if each}
        sections = (_medicines(medicines), _tests(tests), _declined(lines))
        return Part(
            headline=headline,
            points=tuple(_point(each, lines, medicines) for each in problems.values()),
            sections=tuple(section for section in sections if section.blocks),
            next_things=tuple(_dated(line) for line in lines if line.due_on and line.standing != "declined"),
        )


def _ended(text: str) -> str:
    text = text.strip()
    return text if text.endswith((".", "!", "?")) else f"{text}."


def _point(problem: Problem, lines: list[PlanLine], medicines: list[Medicine]) -> Point:
    own = [line for line in lines if line.problem_id == problem.pk and line.standing != "declined"]
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
                f"point:{problem.pk}:by", f"By {long_day(first_line.due_on)}.", "a plan line", first_line.text
            )
    urgency = problem.urgency or ("T" if given or any(line.kind in URGENT_KINDS for line in own) else "R")
    what = Sentence(f"point:{problem.pk}", _ended(problem.title), "a problem", problem.title)
    return Point(what=what, urgency=urgency, do=do, by=by)


def _medicines(medicines: list[Medicine]) -> Section:
    blocks = tuple(Text(sentences=_medicine(each)) for each in medicines)
    return Section("medicine", "Medicine", 20, blocks)


def _medicine(each: Medicine) -> tuple[Sentence, ...]:
    key, by = f"medicine:{each.pk}", each.prescriber.printed_name
    contents = f"{each.name} ({', '.join(each.ingredients)}, {each.strength})"
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


def _tests(tests: list[Test]) -> Section:
    walk = Walk(tuple(_test(each) for each in tests))
    return Section("tests", "Tests", 80, (walk,) if tests else ())


def _test(each: Test) -> Line:
    key = f"test:{each.pk}"
    results = [result for result in each.results.all() if result.struck_at is None]
    if not results:
        label = Sentence(key, f"{each.title}: result pending.", "the test", each.title)
        call = Sentence(f"{key}:hear", "If you hear nothing from us, please call.", "the test", each.title)
        return Line(label, (call,), Mark.PENDING)
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


def _declined(lines: list[PlanLine]) -> Section:
    declined = [line for line in lines if line.standing == PlanLine.Standing.DECLINED]
    walk = Walk(tuple(_decline(line) for line in declined))
    return Section("declined", "Not done", 85, (walk,) if declined else ())


def _decline(line: PlanLine) -> Line:
    """Neutral: what was advised, why, who explained which risk, and when it is offered again."""
    key = f"declined:{line.pk}"
    by = line.explained_by.printed_name if line.explained_by else ""
    sentences = [Sentence(f"{key}:advised", "We advised it.", "a plan line", line.text, by)]
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
    label = Sentence(
        key, f"{line.for_owner.rstrip('.') or line.text}: declined today.", "a plan line", line.text, by
    )
    return Line(label, tuple(sentences), Mark.DECLINED)


def _dated(line: PlanLine) -> Dated:
    assert line.due_on is not None
    text = line.for_owner or line.text
    if line.kind == PlanLine.Kind.CALL and line.answerable:
        text = f"{line.answerable.printed_name} calls you: {text}"
    return Dated(line.due_on, Sentence(f"plan:{line.pk}", text.rstrip("."), "a plan line", line.text))
