"""What the database holds after any batches of two tablets is what the rules alone make of them."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from exams.models import Finding, Operation
from exams.operations import apply, operation_from_json, version_of
from exams.queries import standing
from exams.state import ExamState, start
from tests import people
from tests.examples import examples
from tests.exams.house import Tablet, exam_here, state_of
from tests.exams.test_two_tablets import taps

pytestmark = pytest.mark.django_db
Tap = tuple[str, str, dict[str, Any]]
batches = st.lists(
    st.tuples(st.sampled_from("AB"), st.lists(taps(), min_size=1, max_size=5), st.booleans()),
    min_size=1,
    max_size=6,
)


@pytest.fixture
def house() -> people.People:
    return people.people()


class Rules:
    """The exam as the core alone has it."""

    def __init__(self, tablet: Tablet) -> None:
        told = standing(tablet.exam)
        self.walk, self.lines, self.state = told.walk, told.lines, start()

    def take(self, sent: dict[str, Any], person: str) -> str:
        one = operation_from_json(sent, person=person, role="clinician")
        self.state, outcome = apply(self.state, one, self.walk, self.lines)
        return outcome.reason or outcome.result


def made(tablet: Tablet, seen: ExamState, rules: Rules, tap: Tap) -> dict[str, Any]:
    target, what, payload = tap
    if what == "take_back":
        back = version_of(seen, rules.lines, target).partition("+")[0]
        payload = {"operation": back if len(back) == 36 else str(uuid.uuid4())}
    follows = version_of(seen, rules.lines, target)
    return tablet.operation(target, what, payload, follows=follows)


@given(batches)
@settings(deadline=None, max_examples=examples(25))
def test_batches_leave_in_the_database_what_the_rules_say(house, script) -> None:
    tablet = exam_here(house.actor("clinician"), people.visit_here(clinician=house.clinician))
    hands = {"A": tablet, "B": Tablet(tablet.exam, house.actor("colleague"))}
    rules, seen = Rules(tablet), {"A": start(), "B": start()}
    log: list[dict[str, Any]] = []
    for name, tapped, again in script:
        hand = hands[name]
        sent = [made(hand, seen[name], rules, tap) for tap in tapped if tap[0] != "h1"]
        if not sent:
            continue
        told = [a.get("reason") or a["result"] for a in hand.send(*sent)]
        assert told == [rules.take(each, str(hand.actor.staff.pk)) for each in sent]
        log += sent
        if again:
            assert all(answer["repeated"] for answer in hand.send(*log[-3:]))
            seen[name] = rules.state
    now = state_of(tablet.exam)
    assert now.answers == rules.state.answers
    assert now.versions == rules.state.versions
    assert Finding.objects.filter(exam=tablet.exam).count() == len(rules.state.answers)
    numbers = Operation.objects.filter(exam=tablet.exam).order_by("number").values_list("number", flat=True)
    assert list(numbers) == list(range(1, len(log) + 1))
