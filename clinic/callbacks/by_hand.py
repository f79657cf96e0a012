"""What plans ask about by letter or by telephone: a person does it, and finds it on a list until it is done.

A step is done once somebody asked about the thing on its day or later (`AskedItem`); what was missed for
longer than reminders are caught up with is on no list any more.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date
from functools import reduce
from operator import or_
from typing import Any

from django.db.models import F, Q
from django.utils import timezone

from clinic.callbacks import planning, queries
from clinic.callbacks.asked_today import SOON, plans_in_force
from clinic.callbacks.models import AskedItem, CallBack
from clinic.callbacks.planning import Item, Steps
from clinic.callbacks.reasons import UNREACHED

LOOKED_AT = 2000  # things, the longest due first: more is no day's work of a person
Key = tuple[int, str, str, date]


def steps_in_force() -> list[Steps]:
    """Of all plans. One query."""
    return [plan.steps for plan in plans_in_force()]


def asked_by_hand(way: str, plans: Sequence[Steps], *, today: date, at_most: int = LOOKED_AT) -> list[Any]:
    """Call-backs of which a step in this way has come and is not done, the longest due first; of the first
    `at_most` that a plan names those that may be asked. Three queries, none where no plan asks so.

    Why a thing is left out takes longest to find, so it is asked of what is left alone.
    """
    span = planning.window(plans, today=today, way=way)
    if span is None:
        return []
    near = CallBack.objects.filter(_named(way, plans), due_on__range=span)
    near = near.exclude(nature=CallBack.Nature.BY_PERSON).order_by("due_on", "pk")[:LOOKED_AT]
    items = {_item(row): row.pk for row in near}
    asked = planning.asked_today(items, plans, taken=_done(items, plans), today=today, way=way)
    rows = (
        queries.call_backs(today=today, until=span[1])
        .filter(pk__in=[items[each.item] for each in asked[:at_most]], why="")
        .annotate(email=F("holding__owner__email"))
        .select_related("patient")
    )
    if way == planning.LETTER:
        rows = rows.exclude(holding__owner__street="")
    return list(rows.order_by("due_on", "pk"))


def _named(way: str, plans: Sequence[Steps]) -> Q:
    """What plans of this way are about, as the index has it; anything where the plan for all is one."""
    mine = [each for each in plans if each.way == way and not each.paused]
    return Q() if any(not each.what for each in mine) else reduce(or_, (queries.named(e.what) for e in mine))


def _item(row: Any) -> Item:
    return Item(
        row.patient_id, row.source, row.key, row.label, row.due_on, soon=row.nature in SOON, never=row.never
    )


def _done(items: Iterable[Item], plans: Sequence[Steps]) -> dict[Key, set[int]]:
    heard: dict[Key, list[int]] = defaultdict(list)
    rows = AskedItem.objects.filter(
        patient__in={each.patient for each in items}, asking__taken_back=None
    ).exclude(asking__outcome__in=UNREACHED)
    names = ("patient", "source", "key", "due_on", "asking__at")
    for patient, source, key, due_on, at in rows.order_by().values_list(*names):
        heard[patient, source, key, due_on].append((timezone.localdate(at) - due_on).days)
    found = {}
    for item in items:
        plan = planning.plan_for(item, plans)
        days = plan.of(item) if plan else ()
        found[item.once] = {day for day in days if any(at >= day for at in heard[item.once])}
    return found
