"""The panel for somebody who came in: found by name, owner, telephone or chip; one arrival."""

from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from clinic.models import Arrival, Microchip, Visit
from clinic.visits import actions
from tests import people

pytestmark = pytest.mark.django_db


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def desk(client: Client, house: people.People) -> Client:
    client.force_login(house.assistant)
    return client


@pytest.fixture
def household():
    owner = people.owner("Noor van Wessel", "noor@example.com")
    return owner, people.patient("Saffi", of=owner), people.patient("Dot", of=owner)


def found(desk: Client, query: str) -> str:
    return desk.get(reverse("check-in"), {"q": query}).content.decode()


@pytest.mark.parametrize("query", ["saff", "Dot", "wessel", "5550142", "555 01 42"])
def test_a_household_is_found(desk: Client, household, query: str) -> None:
    text = found(desk, query)
    assert "Noor van Wessel" in text
    assert "Saffi" in text


def test_a_household_is_found_by_a_chip(desk: Client, household, house: people.People) -> None:
    _owner, saffi, _dot = household
    Microchip.objects.create(
        patient=saffi, number="999000000000123", kind="iso", entered_by=house.assistant, entered_at=people.NOW
    )
    assert "Saffi" in found(desk, "999000000000123")


def test_nobody_found_says_so_and_keeps_the_words(desk: Client, household) -> None:
    text = found(desk, "Quillon")
    assert "Nobody found for “Quillon”" in text
    assert 'value="Quillon"' in text


def test_who_is_expected_stands_there_without_searching(
    desk: Client, household, house: people.People
) -> None:
    actions.book(
        patient=household[1], expected_at=timezone.now(), booked_for="yearly check",
        actor=house.actor("assistant"), now=timezone.now(),
    )  # fmt: skip
    assert "yearly check" in found(desk, "")


def send(desk: Client, household, **more):
    owner, saffi, dot = household
    asked = {"once": str(uuid4()), "owner": owner.pk, "patients": [saffi.pk, dot.pk], "q": "wessel"}
    return desk.post(reverse("check-in"), asked | more)


def test_both_arrive_together(desk: Client, household) -> None:
    assert send(desk, household)["Location"] == reverse("today")
    assert Arrival.objects.get().visits.count() == 2


def test_see_now_is_the_other_button(desk: Client, household) -> None:
    send(desk, household, see_now="yes")
    assert Visit.objects.filter(see_now_at__isnull=False).count() == 2


def test_a_double_tap_arrives_once(desk: Client, household) -> None:
    once = str(uuid4())
    for _tap in range(2):
        assert send(desk, household, once=once).status_code == 302
    assert Arrival.objects.count() == 1


def test_nobody_chosen_is_said_and_the_search_kept(desk: Client, household) -> None:
    answer = send(desk, household, patients=[])
    assert answer.status_code == 422
    assert "Choose at least one animal" in answer.content.decode()
    assert "Noor van Wessel" in answer.content.decode()


def test_an_animal_of_another_household_is_not_found(desk: Client, household) -> None:
    stranger = people.patient("Grit")
    assert send(desk, household, patients=[stranger.pk]).status_code == 404


def test_an_animal_that_is_here_cannot_be_chosen(desk: Client, household) -> None:
    send(desk, household)
    assert "Saffi is here already" in found(desk, "wessel")


def test_twenty_households_need_no_more_queries_than_two(
    desk: Client, django_assert_max_num_queries, django_assert_num_queries
) -> None:
    def add(start: int, count: int) -> None:
        for number in range(start, start + count):
            people.patient(f"Wren{number}", of=people.owner(f"Marchetti {number}", f"m{number}@example.com"))

    add(0, 2)
    with django_assert_max_num_queries(20) as two:
        found(desk, "wren")
    add(2, 18)
    with django_assert_num_queries(len(two)):
        found(desk, "wren")
