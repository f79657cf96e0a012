"""Feeding in a letter: grams before cups, treats inside the day, cautions beside the dose they belong to."""

import json
from dataclasses import dataclass
from datetime import date

from django.utils import timezone

from clinic.letters.document import Block, Dated, Figure, Figures, Part, Section, Sentence, Table, Text
from clinic.letters.texts import Texts
from clinic.letters.wording import long_day, words
from clinic.visits.models import Record
from nutrition.label import Portion
from nutrition.letter_texts import ROOM, caution, units
from nutrition.models import Plan
from nutrition.plan import FeedingPlan
from nutrition.programme import course, expected
from nutrition.queries import plan_of
from nutrition.running import programme_of, weights_until
from nutrition.versions import composed
from nutrition.weeks_chart import weeks_chart

LB_PER_KG = 2.2046226218
PRINTED = (
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
        content, t = FeedingPlan.from_json(json.dumps(plan.content)), ROOM(language)
        blocks = (
            _keep(plan, content, t)
            if plan.kind == Plan.Kind.KEEP
            else _fed(plan, content, t, _chart(record, plan, t))
        )
        next_things: tuple[Dated, ...] = ()
        if plan.weigh_in_on:
            what = _say("weigh-in", "feeding.weigh_in", plan, t)
            next_things = (Dated(on=plan.weigh_in_on, what=what),)
        return Part(sections=(Section("feeding", t("feeding.title"), 60, blocks),), next_things=next_things)


def _say(name: str, key: str, plan: Plan, t: Texts, *, strong: object = False, **values: object) -> Sentence:
    by = plan.by.printed_name
    return t.sentence(f"feeding:{name}", key, "the feeding plan", "", by, strong=strong, **values)


def _own_words(plan: Plan, t: Texts) -> tuple[Block, ...]:
    if not plan.own_words:
        return ()
    own = Sentence("feeding:own", t.own(plan.own_words), "the feeding plan", "", plan.by.printed_name)
    return (Text((own,)),)


def _keep(plan: Plan, content: FeedingPlan, t: Texts) -> tuple[Block, ...]:
    cautions = {each.code.removeprefix("caution."): each for each in content.cautions}
    # for one that does not eat, "as now" would be "hardly anything"
    key = "feeding.no_change" if "keep_not_eating" in cautions else "feeding.keep"
    until = until_when(plan) if t.english is None else t("feeding.until", when=t.own(_until(plan)))
    sentences = [_say("keep", key, plan, t, strong=True, until=until)]
    if content.diet_as_told:
        sentences.append(_say("now", "feeding.told", plan, t, words=t.own(content.diet_as_told)))
    said = tuple(
        caution(each, plan.by.printed_name, t)
        for each in (cautions.get(name) for name in PRINTED_KEEP)
        if each
    )
    return (Text(tuple(sentences)), *_own_words(plan, t), *((Text(said),) if said else ()))


def _until(plan: Plan) -> str:
    """The clinician's words, without a leading "until"."""
    until = plan.until.strip().rstrip(".")
    return until[5:].strip() if until.casefold().startswith("until") else until


def until_when(plan: Plan) -> str:
    """The clinician's words as the end of a sentence."""
    until = plan.until.strip().rstrip(".")
    return until if until.casefold().startswith("until") else f"until {until}"


def _chart(record: Record, plan: Plan, t: Texts) -> tuple[Block, ...]:
    """The owner's chart of a programme: what was weighed until that day, and what is hoped for."""
    patient, factors = record.visit.patient, composed()
    weighed = weights_until(patient, timezone.localdate(plan.at))
    programme = programme_of(patient, weighed, until=plan.at)
    if programme is None:
        return ()
    drawn = weeks_chart(
        name=patient.name,
        weighed=programme.weighed,
        band=expected(programme, factors),
        target_kg=programme.target_kg,
        doubtful=course(programme, timezone.localdate(plan.at), factors).doubtful,
        t=t,
    )
    return (Figures((Figure(drawn.svg, drawn.alt, "wide"),)),)


def _fed(plan: Plan, content: FeedingPlan, t: Texts, chart: tuple[Block, ...] = ()) -> tuple[Block, ...]:
    rows = []
    if content.target_weight_kg:
        rows.append((_label("aim", "aim_label", plan, t), _aim(plan, content, t)))
    for number, portion in enumerate(content.portions):
        label = _label(f"food-{number}", "and_label" if number else "day_label", plan, t)
        rows.append((label, _portion(plan, content, portion, number, t)))
    total = f"{round(content.energy_kcal or 0):,}"
    key, said = ("feeding.treats", {"kcal": round(content.treats_kcal)}) if content.treats_kcal else (
        "feeding.no_treats", {},
    )  # fmt: skip
    rows.append(
        (_label("treats", "treats_label", plan, t), _say("treats", key, plan, t, total=total, **said))
    )
    if plan.weigh_in_on:
        day, then = long_day(plan.weigh_in_on, words(t.language)), content.weigh_in.then_days
        label = _label("weigh", "weigh_label", plan, t)
        weigh = (
            _say("weigh", "feeding.weigh_then", plan, t, day=day, days=then)
            if then
            else _say("weigh", "feeding.weigh", plan, t, day=day)
        )
        rows.append((label, weigh))
    cautions = [each for name in PRINTED for each in content.cautions if each.code == f"caution.{name}"]
    closing = tuple(caution(each, plan.by.printed_name, t) for each in cautions)
    told = (Text(closing),) if closing else ()
    return (Table(rows=tuple(rows)), *_own_words(plan, t), *told, *chart)


def _label(name: str, key: str, plan: Plan, t: Texts) -> Sentence:
    return _say(f"{name}:label", f"feeding.{key}", plan, t)


def _aim(plan: Plan, content: FeedingPlan, t: Texts) -> Sentence:
    target = content.target_weight_kg or 0
    said = {"kg": f"{target:.1f}", "lb": f"{target * LB_PER_KG:.1f}"}
    if not content.weight_kg:
        return _say("aim", "feeding.aim", plan, t, **said)
    return _say("aim", "feeding.aim_lose", plan, t, less=f"{content.weight_kg - target:.1f}", **said)


def _portion(plan: Plan, content: FeedingPlan, portion: Portion, number: int, t: Texts) -> Sentence:
    said: dict[str, object] = {"grams": round(portion.grams), "food": t.own(portion.food_name)}
    # as the plan keeps it; said anew only in another language
    cups = portion.units_say if t.english is None else units(portion, t)
    each, key = content.grams_a_meal(portion), "feeding.portion_free"
    if content.meals and content.meals.count and each:
        key = "feeding.portion_meals"
        said |= {"n": content.meals.count, "each": round(each)}
    if cups:
        key, said["cups"] = f"{key}_cups", cups
    return _say(f"food-{number}", key, plan, t, strong=number == 0, **said)
