"""What call-backs plug in: reminders are asked about once more when they leave, and end with a life."""

from datetime import date, datetime

from django.urls import reverse

from clinic.callbacks import answer_lists
from clinic.callbacks.answering import Booked
from clinic.callbacks.reminder_models import ReminderItem
from clinic.callbacks.still_true import STILL, Review, StillTrue
from clinic.callbacks.things import ClinicThings
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.platform.registries import (
    Flag,
    MorningRow,
    Tap,
    endings,
    message_checks,
    morning_parts,
    patient_watchers,
    thing_words,
)


class Answers:
    """On the manager's morning: what owners answered and nobody has dealt with."""

    name, order, title = "answers", 5, "Owners’ answers"
    beside = "nobody is asked about these meanwhile"

    def rows(self, *, actor: Actor, today: date) -> list[MorningRow]:
        return [
            MorningRow(
                name=row.patient,
                url=row.patient_url,
                words=". ".join(filter(None, (row.owner, row.what, row.words, row.when))),
                mark=Flag("begun", row.said),
                taps=(Tap("Look", f"{reverse('due-answers')}#a{row.id}"),),
            )
            for row in answer_lists.waiting(today=today)
        ]


class Reminders:
    """After the call-backs themselves: what nobody is asked about any more, nobody is written to about."""

    name, order, title = "reminders", 25, "Reminders"

    def standing(self, patient: Patient, *, today: date) -> list[str]:
        rows = ReminderItem.objects.filter(
            patient=patient, skipped=False, fell="", reminder__message__state__in=STILL
        )
        return [f"{row.label}: the message that waits" for row in rows]

    def end(self, patient: Patient, *, why: str, on: date, actor: Actor, now: datetime) -> list[str]:
        standing = self.standing(patient, today=on)
        Review().changed([patient.pk], now=now)
        return standing


def register() -> None:
    """Called once, when the app is ready."""
    endings.add(Reminders())
    morning_parts.add(Answers())
    message_checks.add(StillTrue())
    patient_watchers.add(Review())
    patient_watchers.add(Booked())
    thing_words.add(ClinicThings())
