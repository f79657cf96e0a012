"""Who was expected, did not come and has nothing new agreed is called back."""

from datetime import date, datetime, timedelta

from django.db import transaction
from django.db.models import Exists, OuterRef, Q
from django.utils import timezone

from clinic.callbacks.models import CallBack
from clinic.visits.day import day_of
from clinic.visits.models import NextVisit, Visit

SOURCE = "missed"
NAME = "Missed visit"  # staff and owners read it
LOOKED_BACK = timedelta(days=365)  # ours: after a year the dues speak for themselves


def missed_visits(today: date) -> list[Visit]:
    """Of each patient the newest visit that it did not come to; nothing when it came or was booked since."""
    start, end = day_of(today)
    later = Visit.objects.filter(patient=OuterRef("patient")).exclude(
        place__in=(Visit.Place.CANCELLED, Visit.Place.DID_NOT_COME)
    )
    return list(
        Visit.objects.filter(
            Q(place=Visit.Place.EXPECTED, expected_at__lt=start)
            | Q(place=Visit.Place.DID_NOT_COME, expected_at__lt=end),
            expected_at__gte=start - LOOKED_BACK,
            patient__deceased_on=None,
        )
        .exclude(Exists(later.filter(arrived_at__gt=OuterRef("expected_at"))))
        .exclude(Exists(later.filter(place=Visit.Place.EXPECTED, expected_at__gte=start)))
        .exclude(
            Exists(
                NextVisit.objects.filter(
                    patient=OuterRef("patient"), state=NextVisit.State.PLANNED, on__gte=today
                )
            )
        )
        .order_by("patient", "-expected_at")
        .distinct("patient")
    )


@transaction.atomic
def refresh_missed(*, now: datetime) -> int:
    """Fill the call-backs of this source anew; how many there are. Idempotent."""
    missed = missed_visits(timezone.localdate(now))
    rows = [
        CallBack(
            patient_id=visit.patient_id,
            source=SOURCE,
            key=f"visit:{visit.pk}",
            label=_label(visit.booked_for),
            due_on=timezone.localtime(visit.expected_at).date(),
            refreshed_at=now,
        )
        for visit in missed
    ]
    CallBack.objects.filter(source=SOURCE).exclude(key__in=[row.key for row in rows]).delete()
    CallBack.objects.bulk_create(
        rows,
        update_conflicts=True,
        unique_fields=["patient", "source", "key"],
        update_fields=["label", "due_on", "refreshed_at"],
    )
    return len(rows)


def _label(booked_for: str) -> str:
    """Where the reason is longer than the list's line, it stands whole at the visit."""
    return f"{NAME}: {booked_for}" if len(booked_for) <= 140 else NAME
