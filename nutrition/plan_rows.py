"""A plan in rows: what is fed, in which meals, how it is changed to; the one proposed and the one kept."""

import json

from clinic.patients.units import Units
from nutrition.amounts import each_meal, on_scale, weight
from nutrition.change_table import change_rows
from nutrition.feeding_model import ChangeRow, PlanRow
from nutrition.label import in_measures
from nutrition.letter import until_when
from nutrition.models import Plan
from nutrition.plan import FeedingPlan


def plan_rows(plan: FeedingPlan, units: Units) -> tuple[PlanRow, ...]:
    rows = [PlanRow("Energy", f"{plan.energy_kcal:,.0f} kcal a day, {plan.energy_says}")]
    if plan.target_weight_kg:
        rows.append(PlanRow("Target", weight(plan.target_weight_kg, units.weight)))
        if plan.weeks_fewest and plan.weeks_most:
            rows.append(
                PlanRow("Weeks", f"about {plan.weeks_fewest:.0f} to {plan.weeks_most:.0f}; no promise")
            )
    for portion in plan.portions:
        rows.append(
            PlanRow(portion.food_name, f"{on_scale(portion.grams, units.food)} a day{in_measures(portion)}")
        )
    rows.append(PlanRow("Treats", f"{plan.treats_kcal:.0f} kcal; at most {plan.treats_most_kcal or 0:.0f}"))
    if plan.meals:
        rows.append(PlanRow("Meals", _meals(plan, units.food)))
    if plan.water_low_ml and plan.water_high_ml:
        rows.append(
            PlanRow("Water", f"about {plan.water_low_ml:,.0f} to {plan.water_high_ml:,.0f} mL; never less")
        )
    return tuple(rows)


def _meals(plan: FeedingPlan, unit: str) -> str:
    if plan.meals is None or plan.meals.count is None:
        return "free choice: food stands free to take"
    count, most = plan.meals.count, plan.meals.most
    grams = " and ".join(each_meal(portion.grams, count, unit) for portion in plan.portions)
    return f"{count} a day, {grams} each{f'; {most} are right too' if most and most > count else ''}"


def change_rows_of(plan: FeedingPlan, units: Units) -> tuple[ChangeRow, ...]:
    return tuple(ChangeRow(*row) for row in change_rows(plan, units.food))


def kept_rows(kept: Plan | None, units: Units) -> tuple[PlanRow, ...]:
    if kept is None:
        return ()
    if kept.kind == Plan.Kind.KEEP:
        told = content_of(kept).diet_as_told
        now = (PlanRow("Eats now", told),) if told else ()
        return (PlanRow("Keep feeding as now", until_when(kept)), *now, *_weigh_row(kept))
    return (*plan_rows(content_of(kept), units), *_weigh_row(kept))


def content_of(kept: Plan) -> FeedingPlan:
    return FeedingPlan.from_json(json.dumps(kept.content))


def _weigh_row(kept: Plan) -> tuple[PlanRow, ...]:
    return (PlanRow("Weigh-in", f"{kept.weigh_in_on:%-d %B %Y}"),) if kept.weigh_in_on else ()


def kept_cautions(kept: Plan | None) -> tuple[str, ...]:
    return tuple(each.says for each in content_of(kept).cautions) if kept else ()
