"""What the letter says of each state, how a change of food stands on page and letter, and the unweaned."""

import re
from datetime import timedelta

import pytest
from django.utils import timezone

from clinic.letters.document import Table
from nutrition import conditions as condition
from nutrition.letter import FeedingInLetter
from nutrition.letter_texts import ENGLISH
from nutrition.models import Plan
from nutrition.versions import composed
from tests import people
from tests.nutrition.clinic_rows import (
    DRY,
    LIGHT,
    advise,
    eats,
    house_with_foods,
    ill,
    keep,
    url,
    visitor,
    weighed,
)  # fmt: skip
from tests.nutrition.test_feeding_plugs import said

pytestmark = pytest.mark.django_db
MILK = "nettlebrook-nursing-milk"


@pytest.fixture
def house():
    return house_with_foods()


def says(code: str, pet: str = "Pomfret") -> str:
    key = f"state.{code}"
    return ENGLISH(key, pet=pet) if key in ENGLISH else composed().sentence(key).says


def young(house, kg: str, days: int, *, today=people.TODAY, **facts):
    born = today - timedelta(days=days)
    pet = people.patient("Crumb", species="cat", birth_date=born, **facts)
    return weighed(house, kg, "5", of=pet)


def look(house, record, **chosen) -> str:
    return re.sub(r"\s+", " ", visitor(house).get(url(record), chosen).content.decode())


def mother(house):
    return weighed(house, "22", "5", of=people.patient("Isolde", sex="female", neutered="no"))


YOUNG_FOOD = {"tarrock-young-dry": 100.0}


def test_a_grown_one(house):
    record = weighed(house)
    advise(house, record)
    assert says("adult") in said(record)


def test_a_losing_one(house):
    record = weighed(house, "40", "7")
    advise(house, record, shares={LIGHT: 100.0}, aim="lose", target_weight_kg=35.0)
    assert says("loss") in said(record)


def test_a_growing_one(house):
    record = young(house, "2", 150, expected_adult_kg=4)
    advise(house, record, shares={"mirrelwick-kitten-dry": 100.0})
    assert says("growth", "Crumb") in said(record)


@pytest.mark.parametrize(
    ("code", "state", "more"),
    [
        (condition.PREGNANT, "gestation", {"week": 7}),
        (condition.NURSING, "lactation", {"week": 3, "young": 5}),
    ],
)
def test_a_mother(house, code, state, more):
    record = mother(house)
    ill(record, code, house)
    advise(house, record, shares=YOUNG_FOOD, weight_before_kg=20.0, **more)
    assert says(state) in said(record)
    assert "free choice" in said(record)


def test_the_clinicians_own_number(house):
    record = weighed(house)
    advise(house, record, energy="own", own_kcal=1000.0, reason="as before")
    assert says("own") in said(record)


def test_as_now_without_an_illness_and_with_one(house):
    record = weighed(house)
    keep(house, record)
    assert "general rule" not in said(record)
    ill(record, condition.INSULIN_DIABETES, house)
    ill(record, condition.KIDNEY_DISEASE, house)
    keep(house, record)
    assert "how much to feed here (diabetes on insulin and kidney disease). Your vet" in said(record)
    assert "Keep feeding as now until we call." in said(record)


def test_milk_stands_first_in_the_first_month_then_beside_the_rest(house):
    now = timezone.localdate()
    record = young(house, "0.35", 20, today=now)
    page = look(house, record, food=MILK, share="")
    assert re.search(r'name="energy" value="growth.unweaned" checked', page)
    assert "70 to 88 by the rule’s own range" in page
    assert "350 g" in page
    older = young(house, "0.7", 45, today=now, expected_adult_kg=4)
    codes = re.findall(r'name="energy" value="([^"]+)"', look(house, older))
    assert codes[0] != "growth.unweaned"
    assert "growth.unweaned" in codes
    unknown = young(house, "0.7", 45, today=now)
    assert "growth.unweaned" not in look(house, unknown)
    weaned = young(house, "1.1", 70, today=now, expected_adult_kg=4)
    assert "growth.unweaned" not in look(house, weaned)


def test_an_unweaned_ones_plan_is_milk_many_meals_and_the_scale_every_day(house):
    record = young(house, "0.35", 20)
    plan = advise(house, record, shares={MILK: 100.0})
    assert plan.energy_kcal == pytest.approx(78.75)
    assert (plan.weigh_in_on - people.TODAY).days == 1
    letter = said(record)
    assert says("unweaned", "Crumb") in letter
    assert "75 g, " in letter
    assert "in 6 meals of 12 to 13 g" in letter
    assert "never cow’s milk" in letter
    assert "Change to a new food" not in letter


def change_tables(record) -> list[Table]:
    part = FeedingInLetter().part(record, language="en", today=people.TODAY)
    return [block for block in part.sections[0].blocks if isinstance(block, Table) and block.head]


def test_a_new_food_comes_over_a_week_on_page_and_letter(house):
    record = weighed(house)
    eats(record, house, food="Kitchen scraps")
    page = look(house, record, food=DRY, share="")
    assert "from 7 on" in page
    grams = round(advise(house, record).content["portions"][0]["grams"] / 4)
    (table,) = change_tables(record)
    assert [cell.text for cell in table.rows[0]] == [
        "1 and 2",
        "three quarters",
        f"a quarter, {grams} g a day",
    ]
    assert "Go back a step and call us" in said(record)
    assert "Change to a new food over" not in said(record)


@pytest.mark.parametrize(
    ("eaten", "chosen"), [("Tarrock adult dry", None), ("", None), ("Kitchen scraps", 0)]
)
def test_no_change_is_drawn_where_there_is_none_or_nobody_knows_from_what(house, eaten, chosen):
    record = weighed(house)
    if eaten:
        eats(record, house, food=eaten)
    advise(house, record, change_days=chosen)
    assert change_tables(record) == []
    assert ("Change to a new food over 3 to 7 days or longer." in said(record)) is (not eaten)


def test_the_days_of_a_change_are_kept_and_come_back(house):
    record = weighed(house)
    sent = {"food": DRY, "share": "", "change_days": "10", "do": "plan"}
    assert visitor(house).post(url(record), sent).status_code == 302
    assert Plan.objects.get().asked["change_days"] == 10
    assert '<option value="10" selected' in look(house, record)
    answer = visitor(house).post(url(record), sent | {"change_days": "2"})
    assert answer.status_code == 422
    assert "A change of food takes 3 days at the least." in answer.content.decode()
