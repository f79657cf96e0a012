"""All tests of a patient, the newest first, and each measured value over time as a table and a picture."""

from collections import defaultdict
from dataclasses import dataclass

from django.utils import timezone

from clinic.care.days import on_day
from clinic.care.models import TestResult
from clinic.care.result_rows import TestRow, TestRows
from clinic.patients.curve import Curve, Point, curve
from clinic.patients.models import Patient

FEWEST = 2  # a single value has no course


@dataclass(frozen=True)
class SeriesRow:
    when: str
    value: str
    interval: str
    meaning: str


@dataclass(frozen=True)
class Series:
    """One analyte in one unit, the newest first; another unit is another series, for nothing is converted.

    `note`: the intervals differ, or a value was beyond the analyser's range."""

    title: str
    unit: str
    rows: tuple[SeriesRow, ...]
    picture: Curve | None
    note: str


@dataclass(frozen=True)
class ResultsPage:
    awaited: tuple[TestRow, ...]
    tests: tuple[TestRow, ...]
    series: tuple[Series, ...]


def results_page(patient: Patient) -> ResultsPage:
    """Five queries, whatever the number of tests."""
    rows = TestRows(patient.pk)
    every = [rows.row(each) for each in reversed(rows.tests)]
    results = [result for test in rows.tests for result in rows.results[test.pk]]
    return ResultsPage(
        awaited=tuple(each for each in every if each.pending),
        tests=tuple(each for each in every if not each.pending),
        series=series_of(results),
    )


def series_of(results: list[TestResult]) -> tuple[Series, ...]:
    """Of everything that was measured as a number at least twice, by analyte and unit."""
    dealt: dict[tuple[str, str], list[TestResult]] = defaultdict(list)
    for each in results:
        if each.number is not None and each.analyte and each.struck_at is None:
            dealt[each.analyte.casefold(), each.unit.casefold()].append(each)
    return tuple(_series(rows) for _, rows in sorted(dealt.items()) if len(rows) >= FEWEST)


def _series(results: list[TestResult]) -> Series:
    results.sort(key=lambda each: (each.resulted_at, each.pk))
    first = results[-1]
    points = [
        Point(timezone.localtime(each.resulted_at).date(), float(each.number))
        for each in results
        if each.number is not None
    ]
    return Series(
        title=first.analyte,
        unit=first.unit,
        rows=tuple(_row(each) for each in reversed(results)),
        picture=curve(points, what=first.analyte, unit=first.unit or "units", usual=_usual(results)),
        note=_note(results),
    )


def _usual(results: list[TestResult]) -> tuple[float | None, float | None]:
    """The laboratory's interval, where it was the same each time."""
    ends = {(each.low, each.high) for each in results}
    low, high = ends.pop() if len(ends) == 1 else (None, None)
    return (None if low is None else float(low), None if high is None else float(high))


def _row(each: TestResult) -> SeriesRow:
    when = on_day(timezone.localtime(each.resulted_at).date())
    return SeriesRow(when, f"{each.value} {each.unit}".strip(), each.interval, each.meaning)


def _note(results: list[TestResult]) -> str:
    notes = []
    if len({each.interval for each in results}) > 1:
        notes.append("The laboratory’s interval is not the same each time: another method may be behind it.")
    if any(each.relation for each in results):
        notes.append("A value with < or > is drawn at the end of the analyser’s range.")
    return " ".join(notes)
