"""Life stages: cats by birthdays, dogs by birthdays, expected lifespan, or what the staff set."""

from dataclasses import dataclass
from datetime import date, timedelta

from preventive.case import Case
from preventive.rules import StageRule


@dataclass(frozen=True, slots=True)
class LifeStage:
    """``until``: the first day of the next stage, None where it is the last or is not known.

    ``certain`` False: the dog is past its young years and no lifespan or stage is entered.
    """

    code: str
    label: str
    source: str
    certainty: str
    until: date | None
    certain: bool = True


def life_stage(case: Case) -> LifeStage | None:
    """The stage on the day asked for; what the staff set wins. None while the birth date is unknown."""
    stages = _stages(case)
    chosen = next((stage for stage in stages if stage.code == case.animal.stage), None)
    if chosen is not None:
        return LifeStage(chosen.code, chosen.label, "set by the staff", "clinic", None)
    if case.youngest_birth is None:
        return None
    for stage in (each for each in stages if not each.by_staff):
        end = _ends_on(case, stage, case.youngest_birth)
        if end is None or case.on < end:
            certain = stage.until_share is None or end is not None
            return LifeStage(stage.code, stage.label, stage.source, stage.certainty.value, end, certain)
    return None


def _stages(case: Case) -> list[StageRule]:
    return sorted(case.rules.stages[case.animal.species.value].values(), key=lambda stage: stage.order)


def _ends_on(case: Case, stage: StageRule, born_on: date) -> date | None:
    if stage.until_age is not None:
        return case.cal.due(born_on, stage.until_age)
    years = case.animal.lifespan_years
    if stage.until_share is None or years is None:
        return None
    return born_on + timedelta(days=round(years * stage.until_share * 365.2425))
