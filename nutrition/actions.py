"""Food advice: a plan, or keep feeding as now; taken back while the record is open."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from clinic.patients.actions import change_patient
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.models import Record
from nutrition.choices import Choices, beside, inputs_of, known
from nutrition.foods import Food
from nutrition.growing import GrownWeight
from nutrition.models import ExpectedGrownWeight, FoodRow, FoodVersion, Plan
from nutrition.plan import FeedingPlan, compose
from nutrition.plan import keep_feeding as keep
from nutrition.queries import catalogue
from nutrition.versions import composed, version_row


class RecordSigned(Exception):
    """The record is signed; food advice is not changed any more."""


class UntilMissing(Exception):
    """Keep feeding says until when, or until what, in at most 200 characters."""


class WeighInPast(Exception):
    """The next weigh-in lies before today."""


def _open(record: Record) -> Record:
    locked = Record.objects.select_for_update().get(pk=record.pk)
    if locked.is_signed:
        raise RecordSigned
    return locked


@transaction.atomic
def make_plan(
    *,
    actor: Actor,
    now: datetime,
    record: Record,
    choices: Choices,
    weigh_in_on: date | None = None,
    own_words: str = "",
) -> Plan:
    """Compose and keep the plan.

    Raises PlanRefused with all that stands against it, RecordSigned, WeighInPast.
    """
    actor.require(Right.FEED)
    locked = _open(record)
    today = timezone.localdate(now)
    factors, foods = composed(), catalogue()
    facts = known(record, today=today, foods=foods)
    plan = compose(inputs_of(facts, choices, foods, factors), factors)
    return _keep(
        locked, plan, actor, now, weigh_in_on=weigh_in_on, own_words=own_words, asked=beside(choices)
    )


@transaction.atomic
def keep_feeding(
    *,
    actor: Actor,
    now: datetime,
    record: Record,
    until: str,
    reason: str = "",
    weigh_in_on: date | None = None,
    own_words: str = "",
) -> Plan:
    """ "Keep feeding as now until we call" is a complete plan too.

    Raises UntilMissing, RecordSigned, WeighInPast.
    """
    actor.require(Right.FEED)
    if not 0 < len(until.strip()) <= 200:
        raise UntilMissing
    locked = _open(record)
    factors, foods = composed(), catalogue()
    facts = known(record, today=timezone.localdate(now), foods=foods)
    inputs = inputs_of(facts, Choices(reason=reason), foods, factors)
    plan = keep(inputs, facts.diet_as_told, factors)
    return _keep(locked, plan, actor, now, weigh_in_on=weigh_in_on, own_words=own_words, until=until.strip())


def _keep(
    record: Record,
    plan: FeedingPlan,
    actor: Actor,
    now: datetime,
    *,
    weigh_in_on: date | None,
    own_words: str,
    until: str = "",
    asked: Mapping[str, object] | None = None,
) -> Plan:
    today = timezone.localdate(now)
    if weigh_in_on and weigh_in_on <= today:
        raise WeighInPast
    kept, _ = Plan.objects.update_or_create(
        record=record,
        defaults={
            "kind": plan.kind,
            "content": json.loads(plan.to_json()),
            "asked": asked or {},
            "factors": version_row(now=now),
            "energy_kcal": plan.energy_kcal,
            "target_weight_kg": plan.target_weight_kg,
            "weigh_in_on": weigh_in_on or today + timedelta(days=plan.weigh_in.days),
            "until": until,
            "own_words": own_words.strip(),
            "by": actor.staff,
            "at": now,
        },
    )
    return kept


@transaction.atomic
def take_back(*, actor: Actor, now: datetime, record: Record) -> None:
    """No food advice stands any more. Raises RecordSigned."""
    actor.require(Right.FEED)
    Plan.objects.filter(record=_open(record)).delete()


@transaction.atomic
def expect_grown_weight(
    *, actor: Actor, now: datetime, patient: Patient, weight: GrownWeight
) -> ExpectedGrownWeight:
    """What a growing animal will weigh, with how anybody knows: it stands on the patient, too."""
    actor.require(Right.TAKE_HISTORY)
    kept = Decimal(str(round(weight.kg, 2)))
    change_patient(actor=actor, now=now, patient=patient, expected_adult_kg=kept)
    return ExpectedGrownWeight.objects.create(
        patient=patient,
        how=weight.how,
        kg=weight.kg,
        low_kg=weight.low_kg,
        high_kg=weight.high_kg,
        by=actor.staff,
        at=now,
    )


@transaction.atomic
def load_foods(*, actor: Actor, now: datetime, foods: Sequence[Food]) -> int:
    """Put foods into the catalogue; one that stands there is brought up to date. Returns how many.

    As many queries for a hundred foods as for one.
    """
    actor.require(Right.MANAGE_CLINIC)
    _keep_labels(foods, actor, now)
    return len(foods)


class FoodStands(Exception):
    """Another food has that name already."""


@transaction.atomic
def keep_food(*, actor: Actor, now: datetime, food: Food, is_new: bool) -> FoodRow:
    """One food, new or changed; plans made with it keep their own copy. Raises FoodStands."""
    actor.require(Right.MANAGE_CLINIC)
    before = FoodRow.objects.select_for_update().filter(code=food.code).first()
    if is_new and before and before.retired_at is None and before.body != plain(food):
        raise FoodStands
    (row,) = _keep_labels([food], actor, now)
    return row


def _keep_labels(foods: Sequence[Food], actor: Actor, now: datetime) -> list[FoodRow]:
    """The rows, which are held until the transaction ends, and a version of each whose label is new."""
    rows = FoodRow.objects.bulk_create(
        [FoodRow(code=each.code, name=each.name, body=plain(each)) for each in foods],
        update_conflicts=True,
        unique_fields=["code"],
        update_fields=["name", "body", "retired_at"],
    )
    kept = FoodVersion.objects.filter(food__in=rows).order_by("food_id", "-number").distinct("food_id")
    newest = {each.food_id: each for each in kept}
    FoodVersion.objects.bulk_create(
        FoodVersion(
            food=row, number=before.number + 1 if before else 1, body=row.body, by=actor.staff, at=now
        )
        for row in rows
        if (before := newest.get(row.pk)) is None or before.body != row.body
    )
    return rows


@transaction.atomic
def retire_food(*, actor: Actor, now: datetime, row: FoodRow) -> None:
    """Not offered any more; plans that name it keep their own copy."""
    actor.require(Right.MANAGE_CLINIC)
    FoodRow.objects.filter(pk=row.pk, retired_at=None).update(retired_at=now)


def plain(food: Food) -> dict[str, object]:
    """A food as JSON values that `food_from` reads."""
    values = asdict(food)
    values["species"] = sorted(food.species)
    values["life_stages"] = sorted(food.life_stages)
    return values
