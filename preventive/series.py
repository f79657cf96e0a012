"""How far an animal has come with one antigen: a fold over its counted doses."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum

from preventive.case import Case
from preventive.facts import Dose, ProductKind
from preventive.rules import Cited, Course, Extra, VaccineRule


class Phase(StrEnum):
    NONE = "no dose counts"
    SERIES = "in the initial series"
    BASED = "series finished, first booster to come"
    BOOSTED = "boosters"


@dataclass(frozen=True, slots=True)
class Progress:
    """``number`` doses count in the running series, ``mature`` of them at the finishing age or older."""

    phase: Phase
    course: Course
    number: int = 0
    mature: int = 0
    last: date | None = None
    kind: ProductKind = ProductKind.UNKNOWN


@dataclass(frozen=True, slots=True)
class ExtraDose:
    """One more last dose from ``opens`` to ``closes``; from ``ends`` on it is no longer asked for."""

    rule: Extra
    opens: date
    closes: date
    ends: date


def follow(case: Case, rule: VaccineRule, doses: Iterable[Dose]) -> Progress:
    """The state after all doses, which must be in order of date."""
    progress = Progress(Phase.NONE, rule.courses[rule.default])
    for dose in doses:
        progress = _after(case, progress, dose, rule.course_for(dose.route))
    return progress


def _after(case: Case, progress: Progress, dose: Dose, course: Course) -> Progress:
    last = progress.last
    if last is None:
        return _in_series(case, Progress(Phase.SERIES, course), dose)
    limit = goes_on_until(case, progress.phase, course, last)
    if limit is not None and dose.given.latest > limit[0]:
        return _in_series(case, Progress(Phase.SERIES, course), dose)
    if progress.phase is Phase.SERIES:
        return _in_series(case, replace(progress, course=course), dose)
    boosted = _is_first_booster(case, course, dose, after=last)
    phase = Phase.BOOSTED if boosted else progress.phase
    day, kind = dose.given.earliest, dose.product.kind
    return Progress(phase, course, progress.number, progress.mature, day, kind)


def goes_on_until(case: Case, phase: Phase, course: Course, last: date) -> tuple[date, Cited] | None:
    """The last day on which a dose still goes on from the last one, and by which rule; None: on every day."""
    if phase is Phase.SERIES:
        series = course.series
        return (case.cal.due(last, series.outside_limit), series) if series.outside_limit else None
    return (case.cal.due(last, course.lapse.limit), course.lapse) if course.lapse else None


def _in_series(case: Case, progress: Progress, dose: Dose) -> Progress:
    day, course = dose.given.earliest, progress.course
    mature = progress.mature + _is_mature(case, course, day)
    grown = Progress(Phase.SERIES, course, progress.number + 1, mature, day, dose.product.kind)
    return replace(grown, phase=Phase.BASED) if _is_finished(case, grown, day) else grown


def _is_mature(case: Case, course: Course, day: date) -> bool:
    age = course.series.finish_age
    return age is None or case.is_old_enough(age, day)


def _is_finished(case: Case, progress: Progress, day: date) -> bool:
    extra = wanted_extra(case, progress.course)
    if extra is not None and day < extra.opens:
        return False
    if progress.mature == 0:
        return False
    enough = progress.number >= progress.course.series.doses
    return enough or progress.mature >= doses_when_late(case, progress, day)


def doses_when_late(case: Case, progress: Progress, day: date) -> int:
    """How many doses at the finishing age or older are enough, the last being given on ``day``."""
    late = progress.course.late
    if late is None:
        return progress.course.series.doses
    if late.single_from is None or progress.kind not in late.single_kinds:
        return late.doses
    return 1 if case.is_old_enough(late.single_from, day) else late.doses


def wanted_extra(case: Case, course: Course) -> ExtraDose | None:
    """The one more last dose, where it is asked of this animal at its age today."""
    extra, born_on = course.extra, case.youngest_birth
    if extra is None or born_on is None or not case.animal.says_any(extra.any_of):
        return None
    ends = case.cal.due(born_on, extra.until_age)
    if case.on >= ends:
        return None
    opens, closes = case.cal.gate(born_on, extra.from_age), case.cal.due(born_on, extra.to_age)
    return ExtraDose(extra, opens, closes, ends)


def _is_first_booster(case: Case, course: Course, dose: Dose, *, after: date) -> bool:
    """An unknown age hinders nothing here: the animal's series is finished."""
    rule, day = course.first_booster, dose.given.earliest
    old_enough = case.youngest_birth is None or case.is_old_enough(rule.accept_age, day)
    return old_enough and day >= case.cal.gate(after, rule.accept_gap)
