"""The catalogue: everybody reads it, a manager keeps it, plans keep what they said."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from nutrition import actions
from nutrition.foods import food_from, read
from nutrition.models import FoodRow, Plan
from tests import people
from tests.nutrition.clinic_rows import DRY, FOODS, advise, house_with_foods, visitor, weighed

pytestmark = pytest.mark.django_db
NEW = {
    "name": "Fernhollow adult wet",
    "species": ["dog"],
    "life_stages": ["adult"],
    "form": "canned",
    "completeness": "complete",
    "kcal_per_kg": "950",
    "unit": "can",
    "kcal_per_unit": "380",
    "marks": ["weight_control"],
    "note": "",
}


@pytest.fixture
def house():
    return house_with_foods()


def test_a_new_food_can_be_fed(house):
    assert visitor(house, "manager").post("/records/foods/new/", NEW).status_code == 302
    food = food_from(FoodRow.objects.get(code="fernhollow-adult-wet").body)
    assert (food.kcal_per_kg, food.weight_control, food.raw) == (950, True, False)
    record = weighed(house)
    plan = advise(house, record, shares={food.code: 100.0})
    assert plan.content["portions"][0]["unit"] == "can"


def test_a_food_sent_twice_stands_once(house):
    client = visitor(house, "manager")
    client.post("/records/foods/new/", NEW)
    assert client.post("/records/foods/new/", NEW).status_code == 302
    assert FoodRow.objects.filter(code="fernhollow-adult-wet").count() == 1


def test_a_name_that_stands_already_is_refused_beside_the_field(house):
    answer = visitor(house, "manager").post("/records/foods/new/", NEW | {"name": "Tarrock adult dry"})
    assert answer.status_code == 422
    assert "A food of this name stands in the list already." in answer.content.decode()
    assert FoodRow.objects.get(code=DRY).body["kcal_per_kg"] == 3720


def test_a_measure_needs_its_energy_and_nothing_typed_is_lost(house):
    answer = visitor(house, "manager").post("/records/foods/new/", NEW | {"kcal_per_unit": ""})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "A household measure and its kcal go together." in page
    assert "Fernhollow adult wet" in page


def test_a_change_keeps_the_analysis_and_what_plans_said(house):
    record = weighed(house)
    before = advise(house, record).content["portions"][0]["grams"]
    change = NEW | {"name": "Tarrock adult dry", "form": "dry", "unit": "cup", "kcal_per_kg": "3000"}
    assert visitor(house, "manager").post(f"/records/foods/{DRY}/", change).status_code == 302
    body = FoodRow.objects.get(code=DRY).body
    assert (body["kcal_per_kg"], body["analysis"]["protein_percent"]) == (3000, 25)
    assert Plan.objects.get().content["portions"][0]["grams"] == before


def test_a_food_no_longer_offered_leaves_the_choice(house):
    visitor(house, "manager").post(f"/records/foods/{DRY}/out/")
    page = visitor(house).get(f"/visits/{weighed(house).visit_id}/feeding/").content.decode()
    assert "Tarrock adult dry" not in page
    assert "Tarrock light dry" in page


def test_only_a_manager_sees_the_way_to_change(house):
    assert "/records/foods/new/" in visitor(house, "manager").get("/records/foods/").content.decode()
    assert "/records/foods/new/" not in visitor(house).get("/records/foods/").content.decode()
    assert visitor(house).get("/records/foods/new/").status_code == 403


def test_the_records_page_leads_to_the_foods(house):
    assert 'href="/records/foods/"' in visitor(house, "manager").get("/records/").content.decode()


def test_loading_the_catalogue_again_brings_it_up_to_date(house):
    many = FoodRow.objects.count()
    FoodRow.objects.filter(code=DRY).update(name="Old name", retired_at=people.NOW)
    actions.load_foods(actor=house.actor("manager"), now=people.NOW, foods=read(FOODS))
    row = FoodRow.objects.get(code=DRY)
    assert (FoodRow.objects.count(), row.name, row.retired_at) == (many, "Tarrock adult dry", None)


def count(house) -> int:
    client = visitor(house)
    client.get("/records/foods/")
    with CaptureQueriesContext(connection) as sql:
        client.get("/records/foods/")
    return len(sql)


def test_the_number_of_queries_does_not_grow_with_the_foods(house):
    FoodRow.objects.exclude(code__in=[DRY, "tarrock-light-dry"]).delete()
    few = count(house)
    actions.load_foods(actor=house.actor("manager"), now=people.NOW, foods=read(FOODS))
    assert count(house) == few
