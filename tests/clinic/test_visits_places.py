"""Where an animal is: each step is taken once, in an order that can be."""

import pytest

from clinic.models import PlaceStep, Visit
from clinic.people.actor import NotAllowed
from clinic.visits import actions
from clinic.visits.errors import MovedMeanwhile, NoSuchWay, TakenMeanwhile
from tests import people

pytestmark = pytest.mark.django_db
HOUSE = {"now": people.NOW}


@pytest.fixture
def house() -> people.People:
    return people.people()


@pytest.fixture
def visit(house: people.People) -> Visit:
    made = people.visit_here()
    Visit.objects.filter(pk=made.pk).update(place="arrived")
    made.refresh_from_db()
    return made


def test_a_move_notes_place_room_and_person(visit: Visit, house: people.People) -> None:
    moved = actions.move(visit=visit, to="with-clinician", room="2", actor=house.actor("clinician"), **HOUSE)
    assert (moved.place, moved.room, moved.clinician) == ("with-clinician", "2", house.clinician)
    assert visit.steps.get().by == house.clinician


def test_a_technician_who_takes_it_stands_as_its_technician(visit: Visit, house: people.People) -> None:
    moved = actions.move(visit=visit, to="with-technician", actor=house.actor("technician"), **HOUSE)
    assert moved.technician == house.technician


def test_the_same_move_from_a_second_tablet_adds_no_step(visit: Visit, house: people.People) -> None:
    stale = Visit.objects.get(pk=visit.pk)
    for seen in (visit, stale):
        actions.move(visit=seen, to="with-technician", actor=house.actor("technician"), **HOUSE)
    assert PlaceStep.objects.filter(visit=visit).count() == 1


def test_a_different_move_from_a_second_tablet_is_refused(visit: Visit, house: people.People) -> None:
    stale = Visit.objects.get(pk=visit.pk)
    actions.move(visit=visit, to="with-clinician", actor=house.actor("clinician"), **HOUSE)
    with pytest.raises(MovedMeanwhile, match="with clinician"):
        actions.move(visit=stale, to="with-technician", actor=house.actor("technician"), **HOUSE)


def test_what_was_seen_on_the_page_decides(visit: Visit, house: people.People) -> None:
    actions.move(visit=visit, to="with-clinician", actor=house.actor("clinician"), **HOUSE)
    with pytest.raises(MovedMeanwhile):
        actions.move(
            visit=visit, to="with-technician", seen="arrived", actor=house.actor("technician"), **HOUSE
        )


@pytest.mark.parametrize("to", ["expected", "did-not-come", "cancelled"])
def test_an_animal_in_the_house_cannot_be_expected(visit: Visit, house: people.People, to: str) -> None:
    with pytest.raises(NoSuchWay):
        actions.move(visit=visit, to=to, actor=house.actor("assistant"), **HOUSE)


def test_nobody_moves_who_went_home(visit: Visit, house: people.People) -> None:
    gone = actions.go_home(visit=visit, actor=house.actor("assistant"), **HOUSE)
    assert gone.gone_at == people.NOW
    with pytest.raises(NoSuchWay):
        actions.move(visit=gone, to="with-clinician", actor=house.actor("clinician"), **HOUSE)


def test_going_home_leaves_the_record_open(visit: Visit, house: people.People) -> None:
    actions.go_home(visit=visit, actor=house.actor("assistant"), **HOUSE)
    visit.record.refresh_from_db()
    assert not visit.record.is_signed


def test_the_outcome_admitted_keeps_it_here(visit: Visit, house: people.People) -> None:
    stays = actions.go_home(visit=visit, outcome="admitted", actor=house.actor("clinician"), **HOUSE)
    assert (stays.place, stays.gone_at) == ("admitted", None)


def test_see_now_needs_no_reason(visit: Visit, house: people.People) -> None:
    marked = actions.mark_see_now(visit=visit, actor=house.actor("assistant"), **HOUSE)
    assert (marked.see_now_by, marked.see_now_why) == (house.assistant, "")


def test_a_second_tap_only_adds_the_missing_reason(visit: Visit, house: people.People) -> None:
    actions.mark_see_now(visit=visit, actor=house.actor("assistant"), **HOUSE)
    again = actions.mark_see_now(visit=visit, why="collapsed", actor=house.actor("technician"), **HOUSE)
    assert (again.see_now_by, again.see_now_why) == (house.assistant, "collapsed")


def test_the_second_clinician_is_told_who_has_it(visit: Visit, house: people.People) -> None:
    actions.mark_see_now(visit=visit, actor=house.actor("assistant"), **HOUSE)
    actions.take_see_now(visit=visit, actor=house.actor("clinician"), **HOUSE)
    with pytest.raises(TakenMeanwhile, match="Maren Oduya"):
        actions.take_see_now(visit=visit, actor=house.actor("colleague"), **HOUSE)


def test_taking_twice_oneself_changes_nothing(visit: Visit, house: people.People) -> None:
    actions.mark_see_now(visit=visit, actor=house.actor("assistant"), **HOUSE)
    for _tap in range(2):
        taken = actions.take_see_now(visit=visit, actor=house.actor("clinician"), **HOUSE)
    assert taken.see_now_taken_by == house.clinician


def test_a_technician_cannot_take_it(visit: Visit, house: people.People) -> None:
    actions.mark_see_now(visit=visit, actor=house.actor("assistant"), **HOUSE)
    with pytest.raises(NotAllowed):
        actions.take_see_now(visit=visit, actor=house.actor("technician"), **HOUSE)


def test_a_mistaken_tap_is_taken_back_until_somebody_has_it(visit: Visit, house: people.People) -> None:
    actions.mark_see_now(visit=visit, actor=house.actor("assistant"), **HOUSE)
    assert actions.withdraw_see_now(visit=visit, actor=house.actor("assistant"), **HOUSE).see_now_at is None
    actions.mark_see_now(visit=visit, actor=house.actor("assistant"), **HOUSE)
    actions.take_see_now(visit=visit, actor=house.actor("clinician"), **HOUSE)
    with pytest.raises(TakenMeanwhile):
        actions.withdraw_see_now(visit=visit, actor=house.actor("assistant"), **HOUSE)
