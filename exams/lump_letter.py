"""The lumps in a letter: our outline with their numbers, and a table of their sizes."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache
from html import escape
from pathlib import Path

from django.conf import settings
from django.utils import timezone

from clinic.letters.document import Figure, Figures, Section, Sentence, Table
from clinic.visits.models import Record
from exams.models import Lump, LumpMeasure

WIDTH, HEIGHT = 190.0, 100.0
SIZE = {"left": (400, 260), "right": (400, 260), "above": (200, 400), "below": (200, 400)}
MOST_MAPS = 2


def lump_section(record: Record) -> Section | None:
    """Every lump that was here at this visit, with its size then and before. Two queries."""
    measures = list(
        LumpMeasure.objects.filter(
            lump__patient=record.visit.patient_id, record__opened_at__lte=record.opened_at
        )
        .select_related("lump", "by")
        .order_by("lump__number", "at")
    )
    by_lump: dict[Lump, list[LumpMeasure]] = {}
    for measure in measures:
        by_lump.setdefault(measure.lump, []).append(measure)
    today = {lump: rows for lump, rows in by_lump.items() if rows[-1].record_id == record.pk}
    if not today:
        return None
    drawings = list(dict.fromkeys(lump.drawing for lump in today))[:MOST_MAPS]
    maps = tuple(lump_map(name, [lump for lump in today if lump.drawing == name]) for name in drawings)
    return Section("lumps", "Lumps", 40, (Figures(maps, table=_table(today), sentences=()),))


def size_words(measure: LumpMeasure) -> str:
    """14 x 12 x 8 mm, with a multiplication sign."""
    axes = [a for a in (measure.length_mm, measure.width_mm, measure.height_mm) if a]
    return f"{' × '.join(f'{a:g}' for a in axes)} mm"


def place_words(lump: Lump) -> str:
    """The region's plain name with its side."""
    region = lump.region.replace("-", " ").removesuffix(" left").removesuffix(" right")
    return f"{lump.side} {region}".strip()


def _table(today: dict[Lump, list[LumpMeasure]]) -> Table:
    rows = []
    for lump, measures in today.items():
        now, before = measures[-1], measures[-2] if len(measures) > 1 else None
        key = f"lump:{lump.number}"
        earlier = (
            f"{size_words(before)}, {timezone.localdate(before.at):%-d %b %Y}" if before else "not there"
        )
        by = now.by.printed_name
        rows.append(
            (
                Sentence(f"{key}:where", f"{lump.number}, {place_words(lump)}", "a lump", strong=True),
                Sentence(f"{key}:before", earlier, "a lump's measure"),
                Sentence(f"{key}:now", size_words(now), "a lump's measure", size_words(now), by=by),
            )
        )
    return Table(tuple(rows), head=("Lump", "Before", "Today"))


def lump_map(drawing: str, lumps: Iterable[Lump]) -> Figure:
    """One of our outlines with the lumps' numbers where they lie."""
    species, _, view = drawing.partition("-")
    width, height = SIZE[view]
    scale = min(WIDTH / width, HEIGHT / height)
    left = (WIDTH - width * scale) / 2
    marks = "".join(_mark(lump, left, width * scale, height * scale) for lump in lumps)
    said = "; ".join(f"lump {lump.number}: {place_words(lump)}" for lump in lumps)
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
