"""What is due of one patient as a calendar file for its owner."""

from datetime import datetime

from django.db import transaction
from django.utils import timezone

from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.platform.registries import CallBackRow
from clinic.visits.calendar_file import Entry, calendar_file
from clinic.visits.calendars import mail_domain, where
from preventive.call_backs import reckon
from preventive.models import CalendarItem

RECALL = "recall:"  # we call about it; it is no day to come


@transaction.atomic
def write_calendar(*, actor: Actor, now: datetime, patient: Patient) -> bytes:
    """The file of today. An entry keeps its UID; SEQUENCE is raised where it changed since the last file.

    What stood in an earlier file and is no more (done, on hold, the animal died) is CANCELLED. Asked again
    without a change in between, the file is the same.
    """
    actor.require(Right.BOOK)
    return calendar_file(_entries(patient, now), domain=mail_domain())


@transaction.atomic
def kept_up(patient: Patient, *, now: datetime) -> list[Entry]:
    """The same for an owner who was once given the file, as a letter leaves; else nothing. The house asks."""
    return _entries(patient, now) if patient.calendar_items.exists() else []


def _entries(patient: Patient, now: datetime) -> list[Entry]:
    held = Patient.objects.select_for_update(no_key=True).get(pk=patient.pk)
    reckoned = reckon([held], today=timezone.localdate(now))[held.pk].rows
    wanted = {row.key: row for row in reckoned if not row.key.startswith(RECALL)}
    known = {item.key: item for item in held.calendar_items.all()}
    for key, item in known.items():
        _brought_up(item, wanted.get(key), now)
    for key, row in wanted.items():
        if key not in known:
            known[key] = CalendarItem.objects.create(
                patient=held, key=key, label=row.label, on=row.due_on, changed_at=now
            )
    place = where()
    items = sorted(known.values(), key=lambda item: (item.on, item.pk))
    return [_entry(item, held, place) for item in items]


def _brought_up(item: CalendarItem, row: CallBackRow | None, now: datetime) -> None:
    before = (item.label, item.on, item.cancelled)
    if row is not None:
        item.label, item.on = row.label, row.due_on
    item.cancelled = row is None
    if (item.label, item.on, item.cancelled) != before:
        item.sequence, item.changed_at = item.sequence + 1, now
        item.save(update_fields=["label", "on", "cancelled", "sequence", "changed_at"])


def _entry(item: CalendarItem, patient: Patient, place: str) -> Entry:
    return Entry(
        uid=item.uid,
        sequence=item.sequence,
        on=item.on,
        start=None,
        minutes=0,
        week=False,
        summary=f"{patient.name}: {item.label} due",
        place=place,
        changed_at=item.changed_at,
        cancelled=item.cancelled,
    )
