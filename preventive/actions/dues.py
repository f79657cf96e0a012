"""Dues become call-backs: a cache that is rebuilt from the record at any time."""

from datetime import date, datetime

from django.db import transaction

from clinic.callbacks.models import CallBack
from clinic.patients.models import Patient
from preventive.queries import call_back_rows

SOURCE = "dues"


@transaction.atomic
def refresh_call_backs(
    *, patient: Patient, today: date, now: datetime, examined_on: date | None = None
) -> int:
    """Write the patient's call-backs anew; returns how many stand. The house does this, so nobody is asked.

    Two at once wait for each other at the patient's row, and the later one reads what the earlier wrote.
    """
    Patient.objects.select_for_update(no_key=True).get(pk=patient.pk)
    rows = call_back_rows(patient, today=today, examined_on=examined_on)
    keys = [row.key for row in rows]
    CallBack.objects.filter(patient=patient, source=SOURCE).exclude(key__in=keys).delete()
    CallBack.objects.bulk_create(
        [
            CallBack(
                patient=patient,
                source=SOURCE,
                key=row.key,
                label=row.label,
                due_on=row.due_on,
                latest_on=row.latest_on,
                refreshed_at=now,
            )
            for row in rows
        ],
        update_conflicts=True,
        unique_fields=["patient", "source", "key"],
        update_fields=["label", "due_on", "latest_on", "refreshed_at"],
    )
    return len(rows)
