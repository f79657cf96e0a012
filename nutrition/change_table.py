"""The change of food as a table of words, the same on page and letter. Pure."""

from clinic.letters.texts import Texts
from nutrition.amounts import on_scale
from nutrition.changeover import ChangeStep
from nutrition.letter_texts import ENGLISH
from nutrition.plan import FeedingPlan


def head_of(t: Texts = ENGLISH) -> tuple[str, str, str]:
    return t("change.days"), t("change.old"), t("change.new")


def change_rows(plan: FeedingPlan, unit: str = "g", t: Texts = ENGLISH) -> tuple[tuple[str, str, str], ...]:
    """Days, how much of what it eats now, how much of the new food and what that is on the scale a day."""
    return tuple(
        (_days(step, plan, t), t(f"change.part_{step.old_percent}"), _new(step, plan, unit, t))
        for step in plan.change
    )


def _days(step: ChangeStep, plan: FeedingPlan, t: Texts) -> str:
    if step == plan.change[-1]:
        return t("change.from", first=step.first_day)
    if step.first_day == step.last_day:
        return f"{step.first_day}"
    several = "change.two" if step.last_day == step.first_day + 1 else "change.several"
    return t(several, first=step.first_day, last=step.last_day)


def _new(step: ChangeStep, plan: FeedingPlan, unit: str, t: Texts) -> str:
    share = step.new_percent / 100
    grams = " + ".join(on_scale(portion.grams * share, unit) for portion in plan.portions)
    return t("change.a_day", part=t(f"change.part_{step.new_percent}"), amount=grams)
