"""A quick answer without a patient: the same numbers and refusals, and nothing kept."""

import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests.nutrition.clinic_rows import house_with_foods, visitor

pytestmark = pytest.mark.django_db
URL = "/feeding/calculator/"
CAT = {"species": "cat", "weight": "4.5", "unit": "kg", "state": "adult"}


@pytest.fixture
def house():
    return house_with_foods()


def told(house, **asked):
    answer = visitor(house, "assistant").get(URL, CAT | asked)
    return re.sub(r"\s+", " ", answer.content.decode())


def test_it_begins_empty_and_says_what_is_enough(house):
    assert "Species and weight are enough" in visitor(house, "manager").get(URL).content.decode()


def test_the_number_of_the_book(house):
    """A 4.5 kg intact cat: 216 × 1.4 = 302 (SACN5 Box 1-2)."""
    page = told(house, neutered="no")
    assert "303 kcal a day" in page or "302 kcal a day" in page
    assert "SACN5 Table 5-2" in page
    assert "half less or half more" in page


def test_pounds_give_the_same_answer(house):
    energies = re.compile(r'<b class="big">([^<]+)')
    assert energies.findall(told(house)) == energies.findall(told(house, weight="9.920802", unit="lb"))


def test_grams_and_ideal_weights(house):
    page = told(house, weight="5.9", bcs="8", target="4.5", food="mirrelwick-slim-dry")
    assert re.search(r"\d+ g, about .+ of Mirrelwick slim dry", page)
    assert "4.5 kg" in page
    assert "Never let a cat go without food" in page


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({"illness": "insulin_diabetes"}, "With diabetes on insulin no formula is used"),
        ({"illness": "not_eating"}, "No published sum fits what is known."),
        ({"food": "tarrock-adult-dry"}, "is not made for cats"),
        ({"state": "growth", "grown": "4", "weight": "4.5"}, "Treat it as an adult"),
        ({"bcs": "5", "target": "4"}, "At 5 of 9 there is nothing to lose."),
        ({"bcs": "3"}, "At 3 of 9 it is thin"),
    ],
)
def test_the_same_refusals_as_at_a_visit(house, asked, says):
    assert says in told(house, **asked)


def test_a_nursing_queen_by_week_and_litter(house):
    page = told(house, weight="3.5", state="nursing", week="3", young="4")
    assert "Nursing 4, week 3" in page


@pytest.mark.parametrize(
    ("asked", "says"), [({"weight": "heavy"}, "Enter a number"), ({"weight": ""}, "required")]
)
def test_what_cannot_be_read_is_said_beside_the_field(house, asked, says):
    assert says in told(house, **asked)


def test_it_keeps_nothing_and_asks_little(house):
    client = visitor(house)
    client.get(URL, CAT)
    with CaptureQueriesContext(connection) as sql:
        client.get(URL, CAT)
    assert len(sql) <= 8
    assert not [each for each in sql.captured_queries if "INSERT" in each["sql"]]


def test_the_sheet_says_for_which_animal_it_was_reckoned(house):
    page = told(
        house, species="dog", weight="30", bcs="7", neutered="yes", target="26", food="tarrock-light-dry"
    )
    assert "Dog, 30.0 kg (66.1 lb), 7 of 9, neutered, grown, to lose: target 26.0 kg (57.3 lb)" in page
    assert "without a clinician" not in page
    nursing = told(house, weight="3.5", state="nursing", week="3", young="4")
    assert "nursing, week 3, 4 young nursed" in nursing
