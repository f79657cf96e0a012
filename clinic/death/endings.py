"""What ends with a life, one class for each kind of thing. Each says what stands, and ends it.

These ends follow from the death and are nobody's clinical decision: whoever may record the death ends them.
"""

from dataclasses import dataclass
from datetime import date, datetime

from django.utils import timezone

from clinic.care.models import Medicine, MedicineStop, Problem
from clinic.care.patient_case import in_use_rows
from clinic.mail.actions import Stopped, messages_to_stop, stop_for_dead
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.visits.actions.booking import cancel_bookings
from clinic.visits.models import NextVisit, Visit


def _day(day: date) -> str:
    return f"{day.day} {day:%B %Y}"


class Bookings:
    name, order, title = "bookings", 10, "Bookings and next visits"

    def standing(self, patient: Patient, *, today: date) -> list[str]:
        visits = Visit.objects.filter(patient=patient, place=Visit.Place.EXPECTED).order_by("expected_at")
        planned = NextVisit.objects.filter(patient=patient, state=NextVisit.State.PLANNED)
        return [
            *(
                f"{_day(timezone.localdate(each.expected_at)) if each.expected_at else 'expected'}: "
                f"{each.booked_for or each.get_kind_display()}"
                for each in visits
            ),
            *(f"{_day(each.on)}: {each.reason}" for each in planned),
        ]

    def end(self, patient: Patient, *, why: str, on: date, actor: Actor, now: datetime) -> list[str]:
        standing = self.standing(patient, today=on)
        cancel_bookings(patient=patient, why=why, actor=actor, now=now)
        return standing


class CallBacks:
    """What is due is reckoned from the record, so it is due no more as soon as the patient is dead."""

    name, order, title = "call-backs", 20, "Dues and call-backs"

    def standing(self, patient: Patient, *, today: date) -> list[str]:
        return [f"{each.label}, {_day(each.due_on)}" for each in patient.call_backs.order_by("due_on", "pk")]

    def end(self, patient: Patient, *, why: str, on: date, actor: Actor, now: datetime) -> list[str]:
        standing = self.standing(patient, today=on)
        patient.call_backs.all().delete()
        return standing


class Messages:
    """Letters not sent yet are held for a clinician, reminders cancelled (common practice)."""

    name, order, title = "messages", 30, "Letters and messages"

    def standing(self, patient: Patient, *, today: date) -> list[str]:
        return [each.subject for each in messages_to_stop(patient)]

    def end(self, patient: Patient, *, why: str, on: date, actor: Actor, now: datetime) -> list[str]:
        return list(_told(stop_for_dead(patient=patient, now=now)))


def _told(stopped: Stopped) -> tuple[str, ...]:
    return (
        *(f"held: {each}" for each in stopped.held),
        *(f"cancelled: {each}" for each in stopped.cancelled),
        *(f"was leaving at that moment: {each}" for each in stopped.leaving),
    )


class Medicines:
    """What goes on at home; what was given here is over by itself."""

    name, order, title = "medicines", 40, "Medicines in use"

    def _rows(self, patient: Patient, today: date) -> list[Medicine]:
        rows = in_use_rows(patient, today=today)
        return [each for each in rows if each.how != Medicine.How.GIVEN and not hasattr(each, "stop")]

    def standing(self, patient: Patient, *, today: date) -> list[str]:
        return [each.name for each in self._rows(patient, today)]

    def end(self, patient: Patient, *, why: str, on: date, actor: Actor, now: datetime) -> list[str]:
        rows = self._rows(patient, timezone.localdate(now))
        MedicineStop.objects.bulk_create(
            MedicineStop(
                medicine=each,
                on=max(on, timezone.localdate(each.at)),
                why=why,
                owner_told=True,  # nobody gives it any more, and nobody has to be told not to
                by=actor.staff,
                at=now,
            )
            for each in rows
        )
        return [each.name for each in rows]


class Problems:
    name, order, title = "problems", 50, "Open problems"

    def standing(self, patient: Patient, *, today: date) -> list[str]:
        return list(Problem.objects.filter(patient=patient, closed_at=None).values_list("title", flat=True))

    def end(self, patient: Patient, *, why: str, on: date, actor: Actor, now: datetime) -> list[str]:
        standing = self.standing(patient, today=on)
        Problem.objects.filter(patient=patient, closed_at=None).update(
            closed_at=now, closed_by=actor.staff, closed_reason=why
        )
        return standing


@dataclass(frozen=True)
class Ended:
    """One kind of thing and its lines, for a page."""

    title: str
    lines: tuple[str, ...]
