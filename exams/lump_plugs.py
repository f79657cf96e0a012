"""Lumps in the visit and on the patient's page: what a signature waits for, and how each lump grew."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import Q
from django.urls import reverse

from clinic.care.models import Assessment, PlanLine, Test
from clinic.patients.curve import Curve, Point, curve
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.platform.registries import Missing
from clinic.visits.models import Record, Visit
from exams.lump_lines import SKIN_LINE
from exams.lump_pages import day_words, ended_words, size_of_words
from exams.lump_rows import TAKEN, day_of, known_of, lumps_before, lumps_of, place_of, same_method, size_of
from exams.lump_taps import growth_words
from exams.lump_today import GONE, MEASURED, MERGED, LumpToday, lumps_from_json
from exams.lumps import unsaid_without_result
from exams.models import Exam, Finding, Lump, LumpMeasure, LumpSample

MOST_TESTS = 20


class LumpsAnswered:
    """Every known lump has its word in a full walk, every new one its size, and no letter names what it is
    before a result does."""

    name, order = "lumps", 16

    def missing(self, record: Record, *, actor: Actor) -> list[Missing]:
        if record.visit.kind in (Visit.Kind.TELEPHONE, Visit.Kind.TECHNICIAN):
            return []
        exam = Exam.objects.filter(record=record).first()
        said = lumps_from_json(exam.lumps) if exam else {}
        url = f"{reverse('visit-exam', args=[record.visit_id])}#SKN"
        known = lumps_before(record)
        found = [*_unmeasured(said, url)]
        if record.visit.kind == Visit.Kind.FULL:
            found += _unanswered(known, said, record, url)
        if exam:
            found += _nowhere(exam, said, url)
        return [*found, *_named_too_soon(record, known, said)]


def _unmeasured(said: dict[str, LumpToday], url: str) -> Iterator[Missing]:
    for lump in said.values():
        if not lump.said:
            where = f", {lump.place.words}" if lump.place else ""
            yield Missing(f"lump-size:{lump.number}", f"Lump {lump.number}{where}, has no size yet.", url)


def _unanswered(known: list[Lump], said: dict[str, LumpToday], record: Record, url: str) -> Iterator[Missing]:
    for row in known:
        if str(row.key) not in said and not known_of(row, record).gone:
            where = f"Lump {row.number}, {place_of(row).words}"
            yield Missing(f"lump:{row.number}", f"{where}: measured, gone or not looked at?", url)


def _nowhere(exam: Exam, said: dict[str, LumpToday], url: str) -> Iterator[Missing]:
    """A lump that was ticked but never put on the map cannot be found again."""
    if any(lump.said == MEASURED for lump in said.values()):
        return
    rows = Finding.objects.filter(Q(line=SKIN_LINE) | Q(structure="GUM.mammary"), exam=exam)
    codes = {f["code"] for row in rows for f in row.findings if not f.get("from_lumps")}
    if codes & {"SKN-27", "GUM-01"}:
        words = "A lump is named that stands on no map: put it there, with its size."
        yield Missing("lump-nowhere", words, url, blocks=False)


def _named_too_soon(record: Record, known: list[Lump], said: dict[str, LumpToday]) -> Iterator[Missing]:
    """Looks and feel cannot tell what a lump is (common practice): only a recorded result may."""
    resulted = {str(row.key) for row in known if any(s.told for s in getattr(row, TAKEN))}
    here = [key for key, lump in said.items() if lump.said == MEASURED]
    if not here or all(key in resulted for key in here):
        return
    for words, url in _texts(record):
        named = unsaid_without_result(words, has_result=False)
        if named:
            sentence = f"The letter says “{named[0]}” of a lump without a result: looks and feel cannot tell."
            yield Missing("lump-named", sentence, url)
            return


def _texts(record: Record) -> Iterator[tuple[str, str]]:
    """What the letter would say of lumps in somebody's own words, and where it is put right."""
    plan, sign = (reverse(name, args=[record.visit_id]) for name in ("visit-plan", "visit-sign"))
    for row in Assessment.objects.filter(record=record).select_related("problem"):
        if _of_lumps(row.problem.lines, row.for_owner or row.text):
            yield row.for_owner or row.text, plan
    for line in PlanLine.objects.filter(record=record).select_related("problem"):
        words = line.for_owner or line.text
        if _of_lumps(line.problem.lines if line.problem else [], words):
            yield words, plan
    for sentence, words in record.corrections.values_list("sentence", "words"):
        if _of_lumps([sentence.removeprefix("walk:")], words):
            yield words, sign


def _of_lumps(lines: list[str], words: str) -> bool:
    places = any(line.startswith((SKIN_LINE, "GUM.mammary", "PER.anal-sacs", "lump:")) for line in lines)
    return places or any(word in words.lower() for word in ("lump", "mass", "growth", "tumo"))


# ---- On the patient's page


@dataclass(frozen=True)
class SizeRow:
    when: str
    size: str
    looks: str


@dataclass(frozen=True)
class ResultRow:
    id: int
    words: str
    by: str


@dataclass(frozen=True)
class SampleRow:
    id: uuid.UUID
    words: str
    results: tuple[ResultRow, ...]


@dataclass(frozen=True)
class LumpRow:
    number: int
    place: str
    now: str
    ended: bool
    grown: str
    picture: Curve | None
    sizes: tuple[SizeRow, ...]
    samples: tuple[SampleRow, ...]


class LumpPanel:
    """Every lump of the patient: how large, how fast it grew, what a sample showed."""

    name, order = "lumps", 31
    template, column, title = "exams/panel_lumps.html", "main", "Lumps"

    def context(self, patient: Patient, *, actor: Actor, today: date) -> dict[str, Any]:
        lumps = lumps_of(patient)
        rows = [lump_row(row) for row in lumps]
        waits = any(not s.told for row in lumps for s in row.samples.all())  # type: ignore[attr-defined]
        records = waits and actor.may(Right.OBSERVE)
        return {
            "rows": sorted(rows, key=lambda row: (row.ended, row.number)),
            "patient": patient.pk,
            "may": actor.may(Right.OBSERVE),
            "tests": _tests(patient) if records else [],
        }


def _tests(patient: Patient) -> list[tuple[int, str]]:
    found = Test.objects.filter(patient=patient).order_by("-ordered_at")[:MOST_TESTS]
    return [(test.pk, f"{test.title}, {test.ordered_at:%-d %b %Y}") for test in found]


def lump_row(row: Lump) -> LumpRow:
    """`row` comes from `lumps_of`."""
    measures = list(row.measures.all())
    measured = [m for m in measures if m.said == MEASURED]
    last = measures[-1] if measures else None
    ended = last if last and last.said in (GONE, MERGED) else None
    now = "never measured"
    if ended:
        into = f" (lump {row.merged_into.number})" if row.merged_into else ""
        now = f"{ended_words(row, ended)}{into}"
    elif measured:
        now = f"{size_of_words(measured[-1])} on {day_words(measured[-1])}"
    return LumpRow(
        number=row.number,
        place=place_of(row).words,
        now=now,
        ended=ended is not None,
        grown=_grown(row, measured),
        picture=_picture(row, measures),
        sizes=tuple(_size_row(m) for m in reversed(measures)),
        samples=tuple(_sample_row(s) for s in row.samples.all()),
    )


def _grown(row: Lump, measured: list[LumpMeasure]) -> str:
    """Since the measure before the last one."""
    if len(measured) < 2:
        return ""
    before, last = measured[-2:]
    days = (day_of(last.record) - day_of(before.record)).days
    return growth_words(size_of(before), size_of(last), days)


def _picture(row: Lump, measures: list[LumpMeasure]) -> Curve | None:
    rows = same_method(measures)
    points = [Point(day_of(m.record), m.length_mm) for m in rows if m.length_mm]
    return curve(points, what=f"Length of lump {row.number}", unit="mm")


def _size_row(row: LumpMeasure) -> SizeRow:
    said = size_of_words(row) if row.said == MEASURED else row.get_said_display()
    by = f"by {row.method}" if row.said == MEASURED and row.method else ""
    looks = [v for k, v in row.description.items() if k != "bothers" and v != "none"]
    return SizeRow(day_words(row), said, ", ".join(x for x in (by, *looks) if x))


def _sample_row(sample: LumpSample) -> SampleRow:
    told = sample.told  # type: ignore[attr-defined]  # prefetched
    results = tuple(
        ResultRow(r.pk, r.words, f"{r.entered_by.full_name}, {r.entered_at:%-d %b %Y}") for r in told
    )
    words = f"{sample.get_method_display()}, {day_words(sample)}"
    return SampleRow(sample.pk, f"{words[:1].upper()}{words[1:]}", results)


class ExportLumps:
    """Everything that was ever said of each lump, a row each; samples with what they showed."""

    name, order = "lumps", 31

    def rows(self, patient: Patient) -> list[dict[str, Any]]:
        return [each for row in lumps_of(patient) for each in (*_said_rows(row), *_sample_rows(row))]


def _said_rows(row: Lump) -> Iterator[dict[str, Any]]:
    for m in row.measures.all():
        yield {
            **_of(row, day_of(m.record)),
            "said": m.said,
            "size": size_of_words(m),
            "method": m.method,
            "looks": m.description,
            "words": m.words,
            "by": m.by.full_name,
        }


def _sample_rows(row: Lump) -> Iterator[dict[str, Any]]:
    for sample in row.samples.all():
        results = [r.words for r in sample.told]  # type: ignore[attr-defined]  # prefetched
        yield {
            **_of(row, day_of(sample.record)),
            "said": "sample",
            "method": sample.method,
            "words": "; ".join(results),
            "by": sample.by.full_name,
        }


def _of(row: Lump, on: date) -> dict[str, Any]:
    return {"on": on.isoformat(), "lump": row.number, "place": place_of(row).words}


class MoveLumps:
    """Lumps of a double get the next free numbers of the patient that stays."""

    name, order = "lumps", 30

    def merge(self, patient: Patient, *, into: Patient, actor: Actor, now: datetime) -> None:
        actor.require(Right.MERGE)
        numbers = Lump.objects.filter(patient=into).order_by("-number").values_list("number", flat=True)
        taken = numbers.first() or 0
        for step, lump in enumerate(Lump.objects.filter(patient=patient).select_for_update(), 1):
            lump.patient, lump.number = into, taken + step
            lump.save(update_fields=["patient", "number"])
