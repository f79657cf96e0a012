"""What is told at intake about the animal's life at home: what it eats, and how it lives."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from dateutil.relativedelta import relativedelta
from django.db import transaction
from django.utils import timezone

from clinic.patients.models import DietEntry, LifestyleAnswer
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.actions.common import hold_open
from clinic.visits.errors import NeedsWords
from clinic.visits.lifestyle import CODES, LIFE_ANSWERS, REVIEW_MONTHS
from clinic.visits.models import Record


@dataclass(frozen=True)
class Food:
    """One food as told. `amount` is in `unit`, as it was said; None where nobody knows."""

    part: str
    food: str
    amount: Decimal | None = None
    unit: str = ""
    how: str = DietEntry.How.TOLD


@transaction.atomic
def tell_diet(*, record: Record, foods: Sequence[Food], actor: Actor, now: datetime) -> list[DietEntry]:
    """The whole diet of today: what is no longer on it ends, what is new begins, the rest stands untouched.

    Returns the entries that stand. Raises NotOpen, NeedsWords (an amount that cannot be).
    """
    actor.require(Right.TAKE_HISTORY)
    patient = hold_open(record).visit.patient
    for food in foods:
        if food.amount is not None and food.amount <= 0:
            raise NeedsWords("food", f"{food.food}: an amount is more than nothing.")
    stands = {_as_told(entry): entry for entry in DietEntry.objects.filter(patient=patient, until=None)}
    told = dict.fromkeys(foods)
    today = timezone.localdate(now)
    gone = [entry.pk for food, entry in stands.items() if food not in told]
    DietEntry.objects.filter(pk__in=gone).update(until=today)
    return [
        stands.get(food)
        or DietEntry.objects.create(
            patient=patient,
            visit=record.visit,
            part=DietEntry.Part(food.part),
            food=food.food,
            amount=food.amount,
            unit=food.unit,
            how=DietEntry.How(food.how),
            since=today,
            entered_by=actor.staff,
            entered_at=now,
        )
        for food in told
    ]


def _as_told(entry: DietEntry) -> Food:
    return Food(entry.part, entry.food, entry.amount, entry.unit, entry.how)


@transaction.atomic
def tell_lifestyle(
    *, record: Record, answers: Sequence[tuple[str, str]], actor: Actor, now: datetime
) -> list[LifestyleAnswer]:
    """Answers as (code, answer); each is asked again in a year. Raises NotOpen, NeedsWords."""
    actor.require(Right.TAKE_HISTORY)
    patient = hold_open(record).visit.patient
    known = {code for code, _title, _shape in LIFE_ANSWERS}
    if any(code not in CODES or answer not in known for code, answer in answers):
        raise NeedsWords("home", "Choose one of the answers.")
    again = timezone.localdate(now) + relativedelta(months=REVIEW_MONTHS)
    return [
        LifestyleAnswer.objects.update_or_create(
            patient=patient,
            code=code,
            defaults={"answer": answer, "review_on": again, "answered_at": now, "entered_by": actor.staff},
        )[0]
        for code, answer in answers
    ]
