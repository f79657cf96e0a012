"""Two people take the last vial of a lot, or the last chew of a box, at the same moment: one is told.

Also run with the hold of the lot taken out, to show that it would go wrong.
"""

import threading
from contextlib import suppress

import pytest

from preventive import actions
from preventive.actions import stock
from preventive.errors import LotUsedUp
from preventive.models import Dose, Lot, Supply
from preventive.versions import keep_version, protocol_in_force
from tests import people
from tests.faults.test_exam_taps_race import at_once
from tests.people import NOW
from tests.preventive.room import room

pytestmark = [pytest.mark.faults, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def two():
    """Two puppies with two people, and one vial."""
    made = room()
    other = people.visit_here(
        people.patient("Sorrel", of=made.patient.owners.get(), birth_date=made.patient.birth_date),
        clinician=made.people.colleague,
    )
    # or the second to come would wait for the first one's row of it, and not for the lot
    keep_version(protocol_in_force(), now=NOW)
    actions.count_lot(actor=made.actor(), now=NOW, lot=made.lot("corvane-three"), left=1)
    return made, other


@pytest.fixture
def hold_off(monkeypatch: pytest.MonkeyPatch) -> None:
    """The lot is read without being held."""
    monkeypatch.setattr(stock, "held_lot", lambda lot_id: Lot.objects.get(pk=lot_id))


@pytest.fixture
def both_read_first(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever has the lot waits a while for the other to have it too, as far as the hold lets them."""
    met = threading.Barrier(2)
    held = stock.held_lot

    def waits(lot_id: int) -> Lot:
        lot = held(lot_id)
        with suppress(threading.BrokenBarrierError):  # the other one waits for the lot
            met.wait(0.7)
        return lot

    monkeypatch.setattr(stock, "held_lot", waits)


def give_at_once(two) -> list[Exception | None]:
    made, other = two
    return at_once(
        lambda: made.give(by="clinician"),
        lambda: made.give(by="colleague", patient=other.patient, visit=other),
    )


def test_of_two_who_take_the_last_vial_one_is_told(two, both_read_first) -> None:
    raised = give_at_once(two)
    assert sorted(type(each) for each in raised if each) == [LotUsedUp]
    assert Dose.objects.count() == 1
    assert Lot.objects.get(pk=two[0].lot("corvane-three").pk).on_hand == 0


def test_without_the_hold_one_vial_would_be_given_twice(two, hold_off, both_read_first) -> None:
    assert give_at_once(two) == [None, None]
    assert Dose.objects.count() == 2
    assert Lot.objects.get(pk=two[0].lot("corvane-three").pk).on_hand == 0


@pytest.fixture
def last_chew(two):
    """Two puppies, and one chew in the box."""
    lot = two[0].stock["wormbane-chew-dog"].lots.get(band="over 5 to 10 kg")
    people.weigh(two[1], "8.4", by=two[0].people.clinician)
    return actions.count_lot(actor=two[0].actor(), now=NOW, lot=lot, left=1)


def hand_out_at_once(two, lot) -> list[Exception | None]:
    made, other = two
    return at_once(
        lambda: made.hand_out(lot=lot, by="clinician"),
        lambda: made.hand_out(lot=lot, by="colleague", patient=other.patient, visit=other),
    )


def test_of_two_who_hand_out_the_last_chew_one_is_told(two, last_chew, both_read_first) -> None:
    raised = hand_out_at_once(two, last_chew)
    assert sorted(type(each) for each in raised if each) == [LotUsedUp]
    assert Supply.objects.count() == 1


def test_without_the_hold_one_chew_would_go_home_twice(two, last_chew, hold_off, both_read_first) -> None:
    assert hand_out_at_once(two, last_chew) == [None, None]
    assert Supply.objects.count() == 2
