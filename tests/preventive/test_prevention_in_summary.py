"""What a colleague reads of prevention: doses with antigens, product and lot; preventives of a year."""

from datetime import timedelta

import pytest

from clinic.letters.document import said
from clinic.patients.models import Patient
from preventive.models import Dose, Supply
from preventive.summary import PreventivesInSummary, VaccinesInSummary, _interval
from tests import people
from tests.preventive.room import Room, room

pytestmark = pytest.mark.django_db


def told(part: VaccinesInSummary | PreventivesInSummary, patient: Patient) -> str:
    blocks = part.blocks(patient, today=people.TODAY)
    return " ".join(sentence.text for block in blocks for sentence in said(block))


@pytest.fixture
def here() -> Room:
    return room(weeks=30)


def test_a_dose_comes_with_day_antigens_product_and_lot(here: Room) -> None:
    dose = here.give()
    words = told(VaccinesInSummary(), here.patient)
    assert words.startswith("11 March 2026 Distemper, adenovirus (hepatitis), parvovirus")
    assert f"lot {dose.lot} given here" in words


def test_a_struck_dose_is_none(here: Room) -> None:
    dose = here.give()
    Dose.objects.filter(pk=dose.pk).update(struck_at=people.NOW, struck_by=dose.given_by, struck_reason="x")
    assert told(VaccinesInSummary(), here.patient) == ""


def test_what_the_owner_says_is_said_as_that_and_as_exactly_as_it_is_known(here: Room) -> None:
    Dose.objects.create(
        patient=here.patient, antigens=["Rabies"], given_on=people.TODAY.replace(year=2024, day=1),
        precision="month", source="owner", proof=False, entered_by=here.people.clinician,
        entered_at=people.NOW,
    )  # fmt: skip
    assert told(VaccinesInSummary(), here.patient) == "March 2024 Rabies – owner says, no proof seen"


def test_preventives_of_a_year_with_their_ingredients(here: Room) -> None:
    supply = here.hand_out()
    words = told(PreventivesInSummary(), here.patient)
    assert words.startswith(f"{supply.product_name} {', '.join(supply.ingredients)}")
    Supply.objects.filter(pk=supply.pk).update(struck_at=None)
    old = people.TODAY + timedelta(days=400)
    assert PreventivesInSummary().blocks(here.patient, today=old) == ()


@pytest.mark.parametrize(("code", "words"), [("1 mo", "month"), ("12 wk", "12 weeks"), ("30 d", "30 days")])
def test_an_interval_in_words(code: str, words: str) -> None:
    assert _interval(code) == words
