"""A small house for the tests that open every door: own and a colleague's objects, by the names URLs use."""

import base64
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import timedelta
from functools import cached_property
from pathlib import Path
from uuid import uuid4

from django.test import override_settings
from django.utils import timezone

from clinic.callbacks.actions import note_asking, stop_reminders
from clinic.callbacks.answer_models import Answer
from clinic.callbacks.kept_views import keep_view
from clinic.callbacks.post_models import PostRun
from clinic.callbacks.reminder_actions import lay_usual_plan
from clinic.callbacks.reminder_models import AskingPlan, HouseholdReminder
from clinic.care.actions import add_report
from clinic.care.actions.listed import Facts, list_medicine
from clinic.letters.actions import correct_sentence, freeze_letter
from clinic.letters.composition import compose
from clinic.letters.models import Correction, Letter, Wording
from clinic.letters.wording_actions import adopt
from clinic.letters.wordings import in_force
from clinic.mail.models import Message
from clinic.models import (
    Asking,
    Assessment,
    CallBack,
    DoseGiven,
    Invitation,
    KeptView,
    ListedMedicine,
    Measurement,
    Medicine,
    Owner,
    OwnerLink,
    Patient,
    PlanLine,
    Problem,
    Record,
    ReminderStop,
    ResultFile,
    Staff,
    Summary,
    Test,
    TestResult,
    Visit,
)
from clinic.owner_page.actions import make_link
from clinic.people.queries import token_hash
from clinic.platform.files import keep
from clinic.summaries.actions import make_summary
from clinic.summaries.consent import Consent
from clinic.visits.models import GivenAtHome, HeadsUp, NextVisit
from exams import own_actions as walk_actions
from exams.models import ExamPhoto, Lump, LumpResult, SpokenForm
from exams.own_models import WalkProposal
from exams.photo_actions import add_photo
from nutrition.actions import load_foods
from nutrition.foods import read as read_foods
from preventive.actions import (
    give_dose,
    issue_certificate,
    propose_setting,
    record_outside_dose,
    record_reaction,
)
from preventive.actions.outside import keep_proof
from preventive.models import Certificate, Lot, Proof, ProtocolProposal, Reaction
from tests import medicines, people
from tests.preventive.room import stock

TOKEN = "an-invitation-of-the-tests"
PICTURE = base64.b64decode(  # eight grey dots a side, as PNG
    "iVBORw0KGgoAAAANSUhEUgAAAAgAAAAICAAAAADhZOFXAAAAEElEQVR4nGOsYIAAJgaKGAAj0ACI5/8dTgAAAABJRU5ErkJggg=="
)
FOODS = Path(__file__).resolve().parents[1] / "fixtures" / "foods.toml"
FILLED = ("measurement", "heads_up", "problem", "assessment", "line", "test", "result", "medicine", "given")
FILLED += ("next_visit", "letter", "message", "reaction", "certificate", "call_back")


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
    def photo(self) -> ExamPhoto:
        """Taken by the clinician, so that the assistant meets somebody else's."""
        return add_photo(
            record=Record.objects.select_related("visit__patient").get(pk=self.record.pk),
            key=uuid4(),
            target="EAR.canal|left",
            taken_at="2026-03-11T11:02:00+01:00",
            content=PICTURE,
            actor=people.Actor.of(self.clinician),
            now=people.NOW,
        )

    @cached_property
    def lump_result(self) -> LumpResult:
        """What a needle sample of a measured lump showed, entered by the clinician."""
        by, at = self.clinician, people.NOW
        place = {"drawing": "dog-left", "x": 0.58, "y": 0.47, "region": "flank-left", "side": "left"}
        lump = Lump.objects.create(
            patient=self.patient, number=1, first_seen=people.TODAY, by=by, made_at=at, **place
        )
        lump.measures.create(record=self.record, length_mm=14, width_mm=11, method="caliper", by=by, at=at)
        sample = lump.samples.create(record=self.record, method="needle", by=by, at=at)
        return sample.results.create(words="fat cells, no other cells", entered_by=by, entered_at=at)

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
    def dose(self) -> DoseGiven:
        """Given by the clinician, so that others meet somebody else's."""
        return DoseGiven.objects.create(
            medicine=self.medicine,
            amount="1 ml",
            given_by=self.clinician,
            given_at=people.NOW,
            entered_at=people.NOW,
        )

    @cached_property
    def reaction(self) -> Reaction:
        """After a dose given elsewhere; what it was after is on hold."""
        actor = people.Actor.of(self.clinician)
        dose = record_outside_dose(
            actor=actor,
            now=people.NOW,
            patient=self.patient,
            antigens=["Rabies"],
            given_on=people.TODAY,
            proof=True,
        )
        return record_reaction(
            actor=actor,
            now=people.NOW,
            patient=self.patient,
            visit=None,
            doses=[dose],
            supplies=[],
            began_on=people.TODAY,
            signs=["hives"],
            severity="mild",
            outcome="recovered",
            told_by="the owner",
        )

    @cached_property
    def certificate(self) -> Certificate:
        """Of a rabies dose given at another visit of another animal of this owner."""
        visit = people.visit_here(self.patient_gone_home, clinician=self.clinician)
        Owner.objects.filter(pk=self.owner.pk).update(street="3 Fen Row", city="Quillwater")
        Patient.objects.filter(pk=self.patient_gone_home.pk).update(colour="grey")
        actor = people.Actor.of(self.clinician)
        lot = Lot.objects.filter(number="RB0932").first() or self.house.lot_of("rabisal-3")
        dose = give_dose(
            actor=actor,
            now=people.NOW,
            patient=self.patient_gone_home,
            visit=visit,
            product=lot.product,
            lot=lot,
            site="RSH",
            well=True,
            consent="in words",
            answers={"not_due": "asked for"},
        )
        made = issue_certificate(actor=actor, now=people.NOW, dose=dose)
        Visit.objects.filter(pk=visit.pk).update(place="gone-home", gone_at=people.NOW, outcome="home")
        return made

    @cached_property
    def proof(self) -> Proof:
        """The paper by which doses from elsewhere are known."""
        by, now = people.Actor.of(self.clinician), people.NOW
        return keep_proof(actor=by, now=now, patient=self.patient, stored=keep(PICTURE, ".jpg"))

    @cached_property
    def report(self) -> ResultFile:
        """The laboratory's paper beside the result."""
        assert self.result
        by = people.Actor.of(self.house.people.technician)
        return add_report(test=self.test, content=PICTURE, name="report.jpg", actor=by, now=people.NOW)

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
    def booking(self) -> Visit:
        """Of an animal that is not in the house."""
        return Visit.objects.create(
            patient=self.patient_gone_home,
            place="expected",
            place_since=people.NOW,
            expected_at=people.NOW + timedelta(days=3),
            booked_for="nails",
            made_at=people.NOW,
        )

    @cached_property
    def answer(self) -> Answer:
        return Answer.objects.create(
            owner=self.owner, message=self.reminder.message, patient=self.patient, kind=Answer.Kind.ELSEWHERE,
            source="dues", key="rabies", label="Rabies", due_on=people.TODAY, done_on=people.TODAY,
            proof=keep(PICTURE, ".jpg"), at=people.NOW,
        )  # fmt: skip

    @cached_property
    def reminder(self) -> HouseholdReminder:
        """Waits to leave."""
        row, at = self.call_back, people.NOW
        message = Message.objects.create(
            purpose="service",
            owner=self.owner,
            to_address="reminded@example.com",
            subject=f"A reminder for {self.pet}",
            body="It is due.",
            next_try_at=at,
            state_since=at,
            made_at=at,
            once=f"reminder:{self.owner.pk}",
        )
        made = HouseholdReminder.objects.create(
            owner=self.owner, day=timezone.localdate(), message=message, rest_until=people.TODAY, made_at=at
        )
        made.items.create(
            patient=self.patient, source=row.source, key=row.key, label=row.label, due_on=row.due_on, step=0
        )
        return made

    @cached_property
    def call_back(self) -> CallBack:
        """Overdue, of an animal that is neither here nor booked."""
        return CallBack.objects.create(
            patient=people.patient(f"Young {self.pet}", of=self.owner),
            source="dues",
            key="rabies",
            label="Rabies vaccine",
            due_on=timezone.localdate() - timedelta(days=41),
            refreshed_at=people.NOW,
        )

    @cached_property
    def asking(self) -> Asking:
        actor = people.Actor.of(self.clinician)
        return note_asking(
            owner=self.owner, rows=[self.call_back], how="call", outcome="asked", actor=actor, now=people.NOW
        )

    @cached_property
    def reminder_stop(self) -> ReminderStop:
        actor = people.Actor.of(self.clinician)
        return stop_reminders(owner=self.owner, row=self.call_back, actor=actor, now=people.NOW)

    @cached_property
    def letter(self) -> Letter:
        """Of an earlier visit, signed."""
        visit = people.visit_here(self.patient_gone_home, clinician=self.clinician)
        actor = people.Actor.of(self.clinician)
        letter = freeze_letter(record=visit.record, actor=actor, now=people.NOW)
        Visit.objects.filter(pk=visit.pk).update(place="gone-home", gone_at=people.NOW, outcome="home")
        return letter

    @cached_property
    def correction(self) -> Correction:
        """A sentence of the open visit's letter in the clinician's own words."""
        words = f"{self.patient.name} came to see us. What we did stands below."
        by = people.Actor.of(self.clinician)
        return correct_sentence(
            record=self.record, sentence="headline", words=words, actor=by, now=people.NOW
        )

    @cached_property
    def wording(self) -> Wording:
        """Another one, which the clinic says from now on."""
        by = {"actor": people.Actor.of(self.clinician), "now": people.NOW}
        key = next(each.key for each in compose(self.record, today=people.TODAY).call_within_a_day)
        words = f"{self.patient.name} eats nothing for a day."
        made = correct_sentence(record=self.record, sentence=key, words=words, **by)
        stands = in_force(made.text, made.language)
        return adopt(correction=made, forms=[made.offered], seen=stands.pk if stands else None, **by)

    @cached_property
    def link(self) -> OwnerLink:
        """By which the owner reads that letter on a page."""
        with override_settings(PUBLIC_URL="https://letters.example"):
            return make_link(owner=self.letter.owner, letter=self.letter, now=people.NOW)

    @cached_property
    def summary(self) -> Summary:
        """For a colleague elsewhere, with the owner's consent noted in the same step."""
        return make_summary(
            patient=self.patient,
            purpose="referral",
            to_whom="Dr Ines Tarn, Harbour Referrals",
            why="Please look at the ear.",
            consent=Consent(who=self.owner.name, how="in-person"),
            actor=people.Actor.of(self.clinician),
            now=people.NOW,
        )

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
    def kept_view(self) -> KeptView:
        return keep_view(
            name="A month over", asked_for="over=30", everybody=True, actor=self.people.actor("manager"),
            now=people.NOW,
        )  # fmt: skip

    @cached_property
    def post_run(self) -> PostRun:
        name = keep(b"%PDF-1.7 letters", ".pdf")
        return PostRun.objects.create(
            by=self.people.assistant, at=people.NOW, households=1, content="<p>It is due.", paper="A4",
            sha256=name.split("/")[1].removesuffix(".pdf"), pages=1,
        )  # fmt: skip

    @cached_property
    def asking_plan(self) -> AskingPlan:
        return lay_usual_plan(now=people.NOW)

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

    @cached_property
    def listed_medicine(self) -> ListedMedicine:
        """With an ingredient of which nobody said the kinds."""
        facts = Facts("Willowmere drops", ("eyebright",), "1 mg in 1 ml", "into the eye", "drops")
        return list_medicine(facts=facts, actor=self._at("manager"), now=people.NOW)

    @cached_property
    def own_finding(self) -> str:
        """A finding that the clinic added to its walk; its code."""
        asked = walk_actions.propose(
            change=OWN_FINDING, why="often seen here", once=uuid4(), actor=self._at("manager"), now=people.NOW
        )
        assert asked
        walk_actions.approve(proposal=asked, actor=self._at("clinician"), now=people.NOW)
        return "own-1"

    @cached_property
    def spoken_form(self) -> SpokenForm:
        """Learnt from a correction, not decided yet."""
        return SpokenForm.objects.create(
            kind="finding",
            words="porridge in the ear",
            means="EAR-02",
            heard_as="Canal by otoscope, left: Erythema of pinna or canal",
            recorded_as="Canal by otoscope: left: excess wax",
            noted_at=people.NOW,
        )

    @cached_property
    def walk_proposal(self) -> WalkProposal:
        """Asked for by the manager, waiting for a clinician."""
        change = {"kind": "asked", "structure": "EYE.pressure", "asked": "every"}
        made = walk_actions.propose(
            change=change, why="older dogs", once=uuid4(), actor=self._at("manager"), now=people.NOW
        )
        assert made
        return made

    @cached_property
    def protocol_proposal(self) -> ProtocolProposal:
        """Asked for by the manager, waiting for a clinician."""
        return propose_setting(
            actor=self._at("manager"),
            now=people.NOW,
            setting="leptospira_lapse",
            option="fifteen_months",
            why="as the neighbours do",
        )

    @cached_property
    def lot(self) -> Lot:
        """Of a vaccine; put on the shelf where nothing stands there yet."""
        return Lot.objects.order_by("pk").first() or stock(self._at("manager"))["rabisal-3"].lots.get()

    def lot_of(self, code: str) -> Lot:
        return stock(self._at("manager"))[code].lots.get()

    def _at(self, role: str) -> people.Actor:
        return people.Actor.of(getattr(self.people, role))


OWN_FINDING = {
    "kind": "finding",
    "code": "",
    "name": "Grass awn in sight",
    "structures": ["EAR.canal"],
    "species": ["dog", "cat"],
    "side": "none",
    "severity": True,
    "urgency": "T",
    "urgency_reason": "it wanders inward",
    "owner_line": "A grass seed sits in your pet's ear. It has to come out before it wanders deeper.",
    "spoken": ["grass seed"],
}


def house() -> House:
    people.clinic_details()
    return House(people.people())


def furnished() -> House:
    """Own and a colleague's animal in the house, one of everything; foods and vaccines on shelves."""
    made = house()
    manager = people.Actor.of(made.people.manager)
    load_foods(actor=manager, now=timezone.now(), foods=read_foods(FOODS))
    stock(manager)
    medicines.keep_list(manager)
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
    "day": lambda house, mine: people.TODAY.isoformat(),
    "booking_id": lambda house, mine: mine.booking.pk,
    "source": lambda house, mine: "plan-line",
    "promise_key": lambda house, mine: mine.line.pk,
    "owner_id": lambda house, mine: mine.owner.pk,
    "visit_id": lambda house, mine: mine.visit.pk,
    "record_id": lambda house, mine: mine.record.pk,
    "measurement_id": lambda house, mine: mine.measurement.pk,
    "heads_up_id": lambda house, mine: mine.heads_up.pk,
    "problem_id": lambda house, mine: mine.problem.pk,
    "assessment_id": lambda house, mine: mine.assessment.pk,
    "line_id": lambda house, mine: mine.line.pk,
    "test_id": lambda house, mine: mine.test.pk,
    "link_id": lambda house, mine: mine.link.pk,
    "correction_id": lambda house, mine: mine.correction.pk,
    "wording_id": lambda house, mine: mine.wording.pk,
    "language": lambda house, mine: "en",
    "text_name": lambda house, mine: "letters:visit.seen",
    "letter_id": lambda house, mine: mine.letter.pk,
    "summary_id": lambda house, mine: mine.summary.pk,
    "message_id": lambda house, mine: mine.message.pk,
    "medicine_id": lambda house, mine: mine.medicine.pk,
    "result_id": lambda house, mine: mine.result.pk,
    "dose_id": lambda house, mine: mine.dose.pk,
    "reaction_id": lambda house, mine: mine.reaction.pk,
    "item_code": lambda house, mine: "rabies",
    "certificate_id": lambda house, mine: mine.certificate.pk,
    "protocol_proposal_id": lambda house, mine: house.protocol_proposal.pk,
    "proof_id": lambda house, mine: mine.proof.pk,
    "lot_id": lambda house, mine: house.lot.pk,
    "product_id": lambda house, mine: house.lot.product_id,
    "product_kind": lambda house, mine: "preventive",
    "hold_id": lambda house, mine: mine.reaction.holds.get().pk,
    "file_id": lambda house, mine: mine.report.pk,
    "given_id": lambda house, mine: mine.given.pk,
    "next_visit_id": lambda house, mine: mine.next_visit.pk,
    "photo_id": lambda house, mine: mine.photo.pk,
    "sample_id": lambda house, mine: mine.lump_result.sample_id,
    "sample_result_id": lambda house, mine: mine.lump_result.pk,
    "reminder_id": lambda house, mine: mine.reminder.pk,
    "asking_id": lambda house, mine: mine.asking.pk,
    "view_id": lambda house, mine: house.kept_view.pk,
    "answer_id": lambda house, mine: mine.answer.pk,
    "run_id": lambda house, mine: house.post_run.pk,
    "plan_id": lambda house, mine: house.asking_plan.pk,
    "stop_id": lambda house, mine: mine.reminder_stop.pk,
    "what": lambda house, mine: "weight",
    "staff_id": lambda house, mine: house.people.assistant.pk,
    "invitation_id": lambda house, mine: house.invitation.pk,
    "token": lambda house, mine: house.invitation and TOKEN,
    "name": lambda house, mine: "no-such-mail",
    "number": lambda house, mine: 1,
    "structure": lambda house, mine: "EAR.canal",
    "own_code": lambda house, mine: house.own_finding,
    "form_id": lambda house, mine: house.spoken_form.pk,
    "proposal_id": lambda house, mine: house.walk_proposal.pk,
    "listed_id": lambda house, mine: house.listed_medicine.pk,
    "code": lambda house, mine: "no-such-food",
    "why": lambda house, mine: "page",
    # of django-allauth
    "pk": lambda house, mine: 1,
    "key": lambda house, mine: "no-such-key",
    "uidb36": lambda house, mine: "1",
}
