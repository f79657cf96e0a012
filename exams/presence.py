"""Who has which station of an exam open. It belongs to no record: rows are written over, and swept.

A page says where it is when the station changes and every few seconds after; whoever is silent is gone.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.db import transaction

from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.models import Visit
from exams.models import Presence

SILENT = timedelta(seconds=20)  # the page speaks every 8 s (here.js): two lost words are forgiven
SWEEP = timedelta(hours=1)


@dataclass(frozen=True)
class Here:
    """One person at one station; `station` empty: between two."""

    staff: str
    name: str
    station: str


@transaction.atomic
def be_at(*, visit: Visit, station: str, actor: Actor, now: datetime) -> None:
    """This tablet's person has the station open. Two statements, the second only where rows are stale."""
    actor.require(Right.SEE)
    if actor.grant_id is None:
        return  # work without a page is nowhere
    Presence.objects.bulk_create(
        [Presence(visit=visit, grant=actor.grant_id, staff=actor.staff, station=station, seen_at=now)],
        update_conflicts=True,
        unique_fields=["visit", "grant"],
        update_fields=["staff", "station", "seen_at"],
    )
    Presence.objects.filter(seen_at__lt=now - SWEEP).delete()


def leave(*, visit: Visit, actor: Actor) -> None:
    """The page was closed."""
    actor.require(Right.SEE)
    if actor.grant_id is not None:
        Presence.objects.filter(visit=visit, grant=actor.grant_id).delete()


def others_at(visit_id: int, *, grant: UUID | None, now: datetime) -> list[Here]:
    """Everybody else who is in this exam, a person once, the last one to speak first. One query.

    The same person on a second tablet is somebody else's tablet, and shown.
    """
    rows = Presence.objects.filter(visit_id=visit_id, seen_at__gt=now - SILENT).select_related("staff")
    if grant is not None:
        rows = rows.exclude(grant=grant)
    rows = rows.only("station", "staff__full_name").order_by("-seen_at")
    return [Here(str(row.staff_id), row.staff.full_name, row.station) for row in rows]
