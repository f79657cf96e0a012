"""The change of food as a table of words, the same on page and letter. Pure."""

from nutrition.amounts import on_scale
from nutrition.changeover import ChangeStep
from nutrition.plan import FeedingPlan

HEAD = ("Days", "Of the food as now", "Of the new food")
PARTS = {0: "none", 25: "a quarter", 50: "half", 75: "three quarters", 100: "all of it"}


def change_rows(plan: FeedingPlan, unit: str = "g") -> tuple[tuple[str, str, str], ...]:
    """Days, how much of what it eats now, how much of the new food and what that is on the scale a day."""
    return tuple((_days(step, plan), PARTS[step.old_percent], _new(step, plan, unit)) for step in plan.change)


def _days(step: ChangeStep, plan: FeedingPlan) -> str:
    if step == plan.change[-1]:
        return f"from {step.first_day} on"
    if step.first_day == step.last_day:
        return f"{step.first_day}"
    return f"{step.first_day} {'and' if step.last_day == step.first_day + 1 else 'to'} {step.last_day}"


def _new(step: ChangeStep, plan: FeedingPlan, unit: str) -> str:
    share = step.new_percent / 100
    grams = " and ".join(on_scale(portion.grams * share, unit) for portion in plan.portions)
    return f"{PARTS[step.new_percent]}, {grams} a day"
