"""What the animal eats and how it lives, as told: nothing is lost, nothing is written twice."""

from datetime import date
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse

from clinic.models import DietEntry, LifestyleAnswer, Visit
from clinic.patients.actions import Eaten
from clinic.visits import actions
from clinic.visits.errors import NeedsWords
from clinic.visits.lifestyle import questions_for
from tests import people

pytestmark = pytest.mark.django_db
HTMX = {"HX-Request": "true"}


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def visit(house: people.People) -> Visit:
    return people.visit_here(clinician=house.clinician)


@pytest.fixture
def tech(house: people.People) -> dict:
    return {"actor": house.actor("technician"), "now": people.NOW}


@pytest.fixture
def page(client: Client, house: people.People) -> Client:
    client.force_login(house.technician)
    return client


def post_foods(page: Client, visit: Visit, *rows: tuple[str, str, str, str], headers=None, **more):
    sent = {
        "part": [row[0] for row in rows],
        "food": [row[1] for row in rows],
        "amount": [row[2] for row in rows],
        "unit": [row[3] for row in rows],
        "how": ["told"] * len(rows),
    }
    return page.post(reverse("intake-food", args=[visit.pk]), sent | more, headers=headers or {})


def diet(visit: Visit) -> list[tuple[str, str, str]]:
    stands = DietEntry.objects.filter(patient=visit.patient, until=None).order_by("pk")
    return [(each.part, each.food, f"{each.amount} {each.unit}") for each in stands]


def test_foods_keep_amount_and_unit_as_they_were_said(page: Client, visit: Visit) -> None:
    post_foods(page, visit, ("meal", "Tarrock adult dry", "2,5", "cups a day"), ("treat", "", "", "g a day"))
    assert diet(visit) == [("meal", "Tarrock adult dry", "2.50 cups a day")]


def test_saving_again_writes_nothing_new(page: Client, visit: Visit) -> None:
    for _time in range(2):
        post_foods(page, visit, ("meal", "Tarrock adult dry", "210", "g a day"))
    assert DietEntry.objects.count() == 1


def test_a_changed_amount_ends_the_old_entry(visit: Visit, tech: dict) -> None:
    actions.tell_diet(record=visit.record, foods=[Eaten("meal", "dry", None)], **tech)
    actions.tell_diet(record=visit.record, foods=[Eaten("meal", "dry", None, "g a day")], **tech)
    assert list(DietEntry.objects.order_by("pk").values_list("until", flat=True)) == [people.TODAY, None]


def test_a_food_is_taken_out_by_its_button(page: Client, visit: Visit) -> None:
    rows = [("meal", "dry", "210", "g a day"), ("treat", "chew", "1", "pieces a day")]
    post_foods(page, visit, *rows)
    post_foods(page, visit, *rows, out="treat:chew")
    assert diet(visit) == [("meal", "dry", "210.00 g a day")]


def test_an_amount_that_is_no_number_is_said_and_everything_kept(page: Client, visit: Visit) -> None:
    answer = post_foods(page, visit, ("meal", "dry", "a scoop", "g a day"), ("treat", "chew", "1", "g a day"))
    text = answer.content.decode()
    assert answer.status_code == 422
    assert "“a scoop” is not a number" in text
    assert 'value="a scoop"' in text
    assert 'value="chew"' in text
    assert diet(visit) == []


def test_while_typing_no_field_is_swapped(page: Client, visit: Visit) -> None:
    answer = post_foods(page, visit, ("meal", "dry", "210", "g a day"), headers=HTMX)
    assert "<input" not in answer.content.decode()


@pytest.mark.parametrize("headers", [{}, HTMX])
def test_more_rows_are_given_and_nothing_is_lost(page: Client, visit: Visit, headers: dict) -> None:
    answer = post_foods(page, visit, ("meal", "dry", "210", "g a day"), headers=headers, more="yes")
    if answer.status_code == 302:
        answer = page.get(answer["Location"])
    text = answer.content.decode()
    assert text.count('name="food"') == 1 + 3 * 4
    assert 'value="dry"' in text


def test_a_negative_amount_cannot_be(visit: Visit, tech: dict) -> None:
    with pytest.raises(NeedsWords):
        actions.tell_diet(record=visit.record, foods=[Eaten("meal", "dry", -1)], **tech)


def test_frail_people_at_home_are_asked_about(page: Client, visit: Visit) -> None:
    text = page.get(reverse("visit-intake", args=[visit.pk])).content.decode()
    assert "A child under five at home?" in text
    assert "weak immune system" in text


def test_an_answer_is_asked_again_in_a_year(visit: Visit, tech: dict) -> None:
    actions.tell_lifestyle(record=visit.record, answers=[("small_children", "yes")], **tech)
    answer = LifestyleAnswer.objects.get()
    assert (answer.answer, answer.review_on) == ("yes", date(2027, 3, 11))


def test_an_answered_question_is_not_due(page: Client, visit: Visit) -> None:
    page.post(reverse("intake-home", args=[visit.pk]), {"life-small_children": "no"})
    assert (
        "Not due yet: 1 answered before"
        in page.get(reverse("visit-intake", args=[visit.pk])).content.decode()
    )


def test_all_that_is_asked_of_its_kind_is_answered_in_one_screen(page: Client, visit: Visit) -> None:
    """AAHA 2022: what an animal meets is reviewed at least once a year; one form, one sending."""
    asked = questions_for(visit.patient.species)
    text = page.get(reverse("visit-intake", args=[visit.pk])).content.decode()
    form = text.split('id="home"')[1].split("</form>")[0]
    assert all(f'name="life-{each.code}"' in form for each in asked)
    page.post(reverse("intake-home", args=[visit.pk]), {f"life-{each.code}": "no" for each in asked})
    answers = LifestyleAnswer.objects.all()
    assert {each.code for each in answers} == {each.code for each in asked}
    assert {each.review_on for each in answers} == {answers[0].review_on}


def test_only_the_tapped_answer_is_saved(page: Client, visit: Visit) -> None:
    sent = {"only": "boarding", "life-boarding": "yes", "life-raw_meat": "yes", "once": uuid4()}
    page.post(reverse("intake-home", args=[visit.pk]), sent, headers=HTMX)
    assert LifestyleAnswer.objects.get().code == "boarding"


@pytest.mark.parametrize("answers", [[("hobby", "yes")], [("boarding", "often")]])
def test_questions_and_answers_are_closed_lists(visit: Visit, tech: dict, answers: list) -> None:
    with pytest.raises(NeedsWords):
        actions.tell_lifestyle(record=visit.record, answers=answers, **tech)
