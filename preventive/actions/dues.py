"""Dues become call-backs: a cache that is rebuilt from the record at any time."""

from collections.abc import Sequence
from datetime import date, datetime
from operator import attrgetter

from django.db import transaction

from clinic.callbacks.models import CallBack
from clinic.patients.models import Patient
from clinic.platform.registries import tell_watchers
from preventive.call_backs import SOURCE, Reckoned, reckon, stale
from preventive.models import Reckoning
from preventive.versions import protocol_in_force

_WRITTEN = ("label", "due_on", "latest_on", "nature", "never", "may_wait")
_written = attrgetter(*_WRITTEN)


def refresh_call_backs(
    *, patient: Patient, today: date, now: datetime, examined_on: date | None = None
) -> int:
    """Write the patient's call-backs anew; how many stand. The house does this, so nobody is asked.

    What was recorded for one that was merged counts for the record in force, so that one is reckoned.
    """
    in_force = patient.merged_into_id or patient.pk
    seen = {in_force: examined_on} if examined_on else None
    return refresh_many(ids=[in_force], today=today, now=now, examined_on=seen)


@transaction.atomic
def refresh_many(
    *, ids: Sequence[int], today: date, now: datetime, examined_on: dict[int, date] | None = None
) -> int:
    """The call-backs of many patients, in one transaction; returns how many stand. Only differences are
    written.

    Two at once wait for each other at the patients' rows, and the later one reads what the earlier wrote.
    """
    held = Patient.objects.select_for_update(no_key=True).filter(pk__in=ids).order_by("pk")
    patients, protocol = list(held), protocol_in_force()
    found = reckon(patients, today=today, protocol=protocol, examined_on=examined_on)
    _write(found, now)
    Reckoning.objects.bulk_create(
        [
            Reckoning(
                patient_id=patient_id,
                protocol=protocol.sha256,
                on=today,
                holds_until=answer.holds_until,
                at=now,
            )
            for patient_id, answer in found.items()
        ],
        update_conflicts=True,
        unique_fields=["patient"],
        update_fields=["protocol", "on", "holds_until", "at"],
    )
    tell_watchers(list(found), now=now)
    return sum(len(answer.rows) for answer in found.values())


def _write(found: dict[int, Reckoned], now: datetime) -> None:
    rows = CallBack.objects.filter(patient__in=list(found), source=SOURCE)
    # plain values: most rows are only compared
    stored = {
        (patient_id, key): (pk, values)
        for pk, patient_id, key, *values in rows.values_list("pk", "patient_id", "key", *_WRITTEN)
    }
    changed = []
    for patient_id, answer in found.items():
        for row in answer.rows:
            before = stored.pop((patient_id, row.key), None)
            if before is None or before[1] != list(_written(row)):
                changed.append(
                    CallBack(
                        patient_id=patient_id,
                        source=SOURCE,
                        key=row.key,
                        label=row.label,
                        due_on=row.due_on,
                        latest_on=row.latest_on,
                        nature=row.nature,
                        never=row.never,
                        may_wait=row.may_wait,
                        refreshed_at=now,
                    )
                )
    if stored:
        CallBack.objects.filter(pk__in=[pk for pk, _ in stored.values()]).delete()
    if changed:
        CallBack.objects.bulk_create(
            changed,
            update_conflicts=True,
            unique_fields=["patient", "source", "key"],
            update_fields=[*_WRITTEN, "refreshed_at"],
        )


@transaction.atomic
def refresh_stale(*, today: date, now: datetime, after: int = 0, size: int) -> list[int]:
    """The next `size` patients behind `after` whose answer no longer holds; their numbers.

    One that another process holds just now is left to it: whoever changes a record reckons it anew.
    """
    waiting = stale(protocol_in_force(), today=today).filter(pk__gt=after)
    ids = list(waiting.select_for_update(no_key=True, skip_locked=True).values_list("pk", flat=True)[:size])
    if ids:
        refresh_many(ids=ids, today=today, now=now)
    return ids
