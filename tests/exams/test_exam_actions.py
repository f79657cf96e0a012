"""An exam keeps what was tapped: once each, under the right name, and nothing after the signature."""

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from clinic.models import DataVersion, HeadsUp, LastingFact, Record
from clinic.people.actor import NotAllowed
from exams.actions import apply_operations, begin_exam
from exams.errors import RecordSigned
from exams.models import Exam, Finding, Operation
from exams.queries import standing
from tests import people
from tests.exams.house import Tablet, exam_here, state_of

pytestmark = pytest.mark.django_db

RED_EAR = {"findings": [{"code": "EAR-02", "severity": "moderate"}]}


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def tablet(house) -> Tablet:
    return exam_here(house.actor("clinician"))


def sign(exam: Exam, house: people.People) -> None:
    Record.objects.filter(pk=exam.record_id).update(
        signed_at=people.NOW, signed_by=house.clinician, signed_name="Dr Maren Oduya"
    )


def test_an_exam_is_begun_once_with_the_walk_of_the_day(tablet, house) -> None:
    record = Record.objects.select_related("visit__patient").get(pk=tablet.exam.record_id)
    again = begin_exam(record=record, actor=house.actor("colleague"), now=people.NOW)
    assert again.pk == tablet.exam.pk
    assert DataVersion.objects.filter(kind="walk").count() == 1
    assert again.begun_by == house.clinician


def test_the_animal_of_the_exam_has_the_parts_it_has(house) -> None:
    visit = people.visit_here(clinician=house.clinician)
    LastingFact.objects.create(
        patient=visit.patient,
        structure="limb:LH",
        why="amputated 2024",
        entered_by=house.clinician,
        entered_at=people.NOW,
    )
    told = standing(exam_here(house.actor("clinician"), visit).exam)
    assert told.lines["HLB.hip|left"].why == "amputated 2024"
    assert told.lines["HLB.hip|right"].applies


def test_a_manager_does_not_begin_an_exam(house) -> None:
    visit = people.visit_here()
    with pytest.raises(NotAllowed):
        begin_exam(record=visit.record, actor=house.actor("manager"), now=people.NOW)


def test_a_signed_record_begins_no_exam(house) -> None:
    visit = people.visit_here()
    Record.objects.filter(visit=visit).update(
        signed_at=people.NOW, signed_by=house.clinician, signed_name="x"
    )
    with pytest.raises(RecordSigned):
        begin_exam(record=visit.record, actor=house.actor("clinician"), now=people.NOW)


def test_an_abnormal_ear_stands_with_who_said_it(tablet, house) -> None:
    answer = tablet.tap("EAR.canal|left", "set_abnormal", RED_EAR)
    assert answer["result"] == "accepted"
    row = Finding.objects.get(exam=tablet.exam)
    assert (row.line, row.station, row.side, row.status) == ("EAR.canal|left", "EAR", "left", "abnormal")
    assert row.findings == [{"code": "EAR-02", "severity": "moderate"}]
    assert row.person == house.clinician
    assert Operation.objects.get().made_at == "2026-03-11T11:02:00+01:00"


def test_a_key_that_comes_again_gets_its_first_answer(tablet) -> None:
    one = tablet.operation("EAR.canal|left", "set_abnormal", RED_EAR)
    first = tablet.send(one)[0]
    again = tablet.send(one, one)
    assert [a.pop("repeated") for a in again] == [True, True]
    assert again == [first, first]
    assert Operation.objects.count() == 1


def test_a_stale_tablet_is_shown_what_the_other_said(tablet, house) -> None:
    other = Tablet(tablet.exam, house.actor("colleague"))
    tablet.send(tablet.operation("EAR.canal|left", "set_abnormal", RED_EAR))
    answer = other.send(other.operation("EAR.canal|left", "set_normal"))[0]
    assert (answer["result"], answer["reason"]) == ("refused", "stale")
    assert answer["theirs"]["EAR.canal|left"]["status"] == "abnormal"
    assert Finding.objects.get().person == house.clinician


def test_one_tablets_own_chain_goes_through_in_one_batch(tablet) -> None:
    one = tablet.operation("EAR.canal|left", "set_abnormal")
    two = tablet.operation("EAR.canal|left", "set_abnormal", RED_EAR, follows=one["key"])
    three = tablet.operation("EAR.canal|left", "set_normal", follows=two["key"])
    assert [a["result"] for a in tablet.send(one, two, three)] == ["accepted"] * 3
    assert Finding.objects.get().status == "normal"


def test_each_operation_is_credited_to_the_holder_of_its_grant(tablet, house) -> None:
    by_grant = {"a": house.actor("clinician"), "b": house.actor("technician")}
    operations = [
        tablet.operation("EAR.canal|left", "set_normal", grant="a"),
        tablet.operation("EAR.canal|right", "set_normal", grant="b"),
        tablet.operation("EAR.pinna|right", "set_normal", grant="c"),
        tablet.operation("EAR.pinna|left", "set_normal"),
    ]
    answers = apply_operations(exam=tablet.exam, operations=operations, by_grant=by_grant, now=people.NOW)
    assert [a["result"] for a in answers] == ["accepted", "accepted", "refused", "refused"]
    assert {a.get("reason") for a in answers[2:]} == {"grant"}
    assert dict(Finding.objects.values_list("line", "person__full_name")) == {
        "EAR.canal|left": "Dr Maren Oduya",
        "EAR.canal|right": "Inés Varga",
    }
    assert Operation.objects.count() == 2


def test_all_normal_fills_routine_lines_only_and_says_what_it_left(tablet) -> None:
    answer = tablet.all_normal("EAR")
    assert "EAR.canal|left" in answer["filled"]
    assert ["EAR.tympanum|left", "on indication"] in [list(pair) for pair in answer["not_filled"]]
    assert set(Finding.objects.values_list("together", flat=True)) == {True}


def test_taking_back_restores_what_stood(tablet) -> None:
    tablet.tap("EAR.canal|left", "set_normal")
    second = tablet.tap("EAR.canal|left", "set_abnormal", RED_EAR)
    back = tablet.tap("EAR.canal|left", "take_back", {"operation": second["key"]})
    assert back["result"] == "accepted"
    assert Finding.objects.get().status == "normal"


def test_taking_back_the_first_answer_leaves_the_line_not_yet(tablet) -> None:
    first = tablet.tap("EAR.canal|left", "set_normal")
    tablet.tap("EAR.canal|left", "take_back", {"operation": first["key"]})
    assert not Finding.objects.exists()


def test_a_signed_exam_takes_nothing_and_still_gives_first_answers(tablet, house) -> None:
    one = tablet.operation("EAR.canal|left", "set_normal")
    first = tablet.send(one)[0]
    sign(tablet.exam, house)
    again, new = tablet.send(one, tablet.operation("EAR.canal|right", "set_normal"))
    assert again == first | {"repeated": True}
    assert (new["result"], new["reason"]) == ("refused", "signed")
    assert Operation.objects.count() == 1


@pytest.mark.parametrize(
    "change",
    [
        lambda exam: Finding.objects.filter(exam=exam).update(status="normal"),
        lambda exam: Finding.objects.filter(exam=exam).delete(),
        lambda exam: Exam.objects.filter(pk=exam.pk).update(kind="focused"),
        lambda exam: Operation.objects.filter(exam=exam).update(what="x"),
    ],
)
def test_the_database_itself_refuses_to_change_a_signed_exam(tablet, house, change) -> None:
    tablet.tap("EAR.canal|left", "set_abnormal", RED_EAR)
    sign(tablet.exam, house)
    with pytest.raises(IntegrityError), transaction.atomic():
        change(tablet.exam)


def test_the_log_is_only_added_to(tablet) -> None:
    tablet.tap("EAR.canal|left", "set_normal")
    with pytest.raises(IntegrityError), transaction.atomic():
        Operation.objects.all().delete()


def test_a_heads_up_stands_in_the_way_of_normal_until_it_is_answered(tablet, house) -> None:
    flag = HeadsUp.objects.create(
        record=tablet.exam.record, station="EAR", words="smells sour", by=house.technician, at=people.NOW
    )
    assert tablet.all_normal("EAR")["reason"] == "heads-up-open"
    assert tablet.tap(str(flag.pk), "answer_heads_up", {"answer": "nothing"})["result"] == "accepted"
    flag.refresh_from_db()
    assert (flag.answer, flag.answered_by) == ("looked", house.clinician)
    assert tablet.all_normal("EAR")["result"] == "accepted"


def test_not_today_says_why(tablet, house) -> None:
    flag = HeadsUp.objects.create(
        record=tablet.exam.record, station="EAR", words="smells sour", by=house.technician, at=people.NOW
    )
    assert tablet.tap(str(flag.pk), "answer_heads_up", {"answer": "not-today"})["reason"] == "reason"
    said = tablet.tap(str(flag.pk), "answer_heads_up", {"answer": "not-today", "words": "too sore"})
    assert said["result"] == "accepted"
    flag.refresh_from_db()
    assert (flag.answer, flag.answer_reason) == ("not-today", "too sore")


def test_a_technician_does_not_answer_a_heads_up(tablet, house) -> None:
    flag = HeadsUp.objects.create(
        record=tablet.exam.record, station="EAR", words="sour", by=house.technician, at=people.NOW
    )
    hers = Tablet(tablet.exam, house.actor("technician"))
    assert hers.tap(str(flag.pk), "answer_heads_up", {"answer": "nothing"})["reason"] == "role"


def test_a_technicians_grade_waits_for_a_clinician(tablet, house) -> None:
    hers = Tablet(tablet.exam, house.actor("technician"))
    hers.tap("EAR.canal|left", "set_abnormal", RED_EAR)
    assert Finding.objects.get().findings[0]["unconfirmed"] is True
    tablet.tap("EAR.canal|left", "confirm")
    row = Finding.objects.get()
    assert "unconfirmed" not in row.findings[0]
    assert (row.person, row.confirmed_by) == (house.technician, house.clinician)


def test_an_assistant_records_no_finding(tablet, house) -> None:
    theirs = Tablet(tablet.exam, house.actor("assistant"))
    assert theirs.tap("EAR.canal|left", "set_normal")["reason"] == "role"


def test_the_value_of_the_intake_stands_on_its_line(tablet, house) -> None:
    people.weigh(tablet.exam.record.visit, "27.4", by=house.technician)
    assert state_of(tablet.exam).answers["VIT.weight|-"].value == "27.4"
    assert not Finding.objects.exists()


def test_the_records_urgency_is_the_highest_of_its_findings(tablet) -> None:
    tablet.tap("EAR.canal|left", "set_abnormal", RED_EAR)
    record = Record.objects.get(pk=tablet.exam.record_id)
    assert record.urgency == standing(tablet.exam).urgency != ""


def test_three_hundred_taps_cost_as_many_statements_as_three(tablet) -> None:
    lines = standing(tablet.exam).lines

    def send(some: list[str]) -> int:
        with CaptureQueriesContext(connection) as seen:
            answers = tablet.send(
                *(tablet.operation(k, "set_not_examined", {"reason": "no-time"}) for k in some)
            )
        assert {a["result"] for a in answers} == {"accepted"}
        return len(seen)

    own = [x for x in lines if x.depth in ("routine", "indication") and x.applies and len(x.stored_at) == 1]
    distinct = list({x.stored_at[0]: x.key for x in own}.values())
    few, many = send(distinct[:3]), send(distinct[3:])
    assert len(distinct) > 200
    assert many <= few + 1  # the lines' first bulk statement may split


def test_what_is_no_operation_is_refused_and_not_kept(tablet) -> None:
    answers = tablet.send({"key": "x"}, tablet.operation("EAR.canal|left", "set_normal", made_at="yesterday"))
    assert [a["reason"] for a in answers] == ["bad-operation", "bad-operation"]
    assert not Operation.objects.exists()


def test_whoever_saw_it_and_whoever_entered_it_are_both_kept(tablet, house) -> None:
    tablet.tap("EAR.canal|left", "set_normal", observed_by=str(house.technician.pk))
    row = Finding.objects.get()
    assert (row.person, row.observed_by) == (house.clinician, house.technician)
