"""What the animal really eats."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from clinic.patients.models import DietEntry, Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.models import Visit


@dataclass(frozen=True)
class Eaten:
    """One food as told. `part`: meal, treat, other; `how`: told, scoop, weighed."""

    part: str
    food: str
    amount: Decimal | None = None
    unit: str = ""
    how: str = "told"
    kcal_a_day: Decimal | None = None
    food_code: str = ""


@transaction.atomic
def set_diet(
    *, actor: Actor, now: datetime, patient: Patient, visit: Visit | None, entries: Sequence[Eaten]
) -> list[DietEntry]:
    """The whole diet as told today. A food that is told unchanged keeps the day it was told first."""
    actor.require(Right.TAKE_HISTORY)
    today = timezone.localdate(now)
    Patient.objects.select_for_update().get(pk=patient.pk)
    standing = {_key(entry): entry for entry in DietEntry.objects.filter(patient=patient, until=None)}
    wanted = {_key(each): each for each in entries if each.food.strip()}
    gone = [entry.pk for key, entry in standing.items() if key not in wanted]
    DietEntry.objects.filter(pk__in=gone).update(until=today)
    new = [
        DietEntry(
            patient=patient,
            visit=visit,
            part=each.part,
            food=each.food.strip(),
            food_code=each.food_code,
            amount=each.amount,
            unit=each.unit,
            kcal_a_day=each.kcal_a_day,
            how=each.how,
            since=today,
            entered_by=actor.staff,
            entered_at=now,
        )
        for key, each in wanted.items()
        if key not in standing
    ]
    return DietEntry.objects.bulk_create(new)


def _key(entry: DietEntry | Eaten) -> tuple[object, ...]:
    amount = entry.amount.normalize() if entry.amount is not None else None
    return (entry.part, entry.food.strip().casefold(), amount, entry.unit, entry.how)
