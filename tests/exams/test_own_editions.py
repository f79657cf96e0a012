"""Asked for by one, approved by a clinician: the next edition holds for new exams and for no other."""

from uuid import uuid4

import pytest
from django.db import DatabaseError, connection
from django.test.utils import CaptureQueriesContext

from clinic.models import DataVersion, Record
from clinic.people.actor import Actor, NotAllowed
from exams import versions
from exams.actions import begin_exam, take_operations
from exams.models import Exam
from exams.own_actions import DecidedAlready, NoReason, approve, decline, propose
from exams.own_models import WalkEdition, WalkProposal
from exams.own_walk import CannotChange
from exams.queries import standing
from exams.versions import composed, in_force, published
from exams.walk import WalkError
from tests import people
from tests.exams.house import Tablet, exam_here
from tests.house import OWN_FINDING

pytestmark = pytest.mark.django_db
PRESSURE = {"kind": "asked", "structure": "EYE.pressure", "asked": "every"}


@pytest.fixture
def house() -> people.People:
    return people.people()


def ask(house, change=PRESSURE, *, role="manager", why="older dogs"):
    return propose(change=change, why=why, once=uuid4(), actor=house.actor(role), now=people.NOW)


def edition(house, change=PRESSURE):
    return approve(proposal=ask(house, change), actor=house.actor("clinician"), now=people.NOW)


def lines_of(exam):
    return standing(Exam.objects.select_related("record__visit__patient").get(pk=exam.pk)).lines


def test_a_manager_asks_and_a_clinician_approves(house) -> None:
    made = edition(house)
    assert (made.number, made.by, made.proposal.by) == (1, house.clinician, house.manager)
    assert made.version.approved_by == house.clinician
    assert composed().structure["EYE.pressure"].asked == "every"


def test_asking_alone_changes_nothing(house) -> None:
    ask(house)
    assert composed().sha256 == published().sha256


@pytest.mark.parametrize("role", ["manager", "technician", "assistant"])
def test_only_a_clinician_approves(house, role) -> None:
    proposal = ask(house)
    with pytest.raises(NotAllowed):
        approve(proposal=proposal, actor=house.actor(role), now=people.NOW)
    assert not WalkEdition.objects.exists()


@pytest.mark.parametrize("role", ["technician", "assistant"])
def test_who_may_not_ask(house, role) -> None:
    with pytest.raises(NotAllowed):
        ask(house, role=role)


def test_a_manager_on_a_pin_does_not_ask(house) -> None:
    by_pin = Actor.of(house.manager, by_pin=True)
    with pytest.raises(NotAllowed):
        propose(change=PRESSURE, why="x", once=uuid4(), actor=by_pin, now=people.NOW)


def test_a_form_sent_twice_asks_once(house) -> None:
    once = uuid4()
    for _ in range(2):
        propose(change=PRESSURE, why="x", once=once, actor=house.actor("clinician"), now=people.NOW)
    assert WalkProposal.objects.count() == 1


def test_what_is_so_already_and_what_has_no_reason_is_not_asked_for(house) -> None:
    edition(house)
    with pytest.raises(CannotChange):
        ask(house)
    with pytest.raises(NoReason):
        ask(house, {**PRESSURE, "asked": "called-for"}, why=" ")


def test_it_is_decided_once(house) -> None:
    proposal = ask(house)
    approve(proposal=proposal, actor=house.actor("clinician"), now=people.NOW)
    with pytest.raises(DecidedAlready):
        approve(proposal=proposal, actor=house.actor("colleague"), now=people.NOW)
    with pytest.raises(DecidedAlready):
        decline(proposal=proposal, why="no", actor=house.actor("colleague"), now=people.NOW)


def test_a_no_has_its_reason_and_who_asked_may_take_it_back(house) -> None:
    proposal = ask(house)
    with pytest.raises(NoReason):
        decline(proposal=proposal, why="", actor=house.actor("clinician"), now=people.NOW)
    decline(proposal=proposal, why="not here", actor=house.actor("clinician"), now=people.NOW)
    proposal.refresh_from_db()
    assert (proposal.state, proposal.decided_by, proposal.decided_why) == (
        "declined",
        house.clinician,
        "not here",
    )
    mine = ask(house)
    decline(proposal=mine, why="", actor=house.actor("manager"), now=people.NOW)
    mine.refresh_from_db()
    assert mine.state == "withdrawn"


def test_two_that_were_asked_for_before_either_came_both_come(house) -> None:
    first, second = ask(house), ask(house, OWN_FINDING)
    approve(proposal=first, actor=house.actor("clinician"), now=people.NOW)
    approve(proposal=second, actor=house.actor("clinician"), now=people.NOW)
    walk = composed()
    assert walk.structure["EYE.pressure"].asked == "every"
    assert "own-1" in walk.finding
    assert in_force().edition == 2


def test_what_no_longer_fits_is_not_approved(house) -> None:
    edition(house, OWN_FINDING)
    twice = {**OWN_FINDING, "name": "Seed"}
    first, second = ask(house, twice), ask(house, twice)
    approve(proposal=first, actor=house.actor("clinician"), now=people.NOW)
    with pytest.raises(CannotChange):
        approve(proposal=second, actor=house.actor("clinician"), now=people.NOW)
    second.refresh_from_db()
    assert second.state == "open"


def test_an_open_exam_keeps_its_walk_and_a_new_one_takes_the_newest(house) -> None:
    before = exam_here(house.actor("clinician"))
    made = edition(house)
    after = exam_here(house.actor("clinician"), people.visit_here(people.patient("Bramble")))
    assert before.exam.walk_id == published().sha256
    assert after.exam.walk_id == made.version_id
    assert lines_of(before.exam)["EYE.pressure|left"].asked == "called-for"
    assert lines_of(after.exam)["EYE.pressure|left"].asked == "every"


def test_an_exam_with_an_own_finding_reads_as_ever_after_that_was_changed_and_retired(house) -> None:
    edition(house, OWN_FINDING)
    tablet = exam_here(house.actor("clinician"))
    said = {"findings": [{"code": "own-1", "severity": "mild"}]}
    assert tablet.tap("EAR.canal|left", "set_abnormal", said)["result"] == "accepted"
    edition(house, {**OWN_FINDING, "code": "own-1", "name": "Seed of grass"})
    edition(house, {"kind": "retire", "code": "own-1", "retired": True})
    versions.walk_of.cache_clear()  # as another process reads it
    told = standing(Exam.objects.select_related("record__visit__patient").get(pk=tablet.exam.pk))
    assert told.walk.finding["own-1"].name == "Grass awn in sight"
    assert told.walk.sha256 == tablet.exam.walk_id
    assert not told.walk.finding["own-1"].retired
    assert composed().finding["own-1"].retired


def test_a_page_that_was_open_before_the_approval_begins_with_what_it_showed(house) -> None:
    actor = house.actor("clinician")
    visit = people.visit_here()
    shown = composed().sha256
    edition(house)
    tablet = Tablet(Exam(walk_id=shown, record=Record.objects.get(visit=visit)), actor)
    tap = {**tablet.operation("EAR.canal|left", "set_normal"), "grant": "g"}
    taken = take_operations(visit_id=visit.pk, operations=[tap], by_grant={"g": actor}, now=people.NOW)
    assert [a["result"] for a in taken.answers] == ["accepted"]
    assert Exam.objects.get().walk_id == shown


def test_a_version_that_nobody_composed_begins_no_exam(house) -> None:
    made = edition(house)
    record = people.visit_here().record
    begun = begin_exam(record=record, actor=house.actor("clinician"), now=people.NOW, shown="f" * 64)
    assert begun.walk_id == made.version_id


def test_a_protocols_number_is_no_walk(house) -> None:
    other = DataVersion.objects.create(kind="protocol", sha256="a" * 64, body={}, composed_at=people.NOW)
    record = people.visit_here().record
    begun = begin_exam(record=record, actor=house.actor("clinician"), now=people.NOW, shown=other.sha256)
    assert begun.walk_id == published().sha256


def test_an_edition_is_never_changed(house) -> None:
    made = edition(house)
    with pytest.raises(DatabaseError, match="rows are only added"):
        WalkEdition.objects.filter(pk=made.pk).update(words="other")


def test_files_that_do_not_take_the_clinics_changes_leave_the_last_edition_in_force(
    house, monkeypatch
) -> None:
    made = edition(house)

    def refuse(*_):
        raise WalkError("EYE.pressure is not in the walk")

    versions._in_force.cache_clear()
    monkeypatch.setattr(versions, "composed_with", refuse)
    force = in_force()
    assert (force.walk.sha256, force.trouble) == (made.version_id, "EYE.pressure is not in the walk")
    versions._in_force.cache_clear()


def test_knowing_what_is_in_force_is_one_query(house) -> None:
    edition(house)
    in_force()
    with CaptureQueriesContext(connection) as sql:
        in_force()
    assert len(sql) == 1


def test_undoing_gives_new_exams_the_published_lines(house) -> None:
    edition(house)
    edition(house, {"kind": "undo"})
    assert composed().sha256 == published().sha256
    assert in_force().edition == 2
