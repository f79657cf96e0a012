"""A patient: made once, its page says what matters first, its facts are kept with who and when."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from clinic.models import Alert, Condition, LastingFact, Microchip, Owner, Patient, Visit
from tests import people

pytestmark = pytest.mark.django_db
USUAL = {"name": "Saltwort", "species": "cat", "sex": "female", "neutered": "yes"}


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def page(client: Client, house: people.People) -> Client:
    client.force_login(house.clinician)
    return client


@pytest.fixture
def owner() -> Owner:
    return people.owner()


def send(page: Client, url: str, once: str = "", **fields: str):
    token = once or page.get(url).context["form"]["once"].value()
    return page.post(url, {"once": str(token)} | fields)


def new(page: Client, owner: Owner, **fields: str):
    return send(page, f"/owners/{owner.pk}/patients/new/", **(USUAL | fields))


def test_a_new_animal_leads_to_its_page(page, owner):
    answer = new(page, owner, microchip="985 112 345 678 903", birth_date="2024-02-29")
    made = Patient.objects.get()
    assert answer.headers["Location"] == f"/patients/{made.pk}/"
    assert (made.birth_date, made.birth_precision) == (date(2024, 2, 29), "day")
    assert made.microchips.get().kind == "iso-manufacturer"
    assert made.ownerships.get().is_first


@pytest.mark.parametrize(
    ("said", "precision"), [("about 3 years", "estimate"), ("10 weeks", "estimate"), ("2019", "year")]
)
def test_an_age_is_kept_as_an_estimate(page, owner, said, precision):
    new(page, owner, age=said)
    assert Patient.objects.get().birth_precision == precision


@pytest.mark.parametrize(
    ("fields", "field", "sentence"),
    [
        ({"microchip": "985112345678"}, "microchip", "15 digits"),
        ({"microchip": "999000000000123"}, "microchip", "test chip"),
        ({"birth_date": "2099-01-01"}, "birth_date", "has not come yet"),
        ({"age": "old"}, "age", "not an age"),
        ({"age": "1812"}, "age", "not a year"),
        ({"birth_date": "2020-01-01", "age": "3 years"}, "age", "not both"),
        ({"species": ""}, "species", "required"),
    ],
)
def test_what_is_wrong_is_said_beside_its_field_and_the_rest_stays(page, owner, fields, field, sentence):
    answer = new(page, owner, **({"breed": "tabby"} | fields))
    assert answer.status_code == 422
    assert sentence in " ".join(answer.context["form"].errors[field])
    assert 'value="tabby"' in answer.text
    assert not Patient.objects.exists()


def test_a_chip_of_another_patient_is_refused_by_name(page, owner):
    new(page, owner, microchip="985112345678903")
    answer = new(page, owner, name="Grit", microchip="985112345678903")
    assert "stands at Saltwort already" in " ".join(answer.context["form"].errors["microchip"])
    assert Patient.objects.count() == 1


def test_an_animal_that_may_stand_here_is_shown_first_and_can_be_overridden(page, owner):
    known = people.patient("Saltwort", of=owner, species="cat")
    answer = new(page, owner, name="Saltwört")
    assert answer.status_code == 422
    assert f'href="/patients/{known.pk}/"' in answer.text
    assert new(page, owner, name="Saltwört", anyway="on").status_code == 302
    assert Patient.objects.count() == 2


def test_another_owners_animal_of_that_name_is_no_double(page, owner):
    people.patient("Saltwort", of=people.owner("Bea Ostrow", ""), species="cat")
    assert new(page, owner).status_code == 302


def test_a_form_sent_twice_makes_one_animal(page, owner):
    once = str(page.get(f"/owners/{owner.pk}/patients/new/").context["form"]["once"].value())
    for _ in range(2):
        assert new(page, owner, once=once, anyway="on").status_code == 302
    assert Patient.objects.count() == 1


def test_an_estimate_left_alone_stays_an_estimate(page, owner):
    made = people.patient("Saltwort", of=owner, birth_precision="estimate")
    url = f"/patients/{made.pk}/edit/"
    send(page, url, **USUAL, birth_date=f"{made.birth_date:%Y-%m-%d}", colour="grey")
    made.refresh_from_db()
    assert (made.colour, made.birth_precision) == ("grey", "estimate")


def test_alerts_stand_before_everything_and_handling_is_for_us(page, owner, house):
    made = people.patient(of=owner)
    for kind, text in (("allergy", "hives after penicillin"), ("handling", "bites when held")):
        Alert.objects.create(
            patient=made, kind=kind, text=text, entered_by=house.clinician, entered_at=people.NOW
        )
    text = page.get(f"/patients/{made.pk}/").text
    assert text.index("hives after penicillin") < text.index("Weight and body condition")
    assert "never on a letter" in text


def test_the_weight_is_a_picture_in_words_and_a_table(page, owner, house):
    made = people.patient(of=owner)
    for days, kg in ((300, "28.1"), (0, "27.4")):
        at = people.NOW - timedelta(days=days)
        made.measurements.create(
            kind="weight", typed=Decimal(kg), unit="kg", value=Decimal(kg), measured_at=at, recorded_at=at,
            observed_by=house.technician, entered_by=house.technician,
        )  # fmt: skip
    text = page.get(f"/patients/{made.pk}/").text
    assert "now 27.4 kg" in text
    assert "0.7 kg down" in text
    assert "28.1 kg (61.9 lb)" in text
    assert "style=" not in text


def test_an_empty_page_says_what_to_do_first(page, owner):
    text = page.get(f"/patients/{people.patient(of=owner).pk}/").text
    assert "Not weighed here yet." in text
    assert "No visit yet." in text


def test_a_visit_shows_where_it_is_and_whether_it_is_signed(page, owner, house):
    visit = people.visit_here(people.patient(of=owner), clinician=house.clinician, booked_for="yearly check")
    text = page.get(f"/patients/{visit.patient.pk}/").text
    assert "yearly check" in text
    assert "not signed yet" in text
    assert "Go on with today" in text


def fact(page: Client, made: Patient, name: str, **fields: str):
    form = page.get(f"/patients/{made.pk}/facts/").context["forms"][name]
    sent = {f"{name}-once": str(form["once"].value())} | {f"{name}-{key}": v for key, v in fields.items()}
    return page.post(f"/patients/{made.pk}/{name}/", sent)


def test_facts_are_added_and_ended(page, owner):
    made = people.patient(of=owner)
    assert fact(page, made, "alert", kind="allergy", text="penicillin").status_code == 302
    assert fact(page, made, "condition", code="seizures", since="2025-01-01").status_code == 302
    assert fact(page, made, "chip", microchip="123456789").status_code == 302
    assert fact(page, made, "gone", structure="limb:LH", why="amputated").status_code == 302
    assert LastingFact.objects.get().structure == "limb:LH"
    assert Microchip.objects.get().kind == "legacy"
    page.post(f"/patients/{made.pk}/alert/end/", {"id": Alert.objects.get().pk})
    page.post(f"/patients/{made.pk}/condition/end/", {"id": Condition.objects.get().pk})
    assert Alert.objects.get().until is not None
    assert Condition.objects.get().until is not None


def test_a_fact_sent_twice_stands_once(page, owner):
    made = people.patient(of=owner)
    form = page.get(f"/patients/{made.pk}/facts/").context["forms"]["alert"]
    sent = {"alert-once": str(form["once"].value()), "alert-kind": "alert", "alert-text": "deaf"}
    for _ in range(2):
        assert page.post(f"/patients/{made.pk}/alert/", sent).status_code == 302
    assert Alert.objects.count() == 1


def test_a_refused_fact_keeps_what_was_typed(page, owner):
    made = people.patient(of=owner)
    answer = fact(page, made, "chip", microchip="985 274877906944", place="neck")
    assert answer.status_code == 422
    assert "cannot be above" in answer.text
    assert 'value="neck"' in answer.text


def test_an_alert_of_another_patient_is_not_reached(page, owner, house):
    made = people.patient(of=owner)
    other = Alert.objects.create(
        patient=people.patient("Grit", of=owner), kind="alert", text="deaf", entered_by=house.clinician,
        entered_at=people.NOW,
    )  # fmt: skip
    assert page.post(f"/patients/{made.pk}/alert/end/", {"id": other.pk}).status_code == 404


def test_another_owner_is_found_chosen_and_put_first(page, owner):
    made = people.patient(of=owner)
    second = people.owner("Noor van Wessel", "noor@example.com")
    Owner.objects.filter(pk=second.pk).update(search=" noor van wessel ")
    found = fact(page, made, "owner", q="wesel")
    assert f'name="chosen" value="{second.pk}"' in found.text
    page.post(f"/patients/{made.pk}/owner/", {"chosen": second.pk})
    page.post(f"/patients/{made.pk}/owner/first/", {"id": second.pk})
    assert made.ownerships.get(is_first=True).owner == second
    page.post(f"/patients/{made.pk}/owner/end/", {"id": second.pk})
    assert made.ownerships.get(is_first=True).owner == owner


def test_what_changed_is_told_with_what_it_was_and_by_whom(page, owner):
    made = people.patient("Saltwort", of=owner, species="cat")
    send(page, f"/patients/{made.pk}/edit/", **(USUAL | {"name": "Seablite"}))
    fact(page, made, "alert", kind="alert", text="deaf")
    text = page.get(f"/patients/{made.pk}/changes/").text
    for words in ("Saltwort", "Seablite", "Alert entered: deaf", "Dr Maren Oduya"):
        assert words in text


def queries(page: Client, url: str) -> int:
    page.get(url)
    with CaptureQueriesContext(connection) as seen:
        assert page.get(url).status_code == 200
    return len(seen)


def full(made: Patient, house: people.People, times: int) -> None:
    """So many of everything that hangs on a patient."""
    for number in range(times):
        at = people.NOW - timedelta(days=number)
        visit = Visit.objects.create(patient=made, place="gone-home", place_since=at, made_at=at)
        visit.measurements.create(
            patient=made, kind="weight", typed=Decimal(20 + number), unit="kg", value=Decimal(20 + number),
            measured_at=at, recorded_at=at, observed_by=house.technician, entered_by=house.technician,
        )  # fmt: skip
        made.alerts.create(kind="alert", text="deaf", entered_by=house.clinician, entered_at=at)
        made.problems.create(title="Lump", opened_at=at, opened_by=house.clinician)
        made.diet_entries.create(
            part="meal", food=f"Food {number}", since=people.TODAY, entered_by=house.clinician, entered_at=at
        )


@pytest.mark.parametrize("what", ["", "facts/", "measure/", "changes/"])
def test_twenty_of_everything_cost_as_many_queries_as_two(page, owner, house, what):
    made = people.patient(of=owner)
    full(made, house, 2)
    few = queries(page, f"/patients/{made.pk}/{what}")
    full(made, house, 18)
    assert queries(page, f"/patients/{made.pk}/{what}") == few


def test_a_merged_patient_leads_to_the_one_that_stands(page, owner):
    one, other = people.patient(of=owner), people.patient("Grit", of=owner)
    Patient.objects.filter(pk=one.pk).update(merged_into=other)
    assert page.get(f"/patients/{one.pk}/").headers["Location"] == f"/patients/{other.pk}/"
