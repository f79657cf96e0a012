"""When tests are due: by the calendar, heartworm in dogs by its preventive, retrovirus in cats."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from itertools import takewhile

from preventive.case import (
    Case,
    Item,
    Plan,
    ask_birth,
    because,
    due_from,
    note_steps,
    nothing_due,
    with_lifestyle,
)
from preventive.dates import Span, day_words
from preventive.due import Action, Change, Due, Step
from preventive.facts import TestResult
from preventive.rules import Note, Repeat, RetrovirusRule, TestRule


def results_of(case: Case, kinds: tuple[str, ...]) -> list[TestResult]:
    """Results of these kinds up to the day asked for, oldest first; of one day a positive one is the last.

    One sample may be read for several things, and one of them found is enough.
    """
    found = [test for test in case.history.tests if test.kind in kinds and test.on <= case.on]
    return sorted(found, key=lambda test: (test.on, test.positive is True, test.kind, test.id))


def chosen_repeat(case: Case, repeats: tuple[Repeat, ...], last: date) -> Repeat | None:
    """The first entry that fits the animal; one for the young only if it still falls inside that age."""
    for repeat in repeats:
        if repeat.any_of and case.animal.says_any(repeat.any_of) is not True:
            continue
        if repeat.until_age is None or _falls_by(case, repeat.until_age, case.cal.due(last, repeat.every)):
            return repeat
    return None


def _falls_by(case: Case, age: Span, day: date) -> bool:
    limit = case.turns(age)
    return limit is not None and day <= limit


def on_day(day: date, why: tuple[Step, ...], *, then: Action, last_on: date | None = None) -> Plan:
    return Plan(then=then, target=day, latest=day, why=why, last_on=last_on)


def screening_item(code: str, label: str) -> Item:
    return Item(code, label, code, label, "test")


def screening_dues(case: Case) -> Iterator[Due]:
    for rule in case.rules.tests.values():
        if rule.species is case.animal.species:
            plan = with_lifestyle(case, _periodic(case, rule), rule.applies)
            yield due_from(case, screening_item(rule.code, rule.label), plan)
    for virus in case.rules.retrovirus.values():
        if virus.species is case.animal.species:
            yield due_from(case, screening_item(virus.code, virus.label), _retrovirus(case, virus))


def case_open(note: Note, last: date) -> Plan:
    """A positive result ends the dates: what follows is a case, not a schedule."""
    return nothing_due((because(note, note.text),), last)


def _periodic(case: Case, rule: TestRule) -> Plan:
    results = results_of(case, rule.results)
    if not results:
        return _first_test(case, rule)
    last = results[-1]
    notes = note_steps(rule.notes)
    if last.positive:
        return _positive(case, rule, last)
    repeat = chosen_repeat(case, rule.repeats, last.on)
    if repeat is None:
        step = because(rule.first, "Tested once; further tests as the veterinarian sees a reason.")
        return replace(nothing_due((step,), last.on), notes=notes)
    why = (because(repeat, f"Every {repeat.every.words} after the last test."),)
    plan = on_day(case.cal.due(last.on, repeat.every), why, then=Action.TEST, last_on=last.on)
    return replace(plan, notes=notes, needs=missing_partner(case, rule.together, last.on, rule.notes))


def _positive(case: Case, rule: TestRule, last: TestResult) -> Plan:
    if rule.results != ("faecal",):
        return case_open(rule.positive, last.on)
    why = (because(rule.positive, rule.positive.text),)
    if not any(t.kind == "deworming" and last.on <= t.on <= case.on for t in case.history.treatments):
        return on_day(last.on, why, then=Action.TREAT, last_on=last.on)
    repeat = chosen_repeat(case, rule.repeats, last.on)
    if repeat is None:
        return case_open(rule.positive, last.on)
    return on_day(case.cal.due(last.on, repeat.every), why, then=Action.TEST, last_on=last.on)


def _first_test(case: Case, rule: TestRule) -> Plan:
    day = case.old_enough_on(rule.first.age)
    if day is None:
        return ask_birth()
    why = (because(rule.first, f"First at {rule.first.age.words} of age."),)
    return replace(on_day(day, why, then=Action.TEST), earliest=day, notes=note_steps(rule.notes))


def missing_partner(
    case: Case, together: tuple[str, ...], day: date, notes: tuple[Note, ...]
) -> tuple[Step, ...]:
    """The kinds of test that belong to the last one and were not made with it (30 days either way)."""
    near = timedelta(days=30)
    made = {test.kind for test in case.history.tests if abs(test.on - day) <= near}
    cited = notes[0] if notes else None
    return tuple(
        Step(
            f"Not tested with it: {kind.replace('_', ' ')}.",
            cited.source if cited else "ours",
            cited.certainty.value if cited else "ours",
        )
        for kind in together
        if kind not in made
    )


def _retrovirus(case: Case, rule: RetrovirusRule) -> Plan:
    results = [test for test in results_of(case, (rule.result,)) if test.positive is not None]
    if not results:
        return _first_retrovirus(case, rule)
    last = results[-1]
    if last.positive:
        return _positive_retrovirus(case, rule, last)
    negatives = list(takewhile(lambda test: not test.positive, reversed(results)))
    return _repeat_negative(case, rule, negatives) or _with_infected(case, rule, last)


def _first_retrovirus(case: Case, rule: RetrovirusRule) -> Plan:
    born_gate = case.old_enough_on(rule.first.age)
    day = case.animal.acquired_on or born_gate
    if day is None:
        return ask_birth()
    why = (because(rule.first, "Not tested yet: as soon as acquired."),)
    return replace(on_day(day, why, then=Action.TEST), notes=note_steps(rule.notes))


def _positive_retrovirus(case: Case, rule: RetrovirusRule, last: TestResult) -> Plan:
    young = rule.not_final_below
    ready = case.old_enough_on(young.age) if young else None
    if young is None or ready is None or last.on >= ready:
        return case_open(rule.positive, last.on)
    why = (because(young, f"Positive below {young.age.words} is not final: retest at or after that age."),)
    return replace(on_day(ready, why, then=Action.TEST, last_on=last.on), earliest=ready)


def _repeat_negative(case: Case, rule: RetrovirusRule, negatives: list[TestResult]) -> Plan | None:
    """A negative result within the window after the last possible exposure is not the last word.

    ``negatives``: those since any positive one, newest first.
    """
    if case.animal.says(rule.exposure) is False:
        return None
    last, exposed = negatives[0], _exposed_on(case, rule, negatives[-1].on)
    ready = exposed + timedelta(days=rule.window.days)
    if last.on >= ready:
        return None
    since = f"the last possible exposure ({day_words(exposed)})"
    text = f"Negative, but less than {rule.window.days} days after {since}."
    why = (because(rule.window, text), because(rule.exposure_note, rule.exposure_note.text))
    changes = (
        Change(f"No exposure at all: no repeat. {case.rules.lifestyle.get(rule.exposure, '')}".strip()),
    )
    plan = on_day(ready, why, then=Action.TEST, last_on=last.on)
    return replace(plan, earliest=ready, changes=changes)


def _exposed_on(case: Case, rule: RetrovirusRule, first_negative: date) -> date:
    """The last possible exposure: as recorded, else the day the cat came, else the first negative test.

    A yes given later than that is as late as its day: the cat has been exposed since.
    """
    known = case.animal.last_exposure_on or case.animal.acquired_on
    answer = case.animal.answer(rule.exposure)
    said_on = answer.answered_on if answer and answer.value else None
    return known or max(first_negative, said_on or first_negative)


def _with_infected(case: Case, rule: RetrovirusRule, last: TestResult) -> Plan:
    rule_step = because(rule.infected, f"Lives with an infected cat: every {rule.infected.every.words}.")
    if case.animal.says_any(rule.infected.any_of):
        day = case.cal.due(last.on, rule.infected.every)
        return on_day(day, (rule_step,), then=Action.TEST, last_on=last.on)
    why = (because(rule.exposure_note, "Negative. Test again after exposure or when ill."),)
    return nothing_due(why, last.on)
