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
from clinic.visits.models import Record
from exams.lump_pages import day_words, size_of_words
from exams.lump_rows import day_of, lumps_until, place_of, same_method
from exams.lump_today import MEASURED, MERGED, NOT_LOOKED
from exams.models import Lump, LumpMeasure, LumpSample
from exams.versions import published

WIDTH, HEIGHT = 190.0, 100.0
SIZE = {"left": (400, 260), "right": (400, 260), "above": (200, 400), "below": (200, 400)}
MOST_MAPS = 2
ENOUGH = 3  # measures, from which growth is drawn


def lump_section(record: Record) -> Section | None:
    """Every lump that this visit spoke of. Four queries."""
    rows = lumps_until(record)
    today = {row: told for row in rows if (told := _today(row, record))}
    if not today:
        return None
    here = [row for row, told in today.items() if told.said == MEASURED]
    blocks: list[Block] = []
    if here:
        names = list(dict.fromkeys(row.drawing for row in here))[:MOST_MAPS]
        maps = tuple(lump_map(name, [row for row in here if row.drawing == name]) for name in names)
        blocks.append(Figures(maps, table=_table(here, record), sentences=()))
        grown = _growth(here, record)
        if grown:
            blocks.append(grown)
    said = tuple(sentence for row, told in today.items() for sentence in _said(row, told, record))
    if said:
        blocks.append(Text(said))
    return Section("lumps", "Lumps", 40, tuple(blocks))


def _today(row: Lump, record: Record) -> LumpMeasure | None:
    return next((m for m in row.measures.all() if m.record_id == record.pk), None)


def place_words(lump: Lump) -> str:
    """The region's plain name with its side."""
    return place_of(lump).words


def _table(here: list[Lump], record: Record) -> Table:
    rows = []
    for lump in here:
        measured = [m for m in lump.measures.all() if m.said == MEASURED]
        now, before = measured[-1], measured[-2] if len(measured) > 1 else None
        key = f"lump:{lump.number}"
        earlier = f"{size_of_words(before)}, {day_words(before)}" if before else "not there"
        if not before and lump.first_seen < day_of(record):
            earlier = "not measured"
        by = now.by.printed_name
        rows.append(
            (
                Sentence(f"{key}:where", f"{lump.number}, {place_words(lump)}", "a lump", strong=True),
                Sentence(f"{key}:before", earlier, "a lump's measure"),
                Sentence(f"{key}:now", size_of_words(now), "a lump's measure", size_of_words(now), by=by),
            )
        )
    return Table(tuple(rows), head=("Lump", "Before", "Today"))


def _growth(here: list[Lump], record: Record) -> Figures | None:
    """The picture of the lump that is longest today, of those measured the same way often enough."""
    enough = [(row, same_method(row.measures.all())) for row in here]
    drawn = [(row, rows) for row, rows in enough if len(rows) >= ENOUGH]
    if not drawn:
        return None
    row, rows = max(drawn, key=lambda x: x[1][-1].length_mm or 0)
    values = [Measured(day_of(m.record), m.length_mm) for m in rows if m.length_mm]
    name = f"lump {row.number}"
    figure = curve_figure(values, today=day_of(record), what=f"Length of {name}", unit="mm")
    text = f"The longest side of {name}, each time we measured it."
    told = Sentence(f"lump:{row.number}:growth", text, "a lump's measures")
    return Figures((figure,), sentences=(told,)) if figure else None


def _said(row: Lump, told: LumpMeasure, record: Record) -> Iterable[Sentence]:
    key, name = f"lump:{row.number}", f"Lump {row.number}, {place_words(row)}"
    by = told.by.printed_name
    if told.said != MEASURED:
        what = told.words
        if row.merged_into and told.said == MERGED:
            what = f"it has grown together with lump {row.merged_into.number}"
        elif told.said == NOT_LOOKED:
            why = _why(told, record.visit.patient.name)
            what = f"not looked at today. {why[:1].upper()}{why[1:]}"
        yield Sentence(f"{key}:said", f"{name}: {what.strip().rstrip('.')}.", "a lump", told.said, by=by)
    for sample in row.samples.all():
        yield from _sampled(key, row, sample, record)


def _why(told: LumpMeasure, pet: str) -> str:
    """A reason is kept by its key, or in somebody's words."""
    reason = published().reason.get(told.words)
    words = reason.owner or reason.words if reason else told.words
    return words.replace("Your pet", pet).replace("your pet", pet)


def _sampled(key: str, row: Lump, sample: LumpSample, record: Record) -> Iterable[Sentence]:
    taken = sample.record_id == record.pk
    results: list[str] = [result.words for result in sample.told]  # type: ignore[attr-defined]  # prefetched
    if not taken and not results:
        return
    method = sample.get_method_display()
    when = "today" if taken else f"on {day_words(sample)}"
    showed = (
        f" It showed: {'; '.join(r.rstrip('.') for r in results)}." if results else " We wait for the result."
    )
    whole = sample.method == LumpSample.Method.REMOVED
    what = "the whole lump was sent in" if whole else f"{method} taken {when}"
    text = f"Lump {row.number}: {what}.{showed}"
    yield Sentence(f"{key}:sample:{sample.pk}", text, "a lump's sample", method, by=sample.by.printed_name)


def lump_map(drawing: str, lumps: Iterable[Lump]) -> Figure:
    """One of our outlines with the lumps' numbers where they lie."""
    species, _, view = drawing.partition("-")
    width, height = SIZE[view]
    scale = min(WIDTH / width, HEIGHT / height)
    left = (WIDTH - width * scale) / 2
    listed = list(lumps)
    marks = "".join(_mark(lump, left, width * scale, height * scale) for lump in listed)
    said = "; ".join(f"lump {lump.number}: {place_words(lump)}" for lump in listed)
    from_ = {"above": "from above", "below": "from below"}.get(view, f"{view} side")
    alt = f"Outline of a {species}, {from_}. {said[:1].upper()}{said[1:]}."
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
