"""The clinic's details: an emergency telephone always, and the letterhead of what is signed from now on."""

import pytest
from django.test import Client

from clinic.platform.models import ClinicDetails
from clinic.platform.registries import Choice, jurisdictions
from clinic.records.choices import PLACES, places
from tests.people import clinic_details, people

pytestmark = pytest.mark.django_db
GOOD = {
    "name": "Quillwater Animal Clinic",
    "street": "4 Weir Lane",
    "city": "Quillwater",
    "country": "us",
    "phone": "555-0100",
    "email": "desk@quillwater.example",
    "emergency_name": "Out of hours",
    "emergency_phone": "555-0177",
    "paper": "letter",
    "letters_carry": "pdf",
    "weight_unit": "lb",
    "temperature_unit": "F",
    "food_unit": "oz",
    "jurisdiction": "us-ny",
    "energy_rule": "rer-multiples",
}


@pytest.fixture
def manager() -> Client:
    client = Client()
    client.force_login(people().manager)
    return client


def test_a_new_practice_is_set_up_by_its_manager(manager):
    assert manager.get("/records/clinic/").status_code == 200
    assert manager.post("/records/clinic/", GOOD).status_code == 302
    made = ClinicDetails.objects.get()
    assert (made.pk, made.country, made.paper, made.jurisdiction) == (1, "US", "letter", "us-ny")


def test_a_change_keeps_what_the_form_does_not_ask(manager):
    clinic_details()
    ClinicDetails.objects.update(settings={"growth": "nrc"})
    manager.post("/records/clinic/", GOOD)
    made = ClinicDetails.objects.get()
    assert (made.settings, made.emergency_phone) == ({"growth": "nrc"}, "555-0177")


@pytest.mark.parametrize(
    ("field", "value", "says"),
    [
        ("emergency_phone", "", "required"),
        ("emergency_phone", "ask", "dial"),
        ("country", "USA", "at most 2"),
        ("country", "1!", "Two letters"),
        ("jurisdiction", "atlantis", "valid choice"),
    ],
)
def test_a_wrong_field_says_so_and_nothing_typed_is_lost(manager, field, value, says):
    answer = manager.post("/records/clinic/", GOOD | {field: value})
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert "4 Weir Lane" in answer.content.decode()
    assert not ClinicDetails.objects.exists()


def test_a_registered_jurisdiction_takes_the_place_of_ours(monkeypatch):
    monkeypatch.setattr(jurisdictions, "_entries", {})
    assert places() == list(PLACES)
    jurisdictions.add(Choice("us-ny", 10, "New York State"))
    assert ("us-ny", "New York State") in places()
    assert len(places()) == len(PLACES)
