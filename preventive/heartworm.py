"""Heartworm tests in dogs: before prevention, six months after its start or a gap, then yearly."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

from preventive.case import Case, Plan, ask_birth, because, due_from, note_steps
from preventive.dates import day_words
from preventive.due import Action, Change, Due, Step
from preventive.facts import TestResult
from preventive.rules import HeartwormRule
from preventive.screening import (
    case_open,
    chosen_repeat,
    missing_partner,
    on_day,
    results_of,
    screening_item,
)
from preventive.supplies import Protection, begins, protection


@dataclass(frozen=True, slots=True)
class _Start:
    """The last beginning of protection; not ``young`` also after a gap, at whatever age."""

    on: date
    young: bool
    why: Step


def heartworm_dues(case: Case) -> Iterator[Due]:
    for rule in case.rules.heartworm.values():
        if rule.species is case.animal.species:
            yield due_from(case, screening_item(rule.code, rule.label), _plan(case, rule))


def _plan(case: Case, rule: HeartwormRule) -> Plan:
    results = results_of(case, rule.results)
    if results and results[-1].positive:
        return case_open(rule.positive, results[-1].on)
    covered = protection(case, rule.protects, timedelta(days=rule.late_after.days))
    start = _last_start(case, rule, covered) if covered else None
    plan = _after_start(case, rule, start, results) if start else _unprotected(case, rule, results)
    return _finished(case, rule, plan, results, covered)


def _last_start(case: Case, rule: HeartwormRule, covered: Protection) -> _Start | None:
    if covered.gaps:
        gap = covered.gaps[-1]
        text = f"{rule.lapse.text} Last dose before the gap: {day_words(gap.last_dose_on)} ({gap.kind})."
        return _Start(gap.resumed_on or gap.noticed_on, young=False, why=because(rule.lapse, text))
    ready = case.old_enough_on(rule.pretest_age.age)
    if ready is None:
        return None
    young = covered.started_on < ready
    text = "no test needed before it" if young else "test before the first dose"
    step = f"Prevention began {day_words(covered.started_on)}, {_age_words(rule, young=young)}: {text}."
    return _Start(covered.started_on, young, because(rule.pretest_age, step))


def _age_words(rule: HeartwormRule, *, young: bool) -> str:
    age = rule.pretest_age.age.words
    return f"below {age} of age" if young else f"at {age} of age or older"


def _after_start(case: Case, rule: HeartwormRule, start: _Start, results: list[TestResult]) -> Plan:
    """Walk the tests that a start asks for; the first one not made yet is the next."""
    days = [test.on for test in results]
    if not start.young:
        since = start.on - timedelta(days=rule.pretest_within.days)
        if not any(day >= since for day in days):
            return _test(case, start.on, start.why)
    retest_on = case.cal.due(start.on, rule.retest.every)
    step = because(rule.retest, f"Test {rule.retest.every.words} after {day_words(start.on)}.")
    first = _made(rule, days, retest_on)
    if first is None:
        return _test(case, retest_on, start.why, step)
    if not start.young:
        return _yearly(case, rule, days[-1])
    second_on = case.cal.due(first, rule.young_retest.every)
    if _made(rule, days, second_on) is not None:
        return _yearly(case, rule, days[-1])
    again = because(rule.young_retest, f"Again {rule.young_retest.every.words} after the first test.")
    return _test(case, second_on, start.why, again)


def _made(rule: HeartwormRule, days: list[date], target: date) -> date | None:
    since = target - timedelta(days=rule.early_by.days)
    return next((day for day in days if day >= since), None)


def _yearly(case: Case, rule: HeartwormRule, last: date) -> Plan:
    repeat = chosen_repeat(case, rule.repeats, last)
    if repeat is None:
        return Plan(then=Action.NONE)
    step = because(repeat, f"Every {repeat.every.words} after the last test, also on year-round prevention.")
    return _test(case, case.cal.due(last, repeat.every), step)


def _unprotected(case: Case, rule: HeartwormRule, results: list[TestResult]) -> Plan:
    if results:
        return _yearly(case, rule, results[-1].on)
    ready = case.old_enough_on(rule.pretest_age.age)
    if ready is None:
        return ask_birth()
    age = rule.pretest_age.age.words
    plan = _test(case, ready, because(rule.pretest_age, f"From {age} of age: test before the first dose."))
    younger = Change(f"Prevention started before {day_words(ready)}: no test before it, one 6 months after.")
    return replace(plan, earliest=ready, changes=(younger,))


def _test(case: Case, day: date, *why: Step) -> Plan:
    return on_day(day, tuple(why), then=Action.TEST)


def _finished(
    case: Case, rule: HeartwormRule, plan: Plan, results: list[TestResult], covered: Protection | None
) -> Plan:
    last = results[-1].on if results else None
    needs = missing_partner(case, rule.together, last, rule.notes) if last else ()
    plan = replace(
        plan,
        last_on=last,
        needs=needs,
        notes=note_steps(rule.notes),
        until=begins(case, rule.protects),
    )
    if covered is None:
        return plan
    # what is late today is a lapse later, and said to be one
    plan = replace(plan, until=(*plan.until, covered.lapse_on))
    if case.on >= covered.late_on:
        return plan
    text = "No further dose by then: late, and the test schedule begins again."
    return replace(plan, changes=(Change(text, covered.late_on),))
