"""What preventives went home: when each runs out, and where doses came late or were missed."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

from preventive.case import Case, Item, Plan, ask_birth, because, due_from, note_steps, with_lifestyle
from preventive.dates import day_after, day_words
from preventive.due import Action, Due
from preventive.facts import Supply
from preventive.rules import PreventionRule


@dataclass(frozen=True, slots=True)
class Gap:
    """Between a dose and the next. ``kind``: "late", or "lapse" where a whole interval was missed.

    ``resumed_on`` None: not resumed yet; ``noticed_on`` is the day the gap became one.
    """

    kind: str
    last_dose_on: date
    noticed_on: date
    resumed_on: date | None


@dataclass(frozen=True, slots=True)
class Protection:
    """The doses of every supply that protects against one thing, by date.

    ``late_on``, ``lapse_on``: the days on which, without a further dose, there is a gap, and it is a lapse.
    """

    started_on: date
    gaps: tuple[Gap, ...]
    late_on: date
    lapse_on: date


def supplies_for(case: Case, protects: str) -> list[Supply]:
    found = [s for s in case.history.supplies if protects in s.protects and s.first_on <= case.on]
    return sorted(found, key=lambda s: (s.first_on, s.product, s.count, s.id))


def begins(case: Case, protects: str) -> tuple[date, ...]:
    """First days of supplies, also of those that went home and are not begun: from then on they count."""
    return tuple(s.first_on for s in case.history.supplies if protects in s.protects)


def protection(case: Case, protects: str, late_after: timedelta) -> Protection | None:
    """Coverage and gaps, or None where nothing was ever given."""
    supplies = supplies_for(case, protects)
    if not supplies:
        return None
    last = max(reversed(supplies), key=lambda supply: supply.covered_until(case.cal))
    late_on, lapse_on = _gap_days(case, last, late_after)
    return Protection(supplies[0].first_on, tuple(_gaps(case, supplies, late_after)), late_on, lapse_on)


def _gaps(case: Case, supplies: list[Supply], late_after: timedelta) -> Iterator[Gap]:
    """Walk the supplies in order; a gap opens where the next begins well after all before ran out."""
    longest = supplies[0]
    for supply in supplies:
        gap = _gap(case, longest, supply.first_on, late_after)
        if gap is not None:
            yield replace(gap, resumed_on=supply.first_on)
        longest = max(supply, longest, key=lambda each: each.covered_until(case.cal))
    still_open = _gap(case, longest, case.on, late_after)
    if still_open is not None:
        yield still_open


def _gap_days(case: Case, supply: Supply, late_after: timedelta) -> tuple[date, date]:
    """``gap > interval + late_after`` is late; a wholly missed interval, which may come first, is a lapse."""
    lapse_on = case.cal.due(supply.first_on, supply.interval.times(supply.count + 1))
    return min(day_after(supply.covered_until(case.cal) + late_after), lapse_on), lapse_on


def _gap(case: Case, supply: Supply, until: date, late_after: timedelta) -> Gap | None:
    late_on, lapse_on = _gap_days(case, supply, late_after)
    if until < late_on:
        return None
    last_dose = case.cal.due(supply.first_on, supply.interval.times(supply.count - 1))
    return Gap("lapse" if until >= lapse_on else "late", last_dose, late_on, None)


def prevention_dues(case: Case) -> Iterator[Due]:
    for rule in case.rules.prevention.values():
        if rule.species is case.animal.species:
            item = Item(rule.code, rule.label, rule.code, rule.label, "prevention")
            plan = replace(_plan(case, rule), until=begins(case, rule.protects))
            yield due_from(case, item, with_lifestyle(case, plan, rule.applies))


def _plan(case: Case, rule: PreventionRule) -> Plan:
    supplies = supplies_for(case, rule.protects)
    notes = note_steps(rule.notes)
    if not supplies:
        return _start(case, rule)
    last = max(supplies, key=lambda s: (s.covered_until(case.cal), s.first_on))
    target = last.covered_until(case.cal)
    why = because(rule.applies, f"{_given(last)}: the next is due {day_words(target)}.")
    return Plan(
        then=Action.TREAT, target=target, latest=target, last_on=last.first_on, why=(why,), notes=notes
    )


def _given(supply: Supply) -> str:
    first = day_words(supply.first_on)
    return f"{supply.count} of {supply.product}, every {supply.interval.words} from {first}"


def _start(case: Case, rule: PreventionRule) -> Plan:
    day = case.old_enough_on(rule.start.age)
    if day is None:
        return ask_birth()
    text = f"Start as early as the label allows, by {rule.start.age.words} of age."
    why = (because(rule.start, text),)
    return Plan(then=Action.START, target=day, latest=day, why=why, notes=note_steps(rule.notes))
