"""A small house for the tests that open every door: own and a colleague's objects, by the names URLs use."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import timedelta
from functools import cached_property
from pathlib import Path

from django.utils import timezone

from clinic.letters.actions import freeze_letter
from clinic.letters.models import Letter
from clinic.mail.models import Message
from clinic.models import (
    Assessment,
    Invitation,
    Measurement,
    Medicine,
    Owner,
    Patient,
    PlanLine,
    Problem,
    Record,
    Staff,
    Test,
    TestResult,
    Visit,
)
from clinic.people.queries import token_hash
from clinic.visits.models import GivenAtHome, HeadsUp, NextVisit
from nutrition.actions import load_foods
from nutrition.foods import read as read_foods
from tests import people
from tests.preventive.room import stock

TOKEN = "an-invitation-of-the-tests"
FOODS = Path(__file__).resolve().parents[1] / "fixtures" / "foods.toml"
FILLED = ("measurement", "heads_up", "problem", "assessment", "line", "test", "result", "medicine", "given")
FILLED += ("next_visit", "letter", "message")


@dataclass
class Objects:
    """What one clinician works on. Rows are made when a URL first asks for them."""

    clinician: Staff
    house: "House"
    pet: str
    made: dict[str, object] = field(default_factory=dict)

    @cached_property
    def owner(self) -> Owner:
        return people.owner(f"{self.pet} Dovale", f"{self.pet.lower()}@example.com")

    @cached_property
    def patient(self) -> Patient:
        return people.patient(self.pet, of=self.owner)

    @cached_property
    def visit(self) -> Visit:
        visit = people.visit_here(self.patient, clinician=self.clinician)
        people.weigh(visit, "22.4", by=self.house.people.technician)
        return visit

    @cached_property
    def record(self) -> Record:
        return self.visit.record

    @cached_property
    def measurement(self) -> Measurement:
        assert self.visit
        return self.patient.measurements.get()

    @cached_property
    def heads_up(self) -> HeadsUp:
        by, at = self.house.people.technician, people.NOW
        return HeadsUp.objects.create(record=self.record, station="S09", words="scratches", by=by, at=at)

    @cached_property
    def problem(self) -> Problem:
        return Problem.objects.create(
            patient=self.patient,
            title="Red ear",
            opened_in=self.visit,
            opened_at=people.NOW,
            opened_by=self.clinician,
        )

    @cached_property
    def assessment(self) -> Assessment:
        return Assessment.objects.create(
            problem=self.problem, record=self.record, text="Otitis", by=self.clinician, at=people.NOW
        )

    @cached_property
    def line(self) -> PlanLine:
        return PlanLine.objects.create(
            record=self.record,
            problem=self.problem,
            kind=PlanLine.Kind.choices[0][0],
            text="Clean the ear",
            answerable=self.clinician,
            due_on=people.TODAY,
            by=self.clinician,
            at=people.NOW,
        )

    @cached_property
    def test(self) -> Test:
        return Test.objects.create(
            patient=self.patient,
            record=self.record,
            kind="faecal",
            title="Faecal test",
            ordered_by=self.clinician,
            ordered_at=people.NOW,
        )

    @cached_property
    def result(self) -> TestResult:
        return TestResult.objects.create(
            test=self.test,
            value="negative",
            meaning="negative",
            resulted_at=people.NOW,
            entered_by=self.house.people.technician,
        )

    @cached_property
    def medicine(self) -> Medicine:
        return Medicine.objects.create(
            record=self.record,
            problem=self.problem,
            how=Medicine.How.choices[0][0],
            name="Ear drops",
            ingredients=["made up"],
            strength="1 mg/ml",
            dose="5 drops",
            route="into the ear",
            side="left",
            times="once a day",
            first_dose="today",
            last_dose="in a week",
            reason="red ear",
            directions="Five drops into the left ear once a day.",
            prescriber=self.clinician,
            at=people.NOW,
        )

    @cached_property
    def given(self) -> GivenAtHome:
        return GivenAtHome.objects.create(
            record=self.record,
            name="fish oil",
            entered_by=self.house.people.technician,
            entered_at=people.NOW,
        )

    @cached_property
    def next_visit(self) -> NextVisit:
        return NextVisit.objects.create(
            patient=self.patient,
            record=self.record,
            on=people.TODAY + timedelta(days=14),
            kind="focused",
            reason="look at the ear",
            by=self.clinician,
            made_at=people.NOW,
        )

    @cached_property
    def letter(self) -> Letter:
        """Of an earlier visit, signed."""
        visit = people.visit_here(self.patient_gone_home, clinician=self.clinician)
        actor = people.Actor.of(self.clinician)
        letter = freeze_letter(record=visit.record, actor=actor, now=people.NOW)
        Visit.objects.filter(pk=visit.pk).update(place="gone-home", gone_at=people.NOW, outcome="home")
        return letter

    @cached_property
    def patient_gone_home(self) -> Patient:
        return people.patient(f"Old {self.pet}", of=self.owner)

    @cached_property
    def message(self) -> Message:
        message = self.letter.messages.first() or Message(
            purpose="medical",
            letter=self.letter,
            owner=self.owner,
            to_address=self.owner.email,
            subject="Letter",
            body="",
            state_since=people.NOW,
            made_at=people.NOW,
            once=f"test:{self.pet}",
        )
        message.state = "failed"
        message.save()
        return message


@dataclass
class House:
    people: people.People

    @cached_property
    def own(self) -> Objects:
        return Objects(self.people.clinician, self, "Pomfret")

    @cached_property
    def colleagues(self) -> Objects:
        return Objects(self.people.colleague, self, "Bramble")

    @cached_property
    def invitation(self) -> Invitation:
        now = timezone.now()
        return Invitation.objects.create(
            email="ada@tailward.example",
            full_name="Ada Lunt",
            roles=["technician"],
            token_hash=token_hash(TOKEN),
            invited_by=self.people.manager,
            made_at=now,
            expires_at=now + timedelta(days=7),
        )


def house() -> House:
    people.clinic_details()
    return House(people.people())


def furnished() -> House:
    """Own and a colleague's animal in the house, one of everything; foods and vaccines on shelves."""
    made = house()
    manager = people.Actor.of(made.people.manager)
    load_foods(actor=manager, now=timezone.now(), foods=read_foods(FOODS))
    stock(manager)
    for mine in (made.own, made.colleagues):
        for each in FILLED:
            getattr(mine, each)
        weighed_now(mine)
    Visit.objects.filter(pk=made.own.visit.pk).update(arrived_at=timezone.now(), place_since=timezone.now())
    return made


def weighed_now(mine: Objects) -> None:
    for kind, typed, unit in (("weight", "22.4", "kg"), ("bcs", "5", "bcs-9")):
        by = mine.house.people.technician
        Measurement.objects.create(
            patient=mine.patient, visit=mine.visit, kind=kind, typed=typed, unit=unit, value=typed,
            measured_at=timezone.now(), recorded_at=timezone.now(), observed_by=by, entered_by=by,
        )  # fmt: skip


# What a URL's argument stands for. Another name in a URL of yours: one line here.
ARGUMENTS: dict[str, Callable[[House, Objects], object]] = {
    "patient_id": lambda house, mine: mine.patient.pk,
    "owner_id": lambda house, mine: mine.owner.pk,
    "visit_id": lambda house, mine: mine.visit.pk,
    "record_id": lambda house, mine: mine.record.pk,
    "measurement_id": lambda house, mine: mine.measurement.pk,
    "heads_up_id": lambda house, mine: mine.heads_up.pk,
    "problem_id": lambda house, mine: mine.problem.pk,
    "assessment_id": lambda house, mine: mine.assessment.pk,
    "line_id": lambda house, mine: mine.line.pk,
    "test_id": lambda house, mine: mine.test.pk,
    "letter_id": lambda house, mine: mine.letter.pk,
    "message_id": lambda house, mine: mine.message.pk,
    "medicine_id": lambda house, mine: mine.medicine.pk,
    "result_id": lambda house, mine: mine.result.pk,
    "given_id": lambda house, mine: mine.given.pk,
    "next_visit_id": lambda house, mine: mine.next_visit.pk,
    "what": lambda house, mine: "weight",
    "staff_id": lambda house, mine: house.people.assistant.pk,
    "invitation_id": lambda house, mine: house.invitation.pk,
    "token": lambda house, mine: house.invitation and TOKEN,
    "name": lambda house, mine: "no-such-mail",
    "number": lambda house, mine: 1,
    "structure": lambda house, mine: "EAR.canal",
    "code": lambda house, mine: "no-such-food",
    # of django-allauth
    "pk": lambda house, mine: 1,
    "key": lambda house, mine: "no-such-key",
    "uidb36": lambda house, mine: "1",
}
