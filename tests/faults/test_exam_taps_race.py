"""Two tablets tap one line at the same moment: one is taken, the other is shown it and asked.

Each guard is also taken out, to show that without it something would go wrong.
"""

import threading
from collections.abc import Callable
from contextlib import suppress

import pytest
from django.db import IntegrityError, OperationalError

from exams import actions, loading, operations
from exams.models import Exam, Finding, Operation
from exams.operations import replay
from exams.queries import standing
from exams.state import start
from tests import people
from tests.exams.house import Tablet, exam_here
from tests.faults.test_sign_race import Meanwhile

pytestmark = [pytest.mark.faults, pytest.mark.django_db(transaction=True)]
EAR = "EAR.canal|left"
RED = {"findings": [{"code": "EAR-02", "severity": "mild"}]}


@pytest.fixture
def tablets() -> tuple[Tablet, Tablet]:
    """Two people's, open on one exam in which nothing is answered."""
    house = people.people()
    first = exam_here(house.actor("clinician"))
    return first, Tablet(first.exam, house.actor("colleague"))


@pytest.fixture
def lock_off(monkeypatch: pytest.MonkeyPatch) -> None:
    """The record is read without being held."""
    monkeypatch.setattr(loading, "HOLD", "SELECT id FROM clinic_record WHERE {} = %s;")


@pytest.fixture
def stale_check_off(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever an operation follows, it follows what stands."""

    class Whatever(str):
        __hash__ = str.__hash__

        def __eq__(self, other: object) -> bool:
            return True

        def __ne__(self, other: object) -> bool:
            return False

    monkeypatch.setattr(operations, "version_of", lambda *_about: Whatever())


@pytest.fixture
def both_read_first(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever has read waits a while for the other to have read too, as far as the lock lets it."""
    met = threading.Barrier(2)
    ask = actions.standing_held

    def waits(**how):
        told = ask(**how)
        with suppress(threading.BrokenBarrierError):  # the other one waits for the record
            met.wait(0.7)
        return told

    monkeypatch.setattr(actions, "standing_held", waits)


def at_once(*does: Callable[[], object]) -> list[Exception | None]:
    rivals = [Meanwhile(each) for each in does]
    for rival in rivals:
        rival.start()
    for rival in rivals:
        rival.join(20)
        assert not rival.is_alive()
    return [rival.raised for rival in rivals]


def tapped_at_once(tablets: tuple[Tablet, Tablet]) -> tuple[list[str], list[Exception | None]]:
    """What both were answered (accepted, or the reason why not), and what was raised."""
    answers: list[dict] = []
    taps = [tablets[0].operation(EAR, "set_abnormal", RED), tablets[1].operation(EAR, "set_normal")]
    raised = at_once(
        *(lambda t=t, o=o: answers.extend(t.send(o)) for t, o in zip(tablets, taps, strict=True))
    )
    return sorted(a.get("reason", a["result"]) for a in answers), raised


def test_of_two_taps_at_once_one_is_taken_and_the_other_is_asked(tablets, both_read_first) -> None:
    assert tapped_at_once(tablets) == (["accepted", "stale"], [None, None])
    assert Finding.objects.count() == 1
    assert sorted(Operation.objects.values_list("number", flat=True)) == [1, 2]


def test_without_the_lock_one_of_them_would_get_no_answer(tablets, both_read_first, lock_off) -> None:
    answers, raised = tapped_at_once(tablets)
    assert answers == ["accepted"]
    [unanswered] = [each for each in raised if each]
    assert isinstance(unanswered, (IntegrityError, OperationalError))  # a number taken twice, or a deadlock


def test_what_somebody_had_not_seen_is_not_overwritten(tablets) -> None:
    mine, theirs = tablets[0].operation(EAR, "set_abnormal", RED), tablets[1].operation(EAR, "set_normal")
    assert tablets[0].send(mine)[0]["result"] == "accepted"
    assert tablets[1].send(theirs)[0]["reason"] == "stale"
    assert Finding.objects.get().status == "abnormal"


def test_without_the_check_of_what_it_follows_it_would_be(tablets, stale_check_off) -> None:
    mine, theirs = tablets[0].operation(EAR, "set_abnormal", RED), tablets[1].operation(EAR, "set_normal")
    assert tablets[0].send(mine)[0]["result"] == "accepted"
    assert tablets[1].send(theirs)[0]["result"] == "accepted"
    assert Finding.objects.get().status == "normal"


def test_many_taps_from_four_tablets_are_some_order_of_them(tablets, long_run) -> None:
    """Nothing but time decides; the log, replayed, is what stands, and every tap has its one answer."""
    exam, lines = tablets[0].exam, ("EAR.canal|left", "EAR.canal|right", "EYE.lens|left", "GEN.gait|-")
    sent: list[str] = []
    hands = [Tablet(exam, each.actor) for each in (*tablets, *tablets)]

    def taps(tablet: Tablet) -> None:
        for number in range(60 if long_run else 12):
            line = lines[number % len(lines)]
            one = tablet.operation(line, "set_normal" if number % 3 else "clear")
            answer = tablet.send(one)[0]
            sent.append(one["key"])
            tablet.seen[line] = answer.get("version", tablet.seen.get(line, ""))
            assert tablet.send(one)[0] == {**answer, "repeated": True}

    assert at_once(*(lambda tablet=tablet: taps(tablet) for tablet in hands)) == [None] * 4
    assert len(sent) == Operation.objects.count()
    assert sorted(Operation.objects.values_list("number", flat=True)) == list(range(1, len(sent) + 1))
    assert_log_is_what_stands(exam)


def assert_log_is_what_stands(exam: Exam) -> int:
    """The accepted operations, in their order, make the exam that the database holds; how many they are."""
    now = standing(Exam.objects.select_related("record__visit").get(pk=exam.pk))
    rows = Operation.objects.filter(exam=exam).order_by("number")
    log = [_operation(row) for row in rows if row.outcome["result"] == "accepted"]
    again = replay(start(), log, now.walk, now.lines)
    assert {key: answer.says() for key, answer in again.answers.items()} == {
        key: answer.says() for key, answer in now.state.answers.items()
    }
    assert again.versions == now.state.versions
    assert all(again.outcomes[op.key].accepted for op in log)
    return len(log)


def _operation(row: Operation) -> operations.Operation:
    return operations.Operation(
        key=str(row.key),
        target=row.target,
        what=row.what,
        payload=row.payload,
        person=str(row.person_id),
        role=row.role,
        made_at=row.made_at,
        walk_version=row.walk_version,
        follows=row.follows,
        observed_by=str(row.observed_by_id or ""),
    )
