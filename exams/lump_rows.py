"""Between lumps as rows and the pure core: what earlier exams know of them, writing what this one says."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable
from datetime import date, datetime
from uuid import UUID

from django.db.models import Exists, Max, OuterRef, Prefetch, QuerySet
from django.utils import timezone

from clinic.patients.models import Patient
from clinic.platform.asked import once
from clinic.visits.models import Record
from exams.lump_places import Place
from exams.lump_today import GONE, GONE_HOW, MEASURED, MERGED, TARGET, Known, KnownLumps, LumpToday
from exams.lumps import Size
from exams.models import Lump, LumpMeasure, LumpResult, LumpSample
from exams.state import ExamState
from exams.taps import Operation

EARLIER = "earlier"
TAKEN = "taken"


def lumps_before(record: Record) -> list[Lump]:
    """Lumps that exams before this record's know of, by number, each with what those exams said of it
    (`earlier`, oldest first) and its samples with their results (`taken`). Four queries at most."""
    before = {"record__opened_at__lt": record.opened_at}
    measures = LumpMeasure.objects.filter(**before).select_related("record", "by")
    rows = Lump.objects.filter(
        Exists(LumpMeasure.objects.filter(lump=OuterRef("pk"), **before)),
        patient=record.visit.patient_id,
        withdrawn=False,
    )
    return list(
        rows.order_by("number").prefetch_related(
            Prefetch("measures", measures.order_by("record__opened_at"), EARLIER),
            Prefetch("samples", samples().filter(**before), TAKEN),
        )
    )


def samples() -> QuerySet[LumpSample]:
    """Samples with what they showed (`told`), struck results left out."""
    results = LumpResult.objects.filter(struck_at=None).select_related("entered_by")
    return (
        LumpSample.objects.select_related("by", "record")
        .prefetch_related(Prefetch("results", results, "told"))
        .order_by("at")
    )


def place_of(row: Lump) -> Place:
    return Place(row.drawing, row.x, row.y, row.region, row.side, row.detail, row.depth)


def size_of(row: LumpMeasure) -> Size:
    """Of a row that was measured. A size of one axis, as old rows may have it, is as wide as it is long."""
    assert row.length_mm is not None
    return Size(row.length_mm, row.width_mm or row.length_mm, row.height_mm or 0.0, row.method or "caliper")


def day_of(record: Record) -> date:
    return timezone.localdate(record.opened_at)


def known_of(row: Lump, record: Record) -> Known:
    """One of `lumps_before`, as the core asks of it."""
    earlier: list[LumpMeasure] = getattr(row, EARLIER)
    measured = [m for m in earlier if m.said == MEASURED]
    last = measured[-1] if measured else None
    return Known(
        number=row.number,
        place=place_of(row),
        days=(day_of(record) - row.first_seen).days,
        last=size_of(last) if last else None,
        last_days=(day_of(record) - day_of(last.record)).days if last else 0,
        sampled=bool(getattr(row, TAKEN)),
        gone=bool(earlier) and earlier[-1].said in (GONE, MERGED),
    )


def known_lumps(record: Record, *, held: bool = False) -> KnownLumps:
    """What a tap on a lump needs to know. held: no other exam numbers this patient's lumps
    meanwhile."""
    patient = record.visit.patient_id
    if held:
        Patient.objects.select_for_update(no_key=True).get(pk=patient)
    rows = lumps_before(record)
    last = Lump.objects.filter(patient=patient).aggregate(Max("number"))["number__max"] or 0
    return KnownLumps({str(row.key): known_of(row, record) for row in rows}, last, read=True)


def knowing(state: ExamState, op: Operation, record: Record) -> ExamState:
    """The state with the lumps of earlier exams, when the tap concerns one and they were not read yet."""
    if not op.target.startswith(TARGET) or state.known_lumps.read:
        return state
    return dataclasses.replace(state, known_lumps=known_lumps(record, held=True))


def save_lumps(before: ExamState, after: ExamState, record: Record, *, now: datetime) -> None:
    """Write what changed: the lump, what this exam says of it, its sample. Nothing changed: no query."""
    keys = {**before.lumps, **after.lumps}
    changed = [k for k in keys if before.lumps.get(k) != after.lumps.get(k)]
    if not changed:
        return
    found = Lump.objects.filter(key__in=changed, patient=record.visit.patient_id)
    rows = {str(row.key): row for row in found}
    for key in changed:
        told = after.lumps.get(key)
        row = rows.get(key) or (_new(key, told, record, now=now) if told else None)
        if row is not None:
            _keep(row, told, before.lumps.get(key), record, now=now)


def _new(key: str, told: LumpToday, record: Record, *, now: datetime) -> Lump:
    place = told.place
    assert place is not None, "a lump begins with its place"
    return Lump.objects.create(
        key=UUID(key),
        patient_id=record.visit.patient_id,
        number=told.number,
        first_seen=_first_seen(told, record),
        first_seen_words=told.first_words,
        by_id=int(told.person),
        made_at=now,
        **_at(place),
    )


def _at(place: Place) -> dict[str, object]:
    return {f.name: getattr(place, f.name) for f in dataclasses.fields(place)}


def _first_seen(told: LumpToday, record: Record) -> date:
    return date.fromisoformat(told.first_seen) if told.first_seen else day_of(record)


def _keep(
    row: Lump, told: LumpToday | None, before: LumpToday | None, record: Record, *, now: datetime
) -> None:
    """told None: the exam says nothing of it any more; one that was placed here only is withdrawn, a known
    one lies where it lay before."""
    LumpMeasure.objects.filter(lump=row, record=record).delete()
    LumpSample.objects.filter(lump=row, record=record).delete()
    if told is None:
        row.withdrawn = not row.measures.exists()
        told = LumpToday(row.number, place=before.moved_from if before else None)
    else:
        row.withdrawn = False
        if told.said:
            _measure(row, told, record, now=now)
        if told.sample:
            LumpSample.objects.create(
                lump=row, record=record, method=told.sample, by_id=int(told.person), at=now
            )
    if told.place:
        for name, value in _at(told.place).items():
            setattr(row, name, value)
    if told.new or told.first_seen:
        row.first_seen, row.first_seen_words = _first_seen(told, record), told.first_words
    row.gone_on = day_of(record) if told.said in (GONE, MERGED) else None
    row.gone_how = gone_words(told) if told.said == GONE else ""
    row.merged_into = Lump.objects.get(key=told.into) if told.said == MERGED else None
    row.save()


def _measure(row: Lump, told: LumpToday, record: Record, *, now: datetime) -> None:
    length, width, height = (*told.axes_mm, None, None, None)[:3]
    LumpMeasure.objects.create(
        lump=row,
        record=record,
        said=told.said,
        length_mm=length,
        width_mm=width,
        height_mm=height,
        method=told.method,
        description=dict(told.looks),
        words=(gone_words(told) if told.said == GONE else told.words or told.reason)[:300],
        by_id=int(told.person),
        at=now,
    )


def gone_words(told: LumpToday) -> str:
    """Removed by surgery, elsewhere in May"""
    return ", ".join(p for p in (GONE_HOW.get(told.how, ""), told.words) if p)[:120]


@once
def lumps_until(record: Record) -> list[Lump]:
    """Lumps of the patient with everything said of them up to this record, by number. Four queries."""
    until = {"record__opened_at__lte": record.opened_at}
    measures = LumpMeasure.objects.filter(**until).select_related("record", "by")
    rows = Lump.objects.filter(
        Exists(LumpMeasure.objects.filter(lump=OuterRef("pk"), **until)),
        patient=record.visit.patient_id,
        withdrawn=False,
    )
    return list(
        rows.select_related("merged_into")
        .order_by("number")
        .prefetch_related(
            Prefetch("measures", measures.order_by("record__opened_at")),
            Prefetch("samples", samples().filter(**until)),
        )
    )


def lumps_of(patient: Patient) -> list[Lump]:
    """Every lump of a patient with all its measures and samples, by number. Four queries."""
    measures = LumpMeasure.objects.select_related("record", "by")
    return list(
        Lump.objects.filter(patient=patient, withdrawn=False)
        .select_related("merged_into")
        .order_by("number")
        .prefetch_related(
            Prefetch("measures", measures.order_by("record__opened_at")), Prefetch("samples", samples())
        )
    )


def same_method(rows: Iterable[LumpMeasure]) -> list[LumpMeasure]:
    """Measures that may be compared: by the method of the newest, oldest first."""
    measured = [m for m in rows if m.said == MEASURED]
    return [m for m in measured if m.method == measured[-1].method] if measured else []
