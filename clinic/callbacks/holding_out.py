"""Households that are not asked, so that asking can be compared with not asking; and whom nobody could ask.

None by default. Never held out: what no source marks as harmless (`CallBack.may_wait`: so no legal item, no
dose of a series, nothing of heartworm, no recheck, no result, no recall), nor any animal with an open problem
of an urgent class, or with a record that is not signed yet. The list is ours.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from hashlib import sha256

from django.db.models import Exists, OuterRef

from clinic.callbacks import planning, queries
from clinic.callbacks.households import Household
from clinic.callbacks.manager_models import Unasked
from clinic.callbacks.models import AskedItem, CallBack
from clinic.callbacks.reasons import Reach
from clinic.care.models import Problem
from clinic.visits.models import Record

URGENT = ("T", "E")  # to be done today; an emergency
UNASKED_FROM = timedelta(days=planning.LATE_AT_MOST)


def drawn(owner_id: int, year: int, share: int) -> bool:
    """Whether a household is held out, of `share` in 100: the same answer for all it has due in a year."""
    number = int.from_bytes(sha256(f"held-out:{year}:{owner_id}".encode()).digest()[:8], "big")
    return number % 100 < share


def without_held_out(found: Sequence[Household], *, share: int, now: datetime) -> list[Household]:
    """What is still asked; what is held out is noted, in the caller's transaction."""
    wanted = [
        (house, asked) for house in found for asked in house.asked
        if share and drawn(house.owner.pk, asked.item.due_on.year, share)
    ]  # fmt: skip
    harmless = _harmless({asked.item.patient for _, asked in wanted}) if wanted else set()
    held = [(house, asked) for house, asked in wanted if asked.item.once in harmless]
    Unasked.objects.bulk_create(
        [
            Unasked(
                owner=house.owner,
                patient_id=asked.item.patient,
                source=asked.item.source,
                key=asked.item.key,
                label=asked.item.label,
                due_on=asked.item.due_on,
                step=asked.step,
                why=Unasked.Why.HELD_OUT,
                at=now,
            )
            for house, asked in held
        ],
        ignore_conflicts=True,
    )
    out = {asked.item.once for _, asked in held}
    left = [
        replace(house, asked=tuple(each for each in house.asked if each.item.once not in out))
        for house in found
    ]
    return [house for house in left if house.asked]


def _harmless(patient_ids: Iterable[int]) -> set[tuple[int, str, str, date]]:
    """Of these animals' things those that may wait. One query."""
    urgent = Problem.objects.filter(patient=OuterRef("patient"), closed_at=None, urgency__in=URGENT)
    unsigned = Record.objects.filter(visit__patient=OuterRef("patient"), signed_at=None)
    rows = CallBack.objects.filter(
        ~Exists(urgent), ~Exists(unsigned), patient__in=set(patient_ids), may_wait=True, nature=""
    )
    return set(rows.values_list("patient", "source", "key", "due_on"))


def note_unreachable(*, today: date, now: datetime) -> int:
    """What fell due, and nobody asked because no e-mail reaches them: the other comparison. Idempotent."""
    asked = AskedItem.objects.filter(
        patient=OuterRef("patient"), source=OuterRef("source"), key=OuterRef("key"), due_on=OuterRef("due_on")
    )
    rows = (
        queries.call_backs(today=today, until=today)
        .filter(~Exists(asked), due_on__gt=today - UNASKED_FROM, why="", nature="")
        .exclude(reach=Reach.MAIL)
    )
    made = [
        Unasked(
            owner_id=row.household,
            patient_id=row.patient_id,
            source=row.source,
            key=row.key,
            label=row.label,
            due_on=row.due_on,
            step=0,
            why=Unasked.Why.NO_MAIL,
            at=now,
        )
        for row in rows.order_by("pk")
    ]
    Unasked.objects.bulk_create(made, ignore_conflicts=True, batch_size=1000)
    return len(made)
