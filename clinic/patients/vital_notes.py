"""Sentences beside a value: what may explain it, and what to do before believing it."""

from collections.abc import Iterator
from decimal import Decimal

from clinic.patients.judgement import Case, Flag, Kind
from clinic.patients.limit_table import Interval, Level, Setting, State
from clinic.patients.units import plain, rounded


def notes(
    case: Case,
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


def _state_notes(case: Case, flag: Flag | None) -> Iterator[str]:
    state, rates = case.context.state, (Kind.HEART_RATE, Kind.PULSE_RATE)
    if flag is Flag.HIGH and state is State.EXCITED:
        yield "Excited: measure again when calm."
    if flag is Flag.HIGH and state is State.HELD and case.kind in rates:
        yield "Being held makes the heart faster: count again when calm."
    if flag is Flag.LOW and state is State.SEDATED and case.kind in rates:
        yield "Sedated: judge with the medicine given."
    if case.kind is Kind.RESPIRATORY_RATE and state in (State.PURRING, State.PANTING):
        yield "Purring or panting spoils the count: count again."


def _kind_notes(case: Case, flag: Flag | None, value: Decimal) -> Iterator[str]:
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


def _hypothermia(case: Case, value: Decimal) -> Iterator[str]:
    if value < case.limits.rule("hypothermia-severe-below"):
        yield "Severe hypothermia (under 28 °C)."
    elif value < case.limits.rule("hypothermia-moderate-below"):
        yield "Moderate hypothermia (28 to 32 °C)."
    elif value <= case.limits.rule("hypothermia-mild-to"):
        yield "Mild hypothermia (32 to 37 °C)."


def _home_breath_notes(case: Case, value: Decimal) -> Iterator[str]:
    if value > case.limits.rule("home-rate-call"):
        yield "Above 40 a minute at home: count again, and call the same day if it stays."
    last = case.context.last.get(case.kind)
    if last is None or last.setting is not case.context.setting or last.canonical <= 0:
        return
    rise = (value - last.canonical) / last.canonical * 100
    if rise >= case.limits.rule("home-rate-rise-percent"):
        before = plain(last.canonical)
        yield f"Up {rounded(rise, 0)} % from {before} a minute, its last count in this setting."
