"""Feeding in a letter: grams before cups, treats inside the day, cautions beside the dose they belong to."""

import json
from dataclasses import dataclass
from datetime import date

from django.utils import timezone

from clinic.letters.document import Block, Dated, Figure, Figures, Part, Section, Sentence, Table, Text
from clinic.letters.wording import long_day
from clinic.platform.measures import Units, units_for_owners
from clinic.visits.models import Record
from nutrition.amounts import both, each_meal, in_unit, on_scale
from nutrition.change_table import HEAD, change_rows
from nutrition.label import Portion, in_measures
from nutrition.models import Plan
from nutrition.plan import FeedingPlan, state_of
from nutrition.programme import course
from nutrition.programme_chart import programme_chart, scores_of
from nutrition.queries import plan_of
from nutrition.running import programme_of, weights_until
from nutrition.versions import composed

PRINTED = (
    "unweaned",
    "change",
    "therapeutic",
    "free_choice",
    "loss_adjust",
    "cat_never_fast",
    "large_puppy",
    "refeeding",
    "raw",
    "insulin",
    "estimate",
)

PRINTED_KEEP = ("keep_not_eating", "keep_call", "cat_never_fast", "insulin", "refeeding")


@dataclass(frozen=True)
class FeedingInLetter:
    name: str = "feeding"
    order: int = 60

    def part(self, record: Record, *, language: str, today: date) -> Part:
        """Nothing where no advice was recorded."""
        plan = plan_of(record)
        if plan is None:
            return Part()
        content, units = FeedingPlan.from_json(json.dumps(plan.content)), units_for_owners()
        blocks = (
            _keep(plan, content)
            if plan.kind == Plan.Kind.KEEP
            else _fed(plan, content, units, _chart(record, plan, units))
        )
        next_things: tuple[Dated, ...] = ()
        if plan.weigh_in_on:
            what = _say("weigh-in", "Weigh-in", plan)
            next_things = (Dated(on=plan.weigh_in_on, what=what),)
        return Part(sections=(Section("feeding", "Feeding", 60, blocks),), next_things=next_things)


def _say(key: str, text: str, plan: Plan, *, strong: bool = False, recorded: str = "") -> Sentence:
    return Sentence(f"feeding:{key}", text, "the feeding plan", recorded, plan.by.printed_name, strong)


def _own_words(plan: Plan) -> tuple[Block, ...]:
    return (Text((_say("own", plan.own_words, plan),)),) if plan.own_words else ()


def _keep(plan: Plan, content: FeedingPlan) -> tuple[Block, ...]:
    cautions = {each.code.removeprefix("caution."): each for each in content.cautions}
    sentences = [_state(plan, content)] if content.because else []
    if "keep_not_eating" in cautions:
        # "as now" would be "hardly anything"
        sentences.append(_say("keep", f"Do not change the food {until_when(plan)}.", plan, strong=True))
    else:
        sentences.append(_say("keep", f"Keep feeding as now {until_when(plan)}.", plan, strong=True))
    if content.diet_as_told:
        sentences.append(_say("now", f"You told us: {content.diet_as_told}.", plan))
    said = [
        _say(each.code, each.says, plan, recorded=each.source)
        for each in (cautions.get(name) for name in PRINTED_KEEP)
        if each
    ]
    return (Text(tuple(sentences)), *_own_words(plan), *((Text(tuple(said)),) if said else ()))


def until_when(plan: Plan) -> str:
    """The clinician's words as the end of a sentence."""
    until = plan.until.strip().rstrip(".")
    return until if until.casefold().startswith("until") else f"until {until}"


def _chart(record: Record, plan: Plan, units: Units) -> tuple[Block, ...]:
    """The owner's chart of a programme: what was weighed until that day, and what is hoped for."""
    patient, factors, day = record.visit.patient, composed(), timezone.localdate(plan.at)
    programme = programme_of(patient, weights_until(patient, day), until=plan.at)
    if programme is None:
        return ()
    gone, scores = course(programme, day, factors), scores_of(patient, programme, day)
    drawn = programme_chart(patient.name, programme, gone, scores, units.weight, factors)
    return (Figures((Figure(drawn.svg, drawn.alt, "wide"),)),)


def _fed(plan: Plan, content: FeedingPlan, units: Units, chart: tuple[Block, ...] = ()) -> tuple[Block, ...]:
    rows = []
    if content.target_weight_kg:
        rows.append(_row(plan, "aim", "Aim", _aim(content, units.weight)))
    for number, portion in enumerate(content.portions):
        label = "Each day" if number == 0 else "And"
        rows.append(
            _row(plan, f"food-{number}", label, _portion(content, portion, units.food), strong=number == 0)
        )
    treats = (
        f"No more than {round(content.treats_kcal)} kcal a day, and no others."
        if content.treats_kcal
        else "None."
    )
    total = f" Food and treats together: {round(content.energy_kcal or 0):,} kcal."
    rows.append(_row(plan, "treats", "Treats", treats + total))
    if plan.weigh_in_on:
        rows.append(_row(plan, "weigh", "Weigh-in", _weigh_in(plan, content)))
    # the table says it better
    printed = [name for name in PRINTED if name != "change" or not content.change]
    cautions = [each for name in printed for each in content.cautions if each.code == f"caution.{name}"]
    closing = tuple(_say(each.code, each.says, plan, recorded=each.source) for each in cautions)
    words = (Text(closing),) if closing else ()
    return (
        Text((_state(plan, content),)),
        Table(rows=tuple(rows)),
        *_own_words(plan),
        *_change(plan, content, units.food),
        *words,
        *chart,
    )


def _state(plan: Plan, content: FeedingPlan) -> Sentence:
    """What this plan is for, in one sentence."""
    said = composed().sentence(f"state.{state_of(content)}")
    return _say("state", said.says.format(because=" and ".join(content.because)), plan, recorded=said.source)


def _change(plan: Plan, content: FeedingPlan, unit: str) -> tuple[Block, ...]:
    """From the food as now to the new one, day by day; slower when the stomach says so."""
    if not content.change:
        return ()
    rows = tuple(
        tuple(_say(f"change-{row}-{cell}", text, plan) for cell, text in enumerate(said))
        for row, said in enumerate(change_rows(content, unit))
    )
    after = "Go back a step and call us if the stools turn soft, or a meal is left."
    before = _say("change-before", "The new food comes step by step:", plan)
    return (Text((before,)), Table(rows=rows, head=HEAD), Text((_say("change-after", after, plan),)))


def _row(plan: Plan, key: str, label: str, text: str, *, strong: bool = False) -> tuple[Sentence, ...]:
    return _say(f"{key}:label", label, plan), _say(key, text, plan, strong=strong)


def _aim(content: FeedingPlan, unit: str) -> str:
    target = content.target_weight_kg or 0
    text = f"{both(target, unit)}."
    if content.weight_kg:
        text += f" That is {in_unit(content.weight_kg - target, unit):.1f} {unit} to lose, slowly."
    return text


def _portion(content: FeedingPlan, portion: Portion, unit: str) -> str:
    measures = in_measures(portion)
    text = f"{on_scale(portion.grams, unit)}{measures}{',' if measures else ''} of {portion.food_name}"
    if content.meals and content.meals.count:
        each = each_meal(portion.grams, content.meals.count, unit)
        return f"{text}, in {content.meals.count} meals of {each}."
    return f"{text}, free choice."


def _weigh_in(plan: Plan, content: FeedingPlan) -> str:
    assert plan.weigh_in_on is not None
    text = long_day(plan.weigh_in_on)
    then = content.weigh_in.then_days
    return f"{text}, then every {then} days." if then else f"{text}."
