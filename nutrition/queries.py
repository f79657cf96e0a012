"""Foods and plans, loaded."""

from django.http import Http404

from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.platform.asked import once
from clinic.visits.models import Record
from nutrition.foods import Food, food_from
from nutrition.models import FoodRow, Plan


def catalogue() -> dict[str, Food]:
    """The clinic's foods in use, by code."""
    rows = FoodRow.objects.filter(retired_at=None)
    return {row.code: food_from(row.body) for row in rows}


def access_record(actor: Actor, visit_id: int) -> Record:
    """The record of a visit, with its patient. 404 when there is none."""
    actor.require(Right.SEE)
    record = (
        Record.objects.select_related("visit__patient", "visit__clinician", "visit__technician")
        .filter(visit=visit_id)
        .first()
    )
    if record is None:
        raise Http404
    return record


@once
def plan_of(record: Record) -> Plan | None:
    """The record's food advice, if there is any yet."""
    return Plan.objects.select_related("by").filter(record=record).first()


def access_food(actor: Actor, code: str) -> FoodRow:
    """One food of the catalogue. 404 when there is none."""
    row = FoodRow.objects.filter(code=code).first()
    if row is None:
        raise Http404
    return row
