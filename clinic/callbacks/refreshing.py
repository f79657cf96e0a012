"""Call-backs are reckoned from dates, so a night changes them though nobody touched a record.

Every patient's are written anew each night, a batch at a time; the same night twice writes the same rows.
"""

from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.db.models import QuerySet

from clinic.callbacks.models import CallBack
from clinic.patients.models import Patient
from clinic.platform.registries import KeepsItself, call_back_sources, tell_watchers

BATCH = 200  # some seconds of work: what a worker that ends loses at most


@dataclass(frozen=True)
class Batch:
    """`last`: the key of its last patient, None when nobody was left; `failed`: whose sources raised."""

    done: int
    last: int | None
    failed: tuple[tuple[int, Exception], ...] = ()


def refresh_batch(*, after: int, today: date, now: datetime, size: int = BATCH) -> Batch:
    """The next `size` patients behind the key `after`, each in a transaction of its own.

    One whose records cannot be reckoned keeps the call-backs it had, and stands in nobody's way.
    """
    ids = list(_reckoned().filter(pk__gt=after).order_by("pk").values_list("pk", flat=True)[:size])
    failed = []
    for patient_id in ids:
        try:
            refresh_patient(patient_id=patient_id, today=today, now=now, nightly=True)
        except Exception as error:  # noqa: BLE001 - named to whoever called, who must not go on in silence
            failed.append((patient_id, error))
    return Batch(len(ids) - len(failed), ids[-1] if ids else None, tuple(failed))


@transaction.atomic
def refresh_patient(*, patient_id: int, today: date, now: datetime, nightly: bool = False) -> int:
    """Write what the rooms want this patient called back for; how many rows stand. Idempotent.

    `nightly`: without the rooms that do so by themselves. The patient is held, as everywhere where its
    call-backs are written: a death, or a dose entered at the same moment, comes before and is read here, or
    waits and has the last word.
    """
    patient = Patient.objects.select_for_update(no_key=True).get(pk=patient_id)
    stand = 0
    for source in call_back_sources:
        if isinstance(source, KeepsItself):
            stand += 0 if nightly else source.refresh(patient, today=today, now=now)
            continue
        rows = [] if _gone(patient) else source.rows(patient, today=today)
        mine = CallBack.objects.filter(patient=patient, source=source.name)
        mine.exclude(key__in=[row.key for row in rows]).delete()
        CallBack.objects.bulk_create(
            [
                CallBack(
                    patient=patient,
                    source=source.name,
                    key=row.key,
                    label=row.label,
                    due_on=row.due_on,
                    latest_on=row.latest_on,
                    nature=row.nature,
                    never=row.never,
                    may_wait=row.may_wait,
                    refreshed_at=now,
                )
                for row in rows
            ],
            update_conflicts=True,
            unique_fields=["patient", "source", "key"],
            update_fields=["label", "due_on", "latest_on", "nature", "never", "may_wait", "refreshed_at"],
        )
        stand += len(rows)
    tell_watchers([patient_id], now=now)
    return stand


def forget_gone() -> int:
    """Nobody is called back for an animal that died, left or is on another card (common practice)."""
    gone = CallBack.objects.exclude(patient__in=_reckoned())
    return gone.delete()[0]


def _reckoned() -> QuerySet[Patient]:
    return Patient.objects.filter(deceased_on=None, left_practice_on=None, merged_into=None)


def _gone(patient: Patient) -> bool:
    return bool(patient.deceased_on or patient.left_practice_on or patient.merged_into_id)
