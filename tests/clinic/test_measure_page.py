"""Measuring on the page: judged in three ways, never a unit swapped in silence, nothing typed is lost."""

from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.test import Client

from clinic.models import Measurement, Visit
from tests import people

pytestmark = pytest.mark.django_db


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def page(client: Client, house: people.People) -> Client:
    client.force_login(house.technician)
    return client


@pytest.fixture
def visit(house: people.People) -> Visit:
    return people.visit_here(clinician=house.clinician)


def keep(page: Client, visit: Visit, htmx: bool = True, **sent: str):
    headers = {"HX-Request": "true"} if htmx else {}
    return page.post(f"/visits/{visit.pk}/measure/", sent, headers=headers)


def judge(page: Client, visit: Visit, **sent: str) -> str:
    return page.get(f"/visits/{visit.pk}/judge/", sent).text


def test_a_usual_value_is_kept_and_said(page, visit):
    answer = keep(page, visit, kind="temperature", typed="38.6", unit="C")
    assert answer.status_code == 200
    assert "Kept: 38.6 °C" in answer.text
    assert Measurement.objects.get().value == Decimal("38.6")


def test_an_impossible_one_is_refused_with_its_reason_and_not_kept(page, visit):
    answer = keep(page, visit, kind="temperature", typed="60", unit="C")
    assert answer.status_code == 422
    assert "#s-danger" in answer.text
    assert "not possible for a dog" in answer.text
    assert not Measurement.objects.exists()


def test_a_fahrenheit_value_is_offered_and_not_swapped_in_silence(page, visit):
    answer = keep(page, visit, kind="temperature", typed="101.8", unit="C")
    assert answer.status_code == 422
    assert 'name="offer" value="F:101.8"' in answer.text
    assert not Measurement.objects.exists()
    keep(page, visit, kind="temperature", typed="101.8", unit="C", offer="F:101.8")
    kept = Measurement.objects.get()
    assert (kept.typed, kept.unit) == (Decimal("101.8"), "F")
    assert kept.value == Decimal("38.777778")


def test_a_rare_one_is_asked_once(page, visit):
    asked = keep(page, visit, kind="heart-rate", typed="230")
    assert "Yes, I looked twice" in asked.text
    assert not Measurement.objects.exists()
    keep(page, visit, kind="heart-rate", typed="230", looked_twice="yes")
    assert Measurement.objects.get().looked_twice


def test_one_outside_is_marked_by_shape_and_word_with_a_ruler(page, visit):
    answer = judge(page, visit, kind="temperature", typed="39.8", unit="C")
    assert "#s-high" in answer
    assert "high" in answer
    assert "span-dot is-look" in answer


def test_judging_keeps_nothing(page, visit):
    judge(page, visit, kind="temperature", typed="39.8", unit="C")
    assert not Measurement.objects.exists()


def test_pounds_for_kilograms_are_noticed_with_the_last_weight_beside(page, visit, house):
    earlier(visit, house, "12.4")
    answer = keep(page, visit, kind="weight", typed="27.3", unit="kg")
    assert "Pounds and kilograms may be swapped" in answer.text
    assert "12.40 kg" in answer.text
    assert 'name="offer" value="lb:27.3"' in answer.text
    keep(page, visit, kind="weight", typed="27.3", unit="kg", offer="lb:27.3")
    assert Measurement.objects.latest("pk").value == Decimal("12.383072")


def earlier(visit: Visit, house: people.People, kg: str, days: int = 90) -> Measurement:
    at = people.NOW - timedelta(days=days)
    return Measurement.objects.create(
        patient=visit.patient, kind="weight", typed=Decimal(kg), unit="kg", value=Decimal(kg), measured_at=at,
        recorded_at=at, observed_by=house.technician, entered_by=house.technician,
    )  # fmt: skip


def test_a_loss_is_asked_about_before_it_is_flagged(page, visit, house):
    earlier(visit, house, "30")
    asked = keep(page, visit, kind="weight", typed="28", unit="kg")
    assert "Was this planned?" in asked.text
    keep(page, visit, kind="weight", typed="28", unit="kg", looked_twice="yes", planned="no")
    kept = Measurement.objects.latest("pk")
    assert (kept.flag, kept.finding_code) == ("low", "VIT-18")


def test_a_planned_loss_is_not_flagged(page, visit, house):
    earlier(visit, house, "30")
    keep(page, visit, kind="weight", typed="28", unit="kg", looked_twice="yes", planned="yes")
    kept = Measurement.objects.latest("pk")
    assert (kept.flag, kept.finding_code, kept.details) == ("", "", {"planned": "yes"})


def test_a_comma_is_a_decimal_point_and_words_are_no_number(page, visit):
    assert keep(page, visit, kind="weight", typed="27,4", unit="kg").status_code == 200
    assert "not a number" in keep(page, visit, kind="weight", typed="heavy", unit="kg").text


def test_a_word_is_kept_as_a_word(page, visit):
    keep(page, visit, kind="mcs", category="mild")
    keep(page, visit, kind="respiratory-rate", typed="60", category="panting")
    assert list(Measurement.objects.order_by("pk").values_list("value", "category")) == [
        (None, "mild"),
        (None, "panting"),
    ]


def test_a_word_that_is_not_the_usual_one_has_no_mark_of_normal(page, visit):
    said = {word: judge(page, visit, kind="pain", category=word) for word in ("none", "mild")}
    assert ["is-normal" in text for text in said.values()] == [True, False]
    kept = [keep(page, visit, kind="pain", category=w, once=str(uuid4())).text for w in ("none", "moderate")]
    assert ["is-look" in text.partition("kept-rows")[0] for text in kept] == [False, True]


def test_a_blood_pressure_needs_to_say_how(page, visit):
    answer = keep(page, visit, kind="blood-pressure", typed="150")
    assert "cuff, site, device, readings" in answer.text
    how = {"cuff": "4", "site": "left foreleg", "device": "Doppler", "readings": "5"}
    keep(page, visit, kind="blood-pressure", typed="150", **how)
    assert Measurement.objects.get().category == "prehypertensive"


def test_a_pulse_above_the_heart_is_refused(page, visit):
    keep(page, visit, kind="heart-rate", typed="100")
    assert "cannot be faster than a heart" in keep(page, visit, kind="pulse-rate", typed="120").text


def test_a_double_tap_keeps_one(page, visit):
    once = "7f0c6c53-3b0f-4f64-9f0b-7d5d0b6d3f11"
    for _ in range(2):
        answer = keep(page, visit, kind="weight", typed="27.4", unit="kg", once=once)
        assert answer.status_code == 200
    assert Measurement.objects.count() == 1


def test_a_refusal_does_not_spend_the_form(page, visit):
    once = "7f0c6c53-3b0f-4f64-9f0b-7d5d0b6d3f11"
    keep(page, visit, kind="temperature", typed="60", unit="C", once=once)
    keep(page, visit, kind="temperature", typed="38.5", unit="C", once=once)
    assert Measurement.objects.get().value == Decimal("38.5")


def test_without_script_the_page_returns_with_what_was_typed(page, visit):
    answer = keep(page, visit, htmx=False, kind="temperature", typed="60", unit="C")
    assert answer.status_code == 422
    assert 'value="60" aria-invalid="true"' in answer.text
    assert "not possible for a dog" in answer.text


def test_without_script_a_kept_value_leads_back_to_the_intake(page, visit):
    answer = keep(page, visit, htmx=False, kind="temperature", typed="38.5", unit="C")
    assert answer.headers["Location"] == f"/visits/{visit.pk}/intake/#measured"


def test_an_alarming_value_offers_see_now(page, visit):
    answer = judge(page, visit, kind="temperature", typed="41.5", unit="C")
    assert f"/visits/{visit.pk}/see-now/" in answer


def test_a_signed_visit_takes_no_more_values(page, visit, house):
    record = visit.record
    record.signed_at, record.signed_by, record.signed_name = people.NOW, house.clinician, "Dr Maren Oduya"
    record.save()
    answer = keep(page, visit, kind="weight", typed="27.4", unit="kg")
    assert "This visit is signed" in answer.text
    assert not Measurement.objects.exists()


def test_a_value_is_kept_without_a_visit(page, visit):
    page.post(f"/patients/{visit.patient.pk}/measure/", {"kind": "weight", "typed": "27.4", "unit": "kg"})
    assert Measurement.objects.get().visit is None


def test_the_intake_shows_what_was_kept_and_the_last_value(page, visit, house):
    earlier(visit, house, "27.8")
    keep(page, visit, kind="weight", typed="27.4", unit="kg")
    seen = page.get(f"/visits/{visit.pk}/intake/").text
    assert "last 27.80 kg" in seen
    assert "27.40 kg" in seen


def test_striking_needs_a_reason_and_keeps_the_value_readable(page, visit, house):
    keep(page, visit, kind="weight", typed="27.4", unit="kg")
    kept = Measurement.objects.get()
    url = f"/patients/{visit.patient.pk}/measurements/{kept.pk}/strike/"
    assert page.post(url, {"reason": " "}).status_code == 422
    assert page.post(url, {"reason": "scale not at zero"}).status_code == 302
    kept.refresh_from_db()
    assert (kept.struck_reason, kept.value) == ("scale not at zero", Decimal("27.4"))
    assert "scale not at zero" in page.get(f"/visits/{visit.pk}/measure/").text


def test_nobody_strikes_a_colleagues_value_without_the_right(page, visit, house):
    people.weigh(visit, "27.4", by=house.clinician)
    kept = Measurement.objects.get()
    answer = page.post(f"/patients/{visit.patient.pk}/measurements/{kept.pk}/strike/", {"reason": "no"})
    assert answer.status_code == 403
