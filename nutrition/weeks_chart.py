"""The owner's chart: what was weighed beside what is hoped for, week by week. Pure; one for page and paper.

1005 × 510 units; colours are attributes, so that the drawing stands alone. Twenty-five of them are 12 point
on the sheet, clear print's minimum.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from html import escape

from clinic.letters.texts import Texts
from clinic.letters.wording import long_day, month_name, words
from nutrition.letter_texts import ENGLISH
from nutrition.programme import Expected

INK, INK_2, RULE, ACT, ACT_TINT, LOOK = "#1b2326", "#4a5559", "#d9d4ca", "#1f5a4c", "#d3e4dd", "#8a5a00"
FONT = "Atkinson Hyperlegible Next"
LEFT, RIGHT, TOP, BOTTOM = 84.0, 985.0, 44.0, 436.0
STEPS = (0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20)
LABEL_GAP = 118.0
WIDER = 4  # weeks shown after the last weight, at the least


@dataclass(frozen=True, slots=True)
class Chart:
    svg: str
    alt: str


def weeks_chart(
    *,
    name: str,
    weighed: Sequence[tuple[date, float]],
    band: Sequence[Expected],
    target_kg: float,
    doubtful: Sequence[date] = (),
    t: Texts = ENGLISH,
) -> Chart:
    """Weights (day, kg), oldest first, over the band of a programme; `doubtful` ones are hollow and named."""
    shown = _shown(weighed, band)
    scale = _Scale.of(weighed, shown, target_kg)
    parts = [_band(shown, scale), *_levels(scale), *_target(target_kg, scale, t), *_dates(shown, scale, t)]
    line = "L".join(f"{scale.x(on):.1f} {scale.y(kg):.1f}" for on, kg in weighed if on not in doubtful)
    parts.append(f'<path d="M{line}" fill="none" stroke="{INK}" stroke-width="4" stroke-linejoin="round"/>')
    parts += [_dot(on, kg, scale, on in doubtful, (on, kg) == weighed[-1]) for on, kg in weighed]
    alt = _alt(name, weighed, shown, target_kg, doubtful, t)
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" viewBox="0 0 1005 510" font-family="{FONT}" '
        f'font-size="25" fill="{INK_2}"><title>{escape(alt)}</title>'
        f'<rect width="1005" height="510" fill="#fff"/>{"".join(parts)}</svg>'
    )
    return Chart(svg, alt)


def _shown(weighed: Sequence[tuple[date, float]], band: Sequence[Expected]) -> list[Expected]:
    """The band as far as it is of use: some weeks beyond the last weight, at least twelve from the start."""
    weeks = (weighed[-1][0] - band[0].on).days // 7 + WIDER
    return list(band[: max(weeks, 12) + 1])


@dataclass(frozen=True, slots=True)
class _Scale:
    first: date
    last: date
    low: float
    high: float

    @classmethod
    def of(
        cls, weighed: Sequence[tuple[date, float]], shown: Sequence[Expected], target_kg: float
    ) -> "_Scale":
        kgs = [kg for _, kg in weighed] + [target_kg, shown[0].high_kg]
        low, high = min(kgs), max(kgs)
        spare = max((high - low) * 0.1, high * 0.01)
        return cls(shown[0].on, max(weighed[-1][0], shown[-1].on), low - spare, high + spare)

    def x(self, on: date) -> float:
        return LEFT + (on - self.first).days / max((self.last - self.first).days, 1) * (RIGHT - LEFT)

    def y(self, kg: float) -> float:
        return BOTTOM - (kg - self.low) / (self.high - self.low) * (BOTTOM - TOP)


def _band(shown: Sequence[Expected], scale: _Scale) -> str:
    over = [f"{scale.x(each.on):.1f} {scale.y(each.high_kg):.1f}" for each in shown]
    under = [f"{scale.x(each.on):.1f} {scale.y(each.low_kg):.1f}" for each in reversed(shown)]
    return f'<path d="M{"L".join([*over, *under])}Z" fill="{ACT_TINT}"/>'


def _levels(scale: _Scale) -> list[str]:
    step = next((each for each in STEPS if (scale.high - scale.low) / each <= 5), STEPS[-1])
    first = -(-scale.low // step) * step
    kgs = [first + number * step for number in range(6) if first + number * step <= scale.high]
    lines = [
        f'<path d="M{LEFT:g} {scale.y(kg):.1f}H{RIGHT:g}" stroke="{RULE}" stroke-width="1.5"/>'
        f'<text x="{LEFT - 12:g}" y="{scale.y(kg) + 9:.1f}" text-anchor="end">{round(kg, 2):g}</text>'
        for kg in kgs
    ]
    return [*lines, f'<text x="{LEFT - 12:g}" y="26" text-anchor="end">kg</text>']


def _target(target_kg: float, scale: _Scale, t: Texts) -> list[str]:
    y, words = scale.y(target_kg), escape(t("chart.target", kg=f"{target_kg:g}"))
    return [
        f'<path d="M{LEFT:g} {y:.1f}H{RIGHT:g}" stroke="{ACT}" stroke-width="3" stroke-dasharray="10 7"/>',
        f'<text x="{LEFT + 8:g}" y="{y - 10:.1f}" fill="{ACT}" font-weight="700">{words}</text>',
    ]


def _dates(shown: Sequence[Expected], scale: _Scale, t: Texts) -> list[str]:
    """Days of the band under it, as many as have room."""
    months = words(t.language).listed("date.months_short")
    room = max(int((RIGHT - LEFT) // LABEL_GAP), 1)
    step = -(-len(shown) // room)
    step += step % 2 if step > 1 else 0
    return [
        f'<text x="{scale.x(each.on):.1f}" y="478" text-anchor="{_anchor(scale.x(each.on))}">'
        f"{each.on.day} {months[each.on.month - 1]}</text>"
        for each in shown[::step]
    ]


def _anchor(x: float) -> str:
    return "end" if x > RIGHT - 30 else "middle"


def _dot(on: date, kg: float, scale: _Scale, doubtful: bool, last: bool) -> str:
    x, y = scale.x(on), scale.y(kg)
    fill, stroke = ("#fff", LOOK) if doubtful else (INK, INK)
    dot = f'<circle cx="{x:.1f}" cy="{y:.1f}" r="8" fill="{fill}" stroke="{stroke}" stroke-width="4"/>'
    if not last:
        return dot
    words = f"{kg:g} kg{' ?' if doubtful else ''}"
    halo = 'stroke="#fff" stroke-width="7" stroke-linejoin="round" fill="#fff"'
    at = f'x="{x:.1f}" y="{y - 20:.1f}" text-anchor="{_anchor(x)}" font-weight="700"'
    return f'{dot}<text {at} {halo}>{words}</text><text {at} fill="{INK}">{words}</text>'


def _alt(
    name: str,
    weighed: Sequence[tuple[date, float]],
    shown: Sequence[Expected],
    target_kg: float,
    doubtful: Sequence[date],
    t: Texts,
) -> str:
    w = words(t.language)

    def day(on: date) -> str:
        return w("date.day_month", day=on.day, month=month_name(on, w))

    end = shown[-1]
    text = t(
        "chart.alt",
        name=name,
        values=", ".join(t("chart.on", kg=f"{kg:g}", day=day(on)) for on, kg in weighed),
        day=long_day(end.on, w),
        low=f"{end.low_kg:.1f}",
        high=f"{end.high_kg:.1f}",
        target=f"{target_kg:g}",
    )
    return text + "".join(f" {t('chart.doubtful', day=day(on))}" for on in doubtful)
