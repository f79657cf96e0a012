"""How heavy and how much a day: the ideal weights, the energies to choose from, and their ruler."""

from nutrition import conditions as condition
from nutrition.amounts import in_unit
from nutrition.choices import Choices, Known, around, offered
from nutrition.energy import AdultNeed, adult_need, breed_note, floor_kcal, rules_for, usual_rules
from nutrition.explain import Estimate, Line, shown
from nutrition.factors import CERTAINTY_SAYS, Factors, Family
from nutrition.feeding_model import Choice, Energy, Ideal, RuleChoice, Ruler, Step
from nutrition.forms import Asked
from nutrition.ideal_weight import methods
from nutrition.reasons import Refused, is_positive
from nutrition.refusals import Inputs


def ideal_part(
    facts: Known, inputs: Inputs, unit: str, weight_in: str, factors: Factors
) -> tuple[tuple[Ideal, ...], str]:
    """`unit` is read, `weight_in` is what the target is typed in."""
    if facts.weight_kg is None or facts.bcs is None:
        return (), "Weight and body condition come first."
    try:
        found = methods(
            weight_kg=facts.weight_kg,
            bcs=facts.bcs,
            factors=factors,
            recorded=facts.lean,
            growing=inputs.stage == "growth",
            conditions=inputs.conditions,
        )
    except Refused as refused:
        return (), refused.sentence
    ideals = tuple(
        Ideal(
            says=each.says,
            kg=f"{in_unit(each.weight_kg, unit):.1f} {unit}",
            value=f"{in_unit(each.weight_kg, weight_in):.1f}",
            how=each.line.how,
            source=_source(each.line),
            preferred=each.preferred,
            open_ended=each.open_ended,
        )
        for each in found
    )
    return ideals, ""


def _source(line: Line) -> str:
    says = CERTAINTY_SAYS[line.certainty]
    return f"{line.source} ({says})" if line.source and line.source != says else says


def step_shown(line: Line) -> Step:
    places = 0 if line.unit.startswith("kcal") else 2
    return Step(line.what, line.how, f"{shown(line.value, places)} {line.unit}", _source(line), line.note)


def energies_shown(inputs: Inputs, facts: Known, asked: Asked, factors: Factors) -> tuple[Energy, ...]:
    chosen = inputs.estimate.code if inputs.estimate else ""
    aimed = inputs.aimed_weight_kg
    floor = floor_kcal(inputs.species, aimed, factors) if aimed and is_positive(aimed) else 0.0
    return tuple(
        _energy(each, each.code == chosen, floor) for each in offered(inputs, facts, asked.choices, factors)
    )


def _energy(each: Estimate, chosen: bool, floor: float) -> Energy:
    same = round(each.low_kcal) == round(each.high_kcal)
    span = "" if same else f"{each.low_kcal:,.0f} to {each.high_kcal:,.0f}"
    steps = tuple(step_shown(line) for line in each.lines)
    kcal = f"{each.energy_kcal:,.0f} kcal"
    return Energy(each.code, each.says, kcal, span, steps, chosen, each.energy_kcal < floor)


def both_needs(facts: Known, inputs: Inputs, choices: Choices, factors: Factors) -> AdultNeed | None:
    """Of a grown animal where a formula may be used: the only case where both families speak."""
    apart = {condition.PREGNANT, condition.NURSING, *condition.NO_FORMULA}
    simple = inputs.stage == "adult" and not inputs.conditions & apart
    if facts.weight_kg is None or not simple:
        return None
    usual = usual_rules(
        facts.species, neutered=facts.neutered, bcs=facts.bcs, obese_prone="obese_prone" in facts.conditions
    )
    chosen = around(facts, choices, factors)
    try:
        return adult_need(
            weight_kg=facts.weight_kg,
            multiples_code=chosen.multiples_code or usual[0],
            body_size_code=chosen.body_size_code or usual[1],
            family=facts.family,
            factors=factors,
        )
    except Refused:
        return None


def rules_shown(facts: Known, inputs: Inputs, choices: Choices, factors: Factors) -> tuple[RuleChoice, ...]:
    """What one family calls the animal's state, the other its way of life."""
    usual = usual_rules(
        facts.species, neutered=facts.neutered, bcs=facts.bcs, obese_prone="obese_prone" in facts.conditions
    )
    chosen = around(facts, choices, factors)
    families: tuple[tuple[Family, str, str, str], ...] = (
        ("multiples", "multiples", "By multiples of rest", chosen.multiples_code or usual[0]),
        ("body_size", "body_size", "By body size", chosen.body_size_code or usual[1]),
    )
    return tuple(
        RuleChoice(
            name,
            label,
            family == facts.family,
            tuple(
                Choice(rule.code, f"{rule.says}: {shown(rule.value)}", rule.code == code)
                for rule in rules_for(facts.species, family, factors)
            ),
        )
        for family, name, label, code in families
    )


def percent_eaten(facts: Known, need: AdultNeed | None) -> str:
    if not facts.eaten_kcal or need is None:
        return ""
    share = facts.eaten_kcal / need.chosen.energy_kcal * 100
    how = "weighed" if facts.eaten_weighed else "as told"
    return f"{share:.0f} % of what the rules say would keep this weight, {how}."


def ruler_of(need: AdultNeed, eats: float | None, plan: float | None) -> Ruler:
    most = max(need.spread_high_kcal, eats or 0, plan or 0) * 1.05

    def x(kcal: float) -> float:
        return round(kcal / most * 700, 1)

    alt = (
        f"Published needs span {need.low_kcal:,.0f} to {need.high_kcal:,.0f} kcal a day; one animal may need "
        f"{need.spread_low_kcal:,.0f} to {need.spread_high_kcal:,.0f}."
    )
    if eats:
        alt += f" It eats {eats:,.0f} by report."
    if plan:
        alt += f" The plan is {plan:,.0f}."
    return Ruler(
        band_x=x(need.low_kcal),
        band_width=max(x(need.high_kcal) - x(need.low_kcal), 3),
        half_x=x(need.spread_low_kcal),
        half_width=x(need.spread_high_kcal) - x(need.spread_low_kcal),
        eats_x=x(eats) if eats else None,
        plan_x=x(plan) if plan else None,
        eats=f"eats {eats:,.0f}" if eats else "",
        plan=f"plan {plan:,.0f}" if plan else "",
        low=f"{need.low_kcal:,.0f}",
        high=f"{need.high_kcal:,.0f}",
        spread_low=f"{need.spread_low_kcal:,.0f}",
        spread_high=f"{need.spread_high_kcal:,.0f}",
        alt=alt,
    )


def breed_words(facts: Known, factors: Factors) -> str:
    note = breed_note(facts.breed, factors) if facts.breed else None
    return f"{note.says} ({note.source})" if note else ""
