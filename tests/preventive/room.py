"""A puppy of 9 weeks with the clinician, and what stands in the refrigerator."""

from dataclasses import dataclass
from datetime import date, timedelta

from clinic.models import Patient, Visit
from clinic.people.actor import Actor
from preventive import actions, products
from preventive.models import Dose, Lot, Product, Supply
from tests import people

TODAY = people.TODAY
NOW = people.NOW


@dataclass
class Room:
    people: people.People
    patient: Patient
    visit: Visit
    stock: dict[str, Product]

    def actor(self, role: str = "clinician") -> Actor:
        return self.people.actor(role)

    def lot(self, code: str) -> Lot:
        """The one that expires last."""
        return self.stock[code].lots.order_by("-expires_on").first()

    def give(self, code: str = "corvane-three", *, by: str = "clinician", **facts) -> Dose:
        lot = facts.pop("lot", None) or self.lot(code)
        facts = {"site": "SC-OTHER", "well": True, "consent": "Henrike Dovale, in words"} | facts
        return actions.give_dose(
            actor=self.actor(by),
            now=facts.pop("now", NOW),
            patient=facts.pop("patient", self.patient),
            visit=facts.pop("visit", self.visit),
            product=self.stock[code],
            lot=lot,
            **facts,
        )

    def hand_out(self, code: str = "wormbane-chew-dog", *, by: str = "clinician", **facts) -> Supply:
        return actions.record_supply(
            actor=self.actor(by),
            now=facts.pop("now", NOW),
            patient=facts.pop("patient", self.patient),
            visit=facts.pop("visit", self.visit),
            product=self.stock[code],
            **facts,
        )


def weeks_old(weeks: int) -> date:
    return TODAY - timedelta(weeks=weeks)


def stock(manager: Actor) -> dict[str, Product]:
    kept = actions.keep_products(actor=manager, now=NOW, products=products.read())
    return {each.code: each for each in kept}


def room(weeks: int = 9, *, kg: str = "8.4", **facts) -> Room:
    staff = people.people()
    people.clinic_details()
    facts = {"birth_date": weeks_old(weeks), "expected_adult_kg": 24} | facts
    patient = people.patient("Tarn", of=people.owner(), **facts)
    visit = people.visit_here(patient, clinician=staff.clinician)
    people.weigh(visit, kg, by=staff.clinician)
    return Room(staff, patient, visit, stock(staff.actor("manager")))
