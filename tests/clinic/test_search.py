"""One box finds a patient by any of its names and numbers, and forgives a slip."""

import pytest
from dateutil.relativedelta import relativedelta
from django.db import connection
from django.db.models import QuerySet
from django.test import Client
from django.test.utils import CaptureQueriesContext

from clinic.models import Patient, Visit
from clinic.patients import actions, search
from clinic.people.actor import Actor
from tests import death, people

pytestmark = pytest.mark.django_db


@pytest.fixture
def desk() -> dict[str, object]:
    return {"actor": Actor.of(people.staff("Jonas Brel", "assistant")), "now": people.NOW}


@pytest.fixture
def pomfret(desk) -> Patient:
    owner = actions.register_owner(
        given_name="Henrike", family_name="Übelacker", phones=[("mobile", "(0555) 01-42")], **desk
    )
    return actions.register_patient(
        owner=owner,
        name="Pomfret",
        species="dog",
        sex="male",
        neutered="yes",
        microchip="985 112 345 678 903",
        **desk,
    )


def names(query: str) -> list[str]:
    return [hit.name for hit in search.find(query, today=people.TODAY).hits]


@pytest.mark.parametrize(
    "query",
    ["Pomfret", "pom", "po", "p", "POMFRET", "pomfert", "pomfrt", "ubelacker", "Übelacker", "übelaker",
     "henrike", "pomfret übel", "0142", "0555 0142", "5550142", "985112345678903", "985 112 345 678 903"],
)  # fmt: skip
def test_a_patient_is_found_by(query, pomfret):
    assert names(query) == ["Pomfret"]


@pytest.mark.parametrize("query", ["saltwort", "zz", "9999", "om", "pomfret falk"])
def test_a_patient_is_not_found_by(query, pomfret):
    assert names(query) == []


def test_a_new_name_or_number_is_found_at_once_and_the_old_one_no_more(desk, pomfret):
    owner = pomfret.owners.get()
    actions.change_owner(owner=owner, family_name="Dovale", phones=[("", "555 0199")], **desk)
    actions.change_patient(patient=pomfret, name="Grit", **desk)
    assert names("grit dovale 0199") == ["Grit"]
    assert names("ubelacker") == []


def test_a_second_owner_finds_the_animal_too(desk, pomfret):
    second = actions.register_owner(given_name="Noor", family_name="van Wessel", **desk)
    actions.add_co_owner(patient=pomfret, owner=second, **desk)
    assert names("wessel") == ["Pomfret"]
    actions.end_ownership(patient=pomfret, owner=second, **desk)
    assert names("wessel") == []


def test_the_living_stand_before_the_dead_and_the_exact_before_the_alike(desk, pomfret):
    owner = people.owner("Bea Ostrow", "")
    for name in ("Pomfrey", "Pomfret"):
        made = actions.register_patient(
            owner=owner, name=name, species="cat", sex="female", neutered="no", **desk
        )
    death.die(made, actor=desk["actor"])
    assert names("pomfret") == ["Pomfret", "Pomfrey", "Pomfret"]


def test_an_owner_without_an_animal_is_found(desk):
    actions.register_owner(given_name="Noor", family_name="van Wessel", phones=[("", "555 0177")], **desk)
    found = search.find("wessel", today=people.TODAY)
    assert [owner.name for owner in found.owners] == ["Noor van Wessel"]
    assert [owner.name for owner in search.find("0177", today=people.TODAY).owners] == ["Noor van Wessel"]


def test_nothing_typed_shows_who_is_in_the_house(pomfret):
    people.patient("Grit", of=people.owner("Bea Ostrow", ""))
    people.visit_here(pomfret, room="room 2")
    found = search.find("", today=people.TODAY)
    assert [(hit.name, hit.where) for hit in found.hits] == [("Pomfret", "with clinician, room 2")]


def test_a_row_says_what_the_desk_asks_for(pomfret):
    Patient.objects.update(birth_date=people.TODAY - relativedelta(years=3), birth_precision="year")
    hit = search.find("pomfret", today=people.TODAY).hits[0]
    assert (hit.owner, hit.phone) == ("Henrike Übelacker", "(0555) 01-42")
    assert hit.facts == "dog, about 3 y"


def plan(rows: QuerySet[Patient]) -> str:
    with connection.cursor() as cursor:
        cursor.execute("SET LOCAL enable_seqscan = off")
        return rows.explain()


@pytest.mark.parametrize("query", ["pomfret", "po", "5550142", "pomfret dovale"])
def test_the_trigram_index_can_answer(query):
    assert "patient_search_trgm" in plan(search.matching(Patient.objects.all(), search.read(query)))


@pytest.fixture
def page(client: Client) -> Client:
    client.force_login(people.staff("Ottoline Pryce", "manager"))
    people.clinic_details()
    return client


def queries(page: Client, query: str) -> int:
    with CaptureQueriesContext(connection) as seen:
        assert page.get("/patients/", {"q": query}).status_code == 200
    return len(seen)


def test_twenty_patients_cost_as_many_queries_as_two(page):
    owner = people.owner()
    for number in range(20):
        people.patient("Pomfret", of=owner, search=f" pomfret {'grit' if number < 2 else 'other'} ")
    queries(page, "pomfret")  # once, so that nothing is counted that only the first page needs
    assert queries(page, "pomfret grit") == queries(page, "pomfret")


def test_typing_gets_the_rows_alone_and_a_page_without_script(page, pomfret):
    rows = page.get("/patients/", {"q": "pom"}, headers={"HX-Request": "true"})
    assert "<html" not in rows.text
    assert "Pomfret" in rows.text
    assert rows.headers["Vary"].find("HX-Request") >= 0
    assert "<html" in page.get("/patients/", {"q": "pom"}).text


def test_nobody_found_says_what_to_try_and_begins_a_new_owner(page):
    answer = page.get("/patients/", {"q": "Wessel"}).text
    assert "Try fewer letters" in answer
    assert "/owners/new/?q=Wessel" in answer
    assert 'value="Wessel"' in page.get("/owners/new/?q=Wessel").text


def test_an_animal_that_went_home_is_nowhere(pomfret):
    Visit.objects.create(patient=pomfret, place="gone-home", place_since=people.NOW, made_at=people.NOW)
    assert search.find("pomfret", today=people.TODAY).hits[0].where == ""
