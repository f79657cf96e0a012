"""The feeding page: what it knows, what it refuses and why, what it keeps, and who may send it."""

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from clinic.models import Visit
from nutrition import conditions as condition
from nutrition.models import FoodRow, Plan
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

pytestmark = pytest.mark.django_db


@pytest.fixture
def house():
    return house_with_foods()


@pytest.fixture
def record(house):
    return weighed(house)


def text(answer) -> str:
    return re.sub(r"\s+", " ", answer.content.decode())


def look(house, record, **chosen) -> str:
    return text(visitor(house).get(url(record), chosen))


def test_the_condition_stands_in_words(house, record):
    assert "5 of 9: ribs felt without excess fat" in look(house, record)


def test_without_a_weight_it_says_where_to_weigh(house):
    record = people.visit_here(clinician=house.clinician).record
    page = look(house, record, food=DRY, share="100")
    assert "Weigh it first: without a weight there is no sum." in page
    assert f"/visits/{record.visit_id}/intake/#measured" in page


def test_both_families_stand_side_by_side_and_the_clinics_comes_first(house, record):
    from clinic.models import ClinicDetails

    first = re.compile(r'name="energy" value="([^"]+)" checked')
    assert first.search(look(house, record)).group(1) == "dog.neutered"
    ClinicDetails.objects.update(energy_rule="body-size")
    page = look(house, record)
    assert first.search(page).group(1) == "dog.inactive"
    assert 'value="dog.neutered"' in page


def test_the_sum_is_explained_with_its_source(house, record):
    page = look(house, record)
    assert "70 × 27.4^0.75" in page
    assert "SACN5 Table 5-2" in page


def test_another_rule_of_the_family_can_be_chosen(house, record):
    page = look(house, record, body_size="dog.active", energy="dog.active", food=DRY, share="100")
    assert re.search(r'value="dog.active" selected', page)
    assert re.search(r'name="energy" value="dog.active" checked', page)


def test_a_rule_of_the_other_species_is_not_taken(house, record):
    assert 'value="cat.lean"' not in look(house, record, body_size="cat.lean")


def test_ideal_weights_of_every_method_are_shown(house):
    page = look(house, weighed(house, "40", "7"), aim="lose")
    assert all(kg in page for kg in ("33.3 kg", "30.8 kg", "35.0 kg"))


def lean_once(house, record, kg, days_ago):
    then = people.NOW - timedelta(days=days_ago)
    for kind, value, unit in (("weight", kg, "kg"), ("bcs", "5", "bcs-9")):
        record.visit.patient.measurements.create(
            kind=kind, typed=value, unit=unit, value=value, measured_at=then, recorded_at=then,
            observed_by=house.technician, entered_by=house.technician,
        )  # fmt: skip


def test_a_lean_weight_of_its_grown_life_comes_first_and_a_puppys_is_no_aim(house):
    record = weighed(house, "40", "7")
    lean_once(house, record, "14", 365 * 8 - 60)  # born on 9 January 2018: not grown yet
    assert "It weighed" not in look(house, record, aim="lose")
    lean_once(house, record, "33", 365 * 2)
    page = look(house, record, aim="lose")
    assert re.search(r'ideal-first"><b class="big">33.0 kg</b><span>It weighed', page)


def test_what_it_eats_is_reckoned_by_the_catalogue(house, record):
    eats(record, house)
    page = look(house, record)
    assert "about 651 kcal a day by report" in page
    assert "49 % of what the rules say would keep this weight, as told." in page


@pytest.mark.parametrize(
    ("condition", "chosen", "says"),
    [
        ("insulin_diabetes", {}, "With diabetes on insulin no formula is used"),
        ("kidney_disease", {}, "With kidney disease no formula is used"),
        ("starvation", {}, "After starvation food itself can harm"),
        ("", {"aim": "lose", "target_weight": "25"}, "At 5 of 9 there is nothing to lose."),
        ("", {"aim": "gain"}, "Choose how much energy a day first."),
        ("", {"treats_kcal": "400"}, "Treats of 400 kcal are above a tenth of the day"),
        ("", {"food": "mirrelwick-adult-dry"}, "is not made for dogs. Is that meant?"),
        ("", {"food": "", "share": ""}, "Choose at least one food."),
        ("", {"food": "thornapple-gravy"}, "is a complementary food and would be the only one."),
        ("", {"food": "thornapple-raw-dog"}, "Do small children or frail people live in the house?"),
        ("", {"stage": "growth", "expected_adult": "40"}, "is not made for growth."),
        (
            "",
            {"stage": "growth", "expected_adult": "20"},
            "It weighs more than the adult weight expected of it. Treat it as an adult",
        ),
        ("", {"food": "misprinted", "share": ""}, "The parts of this label make more than 100 %"),
        ("", {"change_days": "2"}, "A change of food takes"),
        ("", {"treats_kcal": "300", "food": "thornapple-gravy"}, "Treats of 300 kcal are above a tenth"),
        ("nursing", {}, "is not made for pregnancy and nursing."),
        ("pregnant", {"week": "12", "weight_before": "20"}, "No published factor for week 12"),
        ("nursing", {"week": "2", "young": "0", "weight_before": "20"}, "How many young does she nurse?"),
        ("pregnant", {}, "is not made for pregnancy and nursing."),
        ("", {"energy": "own", "own_kcal": "200", "reason": "x"}, "200 kcal is below 671"),
        ("", {"energy": "own", "own_kcal": "900"}, "Your own number needs a few words of reason"),
    ],
)
def test_what_stands_against_a_plan_stands_on_the_page_and_nothing_is_kept(
    house, record, condition, chosen, says
):
    body = FoodRow.objects.get(code=DRY).body
    body |= {
        "kcal_per_kg": None,
        "analysis": body["analysis"] | {"moisture_percent": 95},
        "code": "misprinted",
    }
    FoodRow.objects.create(code="misprinted", name="Misprinted", body=body)
    if condition:
        ill(record, condition, house)
    sent = {"food": DRY, "share": "100", "do": "plan"} | chosen
    answer = visitor(house).post(url(record), sent)
    assert (answer.status_code, Plan.objects.count()) == (422, 0)
    assert says in text(answer)
    assert "Not kept." in text(answer)


def test_without_a_weight_nothing_is_kept(house):
    record = people.visit_here(clinician=house.clinician).record
    answer = visitor(house).post(url(record), {"food": DRY, "share": "100", "do": "plan"})
    assert (answer.status_code, Plan.objects.count()) == (422, 0)
    assert "Weigh it first: without a weight there is no sum." in text(answer)


def test_a_mothers_weight_below_nothing_is_refused_beside_its_field(house, record):
    ill(record, "nursing", house)
    sent = {"food": DRY, "share": "100", "weight_before": "-3", "week": "2", "young": "4", "do": "plan"}
    answer = visitor(house).post(url(record), sent)
    assert (answer.status_code, Plan.objects.count()) == (422, 0)
    assert "This number cannot be." in text(answer)


@pytest.mark.parametrize(
    ("kind", "unit", "typed", "says"),
    [
        ("bcs", "bcs-9", "0", "Not kept."),
        ("bcs", "bcs-9", "10", "Not kept."),
        ("weight", "kg", "0", "Not kept."),
        ("weight", "kg", "-4", "Not kept."),
    ],
)
def test_a_weight_or_condition_that_cannot_be_never_reaches_the_page(house, kind, unit, typed, says):
    visit = people.visit_here(clinician=house.clinician)
    sent = {"kind": kind, "typed": typed, "unit": unit, "scale": "floor", "method": "felt"}
    answer = visitor(house).post(f"/visits/{visit.pk}/measure/", sent)
    assert says in text(answer)
    assert not visit.measurements.exists()


@pytest.mark.parametrize("code", condition.NO_FORMULA)
def test_no_formula_and_no_food_with_an_illness_but_keep_feeding_is_a_whole_answer(house, record, code):
    ill(record, code, house)
    client = visitor(house)
    answer = client.post(url(record), {"food": DRY, "share": "100", "do": "plan"})
    page = text(answer)
    assert (answer.status_code, Plan.objects.count()) == (422, 0)
    said = "After starvation" if code == condition.STARVATION else f"With {condition.SAYS[code]} no formula"
    assert said in page
    assert "No published sum fits what is known." in page
    assert "To “keep feeding as now”" in page
    assert client.post(url(record), {"do": "keep", "until": "we call"}).status_code == 302


def heavy(house, record_of="Suki", species="cat", kg="5.9", bcs="8"):
    return weighed(house, kg, bcs, of=people.patient(record_of, species=species))


@pytest.mark.parametrize(
    ("rate", "says"),
    [
        ("1.5", "Cats are asked to lose 1 % at the most"),
        ("2.5", "That would take 2.5 % a week. Above 2 % is refused"),
        ("0", "A rate of loss must be above zero."),
    ],
)
def test_how_fast_a_cat_may_lose_is_asked_and_refused(house, rate, says):
    record = heavy(house)
    chosen = {"aim": "lose", "target_weight": "4.5", "food": "mirrelwick-slim-dry"}
    sent = chosen | {"wanted_percent_a_week": rate, "do": "plan"}
    answer = visitor(house).post(url(record), sent)
    assert (answer.status_code, Plan.objects.count()) == (422, 0)
    assert says in text(answer)


def test_thin_animals_get_questions_and_a_way_to_a_problem(house):
    record = weighed(house, "20", "3")
    answer = visitor(house).post(url(record), {"food": DRY, "share": "", "do": "plan"})
    assert (answer.status_code, Plan.objects.count()) == (422, 0)
    page = text(answer)
    assert "At 3 of 9 it is thin, and no sum is made to fatten it." in page
    assert f'href="/visits/{record.visit_id}/plan/">open a problem' in page
    answered = {"food": DRY, "share": "", "answered": "thin_asked", "do": "plan"}
    assert visitor(house).post(url(record), answered).status_code == 302
    assert (Plan.objects.get().weigh_in_on - timezone.localdate()).days == 14


LOSING = {"aim": "lose", "target_weight": "33", "food": LIGHT, "share": ""}
RAW = {"food": "thornapple-raw-dog", "share": ""}


@pytest.mark.parametrize(
    ("known", "chosen", "says"),
    [
        ("", {"target_weight": "45"}, "A target of 45 kg is not below today&#x27;s 40 kg."),
        ("", {"target_weight": ""}, "A plan for losing weight needs a target weight."),
        ("", {"target_weight": "12"}, "is below the ideal weight by every method"),
        ("", {"food": DRY}, "is not made for losing weight; less of it may lack what is needed."),
        ("", {"stage": "growth", "expected_adult": "60"}, "A growing animal is not put on a plan for losing"),
        ("pregnant", {}, "A pregnant animal is not put on a plan for losing weight."),
        ("nursing", {}, "A nursing animal is not put on a plan for losing weight."),
        ("", {"wanted_percent_a_week": "2.5"}, "That would take 2.5 % a week. Above 2 % is refused"),
        ("small_children", RAW, "is raw and there are small children at home."),
        ("frail_people", RAW, "is raw and there are frail people at home."),
        ("", {"food": "no-energy"}, "states no energy and no analysis to reckon it from"),
        ("eats", {}, "Nobody cuts meanwhile."),
        ("eats", {"energy": "own", "own_kcal": "250", "reason": "x"}, "Do not cut: take a food history"),
    ],
)
def test_what_stands_against_losing_weight_stands_on_the_page(house, known, chosen, says):
    record = weighed(house, "40", "7")
    body = FoodRow.objects.get(code=LIGHT).body | {"kcal_per_kg": None, "analysis": None, "code": "no-energy"}
    FoodRow.objects.create(code="no-energy", name="Nothing on the label", body=body)
    if known in ("pregnant", "nursing"):
        ill(record, known, house)
    elif known == "eats":
        eats(record, house, amount="100")
    elif known:
        record.visit.patient.lifestyle.create(
            code=known, answer="yes", review_on=people.TODAY, answered_at=people.NOW,
            entered_by=house.technician,
        )  # fmt: skip
    answer = visitor(house).post(url(record), LOSING | chosen | {"do": "plan"})
    assert (answer.status_code, Plan.objects.count()) == (422, 0)
    assert says in text(answer)
    if known == "eats":
        assert f'href="/visits/{record.visit_id}/intake/#food">take the food history again' in text(answer)
        assert f'href="/visits/{record.visit_id}/plan/">open a problem' in text(answer)


ASKED = frozenset({"unplanned_loss", "target_below_every_method"})


def earlier_weight(house, record, kg, days_ago):
    record.visit.patient.measurements.create(
        kind="weight", typed=kg, unit="kg", value=kg, measured_at=people.NOW - timedelta(days=days_ago),
        recorded_at=people.NOW, observed_by=house.technician, entered_by=house.technician,
    )  # fmt: skip


def test_a_loss_that_no_plan_wanted_is_asked_about(house, record):
    earlier_weight(house, record, "29.5", 90)
    assert "It weighs 7 % less than on 11 December 2025, and no plan" in look(house, record, food=DRY)


@pytest.mark.parametrize(("kg", "days_ago"), [("28", 90), ("32", 400)])
def test_a_small_loss_or_one_long_ago_is_not_asked_about(house, record, kg, days_ago):
    earlier_weight(house, record, kg, days_ago)
    assert "no plan for losing weight was running" not in look(house, record, food=DRY)


def test_a_loss_that_a_plan_wanted_is_not_asked_about(house):
    pet = people.patient()
    first = people.visit_here(pet, clinician=house.clinician).record
    Visit.objects.update(place="gone-home")
    earlier_weight(house, first, "31", 90)
    record = weighed(house, "28.5", "6", of=pet)
    assert "no plan for losing weight was running" in look(house, record, food=DRY)
    advise(house, first, aim="lose", target_weight_kg=27.0, shares={LIGHT: 100.0}, answered=ASKED)
    Plan.objects.update(at=people.NOW - timedelta(days=89))
    assert "no plan for losing weight was running" not in look(house, record, food=DRY)


def test_the_page_remembers_what_stands_in_no_plan(house):
    record = weighed(house, "22", "5", of=people.patient("Isolde", sex="female", neutered="no"))
    ill(record, condition.NURSING, house)
    chosen = {"week": 3, "young": 6, "weight_before_kg": 20.0, "shares": {"tarrock-young-dry": 100.0}}
    made = advise(house, record, **chosen)
    page = look(house, record)
    assert f"{made.energy_kcal:,.0f} kcal a day" in page
    assert 'name="young" inputmode="decimal" autocomplete="off" value="6"' in page
    assert 'value="20"' in page


@pytest.mark.parametrize(
    ("food", "says"),
    [(DRY, "does not thrive on a dog"), ("hedgerow-plant-dry", "a cat cannot live on plants alone")],
)
def test_a_cat_gets_no_dogs_food_and_no_plants_alone(house, food, says):
    record = weighed(house, "4.1", of=people.patient("Suki", species="cat"))
    answer = visitor(house).post(url(record), {"food": food, "share": "100", "do": "plan"})
    assert (answer.status_code, Plan.objects.count()) == (422, 0)
    assert says in text(answer)


def test_a_refusal_lifted_by_a_reason_needs_the_tick_and_the_words(house, record):
    low = {"food": DRY, "share": "100", "energy": "own", "own_kcal": "600", "do": "plan"}
    client = visitor(house)
    assert client.post(url(record), low | {"answered": "below_floor"}).status_code == 422
    assert client.post(url(record), low | {"reason": "agreed"}).status_code == 422
    assert client.post(url(record), low | {"reason": "agreed", "answered": "below_floor"}).status_code == 302
    assert [row["code"] for row in Plan.objects.get().content["lifted"]] == ["below_floor"]


def test_a_tick_without_words_stays_ticked_and_asks_for_them(house, record):
    page = look(house, record, food=DRY, share="100", energy="own", own_kcal="600", answered="below_floor")
    assert re.search(r'value="below_floor" checked', page)
    assert "Write down why." in page


@pytest.mark.parametrize(
    ("field", "value", "says"),
    [
        ("target_weight", "heavy", "This is not a number."),
        ("own_kcal", "nan", "This is not a number."),
        ("treats_kcal", "-5", "This number cannot be."),
        ("weigh_in_on", "2026-02-30", "This is not a day."),
        ("weigh_in_on", "2020-01-01", "The next weigh-in lies after today."),
        ("share", "nan", "A share is a number of percent."),
        ("share", "40", "The shares make 40 %, not 100."),
    ],
)
def test_what_cannot_be_read_stays_typed_with_the_reason_beside_it(house, record, field, value, says):
    sent = {"food": DRY, "share": "100", "own_words": "By hand.", "do": "plan"} | {field: value}
    answer = visitor(house).post(url(record), sent)
    page = text(answer)
    assert (answer.status_code, Plan.objects.count()) == (422, 0)
    assert says in page
    assert f'value="{value}"' in page
    assert "By hand." in page


def test_the_same_food_in_two_rows_is_one_portion(house, record):
    sent = {"food": [DRY, DRY], "share": ["60", "40"], "do": "plan"}
    visitor(house).post(url(record), sent)
    assert [row["share_percent"] for row in Plan.objects.get().content["portions"]] == [100]


def test_thirds_count_as_a_whole(house, record):
    foods = [DRY, LIGHT, "tarrock-greymuzzle-dry"]
    visitor(house).post(url(record), {"food": foods, "share": ["33.3"] * 3, "do": "plan"})
    shares = [row["share_percent"] for row in Plan.objects.get().content["portions"]]
    assert sum(shares) == pytest.approx(100)


def test_keep_feeding_without_an_end_is_asked_for_it(house, record):
    answer = visitor(house).post(url(record), {"do": "keep", "until": "", "own_words": "Soft food."})
    assert (answer.status_code, Plan.objects.count()) == (422, 0)
    assert "Say until when" in text(answer)
    assert "Soft food." in text(answer)


def test_keep_feeding_needs_nothing_else_to_be_right(house):
    record = people.visit_here(clinician=house.clinician).record
    sent = {"do": "keep", "until": "we call on Friday", "own_kcal": "some"}
    assert visitor(house).post(url(record), sent).status_code == 302
    assert Plan.objects.get().kind == "keep"


def test_a_plan_sent_twice_stands_once(house, record):
    client, sent = visitor(house), {"food": DRY, "share": "", "do": "plan"}
    client.post(url(record), sent)
    before = Plan.objects.values("content", "energy_kcal", "weigh_in_on").get()
    client.post(url(record), sent)
    assert Plan.objects.values("content", "energy_kcal", "weigh_in_on").get() == before


def test_the_page_goes_on_from_the_plan_that_stands(house, record):
    advise(house, record, shares={DRY: 60.0, LIGHT: 40.0}, treats_kcal=50.0)
    page = look(house, record)
    assert 'value="60"' in page
    assert 'value="50"' in page
    assert re.search(rf'value="{LIGHT}" selected', page)
    assert "Put this plan in its place" in page


def test_a_plan_taken_back_is_gone(house, record):
    advise(house, record)
    visitor(house).post(url(record), {"do": "back"})
    assert not Plan.objects.exists()


@pytest.mark.parametrize("who", ["assistant", "technician", "manager"])
def test_only_a_clinician_sees_the_form_and_may_send_it(house, record, who):
    keep(house, record)
    client = visitor(house, who)
    assert "Put this plan" not in text(client.get(url(record)))
    assert "Keep feeding as now" in text(client.get(url(record)))
    assert client.post(url(record), {"do": "back"}).status_code == 403
    assert Plan.objects.exists()


def test_a_signed_record_shows_its_plan_without_a_form(house, record):
    advise(house, record)
    record.signed_at, record.signed_by, record.signed_name = people.NOW, house.clinician, "Dr Maren Oduya"
    record.save()
    page = look(house, record)
    assert "does not change any more" in page
    assert "Put this plan" not in page
    assert "This is an estimate." in page


SIGNED_IN, OWN, FRAME = 2, 8, 4
"""Who sends it; the record, its plan and what is known of the animal; the banner and steps, and the exam."""


def queries(house, record, chosen, **headers) -> int:
    client = visitor(house)
    client.get(url(record), chosen)
    with CaptureQueriesContext(connection) as sql:
        client.get(url(record), chosen, headers=headers)
    return len(sql)


def test_the_number_of_queries_is_small_and_does_not_grow_with_the_rows(house, record):
    chosen = {"food": DRY, "share": "100"}
    eats(record, house)
    recount = {"HX-Request": "true"}
    assert queries(house, record, chosen, **recount) == SIGNED_IN + OWN
    assert queries(house, record, chosen) == SIGNED_IN + OWN + FRAME <= 15
    for number in range(18):
        eats(record, house, food=f"Something {number}")
        people.weigh(record.visit, "27.5", by=house.technician)
        ill(record, f"else_{number}", house)
    assert queries(house, record, chosen) == SIGNED_IN + OWN + FRAME


def test_a_recount_brings_the_form_without_the_frame(house, record):
    answer = visitor(house).get(url(record), {"food": DRY}, headers={"HX-Request": "true"})
    page = text(answer)
    assert answer.headers["Vary"].count("HX-Request") == 1
    assert 'id="reckoned"' in page
    assert 'class="bar' not in page


def test_foods_are_grouped_by_whom_they_suit(house, record):
    page = look(house, record)
    groups = dict(re.findall(r'<optgroup label="([^"]+)">(.*?)</optgroup>', page))
    assert DRY in groups["For this animal as it is"]
    assert "tarrock-young-dry" in groups["For another age or state"]
    assert "mirrelwick-adult-dry" in groups["For another species"]
    losing = look(house, record, aim="lose")
    assert (
        LIGHT
        in dict(re.findall(r'<optgroup label="([^"]+)">(.*?)</optgroup>', losing))["Made for losing weight"]
    )


@pytest.mark.parametrize("name", ["weight_before", "target_weight", "expected_adult"])
def test_a_weight_of_zero_is_refused_beside_its_field_and_not_reckoned_with(house, record, name):
    ill(record, "pregnant", house)
    sent = {"food": DRY, "share": "100", "week": "6", "do": "plan", name: "0"}
    answer = visitor(house).post(url(record), sent)
    assert (answer.status_code, Plan.objects.count()) == (422, 0)
    assert f'id="{name}-wrong">A weight is more than zero.' in text(answer)
    assert re.search(rf'name="{name}"[^>]* value="0"', text(answer))


def test_an_adults_rule_is_refused_while_it_grows_and_the_page_says_so(house):
    record = weighed(house, "40", "7")
    chosen = {"stage": "growth", "aim": "lose", "target_weight": "35", "food": LIGHT, "share": "100"}
    answer = visitor(house).post(url(record), chosen | {"do": "plan"})
    assert (answer.status_code, Plan.objects.count()) == (422, 0)
    assert "This rule is for adults and the animal still grows. Use a rule for growth." in text(answer)
