"""The lumps in a letter: our outline with their numbers, a table of their sizes, how the largest grew, what a
sample showed. Nothing says what a lump is but a recorded result."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache
from html import escape
from pathlib import Path

from django.conf import settings

from clinic.letters.document import Block, Figure, Figures, Section, Sentence, Table, Text
from clinic.letters.figures import Measured, curve_figure
from clinic.letters.sheet import quoted
from clinic.letters.texts import SOURCE, Texts
from clinic.letters.wording import capital, words
from clinic.visits.models import Record
from exams.lump_pages import size_of_words
from exams.lump_places import Place
from exams.lump_rows import day_of, lumps_until, place_of, same_method
from exams.lump_today import GONE_HOW, MEASURED, MERGED, NOT_LOOKED
from exams.models import Lump, LumpMeasure, LumpSample
from exams.owner_texts import texts_of
from exams.sentences import why_for_owner
from exams.versions import published

WIDTH, HEIGHT = 190.0, 100.0
SIZE = {"left": (400, 260), "right": (400, 260), "above": (200, 400), "below": (200, 400)}
MOST_MAPS = 2
ENOUGH = 3  # measures, from which growth is drawn


def lump_section(record: Record, language: str = SOURCE) -> Section | None:
    """Every lump that this visit spoke of. Four queries."""
    rows = lumps_until(record)
    today = {row: told for row in rows if (told := _today(row, record))}
    if not today:
        return None
    t = texts_of(published(), language)
    here = [row for row, told in today.items() if told.said == MEASURED]
    blocks: list[Block] = []
    if here:
        names = list(dict.fromkeys(row.drawing for row in here))[:MOST_MAPS]
        maps = tuple(lump_map(name, [row for row in here if row.drawing == name], t) for name in names)
        blocks.append(Figures(maps, table=_table(here, record, t), sentences=()))
        grown = _growth(here, record, t)
        if grown:
            blocks.append(grown)
    said = tuple(sentence for row, told in today.items() for sentence in _said(row, told, record, t))
    if said:
        blocks.append(Text(said))
    return Section("lumps", t("lump.title"), 40, tuple(blocks))


def _today(row: Lump, record: Record) -> LumpMeasure | None:
    return next((m for m in row.measures.all() if m.record_id == record.pk), None)


def place_words(place: Place, t: Texts) -> str:
    """The region's plain name with its side: "left elbow", "lower back, right of the middle, pad"."""
    key = f"region.{place.region}"
    name = t(key)
    if place.side == "midline":
        name = t("lump.in_middle", place=name)
    elif place.side and not place.region.endswith(("-left", "-right")):
        name = t("lump.of_middle", place=name, side=t(f"side.{place.side}"))
    return t("lump.detail", place=name, detail=t(f"detail.{place.detail}")) if place.detail else name


def _day(row: LumpMeasure | LumpSample, t: Texts) -> str:
    """3 May 2026, the month short."""
    on, w = day_of(row.record), words(t.language)
    return t("lump.day_short", day=on.day, month=w.listed("date.months_short")[on.month - 1], year=on.year)


def _table(here: list[Lump], record: Record, t: Texts) -> Table:
    rows = []
    for lump in here:
        measured = [m for m in lump.measures.all() if m.said == MEASURED]
        now, before = measured[-1], measured[-2] if len(measured) > 1 else None
        key = f"lump:{lump.number}"
        earlier = f"{size_of_words(before)}, {_day(before, t)}" if before else t("lump.not_there")
        if not before and lump.first_seen < day_of(record):
            earlier = t("lump.not_measured")
        by, place = now.by.printed_name, place_words(place_of(lump), t)
        where = t.sentence(f"{key}:where", "lump.row", "a lump", strong=True, n=lump.number, place=place)
        rows.append(
            (
                where,
                Sentence(f"{key}:before", earlier, "a lump's measure"),
                Sentence(f"{key}:now", size_of_words(now), "a lump's measure", size_of_words(now), by=by),
            )
        )
    return Table(tuple(rows), head=tuple(t.listed("lump.head")))


def _growth(here: list[Lump], record: Record, t: Texts) -> Figures | None:
    """The picture of the lump that is longest today, of those measured the same way often enough."""
    enough = [(row, same_method(row.measures.all())) for row in here]
    drawn = [(row, rows) for row, rows in enough if len(rows) >= ENOUGH]
    if not drawn:
        return None
    row, rows = max(drawn, key=lambda x: x[1][-1].length_mm or 0)
    values = [Measured(day_of(m.record), m.length_mm) for m in rows if m.length_mm]
    what = t("lump.length", n=row.number)
    figure = curve_figure(values, today=day_of(record), what=what, unit="mm", w=words(t.language))
    told = t.sentence(f"lump:{row.number}:growth", "lump.longest", "a lump's measures", n=row.number)
    return Figures((figure,), sentences=(told,)) if figure else None


def _said(row: Lump, told: LumpMeasure, record: Record, t: Texts) -> Iterable[Sentence]:
    key, by = f"lump:{row.number}", told.by.printed_name
    if told.said != MEASURED:
        place, what = place_words(place_of(row), t), _what(row, told, record, t)
        yield t.sentence(
            f"{key}:said", "lump.said", "a lump", told.said, by, n=row.number, place=place, what=what
        )
    for sample in row.samples.all():
        yield from _sampled(key, row, sample, record, t)


def _what(row: Lump, told: LumpMeasure, record: Record, t: Texts) -> str:
    """Gone, grown together or not looked at, without a full stop."""
    if row.merged_into and told.said == MERGED:
        return t("lump.merged", n=row.merged_into.number)
    if told.said == NOT_LOOKED:
        known = published().reason.get(told.words)
        reason, own = (told.words, "") if known and known.owner else ("", told.words)
        why = why_for_owner(published(), reason, own, record.visit.patient.name, t)
        return t("lump.not_looked", why=why).strip().rstrip(".")
    how = next((code for code, said in GONE_HOW.items() if told.words == said), "")
    return t(f"lump.{how.replace('-', '_')}") if how else t.own(told.words.strip().rstrip("."))


def _sampled(key: str, row: Lump, sample: LumpSample, record: Record, t: Texts) -> Iterable[Sentence]:
    taken = sample.record_id == record.pk
    results: list[str] = [result.words for result in sample.told]  # type: ignore[attr-defined]  # prefetched
    if not taken and not results:
        return
    key, by, recorded = f"{key}:sample:{sample.pk}", sample.by.printed_name, sample.get_method_display()
    values: dict[str, object] = {"n": row.number}
    text = "lump.whole_sent"
    if sample.method != LumpSample.Method.REMOVED:
        text = "lump.taken_today" if taken else "lump.taken_on"
        values["method"] = t(f"lump.method.{sample.method}")
        if not taken:
            values["day"] = _day(sample, t)
    yield t.sentence(key, text, "a lump's sample", recorded, by, **values)
    if results:
        result = t.own("; ".join(each.rstrip(".") for each in results))
        yield t.sentence(f"{key}:result", "lump.showed", "a lump's sample", result, by, result=result)
    else:
        yield t.sentence(f"{key}:result", "lump.waiting", "a lump's sample", recorded, by)


def lump_map(drawing: str, lumps: Iterable[Lump], t: Texts) -> Figure:
    """One of our outlines with the lumps' numbers where they lie."""
    species, _, view = drawing.partition("-")
    width, height = SIZE[view]
    scale = min(WIDTH / width, HEIGHT / height)
    left = (WIDTH - width * scale) / 2
    listed = list(lumps)
    marks = "".join(_mark(lump, left, width * scale, height * scale) for lump in listed)
    said = "; ".join(
        t("lump.map_lump", n=lump.number, place=place_words(place_of(lump), t)) for lump in listed
    )
    alt = quoted(t("lump.map_of", species=t(f"lump.{species}"), view=t(f"lump.{view}"), said=capital(said)))
    svg = (
        f'<svg role="img" viewBox="0 0 {WIDTH:g} {HEIGHT:g}" text-anchor="middle" '
        f'font-family="Atkinson Hyperlegible Next"><title>{escape(alt)}</title>'
        f'<g transform="translate({left:.2f} 0) scale({scale:.4f})">{_outline(drawing)}</g>{marks}</svg>'
    )
    return Figure(svg=svg, alt=alt, shape="map")


def _mark(lump: Lump, left: float, width: float, height: float) -> str:
    x, y = left + lump.x * width, lump.y * height
    return (
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="8" fill="#fff" stroke="#8a5a00" stroke-width="2"/>'
        f'<text x="{x:.1f}" y="{y + 4:.1f}" font-size="12" font-weight="700" fill="#1b2326">'
        f"{lump.number}</text>"
    )


@cache
def _outline(drawing: str) -> str:
    """The lines of a drawing without its tap fields, title and description."""
    path = Path(settings.BASE_DIR) / "clinic" / "static" / "clinic" / "drawings" / f"{drawing}.svg"
    inner = re.sub(r"^.*?<svg[^>]*>|</svg>\s*$", "", path.read_text(encoding="utf-8"), flags=re.DOTALL)
    inner = re.sub(r"<title.*?</title>|<desc.*?</desc>", "", inner, flags=re.DOTALL)
    return re.sub(r'<g class="regions".*?</g>', "", inner, flags=re.DOTALL).strip()
