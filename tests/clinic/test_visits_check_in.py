"""Somebody comes in: one arrival, an open record for each animal, once."""

from datetime import timedelta
from uuid import uuid4

import pytest

from clinic.models import Arrival, Record, Visit
from clinic.visits import actions
from clinic.visits.errors import AlreadyHere, HasDied, MovedMeanwhile, NobodyCameIn, SentBefore
from tests import people

pytestmark = pytest.mark.django_db


@pytest.fixture
def house() -> people.People:
    return people.people()


@pytest.fixture
def desk(house: people.People) -> dict:
    return {"actor": house.actor("assistant"), "now": people.NOW}


def booked(patient, desk, at=people.NOW) -> Visit:
    return actions.book(patient=patient, expected_at=at, booked_for="yearly check", **desk)


def test_two_animals_of_a_household_share_the_arrival(desk: dict) -> None:
    owner = people.owner()
    two = [people.patient("Saffi", of=owner), people.patient("Dot", of=owner)]
    arrival = actions.check_in(owner=owner, patients=two, **desk)
    assert arrival.visits.count() == 2
    assert Record.objects.filter(visit__arrival=arrival, signed_at=None).count() == 2


def test_a_patient_with_a_booking_arrives_to_it(desk: dict) -> None:
    patient = people.patient()
    visit = booked(patient, desk)
    arrival = actions.check_in(owner=patient.owners.get(), patients=[patient], **desk)
    assert arrival.visits.get() == visit


def test_a_booking_of_another_day_is_left_alone(desk: dict) -> None:
    patient = people.patient()
    later = booked(patient, desk, people.NOW + timedelta(days=3))
    arrival = actions.check_in(owner=patient.owners.get(), patients=[patient], **desk)
    assert arrival.visits.get() != later


def test_a_plan_for_today_becomes_this_visit(desk: dict) -> None:
    patient = people.patient()
    plan = actions.plan_next_visit(
        patient=patient, record=None, on=people.TODAY, kind="focused", reason="ear", **desk
    )
    arrival = actions.check_in(owner=patient.owners.get(), patients=[patient], **desk)
    plan.refresh_from_db()
    assert plan.became == arrival.visits.get()
    assert (plan.became.kind, plan.became.booked_for) == ("focused", "ear")


def test_a_plan_for_any_day_of_this_week_becomes_this_visit(desk: dict) -> None:
    patient = people.patient()
    plan = actions.plan_next_visit(
        patient=patient, record=None, on=people.TODAY + timedelta(days=2), week_of=True, kind="focused",
        reason="weigh-in", **desk,
    )  # fmt: skip
    actions.check_in(owner=patient.owners.get(), patients=[patient], **desk)
    plan.refresh_from_db()
    assert plan.state == "became"


def test_see_now_at_the_door_is_one_tap(desk: dict, house: people.People) -> None:
    patient = people.patient()
    arrival = actions.check_in(owner=patient.owners.get(), patients=[patient], see_now=True, **desk)
    visit = arrival.visits.get()
    assert (visit.see_now_at, visit.see_now_by) == (people.NOW, house.assistant)


def test_a_second_tablet_cannot_check_the_same_animal_in(desk: dict) -> None:
    patient = people.patient()
    owner = patient.owners.get()
    actions.check_in(owner=owner, patients=[patient], **desk)
    with pytest.raises(AlreadyHere, match="Pomfret"):
        actions.check_in(owner=owner, patients=[patient], **desk)
    assert Arrival.objects.count() == 1


def test_a_stale_booking_is_not_checked_in_twice(desk: dict) -> None:
    patient = people.patient()
    visit = booked(patient, desk)
    stale = Visit.objects.get(pk=visit.pk)
    actions.check_in(owner=patient.owners.get(), visits=[visit], **desk)
    with pytest.raises(MovedMeanwhile):
        actions.check_in(owner=patient.owners.get(), visits=[stale], **desk)


def test_when_one_of_two_is_refused_neither_arrives(desk: dict) -> None:
    owner = people.owner()
    here, other = people.patient("Saffi", of=owner), people.patient("Dot", of=owner)
    actions.check_in(owner=owner, patients=[here], **desk)
    with pytest.raises(AlreadyHere):
        actions.check_in(owner=owner, patients=[other, here], **desk)
    assert not Visit.objects.filter(patient=other).exists()


def test_a_form_sent_twice_arrives_once(desk: dict) -> None:
    patient = people.patient()
    once = uuid4()
    actions.check_in(owner=patient.owners.get(), patients=[patient], once=once, **desk)
    with pytest.raises(SentBefore):
        actions.check_in(owner=patient.owners.get(), patients=[patient], once=once, **desk)


def test_somebody_must_have_come(desk: dict) -> None:
    with pytest.raises(NobodyCameIn):
        actions.check_in(owner=people.owner(), **desk)


def test_an_animal_that_died_does_not_come_in(desk: dict) -> None:
    patient = people.patient(deceased_on=people.TODAY, deceased_how="died")
    with pytest.raises(HasDied):
        actions.check_in(owner=patient.owners.get(), patients=[patient], **desk)
