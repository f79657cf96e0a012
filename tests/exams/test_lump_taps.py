"""A lump on the exam page: placed, measured, gone, grown together, taken back; what the walk reads of it."""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest
from django.db import Error, transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from clinic.models import Record, Visit
from exams.models import Exam, Finding, Lump, LumpMeasure, LumpSample
from exams.queries import standing
from tests import people
from tests.examples import examples
from tests.exams.house import Tablet, exam_here

pytestmark = pytest.mark.django_db

FLANK = {"drawing": "dog-left", "x": 0.58, "y": 0.47, "region": "flank-left", "side": "left"}
LINE = "SKN.lumps|-"


@pytest.fixture
def house() -> people.People:
    return people.people()


@pytest.fixture
def tablet(house) -> Tablet:
    return exam_here(house.actor("clinician"))


def new() -> str:
    return f"lump:{uuid.uuid4()}"


def placed(tablet: Tablet, **place: object) -> str:
    key = new()
    assert tablet.tap(key, "lump_place", FLANK | place)["result"] == "accepted"
    return key


def measured(tablet: Tablet, key: str, *axes: float, **more: object) -> dict:
    return tablet.tap(key, "lump_measure", {"axes": list(axes), **more})


def told(tablet: Tablet):
    return standing(Exam.objects.select_related("record__visit__patient").get(pk=tablet.exam.pk)).state


def today(tablet: Tablet, key: str):
    return told(tablet).lumps.get(key.removeprefix("lump:"))


def next_visit(tablet: Tablet, *, days: int) -> Tablet:
    """The record signed, and the same patient here again."""
    record = Record.objects.select_related("visit__patient").get(pk=tablet.exam.record_id)
    Record.objects.filter(pk=record.pk).update(
        signed_at=people.NOW, signed_by=tablet.actor.staff, signed_name="x"
    )
    Visit.objects.filter(pk=record.visit_id).update(place="gone-home")
    visit = people.visit_here(record.visit.patient, clinician=tablet.actor.staff)
    Record.objects.filter(visit=visit).update(opened_at=people.NOW + timedelta(days=days))
    return exam_here(tablet.actor, Visit.objects.get(pk=visit.pk))


# ---- Numbers for life


def test_lumps_are_numbered_in_the_order_in_which_they_were_acknowledged(tablet) -> None:
    first, second = placed(tablet), placed(tablet, x=0.3)
    assert [today(tablet, k).number for k in (first, second)] == [1, 2]
    assert list(Lump.objects.values_list("number", flat=True).order_by("number")) == [1, 2]


def test_two_lumps_in_one_batch_get_two_numbers(tablet) -> None:
    keys = [new(), new()]
    answers = tablet.send(*(tablet.operation(k, "lump_place", FLANK) for k in keys))
    assert [a["result"] for a in answers] == ["accepted", "accepted"]
    assert sorted(today(tablet, k).number for k in keys) == [1, 2]


def test_the_number_of_a_lump_taken_back_is_not_given_again(tablet) -> None:
    key = new()
    op = tablet.operation(key, "lump_place", FLANK)
    tablet.send(op)
    assert tablet.tap(key, "take_back", {"operation": op["key"]})["result"] == "accepted"
    assert today(tablet, key) is None
    assert Lump.objects.get().withdrawn
    assert today(tablet, placed(tablet)).number == 2


def test_a_resent_placing_makes_no_second_lump(tablet) -> None:
    op = tablet.operation(new(), "lump_place", FLANK)
    assert tablet.send(op)[0]["result"] == "accepted"
    assert tablet.send(op)[0]["repeated"]
    assert Lump.objects.count() == 1


def test_placing_again_puts_right_the_place_and_keeps_the_number(tablet) -> None:
    key = placed(tablet)
    tablet.tap(key, "lump_place", FLANK | {"region": "chest-left", "x": 0.46})
    lump = Lump.objects.get()
    assert (lump.number, lump.region) == (1, "chest-left")


# ---- Sizes


def test_axes_are_put_longest_first_and_the_reorder_is_said(tablet) -> None:
    """exam-L12"""
    key = placed(tablet)
    measured(tablet, key, 8, 14, 11)
    lump = today(tablet, key)
    assert (lump.axes_mm, lump.reordered) == ((14, 11, 8), True)
    row = LumpMeasure.objects.get()
    assert (row.length_mm, row.width_mm, row.height_mm, row.method) == (14, 11, 8, "caliper")


@pytest.mark.parametrize("axes", [[14], [0.5, 3], [700, 3], [1, 2, 3, 4], ["14", 3], [True, 3], "14", None])
def test_a_size_that_cannot_be_is_refused(tablet, axes) -> None:
    key = placed(tablet)
    assert tablet.tap(key, "lump_measure", {"axes": axes})["result"] == "refused"
    assert not LumpMeasure.objects.exists()


def test_more_than_a_hand_is_asked_once(tablet) -> None:
    key = placed(tablet)
    assert measured(tablet, key, 210, 90)["reason"] == "ask-once"
    assert measured(tablet, key, 210, 90, looked_twice=True)["result"] == "accepted"


def test_a_lump_that_nobody_placed_has_no_size(tablet) -> None:
    assert measured(tablet, new(), 14, 11)["reason"] == "no-such-lump"


@pytest.mark.parametrize(
    "place",
    [
        {"drawing": "cat-left"},
        {"region": "tentacle"},
        {"side": "right"},
        {"side": ""},
        {"x": 1.2},
        {"detail": "toe 2"},
        {"region": "genital", "drawing": "dog-below", "side": "midline", "detail": "vulva"},
        {"region": "perineum", "side": "midline", "detail": "anal sac"},
    ],
)
def test_a_place_that_this_animal_does_not_have_is_refused(tablet, place) -> None:
    """The patient is a male dog."""
    assert tablet.tap(new(), "lump_place", FLANK | place)["reason"] == "place"


@pytest.mark.parametrize("looks", [{"firmness": "squishy"}, {"nature": "benign"}, {"surface": "haired"}])
def test_only_the_listed_words_describe_a_lump(tablet, looks) -> None:
    assert measured(tablet, placed(tablet), 14, 11, looks=looks)["result"] == "refused"


def test_a_description_is_kept_with_the_size(tablet) -> None:
    looks = {"firmness": "soft", "surface": ["hairless", "ulcerated"], "pain": "none", "note": "near the rib"}
    measured(tablet, placed(tablet), 14, 11, looks=looks)
    assert LumpMeasure.objects.get().description == looks | {"surface": "hairless, ulcerated"}


# ---- What the walk reads


def test_a_measured_lump_is_the_finding_of_its_line(tablet) -> None:
    measured(tablet, placed(tablet), 14, 11, 8)
    row = Finding.objects.get(line=LINE)
    [entry] = row.findings
    assert (row.status, entry["code"], entry["from_lumps"]) == ("abnormal", "SKN-27", True)
    assert entry["qualifiers"] == {"mm x mm x mm": "14 x 11 x 8"}


def test_the_line_is_not_looked_at_again_once_its_lump_is_taken_back(tablet) -> None:
    key = placed(tablet)
    op = tablet.operation(key, "lump_measure", {"axes": [14, 11]}, follows=told(tablet).versions[key])
    tablet.send(op)
    assert tablet.tap(key, "take_back", {"operation": op["key"]})["result"] == "accepted"
    assert not Finding.objects.filter(line=LINE).exists()
    assert not LumpMeasure.objects.exists()


def test_size_and_placing_are_taken_back_one_after_the_other(tablet) -> None:
    key = new()
    place = tablet.operation(key, "lump_place", FLANK)
    size = tablet.operation(key, "lump_measure", {"axes": [14, 11]}, follows=place["key"])
    tablet.send(place, size)
    assert tablet.tap(key, "take_back", {"operation": place["key"]})["reason"] == "nothing-to-take-back"
    assert tablet.tap(key, "take_back", {"operation": size["key"]})["result"] == "accepted"
    assert tablet.tap(key, "take_back", {"operation": place["key"]})["result"] == "accepted"
    assert Lump.objects.get().withdrawn


def test_another_finding_of_the_line_stays_when_the_lump_goes(tablet) -> None:
    tablet.tap(LINE, "set_abnormal", {"findings": [{"code": "SKN-26"}]})
    key = placed(tablet)
    op = tablet.operation(key, "lump_measure", {"axes": [14, 11]}, follows=told(tablet).versions[key])
    tablet.send(op)
    assert [f["code"] for f in Finding.objects.get(line=LINE).findings] == ["SKN-27", "SKN-26"]
    tablet.tap(key, "take_back", {"operation": op["key"]})
    assert [f["code"] for f in Finding.objects.get(line=LINE).findings] == ["SKN-26"]


@pytest.mark.parametrize("what", ["set_normal", "set_not_examined"])
def test_a_line_with_a_lump_of_today_is_neither_normal_nor_unseen(tablet, what) -> None:
    measured(tablet, placed(tablet), 14, 11)
    assert tablet.tap(LINE, what, {})["reason"] == "lump"
    assert Finding.objects.get(line=LINE).status == "abnormal"


def test_the_station_tap_leaves_the_lumps_line_alone(tablet) -> None:
    measured(tablet, placed(tablet), 14, 11)
    tablet.all_normal("SKN")
    assert Finding.objects.get(line=LINE).status == "abnormal"


def test_a_lump_in_a_gland_is_that_glands_finding(tablet) -> None:
    """exam-L07: allowed in a male, class T."""
    place = {"drawing": "dog-below", "region": "gland-dog-3-left", "side": "left", "x": 0.6, "y": 0.5}
    measured(tablet, placed(tablet, **place), 4, 4)
    row = Finding.objects.get(line="GUM.mammary|left-3")
    assert row.findings[0]["code"] == "GUM-01"
    assert not Finding.objects.filter(line=LINE).exists()


def urgency(tablet: Tablet) -> dict[str, str]:
    now = standing(Exam.objects.select_related("record__visit__patient").get(pk=tablet.exam.pk))
    return {j.entry.code: j.urgency.letter for j in now.judged}


@pytest.mark.parametrize(
    ("axes", "first_seen", "looks", "place", "letter"),
    [
        pytest.param((12, 9), "2026-01-20", {}, {}, "T", id="exam-L01 a month and a pea, Ettinger 2017"),
        pytest.param((8, 8), "2025-12-01", {}, {}, "R", id="exam-L02 small, Ettinger 2017"),
        pytest.param((12, 9), "", {}, {}, "R", id="since when is not known"),
        pytest.param((5, 5), "", {"surface": ["ulcerated"]}, {}, "T", id="ulcerated, common practice"),
        pytest.param((5, 5), "", {"change": "different look"}, {}, "T", id="changing, Ettinger 2017"),
        pytest.param((5, 5), "", {"bothers": "yes"}, {}, "T", id="bothers, Ettinger 2017"),
        pytest.param(
            *((5, 5), "", {}, {"region": "forepaw-left", "x": 0.33, "y": 0.89, "detail": "toe 2"}, "T"),
            id="digit at any size, common practice",
        ),
    ],
)
def test_the_class_of_the_finding_follows_the_lump(tablet, axes, first_seen, looks, place, letter) -> None:
    key = placed(tablet, first_seen=first_seen, **place)
    measured(tablet, key, *axes, looks=looks)
    assert urgency(tablet)["SKN-27"] == letter
    assert bool(today(tablet, key).asks) == (letter == "T")


def test_a_sample_taken_today_answers_what_asked_for_it(tablet) -> None:
    key = placed(tablet)
    measured(tablet, key, 5, 5, looks={"surface": ["ulcerated"]})
    tablet.tap(key, "lump_sample", {"method": "needle"})
    assert urgency(tablet)["SKN-27"] == "R"
    assert LumpSample.objects.get().method == "needle"
    tablet.tap(key, "lump_sample", {"method": ""})
    assert urgency(tablet)["SKN-27"] == "T"
    assert not LumpSample.objects.exists()


def test_of_two_lumps_on_one_line_the_more_urgent_counts(tablet) -> None:
    measured(tablet, placed(tablet, first_seen="2025-01-01"), 8, 8)
    measured(tablet, placed(tablet), 25, 20)
    assert urgency(tablet)["SKN-27"] == "R"
    measured(tablet, placed(tablet), 4, 4, looks={"surface": ["bleeding"]})
    assert urgency(tablet)["SKN-27"] == "T"


# ---- The next visit


def test_growth_since_the_last_visit_is_reckoned_and_moves_the_class(tablet) -> None:
    key = placed(tablet)
    measured(tablet, key, 12, 10, 8)
    again = next_visit(tablet, days=45)
    measured(again, key, 16, 13, 10)
    lump = today(again, key)
    assert lump.number == 1
    assert "+33% in length" in lump.grown
    assert "Doubles in about 40 days" in lump.grown
    assert urgency(again)["SKN-27"] == "T"


def test_within_the_error_of_calipers_nothing_grew(tablet) -> None:
    key = placed(tablet)
    measured(tablet, key, 12, 10, 8)
    again = next_visit(tablet, days=20)
    measured(again, key, 14, 11, 8)
    assert "error of measuring" in today(again, key).grown
    assert urgency(again)["SKN-27"] == "R"


def test_another_method_is_not_compared(tablet) -> None:
    key = placed(tablet)
    measured(tablet, key, 12, 10, 8)
    again = next_visit(tablet, days=45)
    measured(again, key, 26, 23, 20, method="estimate")
    assert "another way" in today(again, key).grown


def test_gone_and_grown_together_are_kept_with_the_lump(tablet) -> None:
    one, two, three = placed(tablet), placed(tablet, x=0.3), placed(tablet, x=0.2)
    for key in (one, two, three):
        measured(tablet, key, 12, 10)
    again = next_visit(tablet, days=45)
    gone = {"how": "removed", "words": "elsewhere in May", "histology": True}
    assert again.tap(one, "lump_gone", gone)["result"] == "accepted"
    assert again.tap(two, "lump_merge", {"into": three.removeprefix("lump:")})["result"] == "accepted"
    first, second, third = Lump.objects.order_by("number")
    assert (first.gone_how, first.gone_on) == (
        "removed by surgery, elsewhere in May",
        people.TODAY + timedelta(45),
    )
    assert second.merged_into == third
    assert LumpSample.objects.get().method == "removed"
    later = next_visit(again, days=90)
    assert measured(later, three, 12, 10)["result"] == "accepted"
    assert later.tap(three, "lump_merge", {"into": two.removeprefix("lump:")})["reason"] == "no-such-lump"


def test_gone_taken_back_is_there_again(tablet) -> None:
    key = placed(tablet)
    measured(tablet, key, 12, 10)
    again = next_visit(tablet, days=45)
    op = again.operation(key, "lump_gone", {"how": "not-felt"})
    again.send(op)
    assert Lump.objects.get().gone_on
    again.tap(key, "take_back", {"operation": op["key"]})
    lump = Lump.objects.get()
    assert (lump.gone_on, lump.gone_how, lump.withdrawn) == (None, "", False)


def test_a_place_put_right_and_taken_back_is_where_it_was(tablet) -> None:
    key = placed(tablet)
    measured(tablet, key, 12, 10)
    again = next_visit(tablet, days=45)
    op = again.operation(key, "lump_place", FLANK | {"region": "chest-left", "x": 0.46})
    again.send(op)
    assert Lump.objects.get().region == "chest-left"
    again.tap(key, "take_back", {"operation": op["key"]})
    assert (Lump.objects.get().region, Lump.objects.get().first_seen) == ("flank-left", people.TODAY)


def test_an_exam_keeps_where_it_said_that_a_known_lump_lies(tablet) -> None:
    key = placed(tablet)
    measured(tablet, key, 12, 10)
    again = next_visit(tablet, days=45)
    measured(again, key, 12, 10)
    assert today(again, key).place.words == "left flank"


def test_a_lump_of_today_is_taken_back_not_gone(tablet) -> None:
    assert tablet.tap(placed(tablet), "lump_gone", {"how": "not-felt"})["reason"] == "new-lump"


def test_not_looked_at_needs_its_reason(tablet) -> None:
    key = placed(tablet)
    measured(tablet, key, 12, 10)
    again = next_visit(tablet, days=45)
    assert again.tap(key, "lump_not_looked", {})["reason"] == "reason"
    assert again.tap(key, "lump_not_looked", {"reason": "would-not-allow"})["result"] == "accepted"
    assert not Finding.objects.filter(record=again.exam.record_id, line=LINE).exists()


# ---- Two people, roles, the freeze


def test_a_stale_size_is_refused_with_what_stands(tablet, house) -> None:
    key = placed(tablet)
    follows = told(tablet).versions[key]
    tablet.send(tablet.operation(key, "lump_measure", {"axes": [14, 11]}, follows=follows))
    other = Tablet(tablet.exam, house.actor("colleague"))
    [answer] = other.send(other.operation(key, "lump_measure", {"axes": [20, 11]}, follows=follows))
    assert (answer["reason"], answer["theirs"][key]["axes_mm"]) == ("stale", (14.0, 11.0))
    assert today(tablet, key).axes_mm == (14, 11)


def test_an_assistant_records_no_lump(tablet, house) -> None:
    other = Tablet(tablet.exam, house.actor("assistant"))
    assert other.tap(new(), "lump_place", FLANK)["reason"] == "role"


def test_what_a_signed_exam_says_of_a_lump_is_frozen(tablet) -> None:
    key = placed(tablet)
    measured(tablet, key, 14, 11)
    tablet.tap(key, "lump_sample", {"method": "needle"})
    next_visit(tablet, days=10)
    assert measured(tablet, key, 20, 11)["reason"] == "signed"
    for change in (
        lambda: LumpMeasure.objects.update(length_mm=20),
        lambda: LumpMeasure.objects.all().delete(),
        lambda: LumpSample.objects.update(method="biopsy"),
        lambda: Exam.objects.filter(pk=tablet.exam.pk).update(lumps={}),
    ):
        with pytest.raises(Error, match="signed record"), transaction.atomic():
            change()
    Lump.objects.update(depth="in the skin")  # the lump itself is free


def test_a_tap_on_a_line_reads_no_lumps(tablet, django_assert_num_queries) -> None:
    """Ordinary taps pay nothing for lumps."""
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    placed(tablet)
    with CaptureQueriesContext(connection) as asked:
        tablet.send(tablet.operation("SKN.coat|-", "set_normal"))
    assert not [q for q in asked.captured_queries if "exams_lump" in q["sql"]]


TAPS = st.lists(
    st.tuples(
        st.sampled_from(["place", "measure", "sample", "back", "clear", "normal", "resend"]),
        st.integers(0, 2),
        st.integers(1, 40),
    ),
    max_size=14,
)


@settings(
    max_examples=examples(15), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(TAPS)
def test_any_taps_leave_rows_that_say_what_the_state_says(taps) -> None:
    """No doubled number, no size without its lump, the line abnormal exactly while a lump was measured."""
    with transaction.atomic():
        tablet = exam_here(people.people().actor("clinician"))
        keys, done = [new(), new(), new()], []
        for what, which, mm in taps:
            key = keys[which]
            payload = {"place": FLANK, "measure": {"axes": [mm + 1, mm]}, "sample": {"method": "needle"}}
            if what == "resend" and done:
                tablet.send(done[-1])
            elif what == "back" and done:
                last = done[-1]
                tablet.tap(last["target"], "take_back", {"operation": last["key"]})
            elif what in payload:
                op = tablet.operation(
                    key, f"lump_{what}", payload[what], follows=told(tablet).versions.get(key, "")
                )
                tablet.send(op)
                done.append(op)
            elif what in ("clear", "normal"):
                tablet.tap(LINE, "clear" if what == "clear" else "set_normal")
        lumps = told(tablet).lumps
        numbers = [x.number for x in lumps.values()]
        assert len(set(numbers)) == len(numbers)
        assert {str(x.key) for x in Lump.objects.filter(withdrawn=False)} == set(lumps)
        sizes = {str(m.lump.key): m.length_mm for m in LumpMeasure.objects.select_related("lump")}
        assert sizes == {k: x.axes_mm[0] for k, x in lumps.items() if x.said == "measured"}
        line = Finding.objects.filter(line=LINE).first()
        assert bool(sizes) == bool(line and line.status == "abnormal")
        transaction.set_rollback(True)
