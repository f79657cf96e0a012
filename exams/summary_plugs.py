"""What the exam adds to a summary for a colleague: what was not normal when it was last looked at; lumps."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from clinic.letters.document import Block
from clinic.letters.wording import ended, long_day
from clinic.patients.models import Patient
from clinic.platform.registries import summary_parts
from clinic.summaries.blocks import lines, paragraph
from exams.lump_plugs import LumpRow, lump_row
from exams.lump_rows import lumps_of
from exams.models import Exam, Finding
from exams.pages import earlier_words
from exams.queries import Earlier, earlier, exams_of

LOOKED_BACK = 20  # exams among which the last full walk is looked for


class FindingsInSummary:
    """Of the newest signed exam and, where that looked at a part only, of the full walk before it."""

    name, order, title = "findings", 30, "Last exam"

    def blocks(self, patient: Patient, *, today: date) -> tuple[Block, ...]:
        newest, *before = _last(patient) or (None,)
        if newest is None:
            return ()
        first = _of_one(newest, nothing="Nothing abnormal was recorded.")
        more = (_of_one(told, nothing="Nothing else abnormal was recorded.") for told in before)
        return (*first, *(block for blocks in more for block in blocks))


def _last(patient: Patient) -> tuple[Earlier, ...]:
    signed = exams_of(patient, limit=LOOKED_BACK)
    if not signed:
        return ()
    newest = signed[0]
    walked = next((each for each in signed[1:] if each.kind == Exam.Kind.FULL), None)
    if newest.kind == Exam.Kind.FULL or walked is None:
        return (earlier(newest),)
    return (earlier(newest), earlier(walked, unless=newest))


def _of_one(told: Earlier, *, nothing: str) -> Iterator[Block]:
    kind = told.exam.get_kind_display()
    by = told.exam.record.signed_name
    yield paragraph(f"{long_day(told.on)}, {kind}, signed by {by}.")
    found = [row for row in _ordered(told) if _abnormal(row)]
    if not found:
        yield paragraph(nothing)
    yield from lines((f"{_where(told, row)}:", (f"{earlier_words(told, row)}.",)) for row in found)
    unseen = [_where(told, row) for row in _ordered(told) if row.status == Finding.Status.NOT_EXAMINED]
    if unseen:
        yield paragraph(f"Not examined that day: {', '.join(unseen)}.")


def _ordered(told: Earlier) -> list[Finding]:
    order = {line.key: number for number, line in enumerate(told.lines)}
    known = [row for row in told.findings if row.line in told.lines]
    return sorted(known, key=lambda row: order.get(row.line, 0))


def _abnormal(row: Finding) -> bool:
    measured = row.status == Finding.Status.MEASURED
    return row.status == Finding.Status.ABNORMAL or row.in_part or (measured and bool(row.findings))


def _where(told: Earlier, row: Finding) -> str:
    line = told.lines[row.line]
    return f"{line.name}, {line.side_words}" if line.side_words else line.name


class LumpsInSummary:
    """Every lump that is still there: where, its newest size, how it grew, what a sample showed."""

    name, order, title = "lumps", 40, "Lumps"

    def blocks(self, patient: Patient, *, today: date) -> tuple[Block, ...]:
        rows = (lump_row(row) for row in lumps_of(patient))
        return lines(_lump(row) for row in rows if not row.ended)


def _lump(row: LumpRow) -> tuple[str, tuple[str, ...]]:
    looks = row.sizes[0].looks if row.sizes else ""
    sizes = f"{row.now}; {looks}." if looks else f"{row.now}."
    before = "; ".join(f"{each.when}: {each.size}" for each in row.sizes[1:4])
    samples = tuple(
        f"{sample.words}: {'; '.join(each.words for each in sample.results) or 'no result yet'}."
        for sample in row.samples
    )
    return (
        f"Lump {row.number}, {row.place}:",
        (sizes, f"Before: {before}." if before else "", ended(row.grown), *samples),
    )


def register() -> None:
    """Called once, when the app is ready."""
    summary_parts.add(FindingsInSummary())
    summary_parts.add(LumpsInSummary())
