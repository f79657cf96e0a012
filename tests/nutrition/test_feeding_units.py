"""Kilograms or pounds, grams or ounces: the clinic's, else the person's; what was typed stays as typed."""

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.test import Client

from clinic.letters.composition import compose
from clinic.letters.document import sentences
from clinic.models import ClinicDetails
from clinic.patients.units import Units, both_temperatures
from clinic.platform.measures import units_of
from exams.readings import as_read
from exams.sentences import value_words
from exams.state import LineAnswer
from nutrition.models import Plan
from tests import people
from tests.nutrition.clinic_rows import DRY, LIGHT, eats, house_with_foods, ill, url, visitor, weighed
from tests.nutrition.test_feeding_plugs import said
from tests.nutrition.test_weigh_ins import on_programme, page_of

pytestmark = pytest.mark.django_db
LOSING = {"aim": "lose", "target_weight": "73.4", "food": LIGHT, "share": ""}


@pytest.fixture
def house():
    return house_with_foods()


def look(client: Client, record, **chosen) -> str:
    return re.sub(r"\s+", " ", client.get(url(record), chosen).content.decode())


def in_pounds(client: Client) -> None:
    assert client.post("/me/units/", {"weight": "lb", "temperature": "F", "food": "oz"}).status_code == 302


def test_a_person_reads_the_clinics_units_until_they_choose_their_own(house):
    actor = house.actor("clinician")
    assert units_of(actor) == Units("kg", "C", "g")
    ClinicDetails.objects.update(weight_unit="lb", temperature_unit="F", food_unit="oz")
    assert units_of(actor) == Units("lb", "F", "oz")
    client = visitor(house)
    client.post("/me/units/", {"weight": "kg", "temperature": "", "food": "g"})
    house.clinician.refresh_from_db()
    assert units_of(house.actor("clinician")) == Units("kg", "F", "g")
    assert 'value="kg" selected' in client.get("/me/units/").content.decode()
    assert "as the clinic: degrees Fahrenheit" in client.get("/me/units/").content.decode()


def test_what_is_no_unit_is_refused_and_nothing_changes(house):
    client = visitor(house)
    assert client.post("/me/units/", {"weight": "stone"}).status_code == 422
    house.clinician.refresh_from_db()
    assert house.clinician.weight_unit == ""


def test_temperature_is_offered_in_ones_own_unit(house):
    record = people.visit_here(clinician=house.clinician).record
    client, page = visitor(house), f"/visits/{record.visit_id}/intake/"
    fahrenheit = re.compile(r'value="F"[^>]*(?:checked|selected)')
    assert not fahrenheit.search(client.get(page).content.decode())
    in_pounds(client)
    assert fahrenheit.search(client.get(page).content.decode())


def test_the_page_speaks_in_pounds_and_ounces_to_who_chose_them(house):
    record, client = weighed(house, "40", "7"), visitor(house)
    in_pounds(client)
    page = look(client, record, **LOSING, weight_in="lb")
    assert "88.2 lb, today" in page
    assert "73.5 lb" in page
    assert 'data-target="73.5"' in page
    assert "(lb)" in page
    assert re.search(r"\d\.\d oz \(\d+ g\) a day, about", page)
    assert "27.4 kg" not in page


def test_pounds_typed_are_kept_as_typed_and_come_back_as_typed(house):
    record, client = weighed(house, "40", "7"), visitor(house)
    in_pounds(client)
    assert client.post(url(record), LOSING | {"weight_in": "lb", "do": "plan"}).status_code == 302
    plan = Plan.objects.get()
    assert plan.target_weight_kg == pytest.approx(33.2937, abs=0.0001)
    assert plan.asked["as_typed"] == {"target_weight": "73.4 lb"}
    assert 'value="73.4"' in look(client, record)
    # whoever reads in kilograms goes on from what was typed, in the unit it was typed in
    other = visitor(house, "colleague")
    page = look(other, record)
    assert 'name="weight_in" value="lb"' in page
    assert 'value="73.4"' in page


def test_a_unit_does_not_change_an_answer(house):
    record, client = weighed(house, "40", "7"), visitor(house)
    pounds = look(client, record, **LOSING, weight_in="lb")
    kilograms = look(client, record, **LOSING | {"target_weight": "33.293679958"}, weight_in="kg")
    energy = re.compile(r"<dt>Energy</dt><dd>([\d,]+) kcal")
    assert energy.search(pounds).group(1) == energy.search(kilograms).group(1)


def test_a_plan_without_typed_weights_goes_on_in_kilograms(house):
    record, client = weighed(house, "40", "7"), visitor(house)
    client.post(url(record), LOSING | {"target_weight": "33.3", "do": "plan"})
    Plan.objects.update(asked={})
    in_pounds(client)
    page = look(client, record)
    assert 'name="weight_in" value="kg"' in page
    assert 'value="33.3"' in page


def test_the_letter_goes_by_the_clinics_units(house):
    record, client = weighed(house, "40", "7"), visitor(house)
    client.post(url(record), LOSING | {"target_weight": "33.3", "do": "plan"})
    assert "33.3 kg (73.4 lb). That is 6.7 kg to lose" in said(record)
    ClinicDetails.objects.update(weight_unit="lb", food_unit="oz")
    assert "73.4 lb (33.3 kg). That is 14.8 lb to lose" in said(record)
    assert re.search(r"\d\.\d oz \(\d+ g\), about", said(record))


def test_the_weigh_ins_and_their_chart_in_pounds(house):
    patient = on_programme(house, "40", "39.0", "38.1", "37.0", "36.1")
    assert "40 kg on" in page_of(house, patient)
    in_pounds(visitor(house, "technician"))
    page = page_of(house, patient)
    assert "88.2 lb on" in page
    assert '<td class="num">79.6</td>' in page
    assert "target 74.1" in page
    assert "40 kg" not in page


def test_ounces_told_at_intake_have_their_energy(house):
    record = weighed(house)
    eats(record, house, amount="6", unit="oz a day")
    assert "about 633 kcal a day by report" in look(visitor(house), record)


def test_an_unknown_unit_in_the_form_is_the_persons_own(house):
    record = weighed(house, "40", "7")
    assert 'name="weight_in" value="kg"' in look(visitor(house), record, weight_in="stone")


def test_a_mothers_weight_before_is_typed_in_pounds_too(house):
    record = weighed(house, "22", "5", of=people.patient("Isolde", sex="female", neutered="no"))
    ill(record, "pregnant", house)
    page = look(visitor(house), record, weight_in="lb", weight_before="44.1", week="7", food=DRY)
    assert "× 20^0.75" in page


def warm(record, house, celsius: str) -> None:
    record.visit.patient.measurements.create(
        visit=record.visit, kind="temperature", typed=celsius, unit="C", value=celsius,
        measured_at=people.NOW, recorded_at=people.NOW,
        observed_by=house.technician, entered_by=house.technician,
    )  # fmt: skip


def test_the_banner_and_what_was_measured_are_in_the_readers_units(house):
    record, client = weighed(house), visitor(house)
    warm(record, house, "38.8")
    pages = (url(record), f"/visits/{record.visit_id}/intake/", f"/patients/{record.visit.patient_id}/")
    metric = [client.get(each).content.decode() for each in pages]
    assert all("27.4 kg" in page for page in metric)
    assert "38.8 °C" in metric[1]
    in_pounds(client)
    feeding, intake, patient = (client.get(each).content.decode() for each in pages)
    assert "60.4 lb" in feeding
    assert "27.4 kg" not in feeding
    assert "60.4 lb (27.40 kg)" in intake
    assert "101.8 °F" in intake
    assert "38.8 °C" not in intake
    assert "60.4 lb (27.4 kg)" in patient
    row = record.visit.measurements.get(kind="temperature")
    assert (row.typed, row.unit) == (Decimal("38.8"), "C")


def test_the_exam_says_values_in_the_readers_units():
    say = as_read(Units("lb", "F", "oz"))
    warm_line, heart = (
        LineAnswer("measured", value=v, unit=u) for v, u in (("38.8", "C"), ("96", "per-min"))
    )
    assert value_words(warm_line, say) == "101.8 °F"
    assert value_words(warm_line, as_read(Units())) == "38.8 °C"
    assert value_words(heart, say) == "96 a minute"
    assert both_temperatures(Decimal("38.8"), "F") == "101.8 °F (38.8 °C)"


def test_the_letters_weight_and_temperature_go_by_the_clinics_units(house):
    record = weighed(house)
    warm(record, house, "38.8")
    earlier = record.visit.patient.measurements.get(kind="weight")
    earlier.pk, earlier.visit, earlier.value = None, None, "30"
    earlier.measured_at -= timedelta(days=60)
    earlier.save()

    def letter() -> str:
        return " ".join(each.text for each in sentences(compose(record, today=people.TODAY)))

    metric = letter()
    assert "27.4 kg (60.4 lb)" in metric
    assert "2.6 kg less than in" in metric
    ClinicDetails.objects.update(weight_unit="lb", temperature_unit="F")
    pounds = letter()
    assert "60.4 lb (27.4 kg)" in pounds
    assert "5.7 lb less than in" in pounds
    assert "27.4 kg (" not in pounds
