"""Two people put things right at the same moment, on the same or in opposite ways: nothing doubled or lost.

Each race is also run with the hold of the records taken out, to show that it would go wrong.
"""

from __future__ import annotations

import threading
from contextlib import suppress

import pytest

from clinic.models import HeadsUp, PutRight, Record
from clinic.people.actor import Actor
from clinic.platform.registries import wrong_patient_parts
from clinic.visits.actions import put_right
from clinic.visits.actions.put_right import put_on_right_patient
from clinic.visits.errors import ShownOtherwise
from exams.models import Finding
from tests import people
from tests.exams.house import Tablet, exam_here, state_of
from tests.faults.test_exam_taps_race import at_once

pytestmark = [pytest.mark.faults, pytest.mark.django_db(transaction=True)]
EAR, EYE = "EAR.canal|left", "EYE.lens|left"
RED = {"findings": [{"code": "EAR-02", "severity": "mild"}]}
ORDERS = pytest.mark.parametrize("first", [0, 1], ids=["older-first", "newer-first"])


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def pair(house) -> tuple[Tablet, Tablet]:
    """Two open exams: ears found red on one, lens looked at on the other, by the two who put it right."""
    one = exam_here(house.actor("clinician"))
    owner = one.exam.record.visit.patient.owners.get()
    other_visit = people.visit_here(people.patient("Sorrel", of=owner), clinician=house.colleague)
    other = exam_here(house.actor("colleague"), other_visit)
    assert one.tap(EAR, "set_abnormal", RED)["result"] == "accepted"
    assert other.tap(EYE, "set_normal")["result"] == "accepted"
    return one, other


@pytest.fixture
def hold_off(monkeypatch: pytest.MonkeyPatch) -> None:
    """The records are read without being held."""

    def unheld(record: Record, to: Record) -> tuple[Record, Record]:
        found = Record.objects.select_related("visit__patient").in_bulk([record.pk, to.pk])
        return found[record.pk], found[to.pk]

    monkeypatch.setattr(put_right, "_held", unheld)


@pytest.fixture
def both_read_first(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever has the records waits a while for the other to have them too, as far as the hold lets it."""
    met = threading.Barrier(2)
    held = put_right._held

    def waits(record: Record, to: Record) -> tuple[Record, Record]:
        told = held(record, to)
        with suppress(threading.BrokenBarrierError):  # the other one waits for the records
            met.wait(0.7)
        return told

    monkeypatch.setattr(put_right, "_held", waits)


def look_together(monkeypatch: pytest.MonkeyPatch) -> None:
    """From here on both look at the heads-ups before either moves one, as far as the hold lets them."""
    met = threading.Barrier(2)
    part = next(each for each in wrong_patient_parts if each.name == "heads-ups")
    look = part.rows

    def waits(*args: object, **more: object):
        told = look(*args, **more)
        with suppress(threading.BrokenBarrierError):
            met.wait(0.7)
        return told

    monkeypatch.setattr(part, "rows", waits)


def tokens(record: Record, to: Record, actor: Actor, begins: str) -> list[str]:
    return [
        row.token
        for part in wrong_patient_parts
        for row in part.rows(record, to=to, actor=actor, now=people.NOW)
        if row.where.startswith(begins)
    ]


def move(tablet: Tablet, to: Record, chosen: list[str]):
    record = tablet.exam.record
    return lambda: put_on_right_patient(
        record=Record.objects.get(pk=record.pk),
        to=Record.objects.get(pk=to.pk),
        tokens=chosen,
        actor=tablet.actor,
        now=people.NOW,
    )


@ORDERS
def test_two_moves_in_opposite_ways_both_stand(pair, both_read_first, first) -> None:
    one, other = pair
    there, here = other.exam.record, one.exam.record
    moves = [
        move(one, there, tokens(here, there, one.actor, "Ears")),
        move(other, here, tokens(there, here, other.actor, "Eyes")),
    ]
    assert at_once(moves[first], moves[1 - first]) == [None, None]
    assert set(state_of(one.exam).answers) == {EYE}
    assert set(state_of(other.exam).answers) == {EAR}
    assert sorted(Finding.objects.values_list("record", "line")) == sorted([(here.pk, EYE), (there.pk, EAR)])
    assert PutRight.objects.count() == 4


@ORDERS
def test_of_the_same_move_made_twice_one_stands(pair, house, both_read_first, first) -> None:
    one, other = pair
    there, here = other.exam.record, one.exam.record
    second = Tablet(one.exam, house.actor("colleague"))
    moves = [move(who, there, tokens(here, there, who.actor, "Ears")) for who in (one, second)]
    raised = at_once(moves[first], moves[1 - first])
    assert [type(each) for each in raised if each] == [ShownOtherwise]
    assert EAR not in state_of(one.exam).answers
    assert Finding.objects.filter(line=EAR).count() == 1
    assert PutRight.objects.count() == 2


def pinned_moved_twice(pair, house, monkeypatch: pytest.MonkeyPatch, first: int) -> list[Exception | None]:
    """One heads-up, pinned on the wrong patient, and two people who move it at once."""
    one, other = pair
    there, here = other.exam.record, one.exam.record
    HeadsUp.objects.create(record=here, station="EAR", words="smells", by=house.technician, at=people.NOW)
    hands = (one, Tablet(one.exam, house.actor("colleague")))
    moves = [move(who, there, tokens(here, there, who.actor, "Heads-up")) for who in hands]
    look_together(monkeypatch)
    return at_once(moves[first], moves[1 - first])


@ORDERS
def test_a_heads_up_moved_by_two_is_pinned_there_once(pair, house, monkeypatch, first) -> None:
    raised = pinned_moved_twice(pair, house, monkeypatch, first)
    assert [type(each) for each in raised if each] == [ShownOtherwise]
    assert HeadsUp.objects.filter(record=pair[1].exam.record).count() == 1
    assert HeadsUp.objects.get(record=pair[0].exam.record).answer == HeadsUp.Answer.ELSEWHERE
    assert PutRight.objects.count() == 2


@ORDERS
def test_without_the_hold_it_would_be_pinned_twice(pair, house, monkeypatch, first, hold_off) -> None:
    there = HeadsUp.objects.filter(record=pair[1].exam.record)
    for _ in range(6):  # on a busy machine one of them may be through before the other reads
        before = there.count()
        pinned_moved_twice(pair, house, monkeypatch, first)
        if there.count() == before + 2:
            return
    pytest.fail("the hold is not what keeps it from being pinned twice")
    assert PutRight.objects.count() == 4
