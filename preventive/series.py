"""How far an animal has come with one antigen: a fold over its counted doses."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum

from preventive.case import Case
from preventive.facts import Dose, ProductKind
from preventive.rules import Course, VaccineRule


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


def follow(case: Case, rule: VaccineRule, doses: Iterable[Dose]) -> Progress:
    """The state after all doses, which must be in order of date."""
    progress = Progress(Phase.NONE, rule.courses[rule.default])
    for dose in doses:
        progress = _after(case, progress, dose, rule.course_for(dose.route))
    return progress


def _after(case: Case, progress: Progress, dose: Dose, course: Course) -> Progress:
    if progress.last is None:
        return _in_series(case, Progress(Phase.SERIES, course), dose)
    if is_lapsed(case, progress, course, dose.given.latest):
        return _in_series(case, Progress(Phase.SERIES, course), dose)
    if progress.phase is Phase.SERIES:
        return _in_series(case, replace(progress, course=course), dose)
    boosted = progress.phase is Phase.BASED and _is_first_booster(case, progress, course, dose)
    phase = Phase.BOOSTED if boosted else progress.phase
    day, kind = dose.given.earliest, dose.product.kind
    return Progress(phase, course, progress.number, progress.mature, day, kind)


def is_lapsed(case: Case, progress: Progress, course: Course, day: date) -> bool:
    """Whether a dose on that day would start the series again."""
    limit = lapse_day(case, progress, course)
    return limit is not None and day > limit


def lapse_day(case: Case, progress: Progress, course: Course) -> date | None:
    """The last day on which the next dose still goes on from the last one; None where it always does."""
    if progress.last is None:
        return None
    if progress.phase is Phase.SERIES:
        outside = course.series.outside_limit
        return case.cal.due(progress.last, outside) if outside else None
    return case.cal.due(progress.last, course.lapse.limit) if course.lapse else None


def _in_series(case: Case, progress: Progress, dose: Dose) -> Progress:
    day, course = dose.given.earliest, progress.course
    mature = progress.mature + _is_mature(case, course, day)
    grown = Progress(Phase.SERIES, course, progress.number + 1, mature, day, dose.product.kind)
    return replace(grown, phase=Phase.BASED) if _is_finished(case, grown, day) else grown


def _is_mature(case: Case, course: Course, day: date) -> bool:
    age = course.series.finish_age
    if age is None:
        return True
    ready = case.old_enough_on(age)
    return ready is not None and day >= ready


def _is_finished(case: Case, progress: Progress, day: date) -> bool:
    if wants_extra(case, progress.course) and not _had_extra(case, progress.course, day):
        return False
    series = progress.course.series
    if series.finish_age is None:
        return progress.number >= series.doses
    if progress.mature == 0:
        return False
    return progress.number >= series.doses or progress.mature >= doses_when_late(case, progress, day)


def doses_when_late(case: Case, progress: Progress, day: date) -> int:
    """How many doses at the finishing age or older are enough, the last being given on ``day``."""
    late = progress.course.late
    if late is None:
        return progress.course.series.doses
    if late.single_from is None or progress.kind not in late.single_kinds:
        return late.doses
    ready = case.old_enough_on(late.single_from)
    return 1 if ready is not None and day >= ready else late.doses


def wants_extra(case: Case, course: Course) -> bool:
    """Whether one more last dose is asked of this animal at its age today."""
    extra = course.extra
    if extra is None or not case.animal.says_any(extra.any_of):
        return False
    over = case.turns(extra.until_age)
    return over is not None and case.on < over


def _had_extra(case: Case, course: Course, day: date) -> bool:
    if course.extra is None:
        return True
    ready = case.old_enough_on(course.extra.from_age)
    return ready is not None and day >= ready


def _is_first_booster(case: Case, progress: Progress, course: Course, dose: Dose) -> bool:
    if progress.last is None:
        return False
    rule, day = course.first_booster, dose.given.earliest
    ready = case.old_enough_on(rule.accept_age)
    old_enough = ready is None or day >= ready
    return old_enough and day >= case.cal.gate(progress.last, rule.accept_gap)
