"""The owner's chart: weight and body condition beside what is hoped for, week by week. Pure.

One drawing for page and paper, where it is lower.

1005 × 510 units, or 370; colours are attributes, so that the drawing stands alone. On the sheet it is
36.4 rem wide: twenty-eight of them are 12 point, clear print's minimum.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from html import escape

from clinic.letters.texts import Texts
from clinic.letters.wording import long_day, month_name, words
from nutrition.amounts import in_unit
from nutrition.letter_texts import ENGLISH
from nutrition.programme import Expected

INK, INK_2, RULE, ACT, ACT_TINT, LOOK = "#1b2326", "#4a5559", "#d9d4ca", "#1f5a4c", "#d3e4dd", "#8a5a00"
FONT = "Atkinson Hyperlegible Next"
LEFT, RIGHT, TOP = 88.0, 985.0, 54.0
HEIGHT, LOW = 510, 370
# up from the foot: where the plot ends, the line of days, the line of scores
BOTTOM, DATES, SCORES = 114, 70, 20
STEPS = (0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20)
LABEL_GAP = 128.0
TYPE = 28
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
    scores: Sequence[tuple[date, float]] = (),
    ideal_kg: tuple[float, float] | None = None,
    unit: str = "kg",
    t: Texts = ENGLISH,
    height: int = HEIGHT,
) -> Chart:
    """Weights (day, kg), oldest first, over the band of a programme; `doubtful` ones are hollow and named.

    `scores`: (day, body condition of nine); `ideal_kg`: the ideal weight's least and most by the methods;
    `unit` kg or lb is what is read; `height` in units.
    """
    weighed = [(on, _read(kg, unit)) for on, kg in weighed]
    target = _read(target_kg, unit)
    band = [Expected(each.on, in_unit(each.low_kg, unit), in_unit(each.high_kg, unit)) for each in band]
    ideal = None if ideal_kg is None else (_read(ideal_kg[0], unit), _read(ideal_kg[1], unit))
    shown = _shown(weighed, band)
    scale = _Scale.of(weighed, shown, (target, *(ideal or ())), height)
    scored = [each for each in scores if scale.first <= each[0] <= scale.last]
    parts = [_band(shown, scale), *_levels(scale, unit), *_ideal(ideal, scale, t), *_target(target, scale, t)]
    parts += [*_dates(shown, scale, t), *_scores(scored, scale, t)]
    line = "L".join(f"{scale.x(on):.1f} {scale.y(kg):.1f}" for on, kg in weighed if on not in doubtful)
    parts.append(f'<path d="M{line}" fill="none" stroke="{INK}" stroke-width="4" stroke-linejoin="round"/>')
    parts += [
        _dot(on, kg, scale, on in doubtful, unit if (on, kg) == weighed[-1] else "") for on, kg in weighed
    ]
    alt = _alt(name, weighed, shown, target, doubtful, unit, t) + _alt_condition(scored, ideal, unit, t)
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" viewBox="0 0 1005 {height}" '
        f'font-family="{FONT}" font-size="{TYPE}" fill="{INK_2}"><title>{escape(alt)}</title>'
        f'<rect width="1005" height="{height}" fill="#fff"/>{"".join(parts)}</svg>'
    )
    return Chart(svg, alt)


def _read(kg: float, unit: str) -> float:
    """A weight as its number is read."""
    return round(in_unit(kg, unit), 1) if unit == "lb" else kg


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
    height: int

    @classmethod
    def of(
        cls,
        weighed: Sequence[tuple[date, float]],
        shown: Sequence[Expected],
        also: Sequence[float],
        height: int,
    ) -> "_Scale":
        kgs = [kg for _, kg in weighed] + [*also, shown[0].high_kg]
        low, high = min(kgs), max(kgs)
        spare = max((high - low) * 0.1, high * 0.01)
        return cls(shown[0].on, max(weighed[-1][0], shown[-1].on), low - spare, high + spare, height)

    def x(self, on: date) -> float:
        return LEFT + (on - self.first).days / max((self.last - self.first).days, 1) * (RIGHT - LEFT)

    def y(self, kg: float) -> float:
        bottom = self.height - BOTTOM
        return bottom - (kg - self.low) / (self.high - self.low) * (bottom - TOP)


def _band(shown: Sequence[Expected], scale: _Scale) -> str:
    over = [f"{scale.x(each.on):.1f} {scale.y(each.high_kg):.1f}" for each in shown]
    under = [f"{scale.x(each.on):.1f} {scale.y(each.low_kg):.1f}" for each in reversed(shown)]
    return f'<path d="M{"L".join([*over, *under])}Z" fill="{ACT_TINT}"/>'


def _levels(scale: _Scale, unit: str) -> list[str]:
    step = next((each for each in STEPS if (scale.high - scale.low) / each <= 5), STEPS[-1])
    first = -(-scale.low // step) * step
    kgs = [first + number * step for number in range(6) if first + number * step <= scale.high]
    lines = [
        f'<path d="M{LEFT:g} {scale.y(kg):.1f}H{RIGHT:g}" stroke="{RULE}" stroke-width="1.5"/>'
        f'<text x="{LEFT - 12:g}" y="{scale.y(kg) + 10:.1f}" text-anchor="end">{round(kg, 2):g}</text>'
        for kg in kgs
    ]
    return [*lines, f'<text x="{LEFT - 12:g}" y="24" text-anchor="end">{unit}</text>']


def _target(target_kg: float, scale: _Scale, t: Texts) -> list[str]:
    y, words = scale.y(target_kg), escape(t("chart.target", number=f"{target_kg:g}"))
    return [
        f'<path d="M{LEFT:g} {y:.1f}H{RIGHT:g}" stroke="{ACT}" stroke-width="3" stroke-dasharray="10 7"/>',
        _over_lines(f'x="{LEFT + 8:g}" y="{y - 12:.1f}" font-weight="700"', ACT, words),
    ]


def _ideal(ideal: tuple[float, float] | None, scale: _Scale, t: Texts) -> list[str]:
    """Where the methods say that the ideal weight lies."""
    if ideal is None:
        return []
    top, low = scale.y(ideal[1]), scale.y(ideal[0])
    said = escape(t("chart.ideal", low=f"{ideal[0]:.1f}", high=f"{ideal[1]:.1f}"))
    under = min(low + 34, scale.height - BOTTOM + 8)  # clear of the days
    return [
        f'<path d="M{LEFT:g} {top:.1f}H{RIGHT:g}M{LEFT:g} {low:.1f}H{RIGHT:g}" stroke="{INK_2}" '
        'stroke-width="2" stroke-dasharray="2 7"/>',
        _over_lines(f'x="{RIGHT:g}" y="{under:.1f}" text-anchor="end"', INK_2, said),
    ]


def _scores(scores: Sequence[tuple[date, float]], scale: _Scale, t: Texts) -> list[str]:
    """Body condition under its day, where there is room: the first and the last always."""
    if not scores:
        return []
    kept = [scores[0]]
    for each in scores[1:-1]:
        x = scale.x(each[0])
        if x - scale.x(kept[-1][0]) >= LABEL_GAP and scale.x(scores[-1][0]) - x >= LABEL_GAP:
            kept.append(each)
    if scale.x(scores[-1][0]) - scale.x(kept[-1][0]) >= LABEL_GAP:
        kept.append(scores[-1])
    label = f'<text x="4" y="{scale.height - SCORES}">{escape(t("chart.score"))}</text>'
    return [label, *(_score(on, t("chart.of_nine", bcs=f"{bcs:g}"), scale) for on, bcs in kept)]


def _score(on: date, said: str, scale: _Scale) -> str:
    x, y = scale.x(on), scale.height - SCORES
    anchor = "start" if x < LEFT + 40 else _anchor(x)
    return f'<text x="{x:.1f}" y="{y}" text-anchor="{anchor}" fill="{INK}">{escape(said)}</text>'


def _dates(shown: Sequence[Expected], scale: _Scale, t: Texts) -> list[str]:
    """Days of the band under it, as many as have room."""
    months = words(t.language).listed("date.months_short")
    room = max(int((RIGHT - LEFT) // LABEL_GAP), 1)
    step = -(-len(shown) // room)
    step += step % 2 if step > 1 else 0
    y = scale.height - DATES
    return [
        f'<text x="{(x := scale.x(each.on)):.1f}" y="{y}" text-anchor="{_anchor(x)}">'
        f"{each.on.day} {months[each.on.month - 1]}</text>"
        for each in shown[::step]
    ]


def _anchor(x: float) -> str:
    return "end" if x > RIGHT - 40 else "middle"


def _dot(on: date, kg: float, scale: _Scale, doubtful: bool, named: str) -> str:
    """`named`: the unit where the weight stands beside the dot, empty where it does not."""
    x, y = scale.x(on), scale.y(kg)
    fill, stroke = ("#fff", LOOK) if doubtful else (INK, INK)
    dot = f'<circle cx="{x:.1f}" cy="{y:.1f}" r="8" fill="{fill}" stroke="{stroke}" stroke-width="4"/>'
    if not named:
        return dot
    words = f"{kg:g} {named}{' ?' if doubtful else ''}"
    anchor = "start" if x < LEFT + 60 else _anchor(x)
    at = f'x="{x:.1f}" y="{y - 20:.1f}" text-anchor="{anchor}" font-weight="700"'
    return dot + _over_lines(at, INK, words)


def _over_lines(at: str, fill: str, words: str) -> str:
    """Words that lines may cross: with a white rim."""
    rim = 'stroke="#fff" stroke-width="8" stroke-linejoin="round" fill="#fff"'
    return f'<text {at} {rim}>{words}</text><text {at} fill="{fill}">{words}</text>'


def _alt(
    name: str,
    weighed: Sequence[tuple[date, float]],
    shown: Sequence[Expected],
    target: float,
    doubtful: Sequence[date],
    unit: str,
    t: Texts,
) -> str:
    w, end = words(t.language), shown[-1]
    text = t(
        "chart.alt",
        name=name,
        values=", ".join(t("chart.on", number=f"{kg:g}", unit=unit, day=_day(on, t)) for on, kg in weighed),
        day=long_day(end.on, w),
        low=f"{end.low_kg:.1f}",
        high=f"{end.high_kg:.1f}",
        target=f"{target:g}",
        unit=unit,
    )
    return text + "".join(f" {t('chart.doubtful', day=_day(on, t))}" for on in doubtful)


def _day(on: date, t: Texts) -> str:
    w = words(t.language)
    return w("date.day_month", day=on.day, month=month_name(on, w))


def _alt_condition(
    scores: Sequence[tuple[date, float]], ideal: tuple[float, float] | None, unit: str, t: Texts
) -> str:
    text = ""
    if scores:
        said = ", ".join(t("chart.score_on", bcs=f"{bcs:g}", day=_day(on, t)) for on, bcs in scores)
        text = f" {t('chart.scores', values=said)}"
    if ideal is not None:
        text += f" {t('chart.ideal_alt', low=f'{ideal[0]:.1f}', high=f'{ideal[1]:.1f}', unit=unit)}"
    return text
