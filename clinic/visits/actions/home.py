"""What is told at intake about the animal's life at home, while the record is open."""

from collections.abc import Sequence
from datetime import datetime

from dateutil.relativedelta import relativedelta
from django.db import transaction
from django.utils import timezone

from clinic.patients.actions.diet import Eaten, set_diet
from clinic.patients.actions.lasting import answer_lifestyle
from clinic.patients.models import DietEntry, LifestyleAnswer
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.actions.common import hold_open
from clinic.visits.errors import NeedsWords
from clinic.visits.lifestyle import CODES, LIFE_ANSWERS, REVIEW_MONTHS
from clinic.visits.models import Record


@transaction.atomic
def tell_diet(*, record: Record, foods: Sequence[Eaten], actor: Actor, now: datetime) -> list[DietEntry]:
    """The whole diet of today. Returns the new entries. Raises NotOpen, NeedsWords (no such amount)."""
    actor.require(Right.TAKE_HISTORY)
    visit = hold_open(record).visit
    for food in foods:
        if food.amount is not None and food.amount <= 0:
            raise NeedsWords("food", f"{food.food}: an amount is more than nothing.")
    return set_diet(patient=visit.patient, visit=visit, entries=foods, actor=actor, now=now)


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
        answer_lifestyle(patient=patient, code=code, answer=answer, review_on=again, actor=actor, now=now)
        for code, answer in answers
    ]
