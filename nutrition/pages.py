"""The feeding page: what is known, what is proposed, what stands against it, and the plan."""

from datetime import date, timedelta

from django.urls import reverse
from django.utils import timezone

from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.platform.measures import units_of
from clinic.platform.models import ClinicDetails
from clinic.visits.models import Record
from nutrition import conditions as condition
from nutrition.amounts import weight
from nutrition.choices import Known, inputs_of, known, why_none
from nutrition.energy_part import (
    both_needs,
    breed_words,
    energies_shown,
    ideal_part,
    percent_eaten,
    ruler_of,
    rules_shown,
    step_shown,
)
from nutrition.factors import Factors
from nutrition.feeding_model import Choice, FeedingPage, PlanRow
from nutrition.forms import Asked
from nutrition.menu import food_groups
from nutrition.models import Plan
from nutrition.plan_rows import change_rows_of, content_of, kept_cautions, kept_rows, plan_rows
from nutrition.queries import catalogue
from nutrition.refusals import Inputs
from nutrition.standing import APART, tried, why_not_ready
from nutrition.versions import composed


def feeding_page(
    record: Record, asked: Asked, kept: Plan | None, *, actor: Actor, today: date, details: ClinicDetails
) -> FeedingPage:
    """Everything on the page, reckoned from the record and what was chosen so far. Writes nothing.

    Five queries, however much is on record. `kept`: the record's plan, if one stands.
    """
    factors, foods = composed(), catalogue()
    facts, units = known(record, today=today, foods=foods, details=details), units_of(actor, details)
    inputs = inputs_of(facts, asked.choices, foods, factors)
    plan, standing = tried(inputs, factors)
    ideals, ideal_words = ideal_part(facts, inputs, units.weight, asked.weight_in, factors)
    need = both_needs(facts, inputs, asked.choices, factors)
    usual = f"{today + timedelta(days=plan.weigh_in.days):%-d %B %Y}" if plan else ""
    return FeedingPage(
        facts=_facts(facts, units.weight, factors),
        no_weight=facts.weight_kg is None,
        no_score=facts.bcs is None,
        weighed_today=facts.weighed_today,
        aims=_aims(inputs),
        stages=(
            Choice("adult", "grown", inputs.stage == "adult"),
            Choice("growth", "still growing", inputs.stage == "growth"),
        ),
        growing=inputs.stage == "growth",
        bearing=bool(inputs.conditions & {"pregnant", "nursing"}),
        nursing="nursing" in inputs.conditions,
        losing=inputs.aim == "lose",
        ideals=ideals,
        ideal_words=ideal_words,
        rules=rules_shown(facts, inputs, asked.choices, factors) if need else (),
        energies=energies_shown(inputs, facts, asked, factors),
        none_because=why_none(inputs, facts, asked.choices, factors),
        own_chosen=asked.choices.energy == "own",
        ruler=ruler_of(need, facts.eaten_kcal, _kcal(inputs)) if need else None,
        breed_words=breed_words(facts, factors),
        eats=_eats(facts),
        eats_percent=percent_eaten(facts, need),
        foods=food_groups(foods.values(), inputs),
        bowl=asked.bowl,
        standing=standing,
        rows=plan_rows(plan, units) if plan else (),
        change=change_rows_of(plan, units) if plan else (),
        changes=_changes(asked, factors),
        weight_in=asked.weight_in,
        cautions=tuple(each.says for each in plan.cautions) if plan else (),
        apart=tuple(item.sentence for item in standing if item.code in APART),
        ready=plan is not None and not asked.errors,
        why_not=why_not_ready(asked, standing),
        reason_missing=any(item.needs_reason and item.ticked for item in standing)
        and not inputs.reason.strip(),
        weigh_in_usual=usual,
        typed=asked.typed,
        errors=asked.errors,
        kept=kept_rows(kept, units),
        kept_change=change_rows_of(content_of(kept), units) if kept else (),
        kept_steps=tuple(step_shown(line) for line in content_of(kept).lines)
        if kept and kept.kind == Plan.Kind.FED
        else (),
        kept_cautions=kept_cautions(kept),
        kept_kind=kept.kind if kept else "",
        kept_by=f"{kept.by.full_name}, {timezone.localtime(kept.at):%-d %b %Y, %H:%M}" if kept else "",
        may=actor.may(Right.FEED) and not record.is_signed,
        weigh_ins_url=reverse("weigh-ins", args=[record.visit.patient_id]),
    )


def _facts(facts: Known, unit: str, factors: Factors) -> tuple[PlanRow, ...]:
    rows = []
    if facts.weight_kg is not None:
        when = "today" if facts.weighed_today else f"on {facts.weighed_on:%-d %b %Y}"
        rows.append(PlanRow("Weight", f"{weight(facts.weight_kg, unit)}, {when}"))
    rows.append(PlanRow("Body condition", _condition(facts, factors)))
    rows.append(PlanRow("Muscle", _muscle(facts)))
    if facts.seems_to_need_kcal:
        text = f"about {facts.seems_to_need_kcal:,.0f} kcal a day by its weigh-ins; as good as what was told"
        rows.append(PlanRow("Seems to need", text))
    if facts.expected_adult_kg:
        rows.append(PlanRow("Expected grown weight", weight(facts.expected_adult_kg, unit)))
    if facts.conditions:
        rows.append(
            PlanRow(
                "Conditions",
                ", ".join(
                    sorted(condition.SAYS.get(code, code.replace("_", " ")) for code in facts.conditions)
                ),
            )
        )
    return tuple(rows)


def _condition(facts: Known, factors: Factors) -> str:
    """The score in words; half points take the lower score's."""
    if facts.bcs is None:
        return "not scored"
    words = factors.sentence(f"bcs.{facts.species}.{min(max(int(facts.bcs), 1), 9)}").says
    return f"{facts.bcs:g} of 9{_scored(facts.scored_on, facts)}: {words}"


def _muscle(facts: Known) -> str:
    if facts.muscle is None:
        return "not scored"
    words = facts.muscle if facts.muscle == "normal" else f"{facts.muscle} loss"
    return f"{words}{_scored(facts.muscle_on, facts)}"


def _scored(on: date | None, facts: Known) -> str:
    """Its day, where that is another than the weight's: what was not scored today is not today's."""
    return "" if on == facts.weighed_on or on is None else f", scored {on:%-d %b %Y}"


def _kcal(inputs: Inputs) -> float | None:
    return inputs.estimate.energy_kcal if inputs.estimate else None


def _aims(inputs: Inputs) -> tuple[Choice, ...]:
    words = (("keep", "keep this weight"), ("lose", "lose weight"), ("gain", "gain weight"))
    return tuple(Choice(code, says, inputs.aim == code) for code, says in words)


def _changes(asked: Asked, factors: Factors) -> tuple[Choice, ...]:
    """Over how many days the present food gives way, the usual way first."""
    rule, chosen = factors.factor("change.days"), asked.choices.change_days
    days = sorted({int(rule.low or rule.value), 5, int(rule.high or rule.value), 10, 14})
    words = {"": "as usual, where the food is new", "0": "no days: it stays as it is"}
    words |= {str(day): f"{day} days" for day in days}
    now = "" if chosen is None else str(chosen)
    return tuple(Choice(code, says, code == now) for code, says in words.items())


def _eats(facts: Known) -> str:
    if not facts.diet_as_told:
        return ""
    energy = f" (about {facts.eaten_kcal:,.0f} kcal a day by report)" if facts.eaten_kcal else ""
    return f"{facts.diet_as_told}{energy}"
