"""What the exam says in a letter: the walk in some ten lines, what is urgent, the lumps with their map."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from django.utils import timezone

from clinic.care.letter import in_headline
from clinic.care.letter_of_tests import USUAL, standing_results
from clinic.care.models import Problem, Test
from clinic.care.patient_case import medicines_before
from clinic.letters.composition import has_died
from clinic.letters.document import Line as LetterLine
from clinic.letters.document import Mark, Part, Section, Walk
from clinic.letters.texts import Texts
from clinic.patients.models import Measurement
from clinic.platform.asked import once
from clinic.platform.measures import units_for_owners
from clinic.visits.models import Record, Visit
from exams.changes import Change, changes
from exams.credit import entered_for, people_of
from exams.digest import FLAGGED
from exams.letter_findings import Assessed
from exams.letter_short import InShort
from exams.letter_walk import WalkInWords
from exams.lump_letter import lump_section
from exams.owner_texts import of_files, texts_of
from exams.photo_letter import photo_section
from exams.queries import Earlier, Standing, last_exams, names_of, standing_of
from exams.rows import answer_of
from exams.teeth_letter import teeth_section
from exams.versions import composed

IDEAL_BCS = {"dog": (4, 5), "cat": (5,)}  # of nine; WSAVA, Body Condition Score charts


@dataclass(frozen=True)
class ExamInLetter:
    name: str = "exam"
    order: int = 30

    def part(self, record: Record, *, language: str, today: date) -> Part:
        """From what stands in the exam; nothing at all when nobody examined."""
        standing = standing_of(record, today=today)
        t = texts_of(standing.walk, language)
        pictures = photo_section(record, language)
        if standing.exam.pk is None or not standing.state.answers:
            nothing = _nothing_examined(record, t)
            return replace(nothing, sections=(*nothing.sections, *([pictures] if pictures else ())))
        told = WalkInWords(
            standing,
            t,
            pet=record.visit.patient.name,
            names=names_of(people_of(standing.state.answers.values())),
            assessed=_assessments(record),
            since=_since(standing, last_exams(record)),
            temperature=units_for_owners().temperature,
            advises=not has_died(record),
        )
        short = InShort(told)
        lumps, teeth = lump_section(record, language), teeth_section(standing, language)
        return Part(
            sections=tuple(s for s in (told.section(), teeth, lumps, pictures) if s),
            points=short.points(),
            headline=short.headline(lambda: _is_well(standing, record)),
            call_now=(*short.calls("E"), *short.watch()),
            call_within_a_day=short.calls("T"),
            answers=short.answers(record.visit.owners_words),
            looks=any(each.urgency in ("E", "T", "R") for each in told.found),
            assisted=tuple(
                t("walk.wrote_down", who=who, whose=whose)
                for who, whose in entered_for(standing.state.answers.values(), told.names)
            ),
        )


@dataclass(frozen=True)
class ExamTexts:
    """Of the walk that a new exam begins with."""

    name: str = "exams"
    order: int = 30

    def texts(self, language: str) -> Texts:
        return of_files(composed(), language)


NOT_EXAMINED_AT = {
    Visit.Kind.TELEPHONE: "walk.telephone",
    Visit.Kind.TECHNICIAN: "walk.technician",
}


def _nothing_examined(record: Record, t: Texts) -> Part:
    """Nobody examined: a visit that is no examination says so in one sentence."""
    key = NOT_EXAMINED_AT.get(Visit.Kind(record.visit.kind))
    if key is None:
        return Part()
    kind, pet = record.visit.get_kind_display(), record.visit.patient.name
    label = t.sentence("walk:nothing", key, "the kind of visit", kind, strong=True, pet=pet)
    line = LetterLine(label, (), Mark.UNSEEN)
    return Part(sections=(Section("walk", t("walk.title"), 30, (Walk((line,)),)),))


def _is_well(standing: Standing, record: Record) -> bool:
    """Whether a visit on whose walk nothing was found speaks of good health in everything else too."""
    until = record.signed_at or timezone.now()
    problems = Problem.objects.filter(patient_id=record.visit.patient_id, opened_at__lte=until)
    return not (
        record.urgency
        or standing.heads_ups
        or any(_is_unusual(each, standing.lines.animal.species) for each in standing.measured)
        or problems.exclude(closed_at__lte=until).exists()
        or record.medicines.exists()
        or medicines_before(record)[0]
        or any(_is_open(each) for each in record.tests.prefetch_related("results"))
    )


def _is_open(test: Test) -> bool:
    """Without a result, or with one that is not as usual."""
    results = standing_results(test)
    return not results or any(each.meaning not in USUAL for each in results)


def _is_unusual(each: Measurement, species: str) -> bool:
    """Flagged; or a body condition that is not ideal."""
    scored = each.kind == Measurement.Kind.BCS and each.value is not None
    return each.flag in FLAGGED or (scored and each.value not in IDEAL_BCS.get(species, ()))


def _since(standing: Standing, earlier: tuple[Earlier, ...]) -> tuple[Change, ...]:
    """What became of it since the newest signed exam; nothing where there was none."""
    if not earlier:
        return ()
    before = {row.line: answer_of(row) for told in reversed(earlier) for row in told.findings}
    return changes(before, standing.state, standing.walk, standing.lines)


@once
def _assessments(record: Record) -> list[Assessed]:
    """What clinicians said of problems that speak of lines of the walk: lines, text, who."""
    rows = list(record.assessments.select_related("problem", "by").order_by("at", "pk"))
    signs = record.signed_by_id or record.visit.clinician_id
    # what stands in short is not said again, unless somebody else said it
    told = {r.pk for r in in_headline(rows) if r.by_id == signs}
    return [
        Assessed(r.problem.lines, "" if r.pk in told else r.for_owner or r.text, r.by.full_name)
        for r in rows
        if r.problem.lines
    ]
