"""Is a typed measurement possible, usual, inside its reference interval, alarming?

Three layers, all data (`limit_table`): an impossible value is refused with the reason and, where another
unit would make sense of it, an offer; a rare one is asked about once; one outside the reference interval
is flagged, with a finding code a clinician may take or leave. Nothing here decides a diagnosis.
"""

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal

from clinic.patients.counting import CountedRate, rate_from_count
from clinic.patients.judgement import (
    Case,
    Context,
    Flag,
    Judgement,
    Kind,
    LastValue,
    Method,
    Offer,
    Question,
    Species,
    interval_subject,
    interval_words,
)
from clinic.patients.limit_table import (
    Interval,
    Level,
    Limits,
    Plausible,
    Setting,
    Sign,
    State,
    default_limits,
)
from clinic.patients.pressure_labels import LabelVerdict, check_pressure_label
from clinic.patients.units import Unit, from_canonical, plain, rounded, stored, to_canonical, with_unit
from clinic.patients.urgency import Suggestion, Urgency
from clinic.patients.vital_notes import notes
from clinic.patients.weight import detect_slip

__all__ = [
    "Context",
    "CountedRate",
    "Flag",
    "Judgement",
    "Kind",
    "LabelVerdict",
    "LastValue",
    "Method",
    "Offer",
    "Question",
    "Setting",
    "Sign",
    "Species",
    "State",
    "Suggestion",
    "Unit",
    "Urgency",
    "check_pressure_label",
    "interval_words",
    "judge",
    "rate_from_count",
    "urgency_of",
]

TOO_LONG = Decimal(1_000_000)


def judge(
    kind: Kind, typed: Decimal | str, unit: Unit, context: Context, limits: Limits | None = None
) -> Judgement:
    """Judge a number in `unit`, or one of the words of its kind ("panting", "severe", "over-3").

    Never raises for what a person may type: a value that cannot be kept comes back `refused`.
    Heart and pulse rate judged on the same day may both suggest HRT-15: keep one.
    """
    table = limits or default_limits()
    measure = table.measures[kind.subject]
    case = Case(kind, unit, context, table, measure)
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


def _refuse(case: Case, typed: Decimal | None, reason: str, offers: tuple[Offer, ...] = ()) -> Judgement:
    return Judgement(case.kind, case.unit, typed, None, case.measure.canonical, refused=reason, offers=offers)


# --- Words ------------------------------------------------------------------------------------------


def _judge_word(case: Case, word: str) -> Judgement:
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


def _shape_refusal(case: Case, typed: Decimal) -> str:
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


def _judge_number(case: Case, typed: Decimal) -> Judgement:
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


def _offers(case: Case, plausible: Plausible, typed: Decimal) -> Iterator[Offer]:
    for unit in case.measure.units:
        value = to_canonical(typed, unit)
        if unit is not case.unit and plausible.hard.holds(value):
            yield _offer(case, typed, unit)


def _offer(case: Case, typed: Decimal, unit: Unit) -> Offer:
    value = to_canonical(typed, unit)
    canonical = case.measure.canonical
    text = with_unit(typed, unit)
    if unit is not canonical:
        decimals = 1 if canonical is Unit.CELSIUS else 2
        text += f" = {rounded(value, decimals)} {with_unit(Decimal(0), canonical).split(' ', 1)[1]}"
    return Offer(unit, typed, stored(value), text)


def _impossible(case: Case, plausible: Plausible, typed: Decimal, offers: tuple[Offer, ...]) -> str:
    low, high = plausible.hard.at_least, plausible.hard.at_most
    # in the unit that was typed, which is its reader's
    ends = " to ".join(
        with_unit(rounded(from_canonical(end, case.unit), 2), case.unit)
        for end in (low, high)
        if end is not None
    )
    reason = f"{with_unit(typed, case.unit)} is not possible for a {case.context.species} (limits: {ends})."
    if offers:
        return f"{reason} Did you mean {' or '.join(offer.text for offer in offers)}?"
    return reason if len(case.measure.units) == 1 else f"{reason} No other unit makes sense of it."


def _pulse_above_heart(case: Case, value: Decimal) -> str:
    heart = value if case.kind is Kind.HEART_RATE else case.context.heart_rate
    pulse = value if case.kind is Kind.PULSE_RATE else case.context.pulse_rate
    if case.kind not in (Kind.HEART_RATE, Kind.PULSE_RATE) or heart is None or pulse is None:
        return ""
    if pulse <= heart:
        return ""
    return f"A pulse of {plain(pulse)} cannot be faster than a heart of {plain(heart)}: count both again."


# --- Numbers: rare, outside, alarming ---------------------------------------------------------------


def _weigh_up(case: Case, judgement: Judgement, value: Decimal, plausible: Plausible | None) -> Judgement:
    interval = None if _pulse_beside_heart(case) else case.interval(interval_subject(case.kind))
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
        notes=tuple(notes(case, interval, level, flag, value, borderline)),
        missing=tuple(_missing(case)),
        deficit=_deficit(case, value),
    )


def _pulse_beside_heart(case: Case) -> bool:
    return case.kind is Kind.PULSE_RATE and case.context.heart_rate is not None


def _questions(case: Case, plausible: Plausible | None, typed: Decimal, value: Decimal) -> Iterator[Question]:
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
    case: Case, interval: Interval | None, level: Level | None, value: Decimal
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
    case: Case, interval: Interval | None, level: Level | None, flag: Flag | None, value: Decimal
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


def _from_level(case: Case, level: Level, value: Decimal | None, word: str) -> Suggestion:
    urgency, raised = urgency_of(level.code, value, case.context, case.limits, level.urgency)
    shown = word if value is None else f"{with_unit(value, case.measure.canonical)}: {word}"
    return Suggestion(level.code, urgency, shown, raised)


def _extra_suggestions(case: Case, value: Decimal) -> Iterator[Suggestion]:
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


def _muscle_under_fat(case: Case, bcs: Decimal | None, mcs: str) -> Iterator[Suggestion]:
    """Muscle loss with a normal or high fat score, which the weight alone hides (WSAVA muscle score)."""
    ideal = case.interval(Kind.BCS.subject)
    if bcs is None or ideal is None or mcs in ("", "normal") or ideal.span.too_low(bcs):
        return
    urgency, raised = urgency_of("BCM-10", None, case.context, case.limits)
    yield Suggestion("BCM-10", urgency, f"muscle loss ({mcs}) at body condition {plain(bcs)} of 9", raised)


def _deficit(case: Case, value: Decimal) -> Decimal | None:
    heart, pulse = case.context.heart_rate, case.context.pulse_rate
    if case.kind is Kind.PULSE_RATE and heart is not None:
        return heart - value
    if case.kind is Kind.HEART_RATE and pulse is not None:
        return value - pulse
    return None


def _missing(case: Case) -> Iterator[str]:
    method = case.context.method
    given = {
        "cuff": bool(method.cuff.strip()),
        "site": bool(method.site.strip()),
        "device": bool(method.device.strip()),
        "readings": method.readings is not None and method.readings > 0,
    }
    return (name for name in case.measure.required if not given[name])
