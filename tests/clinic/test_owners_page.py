"""Owners: made once, reached as they want, nothing typed is lost."""

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from clinic.models import Owner, Ownership, Phone
from tests import people

pytestmark = pytest.mark.django_db
USUAL = {"letters_by": "email", "print_size": "usual", "language": "en"}


@pytest.fixture
def page(client: Client) -> Client:
    people.clinic_details()
    client.force_login(people.staff("Jonas Brel", "assistant"))
    return client


def send(page: Client, url: str = "/owners/new/", once: str = "", **fields: str):
    token = once or page.get(url).context["form"]["once"].value()
    return page.post(url, USUAL | {"once": str(token)} | fields)


def test_a_new_owner_leads_on_to_their_animal(page):
    answer = send(page, given_name="Noor", family_name="van Wessel", email="noor@example.com",
                  phone_1="555 0177", phone_label_1="mobile", country="nl")  # fmt: skip
    owner = Owner.objects.get()
    assert answer.headers["Location"] == f"/owners/{owner.pk}/patients/new/"
    assert (owner.name, owner.country, owner.email_state) == ("Noor van Wessel", "NL", "untried")
    assert owner.phones.get().digits == "5550177"


@pytest.mark.parametrize(
    ("fields", "field", "sentence"),
    [
        ({"family_name": "", "email": "a@example.com"}, "family_name", "required"),
        ({"family_name": "Wessel"}, "email", "need an address"),
        ({"family_name": "Wessel", "email": "nonsense"}, "email", "valid email"),
        ({"family_name": "Wessel", "email": "a@example.com", "phone_2": "12"}, "phone_2", "4 to 15 digits"),
    ],
)
def test_what_is_wrong_is_said_beside_its_field_and_the_rest_stays(page, fields, field, sentence):
    answer = send(page, given_name="Noor", city="Quillwater", **fields)
    assert answer.status_code == 422
    assert sentence in " ".join(answer.context["form"].errors[field])
    assert 'value="Quillwater"' in answer.text
    assert not Owner.objects.exists()


@pytest.mark.parametrize(
    "fields",
    [
        {"family_name": "Somebody", "phone_1": "(555) 01 42"},
        {"family_name": "Somebody", "email": "HENRIKE@example.com"},
        {"given_name": "Henrike", "family_name": "Dovalle"},
        {"given_name": "hénrike", "family_name": "DOVALE"},
    ],
)
def test_somebody_who_may_stand_here_already_is_shown_first_and_can_be_overridden(page, fields):
    known = people.owner()
    fields = {"email": "new@example.com"} | fields
    answer = send(page, **fields)
    assert answer.status_code == 422
    assert f'href="/owners/{known.pk}/"' in answer.text
    assert Owner.objects.count() == 1
    assert send(page, **fields, anyway="on").status_code == 302
    assert Owner.objects.count() == 2


def test_somebody_else_is_no_double(page):
    people.owner()
    assert send(page, given_name="Bea", family_name="Ostrow", email="bea@example.com").status_code == 302


def test_a_form_sent_twice_makes_one_owner(page):
    once = str(page.get("/owners/new/").context["form"]["once"].value())
    for _ in range(2):
        answer = send(page, once=once, family_name="Wessel", email="noor@example.com", anyway="on")
        assert answer.status_code == 302
    assert Owner.objects.count() == 1


def test_what_is_changed_is_changed_and_a_new_address_is_not_tried_yet(page):
    owner = people.owner()
    Owner.objects.update(email_state="works")
    send(page, f"/owners/{owner.pk}/edit/", given_name="Henrike", family_name="Falk",
         email="falk@example.com", phone_1="555-0199", print_size="large")  # fmt: skip
    owner.refresh_from_db()
    assert (owner.family_name, owner.email_state, owner.print_size) == ("Falk", "untried", "large")
    assert [phone.digits for phone in Phone.objects.all()] == ["5550199"]


def test_the_form_shows_what_stands(page):
    owner = people.owner()
    text = page.get(f"/owners/{owner.pk}/edit/").text
    assert 'value="henrike@example.com"' in text
    assert 'value="555-0142"' in text


def test_an_address_that_came_back_says_so(page):
    owner = people.owner()
    Owner.objects.update(email_state="bounced")
    assert "came back" in page.get(f"/owners/{owner.pk}/").text


def test_a_change_is_told_with_what_it_was(page):
    owner = people.owner()
    send(page, f"/owners/{owner.pk}/edit/", family_name="Falk", given_name="Henrike",
         email="henrike@example.com", phone_1="555-0142")  # fmt: skip
    text = page.get(f"/owners/{owner.pk}/changes/").text
    assert "Dovale" in text
    assert "Falk" in text
    assert "Jonas Brel" in text


def queries(page: Client, url: str) -> int:
    page.get(url)
    with CaptureQueriesContext(connection) as seen:
        assert page.get(url).status_code == 200
    return len(seen)


def test_twenty_animals_cost_as_many_queries_as_two(page):
    owner = people.owner()
    for _ in range(2):
        people.patient("Grit", of=owner)
    few = queries(page, f"/owners/{owner.pk}/")
    for _ in range(18):
        people.patient("Grit", of=owner)
    assert Ownership.objects.count() == 20
    assert queries(page, f"/owners/{owner.pk}/") == few


def test_a_merged_owner_leads_to_the_one_that_stands(page):
    one, other = people.owner(), people.owner("Bea Ostrow", "")
    Owner.objects.filter(pk=one.pk).update(merged_into=other)
    assert page.get(f"/owners/{one.pk}/").headers["Location"] == f"/owners/{other.pk}/"


def test_nobody_unknown_is_found(page):
    assert page.get("/owners/999999/").status_code == 404
