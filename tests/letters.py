"""Whole visits whose letters are looked at: nothing found, a sore ear with much to do, a cat that died."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from clinic.care import actions as care
from clinic.care.directions import Directions
from clinic.letters.actions import freeze_letter
from clinic.letters.composition import compose
from clinic.letters.document import Document, Section
from clinic.models import Letter, Patient, Record, Visit
from clinic.patients.actions import measure
from clinic.people.actor import Actor
from clinic.visits import actions as visits
from tests import people

NOW, TODAY = people.NOW, people.TODAY


@dataclass
class Case:
    """One visit with the people around it."""

    people: people.People
    patient: Patient
    visit: Visit

    @property
    def record(self) -> Record:
        return self.visit.record

    @property
    def me(self) -> dict[str, Any]:
        return {"actor": self.people.actor("clinician"), "now": NOW}

    @property
    def technician(self) -> dict[str, Any]:
        return {"actor": self.people.actor("technician"), "now": NOW}

    def actor(self, role: str = "clinician") -> Actor:
        return self.people.actor(role)

    def letter(self) -> Document:
        return compose(self.record, today=TODAY)

    def section(self, name: str) -> Section:
        return next(each for each in self.letter().sections if each.name == name)

    def freeze(self, now: datetime = NOW, **how: Any) -> Letter:
        """The letter alone, as the signature would freeze it."""
        return freeze_letter(record=self.record, actor=self.actor(), now=now, **how)

    def sign(self, now: datetime = NOW) -> Letter:
        """Through the signature's own action; what is not looked at here has been excused."""
        visits.sign(record=self.record, actor=self.actor(), now=now)
        self.visit.record.refresh_from_db()
        return Letter.objects.filter(record=self.record).latest("version")


def arrived(name: str = "Pomfret", words: str = "", **facts: Any) -> Case:
    """Just weighed by nobody; the clinician and the technician are named."""
    staff = people.people()
    people.clinic_details()
    patient = people.patient(name, **facts)
    visit = people.visit_here(patient, clinician=staff.clinician, owners_words=words)
    Visit.objects.filter(pk=visit.pk).update(technician=staff.technician)
    visit.refresh_from_db()
    return Case(staff, patient, visit)


def weighed(case: Case, kg: str, bcs: int | None = None, earlier: tuple[tuple[int, str], ...] = ()) -> Case:
    """`earlier`: days ago and kilograms."""
    for days, value in earlier:
        before = NOW - timedelta(days=days)
        measure(
            patient=case.patient,
            kind="weight",
            typed=Decimal(value),
            unit="kg",
            looked_twice=True,
            planned_change=True,
            actor=case.actor("technician"),
            now=before,
        )
    own = {"patient": case.patient, "visit": case.visit, "looked_twice": True, "planned_change": True}
    measure(kind="weight", typed=Decimal(kg), unit="kg", **own, **case.technician)
    if bcs is not None:
        measure(kind="bcs", typed=Decimal(bcs), **own, **case.me)
    return case


def healthy() -> Case:
    """Nothing found, nothing to do."""
    earlier = ((700, "9.1"), (500, "16.8"), (360, "17.9"), (120, "18.2"))
    return weighed(arrived("Tansy", "yearly check"), "18.4", 4, earlier)


def sore_ear() -> Case:
    """An assessment, a medicine, plan lines with people and days, a pending and a declined test."""
    case = weighed(
        arrived("Ludo", "he shakes his head and scratches his left ear", breed="hound cross"),
        "36.2",
        7,
        ((480, "34.1"), (200, "35.3")),
    )
    record, me = case.record, case.me
    ear = care.open_problem(patient=case.patient, visit=case.visit, title="Left ear", **me)
    care.assess(
        problem=ear, record=record, text="yeast otitis externa", certainty="confirmed",
        for_owner="His left ear has a yeast infection", **me,
    )  # fmt: skip
    drops = Directions(
        name="Millrace ear drops", ingredients=("miconazole",), strength="10 mg in 1 ml",
        dose="5 drops (0.25 ml)", route="into the ear", side="left", times="morning and evening",
        first_dose="this evening", last_dose="21 March 2026",
    )  # fmt: skip
    care.prescribe(
        record=record, problem=ear, directions=drops, how="dispensed", reason="yeast in the left ear",
        answers=[{"code": "ear-drum", "reason": "seen whole"}], **me,
    )  # fmt: skip
    care.add_plan_line(record=record, problem=ear, kind="home-care", text="Keep water out of the ear", **me)
    care.send_out(
        record=record, problem=ear, title="Ear culture", for_owner="We took a swab from the left ear",
        answerable=case.people.colleague, due_on=TODAY + timedelta(days=5), **me,
    )  # fmt: skip
    heavy = care.open_problem(patient=case.patient, visit=case.visit, title="Overweight", **me)
    care.add_plan_line(
        record=record, problem=heavy, kind="test", text="Thyroid blood test",
        for_owner="A slow thyroid can cause weight gain", standing="declined",
        declined_why="we want to try the food first", risks_explained="he may be ill and we would miss it",
        explained_by=case.people.clinician, offer_again_on=date(2026, 6, 10), **me,
    )  # fmt: skip
    visits.plan_next_visit(
        patient=case.patient, record=record, on=TODAY + timedelta(days=14), kind="full",
        reason="Ear check and weigh-in", at=None, week_of=False, minutes=20, problem=ear, **me,
    )  # fmt: skip
    return case


def put_to_sleep() -> Case:
    """No mail leaves by itself."""
    case = arrived("Mirrel", "she does not get up", species="cat", breed="domestic shorthair")
    weighed(case, "2.9", 2)
    Visit.objects.filter(pk=case.visit.pk).update(outcome=Visit.Outcome.EUTHANISED)
    case.visit.refresh_from_db()
    return case
