"""What feeding adds to a summary for a colleague: the newest advice, as it went home."""

from datetime import date

from clinic.letters.document import Block
from clinic.letters.wording import long_day
from clinic.patients.models import Patient
from clinic.summaries.blocks import facts
from nutrition.amounts import on_scale
from nutrition.letter import until_when
from nutrition.models import Plan


class FeedingInSummary:
    name: str = "feeding"
    order: int = 81
    title: str = "Feeding advice"

    def blocks(self, patient: Patient, *, today: date) -> tuple[Block, ...]:
        rows = Plan.objects.filter(record__visit__patient=patient).select_related("by").order_by("-at")
        plan = rows.first()
        if plan is None:
            return ()
        kept = plan.kind == Plan.Kind.KEEP
        foods = [f"{on_scale(row['grams'])} of {row['food_name']}" for row in plan.content["portions"]]
        return (
            facts(
                (
                    ("Advised", f"{long_day(plan.at.date())}, {plan.by.printed_name}"),
                    ("What", f"keep feeding as now {until_when(plan)}" if kept else "; ".join(foods)),
                    ("Energy", f"{round(plan.energy_kcal)} kcal a day" if plan.energy_kcal else ""),
                    ("Aim", f"{plan.target_weight_kg:.1f} kg" if plan.target_weight_kg else ""),
                    ("In words", plan.own_words),
                )
            ),
        )
