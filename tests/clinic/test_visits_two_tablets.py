"""Two tablets tap at the same moment: the step is taken once."""

import threading
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.db import connections

from clinic.models import Arrival, PlaceStep, Visit
from clinic.visits import actions
from tests import people

pytestmark = pytest.mark.django_db(transaction=True)
TABLETS = 4


@pytest.fixture
def house() -> people.People:
    return people.people()


def at_once(does: Callable[[], object], tablets: int = TABLETS) -> list[str]:
    """Run it on several connections at one moment; what each of them raised, or an empty name."""
    together = threading.Barrier(tablets)
    outcomes: list[str] = []

    def tap() -> None:
        try:
            together.wait(5)
            does()
            outcomes.append("")
        except Exception as error:  # noqa: BLE001 - whatever a rival got is looked at
            outcomes.append(type(error).__name__)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=tap) for _tablet in range(tablets)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(20)
    return sorted(outcomes)


def test_a_move_is_one_step(house: people.People) -> None:
    visit = people.visit_here()
    Visit.objects.update(place="arrived")

    def tap() -> None:
        seen = Visit.objects.get(pk=visit.pk)
        actions.move(
            visit=seen, to="with-technician", seen="arrived", actor=house.actor("technician"), now=people.NOW
        )

    assert at_once(tap) == [""] * TABLETS
    assert PlaceStep.objects.count() == 1


def test_a_booking_is_checked_in_once(house: people.People) -> None:
    desk = {"actor": house.actor("assistant"), "now": people.NOW}
    patient = people.patient()
    actions.book(patient=patient, expected_at=people.NOW, booked_for="check", **desk)
    owner = patient.owners.get()
    outcomes = at_once(lambda: actions.check_in(owner=owner, patients=[patient], **desk))
    assert outcomes.count("") == 1
    assert set(outcomes) <= {"", "AlreadyHere", "MovedMeanwhile"}
    assert (Arrival.objects.count(), Visit.objects.filter(place="arrived").count()) == (1, 1)


def test_one_nobody_foresaw_is_checked_in_once(house: people.People) -> None:
    desk = {"actor": house.actor("assistant"), "now": people.NOW}
    patient = people.patient()
    owner = patient.owners.get()
    outcomes = at_once(lambda: actions.check_in(owner=owner, patients=[patient], **desk))
    assert outcomes == ["", "AlreadyHere", "AlreadyHere", "AlreadyHere"]
    assert Visit.objects.count() == 1


def test_a_plan_becomes_one_visit(house: people.People) -> None:
    plan = actions.plan_next_visit(
        patient=people.patient(), record=None, on=people.TODAY, kind="focused", reason="ear",
        actor=house.actor("clinician"), now=people.NOW,
    )  # fmt: skip
    at_once(lambda: actions.expect_today(now=people.NOW + timedelta(hours=1)))
    plan.refresh_from_db()
    assert Visit.objects.get() == plan.became


def test_one_clinician_has_it(house: people.People) -> None:
    visit = actions.mark_see_now(visit=people.visit_here(), actor=house.actor("assistant"), now=people.NOW)
    who = iter(["clinician", "colleague"])
    actors = [house.actor(next(who)) for _clinician in range(2)]
    chosen = iter(actors)
    outcomes = at_once(
        lambda: actions.take_see_now(visit=visit, actor=next(chosen), now=people.NOW), tablets=2
    )
    assert outcomes == ["", "TakenMeanwhile"]
