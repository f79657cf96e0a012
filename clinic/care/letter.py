"""What care says in a letter: medicines word for word, tests, what was declined, who does what by when."""

from dataclasses import dataclass
from datetime import date

from django.utils import timezone

from clinic.care.letter_of_tests import day_of_telling, tests_section
from clinic.care.models import Medicine, MedicineStop, PlanLine, Problem
from clinic.care.patient_case import medicines_before
from clinic.letters.document import Dated, Line, Mark, Part, Point, Section, Sentence, Text, Walk
from clinic.letters.wording import ended, long_day, near_day
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
                "results__read_by"
            )
        )
        tested = {each.plan_line_id for each in tests}
        lines = [line for line in lines if line.pk not in tested]
        said = [each for each in assessments if each.for_owner]
        headline = None
        if said:
            headline = Sentence(
                key="headline",
                text=" ".join(ended(each.for_owner) for each in said[:2]),
                origin="assessment",
                recorded="; ".join(f"{each.problem.title}: {each.text}" for each in said[:2]),
                by=said[0].by.printed_name,
            )
        touched: list[Problem | None] = [each.problem for each in assessments]
        touched += [each.problem for each in medicines] + [each.problem for each in lines]
        touched += [each.plan_line.problem for each in tests if each.plan_line]
        problems = {each.pk: each for each in touched if each}
        sections = (
            _medicines(medicines, *medicines_before(record)),
            _to_do(lines),
            tests_section(tests),
            _declined(lines),
        )
        return Part(
            headline=headline,
            points=tuple(_point(each, lines, medicines) for each in problems.values()),
            sections=tuple(section for section in sections if section.blocks),
            next_things=tuple(_dated(line) for line in lines if line.due_on and line.standing in OPEN)
            + tuple(day_of_telling(each) for each in tests if each.plan_line and each.plan_line.due_on),
        )


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
            ended(first_line.for_owner or first_line.text),
            "a plan line",
            first_line.text,
        )
        if first_line.due_on:
            by = Sentence(
                f"point:{problem.pk}:by",
                f"By {near_day(first_line.due_on)}.",
                "a plan line",
                first_line.text,
            )
    urgency = problem.urgency or ("T" if given or any(line.kind in URGENT_KINDS for line in own) else "R")
    what = Sentence(f"point:{problem.pk}", ended(problem.title), "a problem", problem.title)
    return Point(what=what, urgency=urgency, do=do, by=by)


def medicine_section(record: Record) -> Section:
    """What the letter says of medicines, for a sheet that is printed before it. Three queries."""
    medicines = list(record.medicines.select_related("problem", "prescriber"))
    return _medicines(medicines, *medicines_before(record))


def _medicines(medicines: list[Medicine], ongoing: list[Medicine], stops: list[MedicineStop]) -> Section:
    """What was directed today, word for word; what was stopped; what goes on as it was directed before."""
    blocks = tuple(Text(sentences=_medicine(each)) for each in medicines)
    anew = {each.name for each in medicines}
    blocks += tuple(Text(sentences=(_stopped(each, each.medicine.name in anew),)) for each in stops)
    blocks += tuple(Text(sentences=(_still(each),)) for each in ongoing)
    return Section("medicine", "Medicine", 20, blocks)


def _stopped(each: MedicineStop, anew: bool) -> Sentence:
    """`anew`: the same medicine goes on, as directed above; nobody is told that it stops."""
    if anew:
        since = long_day(timezone.localtime(each.medicine.at).date())
        text = f"{each.medicine.name}: these directions take the place of those of {since}."
    else:
        why = ended(each.why[:1].upper() + each.why[1:])
        text = f"{each.medicine.name}: stopped from {long_day(each.on)} on. {why}"
    key = f"medicine:{each.medicine_id}:stop"
    return Sentence(key, text, "the stop", each.why, each.by.printed_name, strong=True)


def _still(each: Medicine) -> Sentence:
    since = long_day(timezone.localtime(each.at).date())
    text = f"{each.name}: still in use, as directed on {since}. {ended(each.directions)}"
    key = f"medicine:{each.pk}:still"
    return Sentence(key, text, "an earlier prescription", each.directions, each.prescriber.printed_name)


def _medicine(each: Medicine) -> tuple[Sentence, ...]:
    key, by = f"medicine:{each.pk}", each.prescriber.printed_name
    inside = ", ".join(part for part in (" and ".join(each.ingredients), each.strength) if part)
    contents = f"{each.name} ({inside})" if inside else each.name
    given = "Given here today: " if each.how == Medicine.How.GIVEN else ""
    return (
        Sentence(f"{key}:name", f"{given}{contents}.", "the prescription", contents, by, strong=True),
        Sentence(
            f"{key}:directions", ended(each.directions), "the prescription", each.directions, by, strong=True
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
        Text((Sentence(f"to-do:{line.pk}", ended(line.for_owner or line.text), "a plan line", line.text),))
        for line in undated
    )
    return Section("to-do", "To do", 25, spoken)


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
        sentences.append(Sentence(f"{key}:shows", ended(line.for_owner), "a plan line", line.text, by))
    sentences.append(Sentence(f"{key}:advised", "We advised it.", "a plan line", line.text, by))
    if line.risks_explained:
        sentences.append(
            Sentence(
                f"{key}:risk",
                f"{by} explained the risk: {ended(line.risks_explained)}",
                "a plan line",
                line.text,
                by,
            )
        )
    sentences.append(
        Sentence(f"{key}:why", f"Your reason: {ended(line.declined_why)}", "a plan line", line.text, by)
    )
    if line.alternative:
        instead = f"Instead we agreed: {ended(line.alternative)}"
        sentences.append(Sentence(f"{key}:instead", instead, "a plan line", line.text, by))
    if line.come_back:
        back = f"Please come back: {ended(line.come_back)}"
        sentences.append(Sentence(f"{key}:back", back, "a plan line", line.text, by))
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
