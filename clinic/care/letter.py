"""What care says in a letter: medicines word for word, tests, what was declined, who does what by when."""

from dataclasses import dataclass, replace
from datetime import date

from django.utils import timezone

from clinic.care.catalogue import known_kinds
from clinic.care.coming import coming, owner_words, who_calls
from clinic.care.guards import Kinds
from clinic.care.letter_of_tests import day_of_telling, is_to_be_told, standing_results, tests_section
from clinic.care.models import Assessment, Medicine, MedicineStop, PlanLine, Problem, Test
from clinic.care.patient_case import medicines_before
from clinic.care.routes import Route
from clinic.letters.composition import has_died, with_sources
from clinic.letters.document import Line, Mark, Part, Point, Section, Sentence, Text, Walk
from clinic.letters.texts import LETTERS, SOURCE, Texts
from clinic.letters.wording import capital, ended, long_day, near_day, titled
from clinic.patients.models import ConditionCode, Patient
from clinic.platform.asked import once
from clinic.visits.models import Record

OPEN = frozenset({"advised", "consented", "booked"})
IN_HEADLINE = 2
URGENT_KINDS = frozenset({"medicine", "test", "procedure", "referral"})


@dataclass(frozen=True)
class CareInLetter:
    name: str = "care"
    order: int = 10

    def part(self, record: Record, *, language: str, today: date) -> Part:
        """Problems of this record in short, then the sections that follow from them."""
        w = LETTERS(language)
        lines, medicines, assessments, tests = _rows(record)
        tested = {each.plan_line_id for each in tests}
        lines = [line for line in lines if line.pk not in tested]
        said = in_headline(assessments)
        headline = None
        if said:
            headline = Sentence(
                key="headline",
                text=w.own(" ".join(ended(each.for_owner) for each in said)),
                origin="assessment",
                recorded="; ".join(f"{each.problem.title}: {each.text}" for each in said),
                by=said[0].by.printed_name,
            )
        touched: list[Problem | None] = [each.problem for each in assessments]
        touched += [each.problem for each in medicines] + [each.problem for each in lines]
        touched += [each.plan_line.problem for each in tests if each.plan_line]
        problems = {each.pk: each for each in touched if each}
        # what stops with a life, or would have gone on, is not written to somebody whose animal died
        ongoing, stops = ([], []) if has_died(record) else medicines_before(record)
        sections = (
            _medicines(medicines, ongoing, stops, record.visit.patient.name, w),
            _to_do(lines, w),
            tests_section(tests, w),
            _declined(lines, w),
        )
        return Part(
            headline=headline,
            points=tuple(
                point
                for each in problems.values()
                if (point := _point(each, lines, medicines, tests, w)).do
                or not (_is_over(each, record) or each.pk in {one.problem_id for one in said})
            ),
            call_now=low_sugar(record.visit.patient, [*medicines, *ongoing], w),
            looks=any(not _is_over(each, record) for each in problems.values()),
            bare_titles={
                f"point:{each.pk}": each.lines
                for each in problems.values()
                if each.lines and each.pk not in {one.problem_id for one in assessments}
            },
            sections=tuple(section for section in sections if section.blocks),
            next_things=coming(record, (line for line in lines if line.due_on and line.standing in OPEN), w)
            + tuple(day_of_telling(each, w) for each in tests if is_to_be_told(each)),
        )


@once
def _rows(record: Record) -> tuple[list[PlanLine], list[Medicine], list[Assessment], list[Test]]:
    tests = record.tests.select_related("plan_line__answerable", "plan_line__problem")
    return (
        list(record.plan_lines.select_related("problem", "answerable", "explained_by")),
        list(record.medicines.select_related("problem", "prescriber")),
        list(record.assessments.select_related("problem", "by")),
        list(tests.prefetch_related("results__read_by")),
    )


def low_sugar(pet: Patient, medicines: list[Medicine], w: Texts) -> tuple[Sentence, ...]:
    """What too much insulin looks like at home, where it is among the `medicines` in use, or the condition is
    recorded (common practice)."""
    named = [each.name for each in medicines if "insulin" in " ".join((each.name, *each.ingredients)).lower()]
    if not named and pet.conditions.filter(code=ConditionCode.INSULIN_DIABETES, until=None).exists():
        named = [str(ConditionCode.INSULIN_DIABETES.label)]
    if not named:
        return ()
    return (w.sentence("call-now:low_sugar", "call.now.low_sugar", "insulin", named[0], pet=pet.name),)


def _is_over(problem: Problem, record: Record) -> bool:
    """Closed at this visit, or before."""
    return problem.closed_at is not None and problem.closed_at <= (record.signed_at or timezone.now())


def in_headline(assessments: list[Assessment]) -> list[Assessment]:
    """Those whose words for the owner say in short how things stand: the first two."""
    return [each for each in assessments if each.for_owner][:IN_HEADLINE]


def _point(
    problem: Problem, lines: list[PlanLine], medicines: list[Medicine], tests: list[Test], w: Texts
) -> Point:
    own = [line for line in lines if line.problem_id == problem.pk and line.standing in OPEN]
    given = [
        medicine for medicine in medicines if medicine.problem_id == problem.pk and medicine.how != "given"
    ]
    key = f"point:{problem.pk}"
    do = by = None
    if given:
        first = given[0]
        said = {"name": w.own(first.name), "times": w.own(first.times)}
        verb = "use" if first.route == Route.SKIN else "give"
        text = f"point.{verb}_from" if first.first_dose else f"point.{verb}"
        do = w.sentence(f"{key}:do", text, "a medicine", first.directions, **said)
        if first.first_dose:
            when = w.own(first.first_dose)
            by = w.sentence(f"{key}:by", "point.from", "a medicine", first.directions, first=when)
    elif own:
        line = own[0]
        words = w.own(ended(owner_words(line)))
        text = "plan.calls" if who_calls(line) else "point.words"
        do = w.sentence(f"{key}:do", text, "the plan", line.text, words=words, **who_calls(line))
        if line.due_on:
            day = near_day(line.due_on, w)
            by = w.sentence(f"{key}:by", "point.by", "the plan", line.text, day=day)
    elif awaited := _awaited(problem, tests):
        called = day_of_telling(awaited, w)
        do = replace(called.what, key=f"{key}:do", text=ended(called.what.text))
        by = w.sentence(f"{key}:by", "point.by", "the test", awaited.title, day=near_day(called.on, w))
    urgency = problem.urgency or ("T" if given or any(line.kind in URGENT_KINDS for line in own) else "R")
    what = Sentence(key, w.own(ended(problem.title)), "a problem", problem.title)
    return Point(what=what, urgency=urgency, do=do, by=by)


def _awaited(problem: Problem, tests: list[Test]) -> Test | None:
    """The test that somebody tells about first."""
    days = [
        (each.plan_line.due_on, number)
        for number, each in enumerate(tests)
        if each.plan_line and each.plan_line.problem_id == problem.pk and each.plan_line.due_on
        if not standing_results(each)
    ]
    return tests[min(days)[1]] if days else None


def medicine_section(record: Record, language: str = SOURCE) -> Section:
    """What the letter says of medicines, for a sheet that is printed before it. Four queries."""
    medicines = list(record.medicines.select_related("problem", "prescriber"))
    before, pet = medicines_before(record), record.visit.patient.name
    signed = _medicines(medicines, *before, pet, LETTERS(SOURCE))
    if language == SOURCE:
        return signed
    return with_sources(_medicines(medicines, *before, pet, LETTERS(language)), signed)


def _medicines(
    medicines: list[Medicine], ongoing: list[Medicine], stops: list[MedicineStop], pet: str, w: Texts
) -> Section:
    """What was directed today, word for word; what was stopped; what goes on as it was directed before."""
    kinds = known_kinds() if medicines or ongoing else Kinds({})
    blocks = tuple(Text((*_medicine(each, w), *_painkiller(each, kinds, pet, w))) for each in medicines)
    anew = {each.name for each in medicines}
    blocks += tuple(Text(sentences=(_stopped(each, each.medicine.name in anew, w),)) for each in stops)
    blocks += tuple(Text((_still(each, w), *_painkiller(each, kinds, pet, w))) for each in ongoing)
    return Section("medicine", w("medicine.title"), 20, blocks)


def _painkiller(each: Medicine, kinds: Kinds, pet: str, w: Texts) -> tuple[Sentence, ...]:
    """When an anti-inflammatory given at home is no longer given, and that no other goes with it."""
    is_nsaid = any("nsaid" in kinds.find(one) for one in each.ingredients)
    if not is_nsaid or each.how == Medicine.How.GIVEN or each.route != Route.MOUTH:
        return ()
    source, by = "FDA: what owners should know about NSAIDs", each.prescriber.printed_name
    said = {"pet": pet, "name": w.own(each.name)}
    return (w.sentence(f"medicine:{each.pk}:nsaid", "medicine.nsaid", source, "", by, **said),)


def _stopped(each: MedicineStop, anew: bool, w: Texts) -> Sentence:
    """`anew`: the same medicine goes on, as directed above; nobody is told that it stops."""
    values = {"name": w.own(each.medicine.name)}
    if anew:
        values["day"] = long_day(timezone.localtime(each.medicine.at).date(), w)
    else:
        values |= {"day": long_day(each.on, w), "why": w.own(ended(each.why[:1].upper() + each.why[1:]))}
    key, by = f"medicine:{each.medicine_id}:stop", each.by.printed_name
    text = "medicine.replaced" if anew else "medicine.stopped"
    return w.sentence(key, text, "the stop", each.why, by, strong=True, **values)


def _still(each: Medicine, w: Texts) -> Sentence:
    values = {
        "name": w.own(each.name),
        "day": long_day(timezone.localtime(each.at).date(), w),
        "directions": w.own(ended(each.directions)),
    }
    key, by = f"medicine:{each.pk}:still", each.prescriber.printed_name
    return w.sentence(key, "medicine.still", "an earlier prescription", each.directions, by, **values)


def _medicine(each: Medicine, w: Texts) -> tuple[Sentence, ...]:
    """Word for word as directed. In another language, what comes from closed lists is said in it as well."""
    key, by, origin = f"medicine:{each.pk}", each.prescriber.printed_name, "the prescription"
    inside = ", ".join(part for part in (" and ".join(each.ingredients), each.strength) if part)
    contents = f"{each.name} ({inside})" if inside else each.name
    given = "medicine.given" if each.how == Medicine.How.GIVEN else "medicine.name"
    directions = w.own(ended(capital(each.directions)))
    reason = w.own(each.reason.rstrip("."))
    return (
        w.sentence(f"{key}:name", given, origin, contents, by, strong=True, contents=w.own(contents)),
        *_from_lists(each, key, w),
        w.sentence(
            f"{key}:directions", "medicine.directions", origin, each.directions, by, strong=True,
            directions=directions,
        ),
        w.sentence(f"{key}:for", "medicine.for", origin, each.reason, by, reason=reason, by=titled(by, w)),
    )  # fmt: skip


_ROUTES = {route.value: route.name.lower() for route in Route}


def _from_lists(each: Medicine, key: str, w: Texts) -> tuple[Sentence, ...]:
    """Where it goes, and the last day: the directions themselves stay in the words that were signed."""
    if w.english is None or each.how == Medicine.How.GIVEN:
        return ()
    said, by = [], each.prescriber.printed_name
    route = _ROUTES.get(each.route, "")
    place = f"place.{route}_{each.side}" if route and each.side else f"place.{route}"
    if route and place in w:
        where = {"place": w(place)}
        said.append(w.sentence(f"{key}:where", "medicine.where", "the prescription", each.route, by, **where))
    if each.last_on:
        day = {"day": long_day(each.last_on, w)}
        said.append(
            w.sentence(f"{key}:last", "medicine.last_on", "the prescription", each.last_dose, by, **day)
        )
    return tuple(said)


def _to_do(lines: list[PlanLine], w: Texts) -> Section:
    """What has no day of its own: care at home, what to watch, what is still to be arranged."""
    undated = [line for line in lines if line.standing in OPEN and line.due_on is None]
    spoken = tuple(
        Text((Sentence(f"to-do:{line.pk}", w.own(ended(owner_words(line))), "the plan", line.text),))
        for line in undated
    )
    return Section("to-do", w("todo.title"), 25, spoken)


def _declined(lines: list[PlanLine], w: Texts) -> Section:
    declined = [line for line in lines if line.standing == PlanLine.Standing.DECLINED]
    walk = Walk(tuple(_decline(line, w) for line in declined))
    return Section("declined", w("declined.title"), 85, (walk,) if declined else ())


def _decline(line: PlanLine, w: Texts) -> Line:
    """Neutral: what was advised, why, who explained which risk, and when it is offered again."""
    key = f"declined:{line.pk}"
    by = line.explained_by.full_name if line.explained_by else ""
    told: list[tuple[str, str, dict[str, str]]] = []
    if line.for_owner:
        told.append(("shows", "words", {"words": w.own(ended(line.for_owner))}))
    told.append(("advised", "advised", {}))
    if line.risks_explained:
        told.append(("risk", "risk", {"by": by, "risk": w.own(ended(line.risks_explained))}))
    told.append(("why", "why", {"why": w.own(ended(line.declined_why))}))
    if line.alternative:
        told.append(("instead", "instead", {"what": w.own(ended(line.alternative))}))
    if line.come_back:
        told.append(("back", "back", {"when": w.own(ended(line.come_back))}))
    if line.offer_again_on:
        told.append(("again", "again", {"day": long_day(line.offer_again_on, w)}))
    what = w.own(line.text.rstrip("."))
    return Line(
        w.sentence(key, "declined.label", "the plan", line.text, by, what=what),
        tuple(
            w.sentence(f"{key}:{name}", f"declined.{text}", "the plan", line.text, by, **values)
            for name, text, values in told
        ),
        Mark.DECLINED,
    )
