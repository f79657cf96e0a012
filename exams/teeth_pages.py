"""The tooth chart as the page's script is given it, and drawn: for a signed exam and for the letter.

The drawings are our own (`clinic/static/clinic/drawings/teeth-*.svg`): colours are attributes there, so that
a drawing stands alone on paper; the page's sheet overrides them.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from html import escape
from pathlib import Path
from typing import Any

from django.conf import settings
from django.templatetags.static import static
from django.urls import reverse

from exams.lines import Animal, Line, Lines
from exams.queries import Earlier, Standing
from exams.rows import answer_of
from exams.state import LineAnswer, answer_to_json
from exams.state import standing as line_standing
from exams.teeth import DECIDUOUS_UNTIL_DAYS, MIXED_UNTIL_DAYS, valid_teeth
from exams.tooth_chart import (
    KNOWN_EXTRACTION,
    LETTERS,
    MONTH_DAYS,
    SITES,
    SULCUS_MM,
    TEETH,
    ZEROS,
    letters_of,
)

BAND = 64  # units above and below the drawing, for the marks
ABOVE = 20  # units over the marks, for the words of the sides
PAPER_TYPE = 27  # units: 12 pt where the dog's 1005 units are as wide as the text of a letter
SMALL_CHART_TYPE = 50  # and where they are 20 times its type as wide
_HIT = re.compile(r'<g id="t(\d+)".*?<path class="hit"[^>]*d="M([\d.]+) ([\d.]+)h([\d.]+)v([\d.]+)')
_BOX = re.compile(r'viewBox="0 0 ([\d.]+) ([\d.]+)"')


@dataclass(frozen=True)
class Drawing:
    """One of our drawings. `inner`: what stands inside its <svg>; `boxes`: x, y, width, height of a tooth."""

    name: str
    title: str
    width: float
    height: float
    inner: str
    boxes: Mapping[int, tuple[float, float, float, float]]


def is_young(animal: Animal) -> bool:
    return animal.age_days is not None and animal.age_days < DECIDUOUS_UNTIL_DAYS


def drawing_of(animal: Animal) -> Drawing:
    return drawing(_name_of(animal))


def _name_of(animal: Animal) -> str:
    return f"teeth-{animal.species}{'-deciduous' if is_young(animal) else ''}"


@cache
def drawing(name: str) -> Drawing:
    path = Path(settings.BASE_DIR) / "clinic" / "static" / "clinic" / "drawings" / f"{name}.svg"
    text = path.read_text(encoding="utf-8")
    found = _BOX.search(text)
    title = re.search(r"<title[^>]*>(.*?)</title>", text)
    if not found or not title:
        raise ValueError(f"{name} is not one of our tooth charts")
    inner = re.sub(r"^.*?<svg[^>]*>|</svg>\s*$", "", text, flags=re.DOTALL)
    inner = re.sub(r"<(title|desc) id=.*?</\1>", "", inner, flags=re.DOTALL)
    boxes = {int(n): (float(x), float(y), float(w), float(h)) for n, x, y, w, h in _HIT.findall(inner)}
    return Drawing(name, title[1], float(found[1]), float(found[2]), inner.strip(), boxes)


# ---- For the page's script


def teeth_json(standing: Standing, before: tuple[Earlier, ...], *, patient: int) -> dict[str, Any]:
    """What the chart needs beside the walk: ages, letters, usual depths, and the last chart."""
    animal = standing.lines.animal
    age = animal.age_days
    charted = next((e for e in before if any(r.structure == TEETH for r in e.findings)), None)
    last = charted or (before[0] if before else None)
    return {
        "drawing": static(f"clinic/drawings/{_name_of(animal)}.svg"),
        "months": None if age is None else round(age / MONTH_DAYS, 2),
        "mixed": age is not None and DECIDUOUS_UNTIL_DAYS <= age < MIXED_UNTIL_DAYS,
        "young": is_young(animal),
        "babies": valid_teeth(animal.species, deciduous=True),
        "history": reverse("structure-history", args=[patient, TEETH]).removesuffix("/"),
        "sulcus": SULCUS_MM[animal.species],
        "sites": SITES,
        "zeros": ZEROS,
        "letters": {code: [mark, words] for code, (mark, words) in LETTERS.items()},
        "known": KNOWN_EXTRACTION,
        "last": {
            "on": f"{last.on.day} {last.on:%b %Y}",
            "answers": {
                r.line: {k: v for k, v in (answer_to_json(answer_of(r)) or {}).items() if k in _LAST}
                for r in last.findings
                if r.structure == TEETH
            },
        }
        if last
        else None,
    }


_LAST = ("status", "findings", "charted", "reason", "reason_words", "in_part", "made_in")


# ---- Drawn


@dataclass(frozen=True)
class ToothMark:
    """What stands on one tooth of a drawn chart. `letters`: two at most."""

    number: int
    state: str
    letters: tuple[str, ...] = ()
    gone: bool = False


def marks_of(lines: Lines, state: Any) -> tuple[ToothMark, ...]:
    """How every tooth stands; those of which nothing is said are left out."""
    marks = []
    for line in lines.at(TEETH):
        word, answer = line_standing(state, lines, line.key)
        if word == "not-yet":
            continue
        marks.append(mark_of(line, word, answer))
    return tuple(marks)


def mark_of(line: Line, word: str, answer: LineAnswer | None) -> ToothMark:
    letters = letters_of(answer) if answer else ()
    number = int(line.side)
    gone = word == "not-applicable" or "X" in letters or "XX" in letters
    return ToothMark(number, word, letters, gone)


_SHAPES = {
    "normal": '<circle cx="8" cy="8" r="6" fill="#1f5a4c"/>',
    "abnormal": '<path d="M8 1.5 14.5 8 8 14.500 1.500 8Z" fill="#8a5a00"/>',
    "not-examined": '<path d="M2.500 2.500h11v11h-11ZM2.500 13.500l11-11" fill="none" stroke="#5b6470" '
    'stroke-width="1.600"/>',
    "not-applicable": '<path d="M3 8h10M3 5.500v5M13 5.500v5" fill="none" stroke="#5b6470" '
    'stroke-width="1.600"/>',
}


def chart_svg(
    own: Drawing,
    marks: Iterable[ToothMark],
    *,
    alt: str,
    paper: int = 0,
    words: tuple[str, str] = ("the animal’s right", "its left"),
) -> str:
    """The drawing with marks above the upper and below the lower teeth, all colours as attributes.

    paper: for a letter: only what is marked has a number, in a type of so many units. `words`: whose right
    and left it is.
    """
    by_number = {m.number: m for m in marks}
    inner = re.sub(r"<title>.*?</title>", "", own.inner)
    inner = re.sub(r' id="t\d+"', "", inner)
    if paper:
        inner = re.sub(r"<text.*?</text>", "", inner)
    for number, mark in by_number.items():
        if mark.gone:
            inner = _faded(inner, number)
    size = paper or 15
    drawn = "".join(_drawn(own, by_number[n], size) for n in own.boxes if n in by_number)
    # whose right it is: on paper between the jaws, where no tooth has its number; else on a line above
    top = 0 if paper else ABOVE
    below = size + 12 if size > PAPER_TYPE else 0  # a type too large for between the jaws: under them
    beside = max(y for _x, y, _w, _h in own.boxes.values()) - 5 if paper else 14 - BAND - ABOVE
    if below:
        beside = own.height + BAND + size
    box = f"0 {-BAND - top} {own.width:g} {own.height + 2 * BAND + top + below:g}"
    sides = (
        f'<g class="tooth-sides" font-size="{size}" fill="#4a5559">'
        f'<text y="{beside:g}">{escape(words[0])}</text>'
        f'<text x="{own.width:g}" y="{beside:g}" text-anchor="end">{escape(words[1])}</text></g>'
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" class="tooth-chart" viewBox="{box}" '
        f'font-family="Atkinson Hyperlegible Next"><title>{escape(alt)}</title>{inner}{sides}'
        f'<g class="tooth-marks" text-anchor="middle" font-size="{size}" font-weight="700">{drawn}</g></svg>'
    )


def _faded(inner: str, number: int) -> str:
    """A tooth that is not there: dashed."""
    return inner.replace(
        f'data-triadan="{number}">', f'data-triadan="{number}" data-gone="" stroke-dasharray="3 4">', 1
    )


def _drawn(own: Drawing, mark: ToothMark, size: int) -> str:
    x, y, width, _height = own.boxes[mark.number]
    middle, upper = x + width / 2, y < own.height / 3
    at = -18 if upper else own.height + 2
    step = -1 if upper else 1
    first = at - 4 if upper else at + 15 + size
    shape = f'<g transform="translate({middle - 8:.1f} {at:g})">{_SHAPES[mark.state]}</g>'
    texts = "".join(
        f'<text x="{middle:.1f}" y="{first + step * (size + 1) * i:g}" fill="#1b2326">{escape(letter)}</text>'
        for i, letter in enumerate(mark.letters[:2])
    )
    return f'<g class="tooth-mark" data-state="{mark.state}">{shape}{texts}</g>'


def signed_svg(standing: Standing) -> str:
    """The chart of a signed exam; empty when nobody looked at a tooth."""
    marks = marks_of(standing.lines, standing.state)
    if all(m.state == "not-applicable" for m in marks):
        return ""
    words = {"normal": "normal", "abnormal": "abnormal", "not-examined": "not examined"}
    said = [f"{len(here)} {words[s]}" for s in words if (here := [m for m in marks if m.state == s])]
    return chart_svg(drawing_of(standing.lines.animal), marks, alt=f"Tooth chart: {', '.join(said)}")


def legend(standing: Standing) -> str:
    """What the letters of a chart mean, those that stand on it."""
    told = [a for x in standing.lines.at(TEETH) if (a := standing.state.answers.get(x.key))]
    codes = {f.code for a in told for f in a.findings}
    codes |= {"extracted" for a in told if a.charted.get("extracted")}
    codes |= {"gone" for a in told if a.charted.get("present") == []}
    codes |= {"other" for code in codes if code not in LETTERS}
    said: dict[str, str] = {}
    for code, (letter, words) in LETTERS.items():
        if code in codes:
            said.setdefault(letter.format(g=""), words)
    first = any(f.awake_estimate for a in told for f in a.findings)
    parts = [f"{letter} {words}" for letter, words in said.items()]
    return " · ".join([*parts, *(["? first impression, not under an anaesthetic"] if first else [])])
