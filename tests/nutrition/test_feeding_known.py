"""What a plan stands on: told is not measured, today's weight is not a mother's own, silence is no "no"."""

import pytest

from nutrition.choices import Choices, inputs_of, known, offered
from nutrition.queries import catalogue
from nutrition.versions import composed
from tests import people
from tests.nutrition.clinic_rows import eats, house_with_foods, ill, weighed

pytestmark = pytest.mark.django_db


@pytest.fixture
def house():
    return house_with_foods()


def facts(record):
    return known(record, today=people.TODAY, foods=catalogue())


def codes(record, **chosen) -> list[str]:
    choices, about, factors = Choices(**chosen), facts(record), composed()
    return [each.code for each in offered(inputs_of(about, choices, {}, factors), about, choices, factors)]


@pytest.mark.parametrize(("how", "offered_too"), [("told", False), ("scoop", False), ("weighed", True)])
def test_a_fifth_less_than_now_is_offered_only_where_all_was_weighed(house, how, offered_too):
    record = weighed(house, "40", "7")
    eats(record, house, how=how)
    assert ("loss.intake" in codes(record, aim="lose", target_weight_kg=33.0)) is offered_too


def test_a_mother_is_not_reckoned_from_todays_weight(house):
    record = weighed(house)
    ill(record, "pregnant", house)
    assert codes(record, week=6) == []
    assert codes(record, week=6, weight_before_kg=22.0) == ["gestation.dog.late"]


@pytest.mark.parametrize(
    ("answers", "home"),
    [
        ({}, None),
        ({"small_children": "no"}, None),
        ({"small_children": "no", "frail_people": "not-known"}, None),
        ({"small_children": "no", "frail_people": "no"}, frozenset()),
        ({"small_children": "yes"}, frozenset({"small_children"})),
    ],
)
def test_a_household_half_asked_about_is_asked_again(house, answers, home):
    record = weighed(house)
    for code, answer in answers.items():
        record.visit.patient.lifestyle.create(
            code=code,
            answer=answer,
            review_on=people.TODAY,
            answered_at=people.NOW,
            entered_by=house.technician,
        )
    assert facts(record).household == home


@pytest.mark.parametrize(
    ("entry", "kcal"),
    [
        ({}, 651),
        ({"food": "  tarrock ADULT dry ", "unit": "cups a day", "amount": "2"}, 818),
        ({"unit": "not known"}, None),
        ({"food": "scraps"}, None),
        ({"food": "scraps", "kcal_a_day": "120"}, 120),
    ],
)
def test_what_is_eaten_has_an_energy_only_where_it_is_known(house, entry, kcal):
    record = weighed(house)
    eats(record, house, **entry)
    assert facts(record).eaten_kcal == (None if kcal is None else pytest.approx(kcal))


def test_one_food_of_unknown_energy_leaves_the_day_unknown(house):
    record = weighed(house)
    eats(record, house)
    eats(record, house, food="scraps")
    assert facts(record).eaten_kcal is None


def test_a_weight_struck_out_is_not_used(house):
    record = weighed(house)
    record.visit.patient.measurements.filter(kind="weight").update(
        struck_at=people.NOW, struck_by=house.clinician, struck_reason="wrong animal"
    )
    assert facts(record).weight_kg is None
