"""Contacts outside a visit, rule by rule with its source; frozen at once, corrected by a further one."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.models import Contact, Patient, PromiseStep
from clinic.people.actor import NotAllowed
from clinic.promises import actions
from clinic.promises.errors import ClosedBefore, HasDied, Unsaid
from clinic.promises.queries import contacts_of, find_promise, open_promises
from clinic.visits.errors import SentBefore
from tests import people

pytestmark = pytest.mark.django_db


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def pomfret() -> Patient:
    return people.patient()


def note(pomfret: Patient, actor, **fields) -> Contact:
    facts = {"kind": "call", "with_whom": "Henrike Dovale", "text": "Eats again.", "now": people.NOW}
    return actions.note_contact(patient=pomfret, actor=actor, **(facts | fields))


@pytest.mark.parametrize("kind", Contact.Kind.values)
def test_every_kind_that_a_record_holds(pomfret: Patient, house: people.People, kind: str) -> None:
    """RCVS 13.1: advice, follow-up, phone notes, estimates, consents given or withheld, referral advice."""
    assert note(pomfret, house.actor("clinician"), kind=kind).kind == kind


@pytest.mark.parametrize("kind", ["advice", "referral"])
@pytest.mark.parametrize("role", ["technician", "assistant", "manager"])
def test_advice_and_referral_are_a_clinicians(pomfret, house, role: str, kind: str) -> None:
    """Maryland COMAR 15.14.13.13; Maine 32 MRS 4866: nobody else diagnoses or says what treatment is next."""
    with pytest.raises(NotAllowed):
        note(pomfret, house.actor(role), kind=kind)


@pytest.mark.parametrize("kind", ["call", "mail", "estimate", "consent", "withheld"])
def test_a_technician_notes_calls(pomfret: Patient, house: people.People, kind: str) -> None:
    note(pomfret, house.actor("technician"), kind=kind)


def test_both_times_and_the_author_are_kept(pomfret: Patient, house: people.People) -> None:
    """Texas 22 TAC 573.52: what was not written at the time notes the time and date."""
    happened = people.NOW - timedelta(hours=3)
    made = note(pomfret, house.actor("technician"), happened_at=happened)
    assert (made.happened_at, made.entered_at, made.by) == (happened, people.NOW, house.technician)


@pytest.mark.parametrize(
    ("fields", "where"),
    [
        ({"text": "  "}, "text"),
        ({"with_whom": ""}, "with_whom"),
        ({"happened_at": people.NOW + timedelta(minutes=1)}, "happened_at"),
        ({"again_on": people.TODAY}, "again_by"),
    ],
)
def test_what_is_missing_is_said_at_its_field(pomfret, house, fields: dict, where: str) -> None:
    with pytest.raises(Unsaid) as refused:
        note(pomfret, house.actor("clinician"), **fields)
    assert refused.value.field == where


def test_another_patients_problem_is_refused(pomfret: Patient, house: people.People) -> None:
    other = people.patient("Grit", of=pomfret.owners.get())
    problem = other.problems.create(title="Ear", opened_at=people.NOW, opened_by=house.clinician)
    with pytest.raises(Unsaid):
        note(pomfret, house.actor("clinician"), problem=problem)


@pytest.mark.parametrize("change", ["update", "delete"])
def test_it_is_frozen_at_once(pomfret: Patient, house: people.People, change: str) -> None:
    """RCVS 13 and Maryland COMAR 15.14.01.10: amended, never changed or taken out."""
    note(pomfret, house.actor("clinician"))
    rows = Contact.objects.all()
    with pytest.raises(IntegrityError, match="only added") as refused, transaction.atomic():
        rows.update(text="x") if change == "update" else rows._raw_delete(rows.db)
    assert refused.value.__cause__.sqlstate == "23T03"


def test_a_correction_is_a_further_contact_that_names_it(pomfret: Patient, house: people.People) -> None:
    first = note(pomfret, house.actor("technician"), text="Took 3 tablets")
    note(pomfret, house.actor("clinician"), text="It was half a tablet", corrects=first)
    told = {each.text: each for each in contacts_of(pomfret)}
    assert told["It was half a tablet"].corrects == first
    assert told["Took 3 tablets"].text == "Took 3 tablets"


def test_it_closes_a_promise_in_the_same_step(pomfret: Patient, house: people.People) -> None:
    line = people.visit_here(pomfret).record.plan_lines.create(
        kind="call", text="call", answerable=house.clinician, due_on=people.TODAY, by=house.clinician,
        at=people.NOW,
    )  # fmt: skip
    promise = find_promise("plan-line", str(line.pk), actor=house.actor("clinician"))
    made = note(pomfret, house.actor("clinician"), closes=promise, owner_told=True)
    assert open_promises() == []
    assert PromiseStep.objects.get().contact == made
    with pytest.raises(ClosedBefore), transaction.atomic():
        note(pomfret, house.actor("clinician"), text="a second time", closes=promise)
    assert Contact.objects.count() == 1


def test_we_get_back_to_you_is_a_promise(pomfret: Patient, house: people.People) -> None:
    friday = people.TODAY + timedelta(days=2)
    made = note(pomfret, house.actor("technician"), again_on=friday, again_by=house.clinician)
    told = open_promises(by=friday)[0]
    assert (told.source, told.key, told.who) == ("contact", str(made.pk), "Dr Maren Oduya")
    Patient.objects.filter(pk=pomfret.pk).update(deceased_on=people.TODAY)
    assert open_promises(by=friday)[0].died == "died on 11 March 2026"


def test_a_contact_about_the_dead_is_asked_about_once(pomfret: Patient, house: people.People) -> None:
    pomfret.deceased_on = people.TODAY
    pomfret.save()
    with pytest.raises(HasDied, match="Pomfret died on 11 March 2026"):
        note(pomfret, house.actor("technician"))
    assert note(pomfret, house.actor("technician"), knows=True).pk


def test_the_page_asks_once_and_keeps_what_was_typed(client, pomfret: Patient, house: people.People) -> None:
    pomfret.deceased_on = people.TODAY
    pomfret.save()
    client.force_login(house.assistant)
    url = f"/patients/{pomfret.pk}/contacts/new/"
    page = client.get(url)
    assert "died on 11 March 2026" in page.text
    once = str(page.context["form"]["once"].value())
    sent = {"once": once, "kind": "call", "with_whom": "Henrike Dovale", "text": "She called to thank us."}
    asked = client.post(url, sent)
    assert asked.status_code == 422
    assert "She called to thank us." in asked.text
    assert asked.context["form"]["knows"].value() == "on"
    assert client.post(url, sent | {"knows": "on"}).status_code == 302
    assert Contact.objects.get().text == "She called to thank us."


def test_a_double_tap_notes_it_once(pomfret: Patient, house: people.People) -> None:
    once = uuid4()
    note(pomfret, house.actor("clinician"), once=once)
    with pytest.raises(SentBefore):
        note(pomfret, house.actor("clinician"), once=once)


# --- Pages --------------------------------------------------------------------------------------------------


def test_noted_on_the_page_and_listed(client: Client, pomfret: Patient, house: people.People) -> None:
    client.force_login(house.technician)
    url = reverse("contact-new", args=[pomfret.pk])
    page = client.get(url).content.decode()
    assert 'value="Henrike Dovale"' in page
    assert "referral" not in page
    sent = {"once": uuid4(), "kind": "call", "with_whom": "Henrike Dovale", "text": "Eats again, since noon"}
    assert client.post(url, sent).status_code == 302
    for where in ("patient-contacts", "patient"):
        assert "Eats again, since noon" in client.get(reverse(where, args=[pomfret.pk])).content.decode()


def test_a_refused_one_keeps_what_was_typed(client: Client, pomfret: Patient, house: people.People) -> None:
    client.force_login(house.technician)
    sent = {"once": uuid4(), "kind": "call", "with_whom": "", "text": "Eats again, since noon"}
    answer = client.post(reverse("contact-new", args=[pomfret.pk]), sent)
    assert answer.status_code == 422
    assert "Eats again, since noon" in answer.content.decode()


def test_a_technician_cannot_send_advice(client: Client, pomfret: Patient, house: people.People) -> None:
    client.force_login(house.technician)
    sent = {"once": uuid4(), "kind": "advice", "with_whom": "Henrike Dovale", "text": "give half"}
    assert client.post(reverse("contact-new", args=[pomfret.pk]), sent).status_code == 422
    assert not Contact.objects.exists()


def test_the_list_asks_equally_often_for_two_and_twenty(client, pomfret: Patient, house) -> None:
    client.force_login(house.clinician)
    counts = []
    for many in (2, 18):
        for _each in range(many):
            first = note(pomfret, house.actor("clinician"))
            note(pomfret, house.actor("clinician"), corrects=first)
        with CaptureQueriesContext(connection) as asked:
            client.get(reverse("patient-contacts", args=[pomfret.pk]))
        counts.append(len(asked))
    assert counts[0] == counts[1]
