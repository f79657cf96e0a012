"""Who reads pounds and degrees Fahrenheit reads them first; on printed paper the clinic's come first."""

from decimal import Decimal

import pytest
from django.test import Client

from clinic.care.directions import Directions
from clinic.care.in_use import amount_words
from clinic.letters.document import said
from clinic.models import ClinicDetails, Patient
from clinic.patients.facts import newest_weight
from clinic.summaries.composition import compose
from clinic.summaries.facts import Asked
from clinic.summaries.gathering import gather
from tests import death, people

pytestmark = pytest.mark.django_db
CHEW = Directions(
    "Oakwhistle chews 50", ("carprofen",), "50 mg in a chew", "half a chew", "by mouth", "once a day", "", ""
)


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def client(client: Client, house: people.People) -> Client:
    client.force_login(house.clinician)
    return client


def reads(house: people.People, weight: str, temperature: str) -> None:
    house.clinician.weight_unit, house.clinician.temperature_unit = weight, temperature
    house.clinician.save(update_fields=["weight_unit", "temperature_unit"])


def in_the_verdict(client: Client, house: people.People) -> str:
    page = f"/patients/{people.patient().pk}/judge/"
    weight = client.get(page, {"kind": "weight", "typed": "27.4", "unit": "kg"}).text
    return weight + client.get(page, {"kind": "temperature", "typed": "39.8", "unit": "C"}).text


def on_the_wrong_patients_page(client: Client, house: people.People) -> str:
    here, other = people.visit_here(), people.visit_here(people.patient("Suki"))
    people.weigh(here, "27.4", by=house.technician)
    return client.get(f"/visits/{here.pk}/wrong-patient/", {"to": other.pk}).text


def at_a_death(client: Client, house: people.People) -> str:
    pomfret = people.patient()
    people.weigh(people.visit_here(pomfret), "27.4", by=house.technician)
    death.die(pomfret, actor=house.actor("clinician"))
    return client.get(f"/patients/{pomfret.pk}/death/").text


def in_the_patient_form(client: Client, house: people.People) -> str:
    pomfret = people.patient(expected_adult_kg=Decimal("27.4"))
    return client.get(f"/patients/{pomfret.pk}/edit/").text


PAGES = {
    in_the_verdict: (
        ("27.40 kg (60.4 lb)", "39.8 °C, 103.6 °F: high (37.7–39.5 °C)"),
        ("60.4 lb (27.40 kg)", "103.6 °F, 39.8 °C: high (99.9–103.1 °F)"),
    ),
    on_the_wrong_patients_page: (
        ("27.4 kg (60.4 lb), 11 Mar 2026", "27.40 kg (60.4 lb)"),
        ("60.4 lb (27.4 kg), 11 Mar 2026", "60.4 lb (27.40 kg)"),
    ),
    at_a_death: (("27.4 kg (60.4 lb)",), ("60.4 lb (27.4 kg)",)),
    in_the_patient_form: (
        ("Expected grown weight, kg", 'value="27.40"'),
        ("Expected grown weight, lb", 'value="60.4"'),
    ),
}


@pytest.mark.parametrize("page", PAGES)
def test_a_page_names_its_readers_unit_first(client, house, page) -> None:
    metric, imperial = PAGES[page]
    reads(house, "lb", "F")
    text = page(client, house)
    assert [words for words in imperial if words not in text] == []
    assert [words for words in metric if words in text] == []


@pytest.mark.parametrize(
    ("typed", "unit", "says"),
    [("70", "C", "limits: 25 °C to 44 °C"), ("140", "F", "limits: 77 °F to 111.2 °F")],
)
def test_what_cannot_be_is_said_in_the_unit_that_was_typed(client, typed, unit, says) -> None:
    page = f"/patients/{people.patient().pk}/judge/"
    assert says in client.get(page, {"kind": "temperature", "typed": typed, "unit": unit}).text


def test_a_grown_weight_in_pounds_is_kept_in_kilograms_and_not_rounded_anew(client, house) -> None:
    pomfret = people.patient(expected_adult_kg=Decimal("55.00"))
    reads(house, "lb", "")
    page = f"/patients/{pomfret.pk}/edit/"
    form = client.get(page).context["form"]
    sent = {field.html_name: field.value() for field in form if field.value() is not None}
    assert (sent["expected_in"], str(sent["expected_adult_kg"])) == ("lb", "121.3")
    for typed, kept in (("121.3", "55.00"), ("100", "45.36"), ("", None)):
        assert client.post(page, sent | {"expected_adult_kg": typed}).status_code == 302
        now = Patient.objects.get().expected_adult_kg
        assert (None if now is None else str(now)) == kept
    # who changed to kilograms meanwhile sends what the page said
    reads(house, "kg", "")
    client.post(page, sent | {"expected_adult_kg": "100"})
    assert str(Patient.objects.get().expected_adult_kg) == "45.36"


def test_a_dose_is_reckoned_from_the_weight_as_it_is_read(house) -> None:
    visit = people.visit_here()
    people.weigh(visit, "12.5", by=house.technician)
    weight = newest_weight(visit.patient)
    assert "2 mg/kg by 12.5 kg of" in amount_words(CHEW, weight)
    assert "2 mg/kg by 27.6 lb of" in amount_words(CHEW, weight, "lb")


def test_a_printed_summary_names_the_clinics_unit_first(house) -> None:
    visit = people.visit_here()
    people.weigh(visit, "12.5", by=house.technician)
    ClinicDetails.objects.update(weight_unit="lb")
    asked = Asked("referral", "Dr Ines Tarn", "Please look.", "Agreed.")
    made = compose(gather(visit.patient, asked=asked, signer="Dr Maren Oduya", today=people.TODAY))
    weights = [each.text for part in made.parts if part.name == "weight" for each in said(part)]
    assert any("27.6 lb (12.5 kg)" in each for each in weights)
