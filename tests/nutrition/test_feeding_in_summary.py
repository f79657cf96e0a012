"""What a colleague reads of feeding: the newest advice as it went home."""

import pytest

from clinic.letters.document import said
from nutrition.summary import FeedingInSummary
from tests import people
from tests.nutrition.clinic_rows import advise, house_with_foods, keep, weighed

pytestmark = pytest.mark.django_db


def told(record) -> str:
    blocks = FeedingInSummary().blocks(record.visit.patient, today=people.TODAY)
    return " ".join(sentence.text for block in blocks for sentence in said(block))


def test_without_advice_nothing() -> None:
    house = house_with_foods()
    assert told(weighed(house)) == ""


def test_keep_feeding_says_until_when() -> None:
    house = house_with_foods()
    record = weighed(house)
    keep(house, record)
    assert "What keep feeding as now until we call" in told(record)


def test_a_plan_names_food_energy_and_who_advised_it() -> None:
    house = house_with_foods()
    record = weighed(house)
    plan = advise(house, record)
    words = told(record)
    assert f"{round(plan.energy_kcal)} kcal a day" in words
    assert plan.content["portions"][0]["food_name"] in words
    assert "Dr Maren Oduya" in words
