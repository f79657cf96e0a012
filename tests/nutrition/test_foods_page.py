"""The catalogue: everybody reads it, a manager keeps it, plans keep what they said."""

import pytest
from django.db import IntegrityError, connection
from django.test.utils import CaptureQueriesContext

from nutrition import actions
from nutrition.foods import food_from, read
from nutrition.models import FoodRow, FoodVersion, Plan
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
    FoodRow.objects.exclude(code__in=[DRY, "tarrock-light-dry"]).update(retired_at=people.NOW)
    few = count(house)
    actions.load_foods(actor=house.actor("manager"), now=people.NOW, foods=read(FOODS))
    assert count(house) == few


LABEL = {
    "protein_percent": "8.5", "fat_percent": "5", "fibre_percent": "1", "moisture_percent": "80",
    "ash_percent": "",
}  # fmt: skip


def kept(house, **changes):
    answer = visitor(house, "manager").post("/records/foods/new/", NEW | LABEL | changes)
    return answer, answer.content.decode()


def test_a_label_without_energy_is_reckoned_from_its_analysis(house):
    answer, _ = kept(house, kcal_per_kg="", unit="", kcal_per_unit="")
    assert answer.status_code == 302
    plan = advise(house, weighed(house), shares={"fernhollow-adult-wet": 100.0})
    portion = plan.content["portions"][0]
    # ash of 2 % assumed: NFE 3.5; 10 × (3.5 × 8.5 + 8.5 × 5 + 3.5 × 3.5) = 845
    assert portion["grams"] == pytest.approx(portion["energy_kcal"] / 845 * 1000)
    assert "assumed" in portion["line"]["note"]


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"moisture_percent": "90"}, "The parts of this label make more than 100 %"),
        ({"fat_percent": "120"}, "100"),
        ({"fibre_percent": ""}, "Protein, fat, fibre and moisture go together."),
        (dict.fromkeys(LABEL, "") | {"kcal_per_kg": ""}, "Give the energy on the label, or the analysis"),
    ],
)
def test_a_label_that_cannot_be_is_refused_with_the_reason_and_stays_typed(house, changes, says):
    answer, page = kept(house, **changes)
    assert answer.status_code == 422
    assert says in page
    assert "Fernhollow adult wet" in page
    assert not FoodRow.objects.filter(code="fernhollow-adult-wet").exists()


def test_each_changed_label_is_a_version_with_its_day_and_the_same_one_is_none(house):
    manager = visitor(house, "manager")
    kept(house)
    change = NEW | LABEL | {"kcal_per_kg": "990"}
    for _ in range(2):
        manager.post("/records/foods/fernhollow-adult-wet/", change)
    page = manager.get("/records/foods/fernhollow-adult-wet/").content.decode()
    versions = FoodVersion.objects.filter(food__code="fernhollow-adult-wet")
    assert [row.body["kcal_per_kg"] for row in versions] == [990, 950]
    assert "Version 2</b>, 990 kcal/kg" in page
    assert "Ottoline Pryce" in page


def test_versions_are_only_added(house):
    with pytest.raises(IntegrityError, match="only added"):
        FoodVersion.objects.update(number=7)


def side_by_side(house, *codes):
    return visitor(house, "technician").get("/records/foods/compare/", {"food": codes}).content.decode()


def test_foods_stand_side_by_side_by_label_and_by_both_sums(house):
    page = side_by_side(house, DRY, "tarrock-light-wet")
    # Tarrock adult dry: 3.5 × 25 + 8.5 × 15 + 3.5 × 41.5, times 10; protein 25 / 0.91 and 25 × 10,000 / 3,720
    for cell in ("3,720", "3,602", "-3 %", "27.5 %", "67 g", "820"):
        assert f">{cell}<" in page
    assert "(dog)" in page


def test_an_assumed_ash_says_so_and_one_food_alone_asks_for_more(house):
    kept(house)
    assert "assumed" in side_by_side(house, "fernhollow-adult-wet", DRY)
    assert "Tick two to four foods" in side_by_side(house, DRY)


def test_a_refused_label_is_said_beside_the_others(house):
    row = FoodRow.objects.get(code=DRY)
    row.body = row.body | {"kcal_per_kg": None, "analysis": row.body["analysis"] | {"moisture_percent": 70}}
    row.save()
    page = side_by_side(house, DRY, "tarrock-light-dry")
    assert "The parts of this label make more than 100 %" in page
