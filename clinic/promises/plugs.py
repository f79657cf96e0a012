"""What promises and contacts plug in: care's sources, rechecks to call back for, patient panels."""

from datetime import date
from typing import Any

from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.platform.registries import call_back_sources, patient_panels, promise_sources
from clinic.promises.call_backs import Rechecks
from clinic.promises.pages import contact_rows, promise_rows
from clinic.promises.queries import contacts_of, open_promises
from clinic.promises.sources import AwaitedTests, GettingBack, OfferedAgain, PlannedLines

NEWEST = 3


class Promises:
    name, order, title = "promises", 22, "Promised"
    template, column = "clinic/promises/panel_promises.html", "side"

    def context(self, patient: Patient, *, actor: Actor, today: date) -> dict[str, Any]:
        return {"rows": promise_rows(open_promises(patient=patient), actor=actor, today=today)}


class Contacts:
    name, order, title = "contacts", 40, "Contacts outside visits"
    template, column = "clinic/promises/panel_contacts.html", "main"

    def context(self, patient: Patient, *, actor: Actor, today: date) -> dict[str, Any]:
        return {
            "rows": contact_rows(contacts_of(patient, at_most=NEWEST)),
            "patient_id": patient.pk,
            "may": actor.may(Right.NOTE_CONTACT),
        }


def register() -> None:
    """Called once, when the app is ready."""
    for source in (PlannedLines(), OfferedAgain(), GettingBack(), AwaitedTests()):
        promise_sources.add(source)
    call_back_sources.add(Rechecks())
    patient_panels.add(Promises())
    patient_panels.add(Contacts())
