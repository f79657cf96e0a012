"""What stands against a plan, as the feeding page shows it: asked, refused, answered."""

from nutrition import refusals
from nutrition.factors import Factors
from nutrition.feeding_model import Standing
from nutrition.forms import Asked
from nutrition.plan import FeedingPlan, PlanRefused, compose
from nutrition.reasons import Question, Refused
from nutrition.refusals import Inputs, check, open_items

APART = frozenset({"no_formula", "no_formula_starvation"})
"""Refusals that stand on top of the page: the other answer is the likelier one."""

CAUSE_FIRST = frozenset(
    {"thin_asked", "muscle_asked", "unplanned_loss", "intake_below_plan", "no_sum_below_five"}
    | {"cut_of_low_intake", "no_formula", "no_formula_starvation"}
)
"""Where the answer is a problem, a test or a recheck rather than another amount of food."""

HISTORY_FIRST = frozenset({"intake_below_plan", "cut_of_low_intake", "unplanned_loss", "thin_asked"})
"""Where what it eats is asked again before anything else."""


def tried(inputs: Inputs, factors: Factors) -> tuple[FeedingPlan | None, tuple[Standing, ...]]:
    """The plan, None where something stands against it; and all that was asked or refused."""
    items = check(inputs, factors)
    open_codes = {item.code for item in open_items(items, inputs)}
    standing = tuple(_standing(item, item.code not in open_codes, inputs) for item in items)
    try:
        return compose(inputs, factors), standing
    except PlanRefused:
        return None, standing
    except Refused as refused:
        item = Standing(refused.code, refused.sentence, refused.source, False, False, False, False, True)
        return None, (*standing, item)


def why_not_ready(asked: Asked, standing: tuple[Standing, ...]) -> str:
    """The gravest thing that stands in the way, and how many more do."""
    reasons = [*asked.errors.values(), *(item.sentence for item in standing if not item.answered)]
    if not reasons:
        return ""
    more = len(reasons) - 1
    return f"{reasons[0]}{f' And {more} more, under “Asked and refused”.' if more else ''}"


def _standing(item: refusals.Refusal | Question, answered: bool, inputs: Inputs) -> Standing:
    lifts = "question" if isinstance(item, Question) else item.lifts
    return Standing(
        code=item.code,
        sentence=item.sentence,
        source=item.source or "common practice",
        answerable=lifts in ("question", "reason") and item.code != "own_plan_without_reason",
        needs_reason=lifts in ("reason", "own_plan"),
        answered=answered,
        ticked=item.code in inputs.answered,
        never=lifts == "never",
        look_for_cause=item.code in CAUSE_FIRST,
        ask_history=item.code in HISTORY_FIRST,
    )
