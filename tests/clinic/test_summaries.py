"""A summary for a colleague: consent first, every part named, frozen as it was made, double taps make one."""

from datetime import date, timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from procrastinate.contrib.django.models import ProcrastinateJob

from clinic.care.actions import stop_medicine
from clinic.letters.actions import in_their_time
from clinic.letters.document import said
from clinic.models import Contact, Patient, Summary, SummaryFile
from clinic.patients.actions import measure
from clinic.people.actions import set_pin
from clinic.people.actor import NotAllowed
from clinic.platform.files import keep
from clinic.platform.registries import summary_parts
from clinic.promises.actions import note_contact
from clinic.summaries import actions
from clinic.summaries.composition import compose
from clinic.summaries.consent import Consent
from clinic.summaries.document import Sheet, from_json, to_json
from clinic.summaries.errors import NoConsentYet
from clinic.summaries.facts import Asked
from clinic.summaries.gathering import gather
from clinic.visits.errors import NeedsWords, SentBefore
from tests import letters, people
from tests.letters import NOW, TODAY, Case

pytestmark = pytest.mark.django_db

COLLEAGUE = "Dr Ines Tarn, Harbour Referrals"
AGREED = Consent(who="Henrike Dovale", how="telephone")
PARTS = (
    "reason", "consent", "patient", "owner", "problems", "allergies", "lasting", "medicines", "findings",
    "lumps", "weight", "tests", "vaccines", "parasites", "diet", "feeding", "awaited",
)  # fmt: skip


@pytest.fixture
def case() -> Case:
    return letters.sore_ear()


def make(case: Case, **how) -> Summary:
    asked = {
        "patient": case.patient,
        "purpose": "referral",
        "to_whom": COLLEAGUE,
        "why": "His ear does not heal.\nPlease look deeper.",
        "consent": AGREED,
        **case.me,
    }
    return actions.make_summary(**(asked | how))


def sheet(patient: Patient, *, today: date = TODAY) -> Sheet:
    asked = Asked("referral", COLLEAGUE, "Please look.", "Agreed.")
    return compose(gather(patient, asked=asked, signer="Dr Maren Oduya", today=today))


def words(told: Sheet, part: str) -> str:
    return " ".join(each.text for section in told.parts if section.name == part for each in said(section))


# --- Consent (RCVS 13.1; AVMA, Owner Consent) ---------------------------------------------------------------


def test_without_a_consent_it_asks_beside_the_field(case: Case) -> None:
    with pytest.raises(NoConsentYet) as asked:
        make(case, consent=Consent())
    assert asked.value.field == "consent"
    assert COLLEAGUE in str(asked.value)
    assert not Summary.objects.exists()


def test_a_consent_is_noted_as_a_contact_with_who_how_and_when(case: Case) -> None:
    yesterday = NOW - timedelta(days=1)
    made = make(case, consent=Consent(who="Henrike Dovale", how="telephone", at=yesterday))
    noted = Contact.objects.get()
    assert made.consent == noted
    assert (noted.kind, noted.with_whom, noted.happened_at) == ("consent", "Henrike Dovale", yesterday)
    assert noted.text == f"Agrees, by telephone, that a summary of the record goes to {COLLEAGUE} (referral)."
    printed = words(from_json(made.content), "consent")
    assert printed == (
        "Henrike Dovale agreed by telephone, 10 March 2026, 10:00 am; noted by Dr Maren Oduya."
    )


def test_a_consent_that_was_noted_before_is_taken(case: Case) -> None:
    noted = note(case, "consent")
    assert make(case, consent=Consent(noted=noted, how="writing")).consent == noted
    assert Contact.objects.count() == 1


def note(case: Case, kind: str, **more) -> Contact:
    facts = {"patient": case.patient, "with_whom": "Henrike Dovale", "text": "May be sent on."}
    return note_contact(kind=kind, **(facts | more), **case.me)


@pytest.mark.parametrize("kind", ["withheld", "call", "estimate"])
def test_another_kind_of_contact_is_no_consent(case: Case, kind: str) -> None:
    with pytest.raises(NeedsWords, match="no consent"):
        make(case, consent=Consent(noted=note(case, kind), how="writing"))


def test_another_patient_s_consent_is_none(case: Case) -> None:
    other = people.patient("Grit", of=case.patient.owners.get())
    with pytest.raises(NeedsWords, match="no consent"):
        make(case, consent=Consent(noted=note(case, "consent", patient=other), how="writing"))


def test_a_consent_that_was_corrected_stands_no_more(case: Case) -> None:
    first = note(case, "consent")
    note(case, "withheld", corrects=first)
    with pytest.raises(NeedsWords, match="corrected"):
        make(case, consent=Consent(noted=first, how="writing"))


@pytest.mark.parametrize(
    ("consent", "field"),
    [
        (Consent(who="Henrike Dovale"), "consent_how"),
        (Consent(who="Henrike Dovale", how="telephone", at=NOW + timedelta(minutes=1)), "consent_at"),
        (Consent(without="life", why=" "), "without_why"),
        (Consent(without="unsaid", why="in haste"), "without"),
    ],
)
def test_what_is_missing_is_said_at_its_field(case: Case, consent: Consent, field: str) -> None:
    with pytest.raises(NeedsWords) as refused:
        make(case, consent=consent)
    assert refused.value.field == field
    assert not Contact.objects.exists()


def test_where_life_is_at_stake_it_goes_with_a_written_reason_that_is_printed(case: Case) -> None:
    made = make(case, consent=Consent(without="life", why="The owner cannot be reached."))
    assert (made.consent, made.without) == (None, "life")
    assert words(from_json(made.content), "consent") == (
        "Made without the owner’s consent, because life is at stake. The owner cannot be reached. "
        "Decided by Dr Maren Oduya."
    )


def test_the_database_itself_wants_a_consent_or_a_reason(case: Case) -> None:
    bare = {"patient": case.patient, "purpose": "referral", "to_whom": "x", "why": "x", "content": {}}
    with pytest.raises(IntegrityError, match="a_summary_has_consent_or_a_reason"), transaction.atomic():
        Summary.objects.create(**bare, by=case.people.clinician, signed_name="x", at=NOW)


@pytest.mark.parametrize("role", ["technician", "assistant", "manager"])
def test_a_clinician_makes_it(case: Case, role: str) -> None:
    with pytest.raises(NotAllowed):
        make(case, actor=case.actor(role))


@pytest.mark.parametrize("field", ["to_whom", "why"])
def test_it_says_for_whom_and_why(case: Case, field: str) -> None:
    with pytest.raises(NeedsWords) as refused:
        make(case, **{field: "  "})
    assert refused.value.field == field


# --- What it says -------------------------------------------------------------------------------------------


def test_every_part_is_named_also_an_empty_one(db) -> None:
    people.clinic_details()
    people.people()
    told = sheet(people.patient())
    assert tuple(each.name for each in told.parts) == PARTS
    for name in (
        "problems",
        "allergies",
        "lasting",
        "medicines",
        "findings",
        "lumps",
        "weight",
        "tests",
        "vaccines",
    ):
        assert words(told, name) == "None recorded."
    assert words(told, "awaited") == words(told, "diet") == "None recorded."


def test_what_the_rooms_add() -> None:
    assert summary_parts.names() == ["findings", "lumps", "vaccines", "parasites", "feeding"]


def test_a_problem_comes_with_the_newest_assessment_and_its_course(case: Case) -> None:
    told = words(sheet(case.patient), "problems")
    assert "Left ear, since 11 March 2026." in told
    assert "Confirmed: yeast otitis externa (11 March 2026, Dr Maren Oduya)." in told
    assert "Overweight, since 11 March 2026. Not assessed yet." in told
    ear = case.patient.problems.get(title="Left ear")
    visit = later_visit(case)
    record = visit.record
    ear.assessments.create(
        record=record, text="mites", course="worse", by=case.people.colleague, at=NOW + timedelta(days=9)
    )
    told = words(sheet(case.patient), "problems")
    assert "Possible: mites; course: worse (20 March 2026, Dr Tobias Falk)." in told
    assert "yeast" not in told
    assert "The record of that visit is not signed yet." in told


def later_visit(case: Case):
    case.visit.place = "gone-home"
    case.visit.save()
    made = people.visit_here(case.patient, clinician=case.people.clinician)
    made.record.opened_at = NOW + timedelta(days=9)
    made.record.save()
    return made


def test_a_closed_problem_is_left_out(case: Case) -> None:
    case.patient.problems.filter(title="Overweight").update(closed_at=NOW, closed_reason="slim again")
    assert "Overweight" not in words(sheet(case.patient), "problems")


def test_medicines_are_there_word_for_word(case: Case) -> None:
    directions = case.record.medicines.get().directions
    told = words(sheet(case.patient), "medicines")
    assert directions in told
    assert "Millrace ear drops (miconazole, 10 mg in 1 ml)." in told


def test_a_medicine_that_was_stopped_is_not_in_use(case: Case) -> None:
    drops = case.record.medicines.get()
    stop_medicine(medicine=drops, why="reddens", on=TODAY, owner_told=True, **case.me)
    assert "Millrace" not in words(sheet(case.patient), "medicines")


def test_what_the_owner_gives_does_not_pass_for_what_we_directed(case: Case) -> None:
    by = {"entered_by": case.people.technician, "entered_at": NOW}
    case.record.given_at_home.create(name="fish oil", how_much="a spoon", last_given="today", **by)
    assert "fish oil, given by the owner. a spoon; last given today" in words(
        sheet(case.patient), "medicines"
    )
    stop_medicine(medicine=case.record.medicines.get(), why="reddens", on=TODAY, owner_told=True, **case.me)
    assert words(sheet(case.patient), "medicines").startswith("Directed by us: none. fish oil")


def test_allergies_stand_apart_and_notes_on_handling_stay_in_the_house(case: Case) -> None:
    by = {"entered_by": case.people.technician, "entered_at": NOW}
    case.patient.alerts.create(kind="alert", text="Faints after running", **by)
    case.patient.alerts.create(kind="handling", text="Bites when lifted", **by)
    case.patient.alerts.create(
        kind="allergy", text="Hives", ingredient="amoxicillin", since=date(2024, 5, 1), **by
    )
    case.patient.conditions.create(code="seizures", since=date(2023, 2, 3), note="one a month", **by)
    assert words(sheet(case.patient), "allergies").endswith("Hives (amoxicillin) allergy 1 May 2024")
    told = words(sheet(case.patient), "lasting")
    assert told.startswith("Faints after running alert not known")
    assert "seizures: one a month condition 3 February 2023" in told
    assert "Bites" not in str(to_json(sheet(case.patient)))


def test_of_the_owner_it_says_how_to_reach_them_and_no_more(case: Case) -> None:
    owner = case.patient.owners.get()
    owner.street, owner.desk_note = "9 Sluice Row", "pays late"
    owner.save()
    told = sheet(case.patient)
    assert words(told, "owner") == "Henrike Dovale 555-0142"
    everything = str(to_json(told))
    for kept in ("Sluice", "pays late", "henrike@example.com"):
        assert kept not in everything


def test_what_somebody_is_rung_back_about_is_not_the_colleague_s(case: Case) -> None:
    note(case, "call", text="Asks about the bill", again_on=TODAY, again_by=case.people.manager)
    assert "bill" not in str(to_json(sheet(case.patient)))


def test_weights_and_condition_stand_by_day_and_what_is_struck_does_not(case: Case) -> None:
    told = words(sheet(case.patient), "weight")
    assert "11 March 2026 36.2 kg (79.8 lb) 7 of 9 –" in told
    last = case.patient.measurements.filter(kind="weight").latest("measured_at")
    by = case.people.clinician
    type(last).objects.filter(pk=last.pk).update(struck_at=NOW, struck_by=by, struck_reason="wrong dog")
    assert "36.2 kg" not in words(sheet(case.patient), "weight")


def test_older_days_are_counted_not_dropped_in_silence(case: Case) -> None:
    for days in range(1, 19):
        measure(
            patient=case.patient, kind="bcs", typed=Decimal(6), looked_twice=True, planned_change=True,
            actor=case.actor("technician"), now=NOW - timedelta(days=days),
        )  # fmt: skip
    assert "Older days that are not shown: 6." in words(sheet(case.patient), "weight")


def test_results_have_unit_interval_and_meaning_and_say_when_nobody_read_them(case: Case) -> None:
    blood = case.record.tests.create(
        patient=case.patient, kind="blood", title="Kidney profile", ordered_by=case.people.clinician,
        ordered_at=NOW, taken_at=NOW,
    )  # fmt: skip
    row = {"test": blood, "resulted_at": NOW, "entered_by": case.people.technician}
    blood.results.create(
        analyte="creatinine", value="212", unit="µmol/l", interval="44–125", meaning="high", **row
    )
    blood.results.create(
        analyte="urea", value="9", meaning="inside", struck_at=NOW, struck_by=case.people.clinician,
        struck_reason="other dog", **row,
    )  # fmt: skip
    told = words(sheet(case.patient), "tests")
    assert "Kidney profile, creatinine, 11 March 2026 212 µmol/l 44–125 high, not read yet" in told
    assert "urea" not in told


def test_what_is_awaited_has_a_day_and_a_person(case: Case) -> None:
    told = words(sheet(case.patient), "awaited")
    assert "result of Ear culture, taken 11 March 2026 16 March 2026 Dr Maren Oduya" in told
    assert "visit here, Ear check and weigh-in 25 March 2026 Dr Maren Oduya" in told
    assert "offer again: Thyroid blood test" in told


def test_it_comes_back_from_json_unchanged(case: Case) -> None:
    told = sheet(case.patient)
    assert from_json(to_json(told)) == told


def test_it_asks_equally_often_for_few_facts_and_for_many(case: Case) -> None:
    counts = []
    for many in (1, 12):
        for number in range(many):
            letters_more(case, f"{many}.{number}")
        with CaptureQueriesContext(connection) as asked:
            sheet(case.patient)
        counts.append(len(asked))
    assert counts[0] == counts[1]


def letters_more(case: Case, name: str) -> None:
    """One more of everything that a summary lists."""
    by, at = case.people.clinician, NOW
    problem = case.patient.problems.create(title=name, opened_at=at, opened_by=by)
    problem.assessments.create(record=case.record, text=name, by=by, at=at)
    test = case.record.tests.create(patient=case.patient, kind="x", title=name, ordered_by=by, ordered_at=at)
    test.results.create(value="1", meaning="inside", resulted_at=at, entered_by=by)
    case.patient.diet_entries.create(part="meal", food=name, since=TODAY, entered_by=by, entered_at=at)
    case.patient.alerts.create(kind="alert", text=name, entered_by=by, entered_at=at)


# --- Frozen -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("change", ["update", "delete"])
def test_it_is_frozen_as_it_was_made(case: Case, change: str) -> None:
    make(case)
    rows = Summary.objects.all()
    with pytest.raises(IntegrityError, match="only added") as refused, transaction.atomic():
        rows.update(to_whom="x") if change == "update" else rows._raw_delete(rows.db)
    assert refused.value.__cause__.sqlstate == "23T03"


def test_what_changes_later_does_not_change_it(case: Case) -> None:
    made = make(case)
    before = Summary.objects.get().content
    case.patient.problems.update(title="Something else")
    assert "Something else" in words(sheet(case.patient), "problems")
    made.refresh_from_db()
    assert made.content == before


def test_a_double_tap_makes_one(case: Case) -> None:
    once = uuid4()
    make(case, once=once)
    with pytest.raises(SentBefore):
        make(case, once=once)
    assert (Summary.objects.count(), Contact.objects.count()) == (1, 1)


def test_its_pdf_is_queued_with_it_and_no_mail(case: Case) -> None:
    made = make(case)
    job = ProcrastinateJob.objects.get()
    assert (job.queue_name, job.args) == ("letters", {"summary_id": made.pk})
    assert not case.patient.owners.get().messages.exists()


def test_brought_in_as_history_nothing_is_queued(case: Case) -> None:
    with in_their_time():
        made = make(case)
    assert not ProcrastinateJob.objects.exists()
    assert actions.make_file(summary=made, **case.me)
    assert ProcrastinateJob.objects.count() == 1


# --- Pages --------------------------------------------------------------------------------------------------


@pytest.fixture
def client(case: Case) -> Client:
    set_pin(staff=case.people.clinician, pin=people.PIN, now=NOW)
    client = Client()
    client.force_login(case.people.clinician)
    return client


def sent(**fields) -> dict:
    return {
        "once": uuid4(), "purpose": "referral", "to_whom": COLLEAGUE, "why": "Does not heal",
        "consent": "now", "consent_by": "Henrike Dovale", "consent_how": "telephone", "secret": people.PIN,
    } | fields  # fmt: skip


def test_it_is_made_on_its_page_and_listed_with_who_and_for_whom(client: Client, case: Case) -> None:
    url = reverse("summary-new", args=[case.patient.pk])
    page = client.get(url).content.decode()
    assert 'value="Henrike Dovale"' in page
    assert "yeast otitis externa" in page
    answer = client.post(url, sent())
    made = Summary.objects.get()
    assert answer.headers["Location"] == reverse("summary", args=[made.pk])
    listed = client.get(reverse("patient", args=[case.patient.pk])).content.decode()
    assert COLLEAGUE in listed
    assert "Dr Maren Oduya" in listed
    shown = client.get(reverse("summary", args=[made.pk])).content.decode()
    assert "by telephone" in shown
    assert "Does not heal" in shown


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"consent": ""}, "Has the owner agreed that this goes to Dr Ines Tarn"),
        ({"consent": "without", "without": "", "without_why": "x"}, "Say whether the law obliges you"),
        ({"consent": "without", "without": "law"}, "Say why it goes without"),
        ({"consent_how": ""}, "Say how the owner agreed."),
        ({"secret": "0000"}, "That is not your PIN"),
    ],
)
def test_what_is_missing_is_said_and_nothing_typed_is_lost(client, case, fields, sentence) -> None:
    answer = client.post(reverse("summary-new", args=[case.patient.pk]), sent(**fields))
    assert answer.status_code == 422
    text = answer.content.decode()
    assert sentence in text
    assert "Does not heal" in text
    assert not Summary.objects.exists()


def test_a_consent_withheld_is_shown_beside_the_question(client: Client, case: Case) -> None:
    note(case, "withheld", text="Does not want the insurer to know")
    page = client.get(reverse("summary-new", args=[case.patient.pk])).content.decode()
    assert "Does not want the insurer to know" in page
    assert "has withheld a consent" in page


def test_the_pdf_is_its_stored_bytes(client: Client, case: Case) -> None:
    made = make(case)
    url = reverse("summary-pdf", args=[made.pk])
    assert client.get(url).status_code == 202
    name = keep(b"%PDF-1.7 a test", ".pdf")
    actions.keep_file(summary=made, name=name, size=15, pages=1, now=NOW)
    actions.keep_file(summary=made, name=keep(b"%PDF another", ".pdf"), size=12, pages=1, now=NOW)
    answer = client.get(url)
    assert answer.content == b"%PDF-1.7 a test"
    assert answer["Content-Disposition"] == 'inline; filename="Ludo summary 2026-03-11.pdf"'
    assert SummaryFile.objects.count() == 1


def test_the_patient_s_page_asks_as_often_for_two_summaries_as_for_twenty(client, case) -> None:
    url = reverse("patient", args=[case.patient.pk])
    counts = []
    for many in (2, 18):
        for _each in range(many):
            make(case)
        with CaptureQueriesContext(connection) as asked:
            client.get(url)
        counts.append(len(asked))
    assert counts[0] == counts[1]
