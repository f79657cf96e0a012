"""Which next visits stand in whose calendar file."""

from collections.abc import Sequence
from datetime import datetime

from django.conf import settings
from django.utils import timezone

from clinic.platform.models import ClinicDetails
from clinic.platform.queries import clinic_details
from clinic.visits.calendar_file import Entry, calendar_file
from clinic.visits.models import NextVisit, Record


def of_record(record: Record, more: Sequence[Entry] = ()) -> bytes | None:
    """What was planned at this visit and stands, as agreed now, and `more`; None when there is nothing."""
    plans = list(
        record.next_visits.exclude(state=NextVisit.State.CANCELLED)
        .select_related("patient")
        .prefetch_related("booking_changes")
    )
    return _file(plans, more) if plans or more else None


def of_plan(plan: NextVisit) -> bytes:
    """One next visit; a cancelled one takes itself out of the owner's calendar."""
    return _file([plan])


def _file(plans: list[NextVisit], more: Sequence[Entry] = ()) -> bytes:
    place = where()
    return calendar_file([*(_entry(plan, place) for plan in plans), *more], domain=mail_domain())


def where() -> str:
    """The clinic's name and address in one line, as an entry's place. One query."""
    return place_of(clinic_details())


def place_of(clinic: ClinicDetails) -> str:
    return ", ".join(part for part in (clinic.name, clinic.street, clinic.city) if part)


def mail_domain() -> str:
    """What stands behind the @ of every UID."""
    return str(settings.DEFAULT_FROM_EMAIL).rsplit("@", 1)[-1].rstrip(">")


def _entry(plan: NextVisit, place: str) -> Entry:
    timed = plan.at is not None and not plan.week_of
    return Entry(
        uid=plan.uid,
        sequence=plan.sequence,
        on=plan.on,
        start=timezone.make_aware(datetime.combine(plan.on, plan.at)) if timed and plan.at else None,
        minutes=plan.minutes,
        week=plan.week_of,
        summary=f"{plan.patient.name}: {plan.reason}",
        place=place,
        changed_at=max([plan.made_at, *(change.at for change in plan.booking_changes.all())]),
        cancelled=plan.state == NextVisit.State.CANCELLED,
    )
