"""Two tablets close, or hand on, one promise at the same moment: one gets through, the other is told.

Also run with the guard out of the way (each step takes the next free number), to show what would happen.
"""

import threading
from contextlib import suppress
from dataclasses import replace

import pytest

from clinic.models import PlanLine, PromiseStep
from clinic.promises import actions
from clinic.promises.errors import ChangedMeanwhile, ClosedBefore
from clinic.promises.fold import Promise
from clinic.promises.queries import find_promise, open_promises, steps_of
from tests import people
from tests.faults.test_exam_taps_race import at_once

pytestmark = [pytest.mark.faults, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def line(house: people.People) -> PlanLine:
    return people.visit_here().record.plan_lines.create(
        kind="call", text="call with the result", answerable=house.clinician, due_on=people.TODAY,
        by=house.clinician, at=people.NOW,
    )  # fmt: skip


@pytest.fixture
def both_saw_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """Neither writes before the other stands at the same place."""
    met = threading.Barrier(2)
    first = actions.first_sending

    def waits(*args: object, **more: object) -> None:
        first(*args, **more)
        with suppress(threading.BrokenBarrierError):
            met.wait(5)

    monkeypatch.setattr(actions, "first_sending", waits)


def seen(line: PlanLine, house: people.People) -> Promise:
    promise = find_promise("plan-line", str(line.pk), actor=house.actor("clinician"))
    assert promise
    return promise


def closes(promise: Promise, house: people.People, role: str, outcome: str):
    return lambda: actions.close(
        promise=promise, outcome=outcome, words=role, actor=house.actor(role), now=people.NOW
    )


def hands(promise: Promise, house: people.People, role: str):
    return lambda: actions.hand_on(
        promise=promise, to=house.technician, words=role, actor=house.actor(role), now=people.NOW
    )


def test_closed_by_two_it_is_closed_once(line: PlanLine, house, both_saw_it) -> None:
    promise = seen(line, house)
    raised = at_once(
        closes(promise, house, "clinician", "done"), closes(promise, house, "colleague", "not-needed")
    )
    assert sorted(type(each) for each in raised if each) == [ClosedBefore]
    assert PromiseStep.objects.count() == 1
    assert line.progress.count() == 1
    assert open_promises() == []


def test_handed_on_by_two_it_is_handed_once(line: PlanLine, house, both_saw_it) -> None:
    promise = seen(line, house)
    raised = at_once(hands(promise, house, "clinician"), hands(promise, house, "colleague"))
    assert [type(each) for each in raised if each] == [ChangedMeanwhile]
    assert PromiseStep.objects.count() == 1


def test_closed_and_handed_on_one_of_both_happens(line: PlanLine, house, both_saw_it) -> None:
    promise = seen(line, house)
    raised = at_once(closes(promise, house, "clinician", "done"), hands(promise, house, "colleague"))
    assert [type(each) for each in raised if each] in ([ClosedBefore], [ChangedMeanwhile])
    assert PromiseStep.objects.count() == 1


def test_without_the_number_something_would_follow_after_closing(line: PlanLine, house) -> None:
    """The guard off: a tablet that numbers its step behind the last one, as if it had not looked."""
    promise = seen(line, house)
    closes(promise, house, "clinician", "done")()
    blind = replace(promise, step=len(steps_of(promise.source, promise.key)))
    hands(blind, house, "colleague")()
    assert [each.what for each in PromiseStep.objects.order_by("number")] == ["closed", "handed"]
