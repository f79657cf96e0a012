"""The letter's small drawings: values over time, and nine bodies from above. Pure; each stands alone.

192 × 100 units; 11.5 of them are 12 point on the sheet, clear print's minimum. Colours are attributes:
the renderer does not apply the page's style sheet inside a drawing.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from html import escape
from pathlib import Path

from clinic.letters.document import Figure
from clinic.letters.texts import Texts
from clinic.letters.wording import EN, month_and_year

INK, INK_2, RULE, EDGE, ACT, ACT_TINT = "#1b2326", "#4a5559", "#d9d4ca", "#857f74", "#1f5a4c", "#e4efea"
FONT = "Atkinson Hyperlegible Next"
STEP, FIRST = 21.1, 11.6
IDEAL = {"dog": (4, 5), "cat": (5, 5)}
LEFT, RIGHT, TOP, BOTTOM = 30.0, 178.0, 16.0, 80.0
MOST_POINTS = 5
STEPS = (0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200)
LABEL_GAP = 36.0
LAST_GAP = 54.0  # the last value is bold, with its unit, and ends at its dot
EDGE_GAP = 10.0
FLAT = 3.0


@cache
def _bodies() -> tuple[str, ...]:
    return tuple(json.loads((Path(__file__).parent / "sheet" / "bodies.json").read_text()))


def _svg(title: str, inside: str, anchor: str = "middle") -> str:
    return (
        f'<svg role="img" viewBox="0 0 192 100" font-family="{FONT}" font-size="11.5" fill="{INK_2}" '
        f'text-anchor="{anchor}"><title>{escape(title)}</title>{inside}</svg>'
    )


def condition_figure(score: float, species: str, name: str, w: Texts = EN) -> Figure:
    """Nine bodies from thin to heavy, the ideal on a tint, the patient's own filled. `score` 1 to 9."""
    low, high = IDEAL[species]
    at = FIRST + (score - 1) * STEP
    start = FIRST + (low - 1) * STEP - 10.6
    width = (high - low) * STEP + 21.1
    parts = [
        f'<rect x="{start:.1f}" y="14" width="{width:.1f}" height="66" fill="{ACT_TINT}"/>',
        f'<text x="{start + width / 2:.1f}" y="10" fill="{ACT}">{escape(w("figure.ideal"))}</text>',
    ]
    for number, path in enumerate(_bodies(), start=1):
        own = number == round(score)
        fill, stroke = (INK, INK) if own else ("#fff", EDGE)
        weight = ' font-weight="700" fill="#1b2326"' if own else ""
        parts.append(f'<path d="{path}" fill="{fill}" stroke="{stroke}" stroke-width="1.1"/>')
        parts.append(f'<text x="{FIRST + (number - 1) * STEP:.1f}" y="77"{weight}>{number}</text>')
    anchor, x = ("start", 2.0) if at < 30 else ("end", 190.0) if at > 162 else ("middle", at)
    parts.append(f'<path d="M{at:.1f} 81l3.500 5h-7Z" fill="{INK}"/>')
    parts.append(
        f'<text x="{x:.1f}" y="97" font-weight="700" fill="{INK}" text-anchor="{anchor}">'
        f"{escape(name)}</text>"
    )
    parts.append(f'<text x="2" y="10" text-anchor="start">{escape(w("figure.thin"))}</text>')
    parts.append(f'<text x="190" y="10" text-anchor="end">{escape(w("figure.heavy"))}</text>')
    alt = w(f"figure.condition_{species}", name=name, score=f"{score:g}")
    return Figure(svg=_svg(alt, "".join(parts)), alt=alt)


@dataclass(frozen=True)
class Measured:
    """One value on one day."""

    on: date
    value: float


def curve_figure(
    values: Sequence[Measured],
    *,
    today: date,
    what: str = "",
    unit: str = "kg",
    aim: float | None = None,
    w: Texts = EN,
) -> Figure | None:
    """The curve of up to five values, oldest first, the last one strong. None for fewer than two."""
    shown = _thinned(sorted(values, key=lambda each: each.on))
    if len(shown) < 2:
        return None
    scale = _Scale.of(shown, aim)
    dots = [(scale.x(each.on), scale.y(each.value), each) for each in shown]
    line = "L".join(f"{x:.1f} {y:.1f}" for x, y, _ in dots)
    parts = _grid(scale)
    if aim is not None:
        parts.append(f'<path d="M24 {scale.y(aim):.1f}H190" stroke="{ACT}" stroke-width="1.200"/>')
        parts.append(
            f'<text x="190" y="{scale.y(aim) - 3:.1f}" fill="{ACT}" text-anchor="end">'
            f"{escape(w('figure.aim', aim=f'{aim:g}'))}</text>"
        )
    parts.append(f'<path d="M{line}" fill="none" stroke="{INK}" stroke-width="1.8" stroke-linejoin="round"/>')
    taken = -LABEL_GAP
    for number, (x, y, each) in enumerate(dots):
        last = number == len(dots) - 1
        parts.append(_dot(x, y, last))
        if last or (x - taken >= LABEL_GAP and dots[-1][0] - x >= LAST_GAP):
            taken = x
            under = _lies_under(dots, number)
            parts.append(_labels(x, y, each, unit, last, under, today, w))
    told = [
        w("figure.value_in", value=f"{each.value:g} {unit}", month=month_and_year(each.on, w))
        for each in shown
    ]
    alt = w("figure.values", what=what or w("figure.weight"), values=", ".join(told))
    if aim is not None:
        alt += f" {w('figure.aim_is', aim=f'{aim:g} {unit}')}"
    return Figure(svg=_svg(alt, "".join(parts)), alt=alt)


def _thinned(values: list[Measured]) -> list[Measured]:
    """At most five, the first and the last among them."""
    if len(values) <= MOST_POINTS:
        return values
    step = (len(values) - 1) / (MOST_POINTS - 1)
    return [values[round(number * step)] for number in range(MOST_POINTS)]


@dataclass(frozen=True)
class _Scale:
    first: date
    last: date
    low: float
    high: float

    @classmethod
    def of(cls, shown: list[Measured], aim: float | None) -> "_Scale":
        values = [each.value for each in shown] + ([aim] if aim is not None else [])
        low, high = min(values), max(values)
        spare = max((high - low) * 0.15, high * 0.04)
        # room under the lowest dot for its number
        return cls(shown[0].on, shown[-1].on, low - spare * 1.8, high + spare)

    def x(self, on: date) -> float:
        span = max((self.last - self.first).days, 1)
        return LEFT + (on - self.first).days / span * (RIGHT - LEFT)

    def y(self, value: float) -> float:
        return BOTTOM - (value - self.low) / (self.high - self.low) * (BOTTOM - TOP)


def _grid(scale: _Scale) -> list[str]:
    """Two quiet lines with round numbers."""
    span = scale.high - scale.low
    step = next(each for each in STEPS if span / each <= 3.5)
    first = -(-scale.low // step) * step
    ticks = [first + number * step for number in range(4) if first + number * step <= scale.high]
    lines = []
    for tick in ticks:
        y = scale.y(tick)
        lines.append(f'<path d="M24 {y:.1f}H190" stroke="{RULE}" stroke-width=".5"/>')
        lines.append(f'<text x="21" y="{y + 4:.1f}" text-anchor="end">{round(tick, 2):g}</text>')
    return lines


def _dot(x: float, y: float, last: bool) -> str:
    fill, radius = (INK, 3.6) if last else ("#fff", 2.6)
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius}" fill="{fill}" stroke="{INK}" stroke-width="1.5"/>'


def _lies_under(dots: Sequence[tuple[float, float, Measured]], number: int) -> bool:
    """Whether a value stands under its dot, because the curve comes or goes above it."""
    x, y, _ = dots[number]
    beside = [dots[other][1] for other in (number - 1, number + 1) if 0 <= other < len(dots)]
    if number == len(dots) - 1:  # its number is as wide as the way to some of those before it
        beside += [above for left, above, _ in dots[:number] if x - left < LAST_GAP]
    return min(beside) < y - FLAT and max(beside) <= y + FLAT


def _labels(
    x: float, y: float, each: Measured, unit: str, last: bool, under: bool, today: date, w: Texts
) -> str:
    first = x - LEFT < EDGE_GAP  # well clear of the numbers at the axis: "8.5 8.7" reads as one
    anchor = "end" if last else "start" if first else "middle"
    at = x + 8 if last else x + 5 if first else x
    value = f"{each.value:g} {unit}" if last else f"{each.value:g}"
    bold = f' font-weight="700" fill="{INK}"' if last else ""
    halo = 'fill="#fff" stroke="#fff" stroke-width="3" stroke-linejoin="round"'
    when = escape(w("figure.today") if each.on == today else _short(each.on, today, w))
    label = f'x="{at:.1f}" y="{y + 14 if under else y - 7:.1f}" text-anchor="{anchor}"'
    return (
        f"<text {label} {halo}>{value}</text><text {label}{bold}>{value}</text>"
        f'<text x="{min(x, 176):.1f}" y="96"{bold}>{when}</text>'
    )


def _short(on: date, today: date, w: Texts) -> str:
    month = w.listed("date.months_short")[on.month - 1]
    return month if (today - on).days < 330 else f"{month} {on.year % 100:02d}"
