"""Deworming: the young by a fixed rhythm from birth, adults by risk, always counted from the last one."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date

from preventive.case import Case, Item, Plan, ask_birth, because, due_from, note_steps
from preventive.dates import Calendar
from preventive.due import Action, Change, Due, Step
from preventive.rules import DewormingRule, Repeat, YoungDeworming
from preventive.screening import chosen_repeat


def young_plan(
    cal: Calendar, born_on: date, young: YoungDeworming, weaned_on: date | None
) -> tuple[date, ...]:
    """The planned days from birth to the end of the monthly time, for an animal treated on each of them."""
    days = [cal.gate(born_on, young.start)]
    end = fortnight_end(cal, born_on, young, weaned_on)
    while (following := cal.due(days[-1], young.step)) <= end:
        days.append(following)
    anchor, last, count = days[-1], cal.due(born_on, young.then_until), 1
    while (following := cal.due(anchor, young.then_every.times(count))) <= last:
        days.append(following)
        count += 1
    return tuple(days)


def fortnight_end(cal: Calendar, born_on: date, young: YoungDeworming, weaned_on: date | None) -> date:
    """The last day of the short rhythm: some days after weaning where that rule is used and known."""
    if weaned_on is not None and young.after_weaning is not None:
        return cal.due(weaned_on, young.after_weaning)
    return cal.due(born_on, young.until_age)


def deworming_dues(case: Case) -> Iterator[Due]:
    for rule in case.rules.deworming.values():
        if rule.species is case.animal.species:
            item = Item(rule.code, rule.label, rule.code, rule.label, "treatment")
            yield due_from(case, item, _plan(case, rule))


def _treated_on(case: Case, rule: DewormingRule) -> list[date]:
    """Every deworming, and every dose of preventives that cover intestinal worms, also those to come."""
    days = [t.on for t in case.history.treatments if t.kind == "deworming"]
    for supply in case.history.supplies:
        if rule.protects in supply.protects:
            days += supply.doses_on(case.cal)
    return days


def _plan(case: Case, rule: DewormingRule) -> Plan:
    days = _treated_on(case, rule)
    last = max((day for day in days if day <= case.on), default=None)
    plan = _first(case, rule) if last is None else _next(case, rule, last)
    return replace(
        plan,
        last_on=last,
        notes=note_steps(rule.notes),
        changes=_open_risk(case, rule),
        until=tuple(days),
    )


def _first(case: Case, rule: DewormingRule) -> Plan:
    day = case.old_enough_on(rule.young.start)
    if day is None:
        return ask_birth()
    return _treat(day, because(rule.young, f"From {rule.young.start.words} of age."))


def _next(case: Case, rule: DewormingRule, last: date) -> Plan:
    born_on, young, cal = case.youngest_birth, rule.young, case.cal
    if born_on is not None:
        following = cal.due(last, young.step)
        if following <= fortnight_end(cal, born_on, young, case.animal.weaned_on):
            return _treat(following, because(young, f"Every {young.step.words} while so young."))
        if cal.due(last, young.then_every) <= cal.due(born_on, young.then_until):
            step = because(young, f"Every {young.then_every.words} until {young.then_until.words} of age.")
            return _treat(cal.due(last, young.then_every), step)
    repeat = chosen_repeat(case, rule.repeats, last)
    if repeat is None:
        return Plan(then=Action.NONE)
    return _treat(cal.due(last, repeat.every), because(repeat, f"Every {repeat.every.words}."))


def _treat(day: date, why: Step) -> Plan:
    return Plan(then=Action.TREAT, target=day, latest=day, why=(why,))


def _open_risk(case: Case, rule: DewormingRule) -> tuple[Change, ...]:
    return tuple(change for repeat in rule.repeats for change in _questions(case, repeat))


def _questions(case: Case, repeat: Repeat) -> Iterator[Change]:
    for code in repeat.any_of:
        if case.animal.says(code) is None:
            yield Change(f"If yes, every {repeat.every.words}: {case.rules.lifestyle.get(code, code)}")
