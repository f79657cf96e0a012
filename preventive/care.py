"""Wellness exams and dental cleanings."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date

from preventive.case import Case, Item, Plan, ask_birth, because, due_from, note_steps
from preventive.due import Action, Change, Due
from preventive.lifestages import LifeStage, life_stage
from preventive.rules import DentalFirst, DentalRule, VisitBand, VisitRule
from preventive.screening import chosen_repeat


def care_dues(case: Case) -> Iterator[Due]:
    for visit in case.rules.visits.values():
        if visit.species is case.animal.species:
            item = Item(visit.code, visit.label, visit.code, visit.label, "visit")
            yield due_from(case, item, _exam(case, visit))
    for dental in case.rules.dental.values():
        if dental.species is case.animal.species:
            item = Item(dental.code, dental.label, dental.code, dental.label, "dental")
            yield due_from(case, item, _dental(case, dental))


def _exam(case: Case, rule: VisitRule) -> Plan:
    last = max((day for day in case.history.exams if day <= case.on), default=None)
    notes = note_steps(rule.notes)
    if last is None:
        day = case.old_enough_on(rule.first.age)
        if day is None:
            return ask_birth()
        why = because(rule.first, f"First at {rule.first.age.words} of age.")
        return Plan(then=Action.EXAMINE, target=day, latest=day, why=(why,), notes=notes)
    stage = life_stage(case)
    band = _band(case, rule, last, stage)
    earliest, latest = case.cal.due(last, band.earliest), case.cal.due(last, band.latest)
    spread = (
        band.latest.words if band.earliest == band.latest else f"{band.earliest.words} to {band.latest.words}"
    )
    why = because(band, f"{spread} after the last exam.")
    return Plan(
        then=Action.EXAMINE,
        earliest=earliest,
        target=latest,
        latest=latest,
        last_on=last,
        why=(why,),
        notes=notes,
        changes=_open_stage(rule, stage),
        until=(stage.until,) if stage and stage.until else (),
    )


def _open_stage(rule: VisitRule, stage: LifeStage | None) -> tuple[Change, ...]:
    """A dog past its young years may be senior already."""
    if stage is None or stage.certain:
        return ()
    return tuple(
        Change(f"If senior, every {band.latest.words}: note the life stage, or the expected lifespan.")
        for band in rule.bands
        if "senior" in band.stages
    )


def _band(case: Case, rule: VisitRule, last: date, stage: LifeStage | None) -> VisitBand:
    for band in rule.bands[:-1]:
        young_until = case.turns(band.until_age) if band.until_age else None
        if young_until is not None and last < young_until:
            return band
        if stage is not None and stage.certain and stage.code in band.stages:
            return band
    return rule.bands[-1]


def _dental(case: Case, rule: DentalRule) -> Plan:
    done = [t.on for t in case.history.treatments if t.kind == "dental" and t.on <= case.on]
    if not done:
        return _first_dental(case, rule)
    repeat = chosen_repeat(case, rule.repeats, max(done))
    if repeat is None:
        return Plan(then=Action.NONE)
    day = case.cal.due(max(done), repeat.every)
    why = because(repeat, f"Every {repeat.every.words}, or by the grade of the disease.")
    return Plan(then=Action.TREAT, target=day, latest=day, last_on=max(done), why=(why,))


def _first_dental(case: Case, rule: DentalRule) -> Plan:
    first = _first_for(case, rule)
    day = case.old_enough_on(first.age)
    if day is None:
        return ask_birth()
    plan = Plan(
        then=Action.TREAT,
        target=day,
        latest=day,
        why=(because(first, f"First at about {first.age.words} of age."),),
    )
    if case.animal.size or len(rule.firsts) == 1:
        return plan
    return replace(plan, changes=(Change("Large dogs: first at about 2 years. Enter the adult size."),))


def _first_for(case: Case, rule: DentalRule) -> DentalFirst:
    """The entry that names the animal's size, else the last one."""
    fitting = (first for first in rule.firsts if case.animal.size in first.sizes)
    return next(fitting, rule.firsts[-1])
