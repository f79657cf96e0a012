"""What the exam page is told of lumps: the known ones with their last size, the body maps, the words."""

from __future__ import annotations

import dataclasses
from typing import Any

from django.templatetags.static import static

from clinic.visits.models import Record
from exams.lines import Lines
from exams.lump_places import DEPTHS, VIEWS, Place, details, drawings, regions
from exams.lump_rows import EARLIER, TAKEN, day_of, lumps_before, place_of
from exams.lump_today import (
    GONE,
    GONE_HOW,
    LOOKS,
    MEASURED,
    MERGED,
    METHODS,
    NOT_LOOKED,
    SAMPLES,
    LumpToday,
    axes_words,
    lumps_from_json,
)
from exams.models import Exam, Lump, LumpMeasure, LumpSample

LOOKS_SAID = ("shape", "firmness", "mobility", "surface")


def lumps_json(record: Record, lines: Lines) -> dict[str, Any]:
    """Plain JSON. As many queries for many lumps as for few: four."""
    animal = lines.animal
    own = {name: regions()[name] for name in drawings(animal.species)}
    codes = {code for listed in own.values() for code in listed}
    return {
        "known": {str(row.key): _known(row) for row in lumps_before(record)},
        "regions": {
            name: {code: list(told) for code, told in listed.items()} for name, listed in own.items()
        },
        "stations": {code: station for code in sorted(codes) if (station := _station(code))},
        "details": {code: finer for code in sorted(codes) if (finer := details(code, animal.sex))},
        "drawings": {view: static(f"clinic/drawings/{animal.species}-{view}.svg") for view in VIEWS},
        "depths": DEPTHS,
        "looks": LOOKS,
        "methods": METHODS,
        "gone_how": GONE_HOW,
        "samples": dict(LumpSample.Method.choices),
    }


def _station(code: str) -> str:
    return Place("", 0, 0, code, "").station


def _known(row: Lump) -> dict[str, Any]:
    earlier: list[LumpMeasure] = getattr(row, EARLIER)
    last = next((m for m in reversed(earlier) if m.said == MEASURED), None)
    ended = earlier[-1] if earlier and earlier[-1].said in (GONE, MERGED) else None
    return {
        "number": row.number,
        "place": dataclasses.asdict(place_of(row)),
        "words": _last_words(row, last, earlier[-1] if earlier else None),
        "last": {"method": last.method or "caliper", "axes": list(axes_of(last))} if last else None,
        "gone": ended is not None,
        "gone_words": ended_words(row, ended) if ended else "",
        "samples": [sample_words(sample) for sample in getattr(row, TAKEN)],
    }


def _last_words(row: Lump, last: LumpMeasure | None, newest: LumpMeasure | None) -> str:
    """14 × 11 × 8 mm on 3 May 2025, soft, free; first seen January 2025"""
    said = "Never measured" if last is None else f"{size_of_words(last)} on {day_words(last)}"
    looks = ", ".join(last.description[n] for n in LOOKS_SAID if n in last.description) if last else ""
    skipped = newest is not None and newest is not last and newest.said not in (GONE, MERGED)
    since = (
        f"first seen {row.first_seen:%-d %b %Y}{f' ({row.first_seen_words})' if row.first_seen_words else ''}"
    )
    parts = [said + (f", {looks}" if looks else ""), since]
    if skipped and newest is not None:
        parts.append(f"not looked at on {day_words(newest)}")
    return "; ".join(parts)


def axes_of(row: LumpMeasure) -> tuple[float, ...]:
    return tuple(a for a in (row.length_mm, row.width_mm, row.height_mm) if a)


def size_of_words(row: LumpMeasure) -> str:
    """14 × 12 × 8 mm"""
    return axes_words(axes_of(row))


def day_words(row: LumpMeasure | LumpSample) -> str:
    return f"{day_of(row.record):%-d %b %Y}"


def ended_words(row: Lump, ended: LumpMeasure) -> str:
    how = ended.words if ended.said == GONE else "grown together with another"
    return f"{how}, {day_words(ended)}"


def sample_words(sample: LumpSample) -> str:
    """Needle sample on 3 May 2025: fat cells; or: no result yet"""
    results = [result.words for result in sample.told]  # type: ignore[attr-defined]  # prefetched
    said = "; ".join(results) or "no result yet"
    return f"{sample.get_method_display().capitalize()} on {day_words(sample)}: {said}"


def signed_lumps(exam: Exam) -> list[str]:
    """What a signed exam said of each lump, as it was frozen. No query."""
    lumps = sorted(lumps_from_json(exam.lumps).values(), key=lambda lump: lump.number)
    return [_signed(lump) for lump in lumps]


def _signed(lump: LumpToday) -> str:
    place = f", {lump.place.words}" if lump.place else ""
    said = {
        MEASURED: f"{lump.size} by {lump.method}",
        GONE: ", ".join(p for p in (GONE_HOW.get(lump.how, ""), lump.words) if p),
        MERGED: "grown together with another",
        NOT_LOOKED: f"not looked at, {lump.words or lump.reason.replace('-', ' ')}",
    }.get(lump.said, "no size")
    looks = ", ".join(f"{name}: {words}" for name, words in lump.looks.items())
    sample = f"{lump.sample} sample taken" if lump.sample in SAMPLES else ""
    return f"Lump {lump.number}{place}: {'; '.join(p for p in (said, looks, sample, lump.grown) if p)}"
