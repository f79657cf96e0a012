"""The next dose of every vaccine but rabies."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date

from preventive.case import (
    Case,
    Item,
    Plan,
    ask_birth,
    because,
    due_from,
    note_steps,
    with_lifestyle,
)
from preventive.counting import Counted, Limits, count_doses
from preventive.dates import Span, day_after, day_words
from preventive.due import Action, Change, Due, Pause, Sequence, Standing, Step, Uncounted
from preventive.facts import Dose
from preventive.rules import Booster, Course, Note, VaccineRule
from preventive.series import (
    ExtraDose,
    Phase,
    Progress,
    doses_when_late,
    follow,
    goes_on_until,
    wanted_extra,
)
from preventive.titres import titre_known, with_titre


def vaccine_dues(case: Case) -> Iterator[Due]:
    """One due for each antigen of the animal's species."""
    for rule in case.rules.vaccines.values():
        if rule.species is case.animal.species:
            yield from _rule_dues(case, rule)


def _rule_dues(case: Case, rule: VaccineRule) -> Iterator[Due]:
    if not rule.courses:
        plan = _never(rule.never) if rule.never else with_lifestyle(case, _by_label(rule), rule.applies)
        yield from (due_from(case, vaccine_item(case, rule, each), plan) for each in rule.antigens)
        return
    pause = _caution(case, rule) or _positive(case, rule)
    # antigens of one vaccine mostly share their doses, and with them every date
    known: dict[tuple[str, tuple[int, ...]], tuple[Plan, tuple[Uncounted, ...]]] = {}
    for antigen in rule.antigens:
        given = tuple(n for n, dose in enumerate(case.history.doses) if antigen in dose.antigens)
        alike = (antigen if titre_known(case, antigen) else "", given)
        if alike not in known:
            known[alike] = _antigen_plan(case, rule, antigen)
        plan, uncounted = known[alike]
        yield due_from(case, vaccine_item(case, rule, antigen), plan, uncounted=uncounted, pause=pause)


def vaccine_item(case: Case, rule: VaccineRule, antigen: str) -> Item:
    single = len(rule.antigens) == 1
    code = rule.code if single else f"{rule.code}:{antigen}"
    label = rule.label if single else case.rules.antigens[antigen]
    category = rule.categories[-1].value if rule.categories else ""
    return Item(code, label, rule.code, rule.label, "vaccine", category, antigen)


def _antigen_plan(case: Case, rule: VaccineRule, antigen: str) -> tuple[Plan, tuple[Uncounted, ...]]:
    counted = count_doses(case, antigen, lambda dose: _limits(rule, dose))
    progress = follow(case, rule, counted.doses)
    plan = with_titre(case, rule.titre, antigen, progress, _next_dose(case, progress, counted))
    needed = _tests_needed(case, rule, progress)
    if needed:
        plan = replace(plan, needs=needed)
    return _if_meant(case, rule, plan, progress), counted.uncounted


def _by_label(rule: VaccineRule) -> Plan:
    step = because(rule.applies, "No published interval: the veterinarian decides by the product's label.")
    return Plan(then=Action.ASK, why=(step,))


def _never(note: Note) -> Plan:
    """Listed so that its reason can be read; due for no animal."""
    return Plan(then=Action.NONE, applies=False, why=(because(note, note.text),))


def _limits(rule: VaccineRule, dose: Dose) -> Limits:
    course = rule.course_for(dose.route)
    return Limits(
        min_ages=(dose.product.min_age or course.start.earliest,),
        min_interval=dose.product.min_interval or course.series.min_interval,
    )


def _if_meant(case: Case, rule: VaccineRule, plan: Plan, progress: Progress) -> Plan:
    if rule.notes:
        plan = replace(plan, notes=note_steps(rule.notes))
    if rule.applies.if_given and progress.phase is Phase.NONE:
        step = because(rule.applies, "Listed only once it was given.")
        return Plan(then=Action.NONE, applies=False, why=(step,))
    return with_lifestyle(case, plan, rule.applies, first_booster=progress.phase is Phase.BASED)


def _caution(case: Case, rule: VaccineRule) -> Pause | None:
    found = [caution for caution in rule.cautions if caution.condition in case.animal.conditions]
    return Pause(Standing.HOLD, None, None, found[0].text) if found else None


def _positive(case: Case, rule: VaccineRule) -> Pause | None:
    last = last_result(case, rule.needs_negative)
    if last is None or not last[1]:
        return None
    return Pause(Standing.HOLD, last[0], None, "The last test was positive: a veterinarian decides.")


def _tests_needed(case: Case, rule: VaccineRule, progress: Progress) -> tuple[Step, ...]:
    if not rule.needs_negative or progress.phase is not Phase.NONE or last_result(case, rule.needs_negative):
        return ()
    return tuple(because(note, note.text) for note in rule.notes[:1])


def last_result(case: Case, kind: str) -> tuple[date, bool] | None:
    """Day and outcome of the newest clear result of one kind, not after the day asked for."""
    found = [
        (test.on, test.positive)
        for test in case.history.tests
        if test.kind == kind and test.on <= case.on and test.positive is not None
    ]
    return max(found, default=None)


def _next_dose(case: Case, progress: Progress, counted: Counted) -> Plan:
    last = progress.last
    if last is None:
        return _first_dose(case, progress.course, counted.last_given)
    match progress.phase:
        case Phase.BASED:
            plan = _first_booster(case, progress.course, last)
        case Phase.BOOSTED:
            plan = _later_booster(case, progress, last)
        case _:
            plan = _series_dose(case, progress, last, counted.last_given or last)
    return _with_lapse(case, progress, last, replace(plan, last_on=last))


def _first_dose(case: Case, course: Course, last_given: date | None) -> Plan:
    earliest, target = case.old_enough_on(course.start.earliest), case.old_enough_on(course.start.usual)
    if earliest is None or target is None:
        return ask_birth()
    why = [
        because(course.start, f"From {course.start.earliest.words}, usually at {course.start.usual.words}.")
    ]
    if last_given is not None:
        earliest = max(earliest, case.cal.gate(last_given, course.series.gap_min))
        why.append(
            because(course.series, f"{course.series.gap_min.words} after the dose that does not count.")
        )
    why += _late_start(case, course)
    target = max(earliest, target)
    return Plan(
        then=Action.START,
        earliest=earliest,
        target=target,
        latest=target,
        sequence=Sequence("initial", 1),
        why=tuple(why),
        changes=_becomes_late(case, course),
    )


def _late_from(case: Case, course: Course) -> tuple[Span, date] | None:
    """The age from which a first dose is a late start, with another number of doses, and its day."""
    age = course.series.finish_age
    ready = case.old_enough_on(age) if age else None
    return (age, ready) if age and ready else None


def _becomes_late(case: Case, course: Course) -> tuple[Change, ...]:
    found = _late_from(case, course)
    if found is None or case.on >= found[1]:
        return ()
    age, ready = found
    return (Change(f"From {day_words(ready)} ({age.words} of age) it is a late start.", ready),)


def _late_start(case: Case, course: Course) -> list[Step]:
    found, late = _late_from(case, course), course.late
    if found is None or late is None or case.on < found[1]:
        return []
    text = f"Starts at {found[0].words} or older: {late.doses} doses."
    if late.single_from is not None:
        kinds = " or ".join(kind.value for kind in late.single_kinds)
        text = f"Starts late: one {kinds} dose from {late.single_from.words} is enough, else {late.doses}."
    return [because(late, text)]


def _series_dose(case: Case, progress: Progress, last: date, last_given: date) -> Plan:
    """The next dose keeps its distance from the last one given, also from one that does not count."""
    series = progress.course.series
    earliest, latest = case.cal.gate(last_given, series.gap_min), case.cal.due(last_given, series.gap_max)
    apart = f"{series.gap_min.value} to {series.gap_max.words}"
    why = [
        because(series, f"Next dose {apart} after {day_words(last_given)}."),
        *_finish_reasons(case, progress, last),
    ]
    changes: tuple[Change, ...] = ()
    extra = wanted_extra(case, progress.course)
    if extra is not None and progress.mature:
        earliest, latest = _extra_window(extra, earliest, latest)
        window = f"{extra.rule.from_age.value} to {extra.rule.to_age.words}"
        why.append(because(extra.rule, f"High risk: one more last dose at {window}."))
        age = extra.rule.until_age.words
        changes = (Change(f"From {age} of age the extra dose is no longer asked for.", extra.ends),)
    return Plan(
        then=Action.GO_ON,
        earliest=earliest,
        target=latest,
        latest=latest,
        sequence=Sequence("initial", progress.number + 1),
        why=tuple(why),
        changes=changes,
    )


def _finish_reasons(case: Case, progress: Progress, last: date) -> Iterator[Step]:
    series, late = progress.course.series, progress.course.late
    if series.finish_age is None:
        return
    ready = case.old_enough_on(series.finish_age)
    if ready is None:
        yield Step("The birth date is not known, so no dose can be said to end the series.", "ours", "ours")
        return
    yield because(
        series, f"A dose before {day_words(ready)} ({series.finish_age.words} of age) cannot end the series."
    )
    if progress.mature and late is not None:
        needed = doses_when_late(case, progress, last)
        yield because(
            late, f"{needed} dose{'' if needed == 1 else 's'} at {series.finish_age.words} or older."
        )


def _extra_window(extra: ExtraDose, earliest: date, latest: date) -> tuple[date, date]:
    """In a high-risk place a series that is otherwise finished ends with a dose in its own window."""
    opens = max(earliest, extra.opens)
    return opens, extra.closes if latest < opens else min(latest, max(extra.closes, opens))


def _first_booster(case: Case, course: Course, last: date) -> Plan:
    rule = course.first_booster
    if rule.anchor != "age":
        text = f"First booster {rule.after.words} after the last dose of the series."
        return _booster_plan(case.cal.due(last, rule.after), because(rule, text))
    at_age = case.old_enough_on(rule.after)
    if at_age is not None and last < at_age:
        target = max(at_age, case.cal.gate(last, rule.accept_gap))
        return _booster_plan(target, because(rule, f"First booster at {rule.after.words} of age."))
    text = f"The series ended past {rule.after.words} of age: booster {rule.adult_after.words} later."
    return _booster_plan(case.cal.due(last, rule.adult_after), because(rule, text))


def _booster_plan(target: date, why: Step) -> Plan:
    return Plan(then=Action.ONE_DOSE, target=target, latest=target, sequence=Sequence("booster"), why=(why,))


def _later_booster(case: Case, progress: Progress, last: date) -> Plan:
    booster = _booster_for(case, progress)
    if booster is None or booster.every is None:
        return Plan(then=Action.NONE)
    target = case.cal.due(last, booster.every)
    plan = _booster_plan(target, because(booster, f"Every {booster.every.words} after the last dose."))
    return replace(plan, changes=_open_risk(case, progress.course))


def _booster_for(case: Case, progress: Progress) -> Booster | None:
    for booster in progress.course.boosters:
        risk = not booster.any_of or case.animal.says_any(booster.any_of) is True
        if risk and (not booster.kinds or progress.kind in booster.kinds):
            return booster
    return None


def _open_risk(case: Case, course: Course) -> tuple[Change, ...]:
    """An open lifestyle answer that would shorten the interval."""
    return tuple(
        Change(f"If yes, every {booster.every.words}: {case.rules.lifestyle.get(code, code)}")
        for booster in course.boosters
        for code in booster.any_of
        if booster.every is not None and case.animal.says(code) is None
    )


def _with_lapse(case: Case, progress: Progress, last: date, plan: Plan) -> Plan:
    found = goes_on_until(case, progress.phase, progress.course, last)
    if found is None:
        return plan
    limit, rule = found
    series = progress.course.series
    pair = f"{series.doses} doses {series.gap_min.value} to {series.gap_max.words} apart"
    if case.on > limit:
        step = because(rule, f"Later than {day_words(limit)}: start the series again, {pair}.")
        return replace(plan, then=Action.RESTART, sequence=Sequence("initial", 1), why=(*plan.why, step))
    change = Change(f"After {day_words(limit)} the series starts again: {pair}.", day_after(limit))
    step = because(rule, f"Up to {day_words(limit)} one dose goes on from the last one.")
    return replace(plan, changes=(*plan.changes, change), why=(*plan.why, step))
