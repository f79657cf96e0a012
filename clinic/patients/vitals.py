"""Is a typed measurement possible, usual, inside its reference interval, alarming?

Three layers, all data (`limit_table`): an impossible value is refused with the reason and, where another
unit would make sense of it, an offer; a rare one is asked about once; one outside the reference interval
is flagged, with a finding code a clinician may take or leave. Nothing here decides a diagnosis.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from enum import StrEnum
from typing import Literal

from clinic.patients.limit_table import (
    Interval,
    Level,
    Limits,
    Measure,
    Plausible,
    Setting,
    Sign,
    State,
    default_limits,
)
from clinic.patients.units import Unit, plain, rounded, stored, to_canonical, with_unit
from clinic.patients.urgency import Suggestion, Urgency, highest
from clinic.patients.weight import detect_slip

Species = Literal["dog", "cat"]
TOO_LONG = Decimal(1_000_000)


class Kind(StrEnum):
    WEIGHT = "weight"
    TEMPERATURE = "temperature"
    HEART_RATE = "heart-rate"
    PULSE_RATE = "pulse-rate"
    RESPIRATORY_RATE = "respiratory-rate"
    CAPILLARY_REFILL = "capillary-refill"
    BLOOD_PRESSURE = "blood-pressure"
    BCS = "bcs"
    MCS = "mcs"
    PAIN = "pain"
    STT_LEFT = "stt-left"
    STT_RIGHT = "stt-right"
    IOP_LEFT = "iop-left"
    IOP_RIGHT = "iop-right"
    MUCOUS_MEMBRANES = "mucous-membranes"

    @property
    def subject(self) -> str:
        """The name in the limits, which know no side: "iop" for both eyes."""
        return self.value.removesuffix("-left").removesuffix("-right")


class Flag(StrEnum):
    INSIDE = "inside"
    LOW = "low"
    HIGH = "high"


@dataclass(frozen=True)
class Method:
    """How it was measured. Cuff, site, device and number of readings are needed for a blood pressure."""

    cuff: str = ""
    site: str = ""
    device: str = ""
    readings: int | None = None


@dataclass(frozen=True)
class LastValue:
    """The value before this one: canonical, how many days ago, and where it was taken."""

    canonical: Decimal
    days_ago: int
    setting: Setting = Setting.CLINIC


@dataclass(frozen=True)
class Context:
    """The animal and the circumstances. Species and setting have no default on purpose.

    `heart_rate`, `pulse_rate`, `other_eye`, `bcs`, `mcs` are today's other values (canonical), where known.
    """

    species: Species
    setting: Setting
    age_days: int | None = None
    state: State | None = None
    signs: frozenset[Sign] = frozenset()
    method: Method = Method()
    half_points: bool = False
    heart_rate: Decimal | None = None
    pulse_rate: Decimal | None = None
    other_eye: Decimal | None = None
    bcs: Decimal | None = None
    mcs: str = ""
    last: Mapping[Kind, LastValue] = field(default_factory=dict)


@dataclass(frozen=True)
class Offer:
    """Another reading of what was typed, to be confirmed, never swapped in silently."""

    unit: Unit
    typed: Decimal
    canonical: Decimal
    text: str


@dataclass(frozen=True)
class Question:
    """Asked once. Keys: rare-low, rare-high, slip-pounds, slip-decimal."""

    key: str
    text: str
    offer: Offer | None = None


@dataclass(frozen=True)
class Judgement:
    """What is to be said about one value. `refused` is the reason; empty means it may be kept.

    `canonical` has six decimals and is None for a word; `category` is the word or the step of the scale.
    `missing` names what the method still needs before the value is final.
    """

    kind: Kind
    unit: Unit
    typed: Decimal | None
    canonical: Decimal | None
    canonical_unit: Unit
    refused: str = ""
    offers: tuple[Offer, ...] = ()
    questions: tuple[Question, ...] = ()
    flag: Flag | None = None
    category: str = ""
    interval: Interval | None = None
    suggestions: tuple[Suggestion, ...] = ()
    notes: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    deficit: Decimal | None = None

    @property
    def accepted(self) -> bool:
        return not self.refused

    @property
    def complete(self) -> bool:
        """May be kept as final: accepted, and nothing of the method is missing."""
        return self.accepted and not self.missing

    @property
    def urgency(self) -> Urgency | None:
        return highest(suggestion.urgency for suggestion in self.suggestions)

    @property
    def leading(self) -> Suggestion | None:
        """The most urgent suggestion, for a row that keeps one."""
        return max(self.suggestions, key=lambda suggestion: suggestion.urgency.rank, default=None)

    @property
    def see_now(self) -> bool:
        """Alarming: the animal should be seen before those who wait."""
        return self.urgency is Urgency.EMERGENCY

    @property
    def codes(self) -> tuple[str, ...]:
        return tuple(suggestion.code for suggestion in self.suggestions)


@dataclass(frozen=True)
class _Case:
    """One value with all that is needed to judge it."""

    kind: Kind
    unit: Unit
    context: Context
    limits: Limits
    measure: Measure

    def plausible(self) -> Plausible | None:
        rows = self.limits.plausible
        return next((row for row in rows if row.kind == self.kind.subject and self._fits(row)), None)

    def interval(self, subject: str | None = None) -> Interval | None:
        wanted = subject or self.kind.subject
        return next((row for row in self.limits.intervals if row.kind == wanted and self._fits(row)), None)

    def levels(self) -> Iterator[Level]:
        return (row for row in self.limits.levels if row.kind == self.kind.subject and self._fits(row))

    def level_of(self, value: Decimal) -> Level | None:
        return next((row for row in self.levels() if not row.span.is_open and row.span.holds(value)), None)

    def level_named(self, word: str) -> Level | None:
        return next((row for row in self.levels() if row.category == word), None)

    def age_matters(self) -> bool:
        rows = (row for row in self.limits.intervals if row.kind == _interval_subject(self.kind))
        return any(row.scope.age_before_days is not None for row in rows)

    def _fits(self, row: Plausible | Interval | Level) -> bool:
        return row.scope.fits(self.context.species, self.context.age_days, self.context.setting)


def judge(
    kind: Kind, typed: Decimal | str, unit: Unit, context: Context, limits: Limits | None = None
) -> Judgement:
    """Judge a number in `unit`, or one of the words of its kind ("panting", "severe", "over-3").

    Never raises for what a person may type: a value that cannot be kept comes back `refused`.
    Heart and pulse rate judged on the same day may both suggest HRT-15: keep one.
    """
    table = limits or default_limits()
    measure = table.measures[kind.subject]
    case = _Case(kind, unit, context, table, measure)
    if unit not in measure.units:
        return _refuse(case, None, f"{kind} is not measured in {unit}.")
    if isinstance(typed, str):
        return _judge_word(case, typed)
    refused = _shape_refusal(case, typed)
    return _refuse(case, typed, refused) if refused else _judge_number(case, typed)


def urgency_of(
    code: str, value: Decimal | None, context: Context, limits: Limits, usual: Urgency | None = None
) -> tuple[Urgency, str]:
    """The class of a code for this value (canonical) and animal, and why it was raised (empty if not)."""
    best, because = usual or limits.usual[code], ""
    for step in limits.escalations:
        number = step.span.is_open or (value is not None and step.span.holds(value))
        signs = not step.signs or bool(step.signs & context.signs)
        fits = step.scope.fits(context.species, context.age_days, context.setting)
        blocked = context.state is not None and context.state in step.unless_states
        applies = step.code == code and number and signs and fits and not blocked
        if applies and step.to.rank > best.rank:
            best, because = step.to, step.because
    return best, because


def _refuse(case: _Case, typed: Decimal | None, reason: str, offers: tuple[Offer, ...] = ()) -> Judgement:
    return Judgement(case.kind, case.unit, typed, None, case.measure.canonical, refused=reason, offers=offers)


# --- Words ------------------------------------------------------------------------------------------


def _judge_word(case: _Case, word: str) -> Judgement:
    if word not in case.measure.words:
        allowed = ", ".join(case.measure.words) or "a number"
        return _refuse(case, None, f"{case.kind} cannot be “{word}”: choose {allowed}.")
    level = case.level_named(word)
    suggestions = [_from_level(case, level, None, word)] if level and level.code else []
    if case.kind is Kind.MCS:
        suggestions += _muscle_under_fat(case, case.context.bcs, word)
    return Judgement(
        case.kind,
        case.unit,
        None,
        None,
        case.measure.canonical,
        category=word,
        suggestions=tuple(suggestions),
        notes=(level.note,) if level and level.note else (),
    )


# --- Numbers: impossible ----------------------------------------------------------------------------


def _shape_refusal(case: _Case, typed: Decimal) -> str:
    if case.measure.words and case.plausible() is None:
        return f"{case.kind} is a word, not a number: choose {', '.join(case.measure.words)}."
    if not typed.is_finite() or abs(typed) >= TOO_LONG:
        return "This is not a number that can be measured."
    if -int(typed.normalize().as_tuple().exponent) > case.measure.decimals:
        places = case.measure.decimals
        return f"Give at most {places} decimals." if places else "Give a whole number."
    if case.kind is Kind.BCS and (typed * (2 if case.context.half_points else 1)) % 1:
        points = "whole or half" if case.context.half_points else "whole"
        return f"Body condition is scored in {points} points from 1 to 9."
    return ""


def _judge_number(case: _Case, typed: Decimal) -> Judgement:
    value = to_canonical(typed, case.unit)
    plausible = case.plausible()
    if plausible and not plausible.hard.holds(value):
        offers = tuple(_offers(case, plausible, typed))
        return _refuse(case, typed, _impossible(case, plausible, typed, offers), offers)
    mismatch = _pulse_above_heart(case, value)
    if mismatch:
        return _refuse(case, typed, mismatch)
    accepted = Judgement(case.kind, case.unit, typed, stored(value), case.measure.canonical)
    return _weigh_up(case, accepted, value, plausible)


def _offers(case: _Case, plausible: Plausible, typed: Decimal) -> Iterator[Offer]:
    for unit in case.measure.units:
        value = to_canonical(typed, unit)
        if unit is not case.unit and plausible.hard.holds(value):
            yield _offer(case, typed, unit)


def _offer(case: _Case, typed: Decimal, unit: Unit) -> Offer:
    value = to_canonical(typed, unit)
    canonical = case.measure.canonical
    text = with_unit(typed, unit)
    if unit is not canonical:
        decimals = 1 if canonical is Unit.CELSIUS else 2
        text += f" = {rounded(value, decimals)} {with_unit(Decimal(0), canonical).split(' ', 1)[1]}"
    return Offer(unit, typed, stored(value), text)


def _impossible(case: _Case, plausible: Plausible, typed: Decimal, offers: tuple[Offer, ...]) -> str:
    low, high = plausible.hard.at_least, plausible.hard.at_most
    unit = case.measure.canonical
    ends = " to ".join(with_unit(end, unit) for end in (low, high) if end is not None)
    reason = f"{with_unit(typed, case.unit)} is not possible for a {case.context.species} (limits: {ends})."
    if offers:
        return f"{reason} Did you mean {' or '.join(offer.text for offer in offers)}?"
    return reason if len(case.measure.units) == 1 else f"{reason} No other unit makes sense of it."


def _pulse_above_heart(case: _Case, value: Decimal) -> str:
    heart = value if case.kind is Kind.HEART_RATE else case.context.heart_rate
    pulse = value if case.kind is Kind.PULSE_RATE else case.context.pulse_rate
    if case.kind not in (Kind.HEART_RATE, Kind.PULSE_RATE) or heart is None or pulse is None:
        return ""
    if pulse <= heart:
        return ""
    return f"A pulse of {plain(pulse)} cannot be faster than a heart of {plain(heart)}: count both again."


# --- Numbers: rare, outside, alarming ---------------------------------------------------------------


def _weigh_up(case: _Case, judgement: Judgement, value: Decimal, plausible: Plausible | None) -> Judgement:
    interval = None if _pulse_beside_heart(case) else case.interval(_interval_subject(case.kind))
    level = case.level_of(value)
    flag, borderline = _flag(case, interval, level, value)
    suggestions = [*_suggest(case, interval, level, flag, value), *_extra_suggestions(case, value)]
    return replace(
        judgement,
        questions=tuple(_questions(case, plausible, judgement.typed or Decimal(0), value)),
        flag=flag,
        category=level.category if level else "",
        interval=interval,
        suggestions=tuple(suggestions),
        notes=tuple(_notes(case, interval, level, flag, value, borderline)),
        missing=tuple(_missing(case)),
        deficit=_deficit(case, value),
    )


def _pulse_beside_heart(case: _Case) -> bool:
    return case.kind is Kind.PULSE_RATE and case.context.heart_rate is not None


def _interval_subject(kind: Kind) -> str:
    return Kind.HEART_RATE.subject if kind is Kind.PULSE_RATE else kind.subject


def _questions(
    case: _Case, plausible: Plausible | None, typed: Decimal, value: Decimal
) -> Iterator[Question]:
    if plausible and not plausible.soft.holds(value):
        side = "low" if plausible.soft.too_low(value) else "high"
        text = f"{with_unit(typed, case.unit)} is rare for a {case.context.species}. Is this right?"
        yield Question(f"rare-{side}", f"{text} {plausible.note}".strip())
    last = case.context.last.get(case.kind)
    if case.kind is Kind.WEIGHT and last is not None:
        slip = detect_slip(last.canonical, value, case.context.age_days, last.days_ago, case.limits)
        if slip:
            offer = Offer(Unit.KG, slip.offer_kg, stored(slip.offer_kg), f"{rounded(slip.offer_kg, 2)} kg")
            yield Question(f"slip-{slip.kind}", slip.question, offer)


def _flag(
    case: _Case, interval: Interval | None, level: Level | None, value: Decimal
) -> tuple[Flag | None, str]:
    """The side the value falls on, and the note when it is only borderline."""
    if interval is None:
        return (Flag(level.side) if level and level.side else None), ""
    compared = value if interval.decimals is None else rounded(value, interval.decimals)
    if interval.span.too_low(compared):
        return Flag.LOW, ""
    limit = interval.high_with_effort if Sign.EFFORT in case.context.signs else None
    if not interval.span.too_high(compared) and (limit is None or compared <= limit):
        return Flag.INSIDE, ""
    if interval.borderline_high is None or compared > interval.borderline_high:
        return Flag.HIGH, ""
    flag = Flag.HIGH if interval.borderline_flagged else Flag.INSIDE
    return flag, interval.borderline_note


def _suggest(
    case: _Case, interval: Interval | None, level: Level | None, flag: Flag | None, value: Decimal
) -> Iterator[Suggestion]:
    if level is not None:
        if level.code:
            yield _from_level(case, level, value, level.category)
        return
    code = _interval_code(interval, flag)
    if interval and flag and code:
        urgency, raised = urgency_of(code, value, case.context, case.limits)
        ends = interval_words(interval, case.measure.canonical)
        shown = with_unit(rounded(value, interval.decimals or 0), case.measure.canonical)
        because = f"{shown} is {'above' if flag is Flag.HIGH else 'below'} {ends}"
        yield Suggestion(code, urgency, because, raised)


def _interval_code(interval: Interval | None, flag: Flag | None) -> str:
    if interval is None or flag in (None, Flag.INSIDE):
        return ""
    return interval.low_code if flag is Flag.LOW else interval.high_code


def _from_level(case: _Case, level: Level, value: Decimal | None, word: str) -> Suggestion:
    urgency, raised = urgency_of(level.code, value, case.context, case.limits, level.urgency)
    shown = word if value is None else f"{with_unit(value, case.measure.canonical)}: {word}"
    return Suggestion(level.code, urgency, shown, raised)


def _extra_suggestions(case: _Case, value: Decimal) -> Iterator[Suggestion]:
    if case.kind is Kind.BCS:
        yield from _muscle_under_fat(case, value, case.context.mcs)
    if case.kind is Kind.RESPIRATORY_RATE and Sign.EFFORT in case.context.signs:
        yield Suggestion("LUN-02", case.limits.usual["LUN-02"], "breathing with effort, whatever the number")
    deficit = _deficit(case, value)
    if deficit is not None and deficit >= case.limits.rule("pulse-deficit-from"):
        heart = value if case.kind is Kind.HEART_RATE else case.context.heart_rate
        urgency, raised = urgency_of("HRT-15", deficit, case.context, case.limits)
        interval = case.interval(Kind.HEART_RATE.subject)
        if interval and heart is not None and interval.span.too_high(heart):
            urgency, raised = Urgency.EMERGENCY, "pulse deficit with a fast heart"
        yield Suggestion("HRT-15", urgency, f"{plain(deficit)} heartbeats a minute without a pulse", raised)


def _muscle_under_fat(case: _Case, bcs: Decimal | None, mcs: str) -> Iterator[Suggestion]:
    """Muscle loss with a normal or high fat score, which the weight alone hides (WSAVA muscle score)."""
    ideal = case.interval(Kind.BCS.subject)
    if bcs is None or ideal is None or mcs in ("", "normal") or ideal.span.too_low(bcs):
        return
    urgency, raised = urgency_of("BCM-10", None, case.context, case.limits)
    yield Suggestion("BCM-10", urgency, f"muscle loss ({mcs}) at body condition {plain(bcs)} of 9", raised)


def _deficit(case: _Case, value: Decimal) -> Decimal | None:
    heart, pulse = case.context.heart_rate, case.context.pulse_rate
    if case.kind is Kind.PULSE_RATE and heart is not None:
        return heart - value
    if case.kind is Kind.HEART_RATE and pulse is not None:
        return value - pulse
    return None


def _missing(case: _Case) -> Iterator[str]:
    method = case.context.method
    given = {
        "cuff": bool(method.cuff.strip()),
        "site": bool(method.site.strip()),
        "device": bool(method.device.strip()),
        "readings": method.readings is not None and method.readings > 0,
    }
    return (name for name in case.measure.required if not given[name])


# --- Notes ------------------------------------------------------------------------------------------


def _notes(
    case: _Case,
    interval: Interval | None,
    level: Level | None,
    flag: Flag | None,
    value: Decimal,
    borderline: str,
) -> Iterator[str]:
    if borderline:
        yield borderline
    if level and level.note:
        yield level.note
    outside = flag in (Flag.LOW, Flag.HIGH)
    if interval and interval.note and outside:
        yield interval.note
    if interval and interval.low_note and flag is Flag.LOW:
        yield interval.low_note
    if outside and case.context.age_days is None and case.age_matters():
        yield "Age not known: judged as an adult."
    yield from _state_notes(case, flag)
    yield from _kind_notes(case, flag, value)


def _state_notes(case: _Case, flag: Flag | None) -> Iterator[str]:
    state, rates = case.context.state, (Kind.HEART_RATE, Kind.PULSE_RATE)
    if flag is Flag.HIGH and state is State.EXCITED:
        yield "Excited: measure again when calm."
    if flag is Flag.HIGH and state is State.HELD and case.kind in rates:
        yield "Being held makes the heart faster: count again when calm."
    if flag is Flag.LOW and state is State.SEDATED and case.kind in rates:
        yield "Sedated: judge with the medicine given."
    if case.kind is Kind.RESPIRATORY_RATE and state in (State.PURRING, State.PANTING):
        yield "Purring or panting spoils the count: count again."


def _kind_notes(case: _Case, flag: Flag | None, value: Decimal) -> Iterator[str]:
    if case.kind is Kind.TEMPERATURE:
        if case.context.method.site.strip().lower() in ("ear", "armpit"):
            yield "The ear and the armpit read lower than the rectum."
        if flag is Flag.LOW and (case.context.age_days is None or case.context.age_days >= 28):
            yield from _hypothermia(case, value)
    if case.kind in (Kind.IOP_LEFT, Kind.IOP_RIGHT) and case.context.other_eye is not None:
        between = abs(value - case.context.other_eye)
        if between >= case.limits.rule("eye-difference"):
            yield f"The eyes differ by {plain(between)} mmHg: look at both again."
    if case.kind is Kind.RESPIRATORY_RATE and case.context.setting is not Setting.CLINIC:
        yield from _home_breath_notes(case, value)


def _hypothermia(case: _Case, value: Decimal) -> Iterator[str]:
    if value < case.limits.rule("hypothermia-severe-below"):
        yield "Severe hypothermia (under 28 °C)."
    elif value < case.limits.rule("hypothermia-moderate-below"):
        yield "Moderate hypothermia (28 to 32 °C)."
    elif value <= case.limits.rule("hypothermia-mild-to"):
        yield "Mild hypothermia (32 to 37 °C)."


def _home_breath_notes(case: _Case, value: Decimal) -> Iterator[str]:
    if value > case.limits.rule("home-rate-call"):
        yield "Above 40 a minute at home: count again, and call the same day if it stays."
    last = case.context.last.get(case.kind)
    if last is None or last.setting is not case.context.setting or last.canonical <= 0:
        return
    rise = (value - last.canonical) / last.canonical * 100
    if rise >= case.limits.rule("home-rate-rise-percent"):
        before = plain(last.canonical)
        yield f"Up {rounded(rise, 0)} % from {before} a minute, its last count in this setting."


def interval_words(interval: Interval, unit: Unit) -> str:
    """For people: "37.7–39.5 °C", "up to 30 a minute", "15 or more mm in a minute"."""
    low, high = interval.low, interval.high
    if low is not None and high is not None:
        return f"{plain(low)}–{with_unit(high, unit)}"
    if high is not None:
        return f"up to {with_unit(high, unit)}"
    return f"{with_unit(low, unit)} or more" if low is not None else ""


# --- Counting and labels ----------------------------------------------------------------------------


@dataclass(frozen=True)
class CountedRate:
    """A rate from a count: whole beats or breaths a minute, kept with how long was counted."""

    count: int
    seconds: int
    per_minute: Decimal
    step: Decimal
    """The rate can only be a multiple of this: 6 for a 10 s count."""


def rate_from_count(count: int, seconds: int) -> CountedRate:
    """count x 60 / seconds, rounded half up. Raises ValueError unless count >= 0 and 5 <= seconds <= 120."""
    if count < 0 or not 5 <= seconds <= 120:
        raise ValueError("count 0 or more, over 5 to 120 seconds")
    return CountedRate(
        count, seconds, rounded(Decimal(count * 60) / seconds, 0), rounded(Decimal(60) / seconds, 1)
    )


@dataclass(frozen=True)
class LabelVerdict:
    """`right` is the category of the current table for this pressure."""

    accepted: bool
    right: str
    reason: str = ""


def check_pressure_label(systolic: Decimal, label: str, limits: Limits | None = None) -> LabelVerdict:
    """Does a name beside a systolic pressure (mmHg) belong to it by the categories of 2018?

    Names and ranges of the tables of 2014-2015 are refused, whatever the number.
    """
    table = limits or default_limits()
    names = table.pressure_labels
    levels = [level for level in table.levels if level.kind == Kind.BLOOD_PRESSURE.subject]
    right = next(level.category for level in levels if level.span.holds(systolic))
    said = " ".join(label.lower().replace("–", "-").replace("mmhg", "").split())
    if any(word in said for word in (*names.old_words, *names.old_ranges)):
        return LabelVerdict(False, right, f"“{label}” is of a superseded table ({names.source.work}).")
    name = said.rstrip("0123456789-() ")
    if name == right:
        return LabelVerdict(True, right)
    known = name in names.current
    reason = f"{plain(systolic)} mmHg is {right}." if known else f"“{label}” is not a category."
    return LabelVerdict(False, right, reason)
