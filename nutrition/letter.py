"""Feeding in a letter: grams before cups, treats inside the day, cautions beside the dose they belong to."""

import json
from dataclasses import dataclass, replace
from datetime import date

from django.utils import timezone

from clinic.care.letter import OPEN
from clinic.care.models import PlanLine
from clinic.letters.document import (
    Block,
    Dated,
    Figure,
    Figures,
    Part,
    Point,
    Section,
    Sentence,
    Table,
    Text,
)
from clinic.letters.texts import Texts
from clinic.letters.wording import listed, long_day, words
from clinic.patients.units import Units
from clinic.platform.measures import units_for_owners
from clinic.visits.models import Record
from nutrition.amounts import both, each_meal, in_unit, on_scale
from nutrition.change_table import change_rows, head_of
from nutrition.label import Portion
from nutrition.letter_texts import ENGLISH, ROOM, caution, measures
from nutrition.models import Plan
from nutrition.plan import FeedingPlan, state_of
from nutrition.programme import Programme, course
from nutrition.programme_chart import programme_chart, scores_of
from nutrition.queries import plan_of
from nutrition.running import programme_of, weights_until
from nutrition.versions import composed
from nutrition.weeks_chart import LOW

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

OF_WEIGHT = ["BCM.score|-", "VIT.weight|-"]  # lines of the walk
PRINTED_KEEP = ("keep_not_eating", "keep_call", "cat_never_fast", "insulin", "refeeding")


@dataclass(frozen=True)
class FeedingTexts:
    name: str = "nutrition"
    order: int = 60

    def texts(self, language: str) -> Texts:
        return ROOM.of_files(language)


@dataclass(frozen=True)
class FeedingInLetter:
    name: str = "feeding"
    order: int = 60

    def part(self, record: Record, *, language: str, today: date) -> Part:
        """Nothing where no advice was recorded."""
        plan = plan_of(record)
        if plan is None:
            return Part()
        content, units, t = (
            FeedingPlan.from_json(json.dumps(plan.content)),
            units_for_owners(),
            ROOM(language),
        )
        pet = record.visit.patient.name
        programme = _programme(record, plan)
        blocks = (
            _keep(plan, content, pet, programme is not None, t)
            if plan.kind == Plan.Kind.KEEP
            else _fed(plan, content, pet, units, t, _chart(record, plan, programme, units, t))
        )
        next_things: tuple[Dated, ...] = ()
        if plan.weigh_in_on and not _is_planned(record, plan.weigh_in_on):
            what = _say("weigh-in", "feeding.weigh_in", plan, t)
            next_things = (Dated(on=plan.weigh_in_on, what=what),)
        return Part(
            sections=(Section("feeding", t("feeding.title"), 60, blocks),),
            points=_points(plan, content, units, t),
            call_now=_unweaned(plan, content, pet, t),
            next_things=next_things,
        )


def _points(plan: Plan, content: FeedingPlan, units: Units, t: Texts) -> tuple[Point, ...]:
    """What is fed so that the weight changes is something to do today; feeding as before is not."""
    if plan.kind == Plan.Kind.KEEP or not content.target_weight_kg or not content.portions:
        return ()
    what = replace(_say("point", "feeding.point", plan, t), key="point:feeding")
    does = [_portion(plan, content, each, n, units.food, t) for n, each in enumerate(content.portions)]
    said = Sentence("point:feeding:do", " ".join(each.text for each in does), "the feeding plan", by=what.by)
    return (Point(what, "R", said),)


def _programme(record: Record, plan: Plan) -> Programme | None:
    """The one that runs on the day of the plan."""
    patient = record.visit.patient
    return programme_of(patient, weights_until(patient, timezone.localdate(plan.at)), until=plan.at)


def _is_planned(record: Record, on: date) -> bool:
    """Whether the plan itself asks for that day because of the weight: then it stands there as such."""
    return record.plan_lines.filter(
        kind=PlanLine.Kind.RECHECK, due_on=on, standing__in=OPEN, problem__lines__overlap=OF_WEIGHT
    ).exists()


def _unweaned(plan: Plan, content: FeedingPlan, pet: str, t: Texts) -> tuple[Sentence, ...]:
    """One that lives on milk is not left for a day."""
    if not any(each.code == "caution.unweaned" for each in content.cautions):
        return ()
    by = plan.by.printed_name
    return (t.sentence("call-now:unweaned", "call.unweaned", "common practice", "", by, pet=pet),)


def _say(name: str, key: str, plan: Plan, t: Texts, *, strong: object = False, **values: object) -> Sentence:
    by = plan.by.printed_name
    return t.sentence(f"feeding:{name}", key, "the feeding plan", "", by, strong=strong, **values)


def _own_words(plan: Plan, t: Texts) -> tuple[Block, ...]:
    if not plan.own_words:
        return ()
    own = Sentence("feeding:own", t.own(plan.own_words), "the feeding plan", "", plan.by.printed_name)
    return (Text((own,)),)


def _keep(plan: Plan, content: FeedingPlan, pet: str, is_losing: bool, t: Texts) -> tuple[Block, ...]:
    """`is_losing`: by a programme, so that some loss is what is hoped for."""
    cautions = {each.code.removeprefix("caution."): each for each in content.cautions}
    # for one that does not eat, "as now" would be "hardly anything"
    key = "feeding.no_change" if "keep_not_eating" in cautions else "feeding.keep"
    until = _until_for_owner(plan, t)
    sentences = [_state(plan, content, pet, t)] if content.because else []
    sentences.append(_say("keep", key, plan, t, strong=True, until=until))
    if content.diet_as_told:
        sentences.append(_say("now", "feeding.told", plan, t, words=t.own(content.diet_as_told)))
    said = tuple(
        _say("caution.keep_call", "feeding.call_losing", plan, t, pet=pet)
        if name == "keep_call" and is_losing
        else caution(cautions[name], plan.by.printed_name, pet, t)
        for name in PRINTED_KEEP
        if name in cautions
    )
    return (Text(tuple(sentences)), *_own_words(plan, t), *((Text(said),) if said else ()))


def _until(plan: Plan) -> str:
    """The clinician's words, without a leading "until"."""
    until = " ".join(plan.until.split()).rstrip(".")
    return until[6:] if until.casefold().startswith("until ") else until


def until_when(plan: Plan) -> str:
    """The clinician's words as the end of a sentence."""
    return f"until {_until(plan)}"


def known_endings() -> dict[str, str]:
    """By their key: endings of "keep feeding as now" that other languages have as well."""
    return {key: ENGLISH(key) for key in ENGLISH.entries if key.startswith("until.")}


def _until_for_owner(plan: Plan, t: Texts) -> str:
    """In another language a known ending is said in it; other words stay the clinician's own."""
    until = until_when(plan)
    if t.english is None:
        return until
    known = {said.casefold(): key for key, said in known_endings().items()}
    key = known.get(until.casefold(), "")
    return t(key) if key in t else t("feeding.until", when=t.own(_until(plan)))


def _chart(
    record: Record, plan: Plan, programme: Programme | None, units: Units, t: Texts
) -> tuple[Block, ...]:
    """The owner's chart of a programme: what was weighed until that day, and what is hoped for."""
    patient, factors, day = record.visit.patient, composed(), timezone.localdate(plan.at)
    if programme is None:
        return ()
    gone, scores = course(programme, day, factors), scores_of(patient, programme, day)
    drawn = programme_chart(patient.name, programme, gone, scores, units.weight, factors, t, LOW)
    return (Figures((Figure(drawn.svg, drawn.alt, "low"),)),)


def _fed(
    plan: Plan, content: FeedingPlan, pet: str, units: Units, t: Texts, chart: tuple[Block, ...] = ()
) -> tuple[Block, ...]:
    rows = []
    if content.target_weight_kg:
        rows.append((_label("aim", "aim_label", plan, t), _aim(plan, content, units.weight, t)))
    for number, portion in enumerate(content.portions):
        label = _label(f"food-{number}", "and_label" if number else "day_label", plan, t)
        rows.append((label, _portion(plan, content, portion, number, units.food, t)))
    total = f"{round(content.energy_kcal or 0):,}"
    key, said = "feeding.no_treats", {}
    if content.treats_kcal:
        key, said = "feeding.treats", {"kcal": round(content.treats_kcal)}
    rows.append(
        (_label("treats", "treats_label", plan, t), _say("treats", key, plan, t, total=total, **said))
    )
    if plan.weigh_in_on:
        rows.append((_label("weigh", "weigh_label", plan, t), _weigh_in(plan, content, plan.weigh_in_on, t)))
    # the table says it better
    printed = [name for name in PRINTED if name != "change" or not content.change]
    cautions = [each for name in printed for each in content.cautions if each.code == f"caution.{name}"]
    closing = tuple(caution(each, plan.by.printed_name, pet, t) for each in cautions)
    return (
        Text((_state(plan, content, pet, t),)),
        Table(rows=tuple(rows)),
        *_own_words(plan, t),
        *_change(plan, content, units.food, t),
        *((Text(closing),) if closing else ()),
        *chart,
    )


def _state(plan: Plan, content: FeedingPlan, pet: str, t: Texts) -> Sentence:
    """What this plan is for, in one sentence: as the room's texts have it, else as the rules keep it."""
    said = composed().sentence(f"state.{state_of(content)}")
    because = listed(list(content.because), words(t.language))
    if t.entry(said.code) is None:
        text = said.says.format(because=because)
        lang = t.english.language if t.english else ""
    else:
        text, lang = t(said.code, pet=pet, because=t.own(because)), t.lang(said.code)
    return Sentence("feeding:state", text, "the feeding plan", said.source, plan.by.printed_name, lang=lang)


def _change(plan: Plan, content: FeedingPlan, unit: str, t: Texts) -> tuple[Block, ...]:
    """From the food as now to the new one, day by day; slower when the stomach says so."""
    if not content.change:
        return ()
    by = plan.by.printed_name
    rows = tuple(
        tuple(
            Sentence(f"feeding:change-{row}-{cell}", text, "the feeding plan", "", by)
            for cell, text in enumerate(said)
        )
        for row, said in enumerate(change_rows(content, unit, t))
    )
    before = _say("change-before", "change.before", plan, t)
    after = _say("change-after", "change.after", plan, t)
    return (Text((before,)), Table(rows=rows, head=head_of(t)), Text((after,)))


def _label(name: str, key: str, plan: Plan, t: Texts) -> Sentence:
    return _say(f"{name}:label", f"feeding.{key}", plan, t)


def _aim(plan: Plan, content: FeedingPlan, unit: str, t: Texts) -> Sentence:
    target = content.target_weight_kg or 0
    said = {"weight": both(target, unit)}
    if not content.weight_kg:
        return _say("aim", "feeding.aim", plan, t, **said)
    less = f"{in_unit(content.weight_kg - target, unit):.1f} {unit}"
    return _say("aim", "feeding.aim_lose", plan, t, less=less, **said)


def _portion(
    plan: Plan, content: FeedingPlan, portion: Portion, number: int, unit: str, t: Texts
) -> Sentence:
    said: dict[str, object] = {
        "amount": on_scale(portion.grams, unit),
        "food": t.own(portion.food_name),
    }
    key = "feeding.portion_free"
    if content.meals and content.meals.count:
        key = "feeding.portion_meals"
        each = each_meal(portion.grams, content.meals.count, unit, t("unit.to"))
        said |= {"n": content.meals.count, "each": each}
    if told := measures(portion, t):
        key, said["measures"] = f"{key}_measures", told
    return _say(f"food-{number}", key, plan, t, strong=number == 0, **said)


def _weigh_in(plan: Plan, content: FeedingPlan, on: date, t: Texts) -> Sentence:
    day, then = long_day(on, words(t.language)), content.weigh_in.then_days
    if then:
        return _say("weigh", "feeding.weigh_then", plan, t, day=day, days=then)
    return _say("weigh", "feeding.weigh", plan, t, day=day)
