"""What an antibody test means for the next dose of its antigen. Rabies has none: the law counts doses."""

from dataclasses import replace

from preventive.case import Case, Plan, because
from preventive.dates import day_words
from preventive.due import Action, Sequence
from preventive.facts import TestResult
from preventive.rules import TitreRule, TitreUse
from preventive.series import Phase, Progress

PREFIX = "no_antibody_"


def titre_kind(antigen: str) -> str:
    """The kind of its results: positive means that no antibody was found."""
    return f"{PREFIX}{antigen}"


def is_titre(kind: str) -> bool:
    return kind.startswith(PREFIX)


def titre_known(case: Case, antigen: str) -> bool:
    """Whether any test of this antigen is on record, clear or not."""
    return any(test.kind == titre_kind(antigen) for test in case.history.tests)


def with_titre(case: Case, rule: TitreRule | None, antigen: str, progress: Progress, plan: Plan) -> Plan:
    """The plan after the newest clear test since the last dose; without one as it was.

    A series is never shortened: antibody in the young may be the mother's. None or too little found in an
    animal whose series is finished: one dose now. Found in one that has had boosters: the next falls later.
    Where the protocol moves no dates by a test, too little is still put to the veterinarian.
    """
    found = _newest(case, antigen, progress)
    if rule is None or found is None:
        return plan
    said = "No antibody was found" if found.positive else "Antibody was found"
    if found.low:
        said = "Less antibody was found than the laboratory calls enough"
    on = f"{said} on {day_words(found.on)}"
    grown = {Phase.BASED, Phase.BOOSTED} if found.positive else {Phase.BOOSTED}
    if rule.mode is TitreUse.NOTE or progress.phase not in grown:
        why = "the clinic’s protocol leaves the dates as they are"
        if rule.mode is not TitreUse.NOTE:
            why = "it changes nothing before the first booster" if progress.phase is Phase.BASED else _YOUNG
        plan = replace(plan, why=(*plan.why, because(rule, f"{on}: {why}.")))
        if found.positive and progress.phase in grown:
            asks = because(rule, f"{on}: a veterinarian decides whether a dose is given before its day.")
            plan = replace(plan, needs=(*plan.needs, asks))
        return plan
    if found.positive:
        target = min(found.on, plan.target or found.on)
        step = because(rule, f"{on}: one dose now.")
    else:
        target = case.cal.due(found.on, rule.every)
        step = because(rule, f"{on}: it stands in for a booster; the next {rule.every.words} later.")
    if plan.target is not None and not found.positive and target <= plan.target:
        return replace(plan, why=(*plan.why, step))
    return replace(
        plan,
        then=Action.ONE_DOSE,
        earliest=None,
        target=target,
        latest=target,
        sequence=Sequence("booster"),
        why=(*plan.why, step),
    )


_YOUNG = "a series is not shortened by it, as it may be the mother’s"


def _newest(case: Case, antigen: str, progress: Progress) -> TestResult | None:
    """Clear, not after the day asked for, and not before the last dose that counts."""
    tests = [
        test
        for test in case.history.tests
        if test.kind == titre_kind(antigen)
        and test.on <= case.on
        and test.positive is not None
        and (progress.last is None or test.on >= progress.last)
    ]
    return max(tests, key=lambda test: (test.on, test.positive, test.low), default=None)
