"""A next visit becomes an expected visit on its day, once."""

from datetime import time, timedelta

import pytest

from clinic.models import NextVisit, Visit
from clinic.visits import actions
from clinic.visits.errors import HasDied, NeedsWords
from tests import people

pytestmark = pytest.mark.django_db
TOMORROW = people.TODAY + timedelta(days=1)


@pytest.fixture
def desk() -> dict:
    return {"actor": people.people().actor("clinician"), "now": people.NOW}


def plan(desk: dict, **fields) -> NextVisit:
    facts = {
        "patient": people.patient(),
        "record": None,
        "on": TOMORROW,
        "kind": "focused",
        "reason": "left ear",
    }
    return actions.plan_next_visit(**(facts | fields), **desk)


def test_nothing_is_expected_before_its_day(desk: dict) -> None:
    plan(desk)
    assert actions.expect_today(now=people.NOW) == 0


def test_on_its_day_it_is_expected_as_planned(desk: dict) -> None:
    made = plan(desk, at=time(14, 20), minutes=15)
    assert actions.expect_today(now=people.NOW + timedelta(days=1)) == 1
    made.refresh_from_db()
    visit = made.became
    assert (visit.place, visit.kind, visit.booked_for) == ("expected", "focused", "left ear")
    assert (visit.expected_at.hour, visit.expected_at.minute, visit.expected_minutes) == (14, 20, 15)


def test_running_again_makes_no_second_visit(desk: dict) -> None:
    plan(desk)
    for _run in range(3):
        actions.expect_today(now=people.NOW + timedelta(days=1))
    assert Visit.objects.count() == 1


def test_a_day_without_a_worker_is_caught_up(desk: dict) -> None:
    plan(desk)
    assert actions.expect_today(now=people.NOW + timedelta(days=4)) == 1
    assert Visit.objects.get().expected_at.date() == TOMORROW


def test_a_plan_for_the_week_has_no_day(desk: dict) -> None:
    plan(desk, week_of=True)
    assert actions.expect_today(now=people.NOW + timedelta(days=7)) == 0


def test_what_was_taken_back_is_not_expected(desk: dict) -> None:
    made = plan(desk)
    assert actions.cancel_next_visit(next_visit=made, **desk)
    assert not actions.cancel_next_visit(next_visit=made, **desk)
    assert actions.expect_today(now=people.NOW + timedelta(days=1)) == 0


def test_a_past_day_and_an_empty_reason_are_refused(desk: dict) -> None:
    with pytest.raises(NeedsWords, match="past"):
        plan(desk, on=people.TODAY - timedelta(days=1))
    with pytest.raises(NeedsWords, match="what"):
        plan(desk, patient=people.patient("Grit"), reason="  ")


def test_nothing_is_booked_for_the_dead(desk: dict) -> None:
    gone = people.patient(deceased_on=people.TODAY, deceased_how="died")
    with pytest.raises(HasDied):
        plan(desk, patient=gone)
    with pytest.raises(HasDied):
        actions.book(patient=gone, expected_at=people.NOW, booked_for="check", **desk)
