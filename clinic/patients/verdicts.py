"""What is said at once about a measured value: refused, asked once, or marked, with a ruler beside it."""

from dataclasses import dataclass
from decimal import Decimal

from django.utils import timezone

from clinic.patients.judgement import Judgement, Kind, Question, interval_subject, interval_words
from clinic.patients.limit_table import Interval, Setting, default_limits
from clinic.patients.models import Measurement
from clinic.patients.units import (
    METRIC,
    WORD_LABELS,
    Unit,
    Units,
    rounded,
    shown_weight,
    temperature_in,
    with_unit,
)

RULER_LEFT, RULER_RIGHT = 8.0, 312.0
DECIMALS = {Unit.KG: 2, Unit.CELSIUS: 1}
USUAL_WORDS = {
    Kind.MCS: "normal",
    Kind.PAIN: "none",
    Kind.CAPILLARY_REFILL: "1-2",
    Kind.MUCOUS_MEMBRANES: "pink",
    Kind.RESPIRATORY_RATE: "",
}
NO_ANSWER = ("cannot-assess", "pigmented")


@dataclass(frozen=True)
class Ruler:
    """A value beside its interval, drawn on 320 by 16."""

    low: float
    width: float
    at: float
    outside: bool


@dataclass(frozen=True)
class OfferRow:
    value: str
    label: str


@dataclass(frozen=True)
class Verdict:
    """What is said at once about a typed value.

    `state`: refused (cannot be kept), asked (kept when somebody looked twice), high, low, off (a word that is
    not the usual one), open (a word that tells nothing about it), inside, kept.
    """

    state: str
    words: str
    notes: tuple[str, ...] = ()
    offers: tuple[OfferRow, ...] = ()
    ask_planned: bool = False
    ruler: Ruler | None = None
    see_now: bool = False

    @property
    def shape(self) -> str:
        return SHAPES[self.state]

    @property
    def tone(self) -> str:
        return TONES[self.state]


SHAPES = {
    "refused": "danger",
    "asked": "abnormal",
    "high": "high",
    "low": "low",
    "off": "abnormal",
    "open": "unseen",
    "inside": "normal",
    "kept": "normal",
}
TONES = {
    "refused": "is-danger",
    "asked": "is-look",
    "high": "is-look",
    "low": "is-look",
    "off": "is-look",
    "open": "is-unseen",
    "inside": "is-normal",
    "kept": "is-normal",
}


def in_words(row: Measurement, units: Units = METRIC) -> str:
    """27.4 kg (60.4 lb); 38.8 °C; 104 a minute; mild. In the reader's `units`, whatever it was typed in."""
    if row.value is None:
        return WORD_LABELS.get(row.category, row.category)
    if row.kind == Kind.WEIGHT:
        return shown_weight(row.value, units.weight)
    if row.kind == Kind.TEMPERATURE:
        return temperature_in(row.value, units.temperature)
    canonical = default_limits().measures[Kind(row.kind).subject].canonical
    return with_unit(rounded(row.value, 1), canonical)


def word_state(kind: str, word: str) -> str:
    """What a word of a scale is: off, open, or empty where it is the usual one (or no word at all)."""
    if word in NO_ANSWER:
        return "open"
    return "off" if word and word != USUAL_WORDS.get(Kind(kind), word) else ""


def state_of(row: Measurement) -> str:
    """How a kept value stands: high, low, off, open or kept."""
    if row.flag in ("high", "low"):
        return row.flag
    return word_state(row.kind, row.category) or "kept"


def refused(words: str) -> Verdict:
    return Verdict("refused", words)


def verdict(judgement: Judgement, units: Units = METRIC, *, kept: bool = False) -> Verdict:
    """What a judgement says to who reads `units`; before it is kept, or after."""
    if judgement.refused or judgement.missing:
        missing = f"Still needed: {', '.join(judgement.missing)}."
        offers = tuple(_offer(offer.unit, offer.typed, offer.text) for offer in judgement.offers)
        return Verdict("refused", f"{judgement.refused or missing} Not kept.", offers=offers)
    if judgement.questions and not kept:
        return _question(judgement)
    word = word_state(judgement.kind, judgement.category)
    state = judgement.flag.value if judgement.flag else word or "inside"
    return Verdict(
        state=state,
        words=f"{'Kept: ' if kept else ''}{_said(judgement, units)}",
        notes=_notes(judgement),
        ruler=_ruler(judgement),
        see_now=judgement.see_now,
    )


def of_row(row: Measurement, units: Units = METRIC) -> Verdict:
    """What is said of a value that was just kept."""
    interval = interval_of(row)
    canonical = default_limits().measures[Kind(row.kind).subject].canonical
    marked = row.flag in ("high", "low")
    usual = f" ({interval_words(interval, canonical, units)})" if marked and interval else ""
    return Verdict(
        state=state_of(row),
        words=f"Kept: {in_words(row, units)}{f', {row.flag}' if marked else ''}{usual}",
        ruler=ruler(interval, row.value) if interval and row.value is not None else None,
        see_now=row.urgency == "E",
    )


def interval_of(row: Measurement) -> Interval | None:
    """The reference interval for this animal and circumstances, where its kind has one."""
    born = row.patient.birth_date
    on = timezone.localdate(row.measured_at)
    days = (on - born).days if born and born <= on else None
    subject = interval_subject(Kind(row.kind))
    return next(
        (
            each
            for each in default_limits().intervals
            if each.kind == subject and each.scope.fits(row.patient.species, days, Setting(row.setting))
        ),
        None,
    )


def _question(judgement: Judgement) -> Verdict:
    return Verdict(
        "asked",
        " ".join(question.text for question in judgement.questions),
        notes=_notes(judgement),
        offers=tuple(_offer_of(question, judgement) for question in judgement.questions if question.offer),
        ask_planned=any(question.key == "planned" for question in judgement.questions),
        ruler=_ruler(judgement),
        see_now=judgement.see_now,
    )


def _offer_of(question: Question, judgement: Judgement) -> OfferRow:
    """For swapped units: what was typed, in the other unit; else the value that is meant."""
    assert question.offer is not None
    if question.key == "slip-pounds" and judgement.typed is not None:
        other = Unit.KG if judgement.unit is Unit.LB else Unit.LB
        return _offer(other, judgement.typed, with_unit(judgement.typed, other))
    return _offer(Unit.KG, rounded(question.offer.canonical, 2), question.offer.text)


def _offer(unit: Unit, typed: Decimal, text: str) -> OfferRow:
    return OfferRow(f"{unit.value}:{typed}", f"It was {text}")


def _said(judgement: Judgement, units: Units) -> str:
    if judgement.canonical is None:
        return WORD_LABELS.get(judgement.category, judgement.category)
    if judgement.kind is Kind.WEIGHT:
        return shown_weight(judgement.canonical, units.weight)
    value = rounded(judgement.canonical, DECIMALS.get(judgement.canonical_unit, 1))
    text = with_unit(value, judgement.canonical_unit)
    if judgement.canonical_unit is Unit.CELSIUS:
        first, other = ("F", "C") if units.temperature == "F" else ("C", "F")
        scales = (temperature_in(judgement.canonical, each) for each in (first, other))
        text = ", ".join(scales)
    flag = f": {judgement.flag.value}" if judgement.flag else ""
    usual = interval_words(judgement.interval, judgement.canonical_unit, units) if judgement.interval else ""
    return f"{text}{flag}{f' ({usual})' if usual and judgement.flag else ''}"


def _notes(judgement: Judgement) -> tuple[str, ...]:
    because = [f"{each.because}." for each in judgement.suggestions if judgement.kind is Kind.WEIGHT]
    return (*because, *judgement.notes)


def _ruler(judgement: Judgement) -> Ruler | None:
    if judgement.interval is None or judgement.canonical is None:
        return None
    return ruler(judgement.interval, judgement.canonical)


def ruler(interval: Interval, value: Decimal) -> Ruler | None:
    """The interval as a band with as much room on both sides; a value beyond stands at the end."""
    low, high = interval.low, interval.high
    if low is None and high is None:
        return None
    start = float(low) if low is not None else 0.0
    end = float(high) if high is not None else max(start * 2, 1.0)
    room = (end - start) * 0.6
    first, last = start - room, end + room

    def x(number: float) -> float:
        share = (min(max(number, first), last) - first) / (last - first)
        return round(RULER_LEFT + share * (RULER_RIGHT - RULER_LEFT), 1)

    outside = (low is not None and value < low) or (high is not None and value > high)
    return Ruler(x(start), round(x(end) - x(start), 1), x(float(value)), outside)
