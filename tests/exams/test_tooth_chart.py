"""What is charted of a tooth, in which state it was seen, and what the chart asks."""

from types import SimpleNamespace

import pytest

from exams.consciousness import Since, spoken
from exams.digest import missing_to_sign
from exams.lines import applicable
from exams.sentences import for_record
from exams.state import answer_from_json, answer_to_json, shown, start
from exams.teeth_letter import teeth_section
from exams.tooth_chart import count, letters_of, questions, teeth_out
from tests import people
from tests.exams.house import exam_here, state_of
from tests.exams.walkhelp import dog, found, queen, tap, walk

T108 = "MTH.teeth|108"
ASLEEP = {"awake": "anaesthetised", "by_what": "propofol, isoflurane"}


def puppy(months: float, species: str = "dog"):
    return applicable(walk(), species, "male", False, int(months * 30.4375) + 1)


def asleep(state=None):
    return tap(state or start(), "exam", "set_awake", ASLEEP)[0]


def chart(state, charted, what="set_normal", lines=None, key=T108, **more):
    payload = {"charted": charted, **more.pop("payload", {})}
    return tap(state, key, what, payload, lines or dog(), **more)


# ---- Awake, sedated, anaesthetised


def test_sedated_and_anaesthetised_say_with_what() -> None:
    _, outcome = tap(start(), "exam", "set_awake", {"awake": "sedated"})
    assert outcome.reason == "with-what"


def test_an_exam_keeps_its_states_in_their_order() -> None:
    state, _ = tap(start(), "exam", "set_awake", {"awake": "awake"})
    state = asleep(state)
    assert [(s.state, s.by_what) for s in state.awake_log] == [
        ("awake", ""),
        ("anaesthetised", "propofol, isoflurane"),
    ]
    assert spoken(state.awake_log) == "awake, then anaesthetised (propofol, isoflurane)"


def test_the_words_of_a_state_may_be_put_right() -> None:
    log = (Since("sedated", "medetomidine"), Since("sedated", "medetomidine, butorphanol"))
    assert spoken(log) == "sedated (medetomidine, butorphanol)"


def test_what_was_seen_awake_stays_so_when_the_animal_sleeps() -> None:
    state, _ = tap(start(), T108, "set_abnormal", found("MTH-05", grade="2"))
    state = asleep(state)
    both = {"findings": [{"code": "MTH-05", "grade": "2"}, {"code": "MTH-11", "severity": "mild"}]}
    state, _ = tap(state, T108, "set_abnormal", both)
    stage, wear = shown(state, dog(), T108).findings
    assert (stage.awake_estimate, stage.made_in) == (True, "")
    assert wear.made_in == "anaesthetised"


def test_a_stage_is_firm_once_it_was_staged_again_under_the_anaesthetic() -> None:
    state, _ = tap(start(), T108, "set_abnormal", found("MTH-05", grade="2"))
    state = asleep(state)
    state, _ = tap(state, T108, "set_abnormal", found("MTH-05", grade="2", made_in="anaesthetised"))
    assert not shown(state, dog(), T108).findings[0].awake_estimate


def test_a_sedated_stage_is_a_first_impression_too() -> None:
    state, _ = tap(start(), "exam", "set_awake", {"awake": "sedated", "by_what": "medetomidine"})
    state, _ = tap(state, T108, "set_abnormal", found("MTH-05", grade="3"))
    assert "provisional, sedated" in for_record(walk(), dog()[T108], shown(state, dog(), T108))


def test_a_tap_that_waited_keeps_the_state_it_was_made_in() -> None:
    payload = {**found("MTH-05", grade="2"), "made_in": "awake"}
    state, _ = tap(asleep(), T108, "set_abnormal", payload)
    answer = shown(state, dog(), T108)
    assert (answer.made_in, answer.findings[0].awake_estimate) == ("awake", True)


def test_nobody_claims_an_anaesthetic_that_the_exam_never_had() -> None:
    payload = {**found("MTH-05", grade="2"), "made_in": "anaesthetised"}
    _, outcome = tap(start(), T108, "set_abnormal", payload)
    assert outcome.reason == "never-so"
    _, outcome = tap(start(), T108, "set_abnormal", found("MTH-05", grade="2", made_in="anaesthetised"))
    assert outcome.reason == "never-so"


def test_a_normal_marked_together_says_the_state_too() -> None:
    state, _ = tap(asleep(), "MTH.teeth", "station_all_normal", {"lines": [T108]})
    assert shown(state, dog(), T108).made_in == "anaesthetised"


# ---- Pockets, zeros, extractions


def test_pockets_are_probed_under_an_anaesthetic_only() -> None:
    _, outcome = chart(start(), {"pockets": {"b": "2"}})
    assert outcome.reason == "probing"
    state, outcome = chart(asleep(), {"pockets": {"b": "2,5"}})
    assert outcome.accepted
    assert for_record(walk(), dog()[T108], shown(state, dog(), T108)).endswith("pockets: buccal 2.5 mm")


def test_pockets_stay_when_the_animal_wakes() -> None:
    state, _ = chart(asleep(), {"pockets": {"b": "2"}})
    state, _ = tap(state, "exam", "set_awake", {"awake": "awake"})
    _, outcome = chart(state, {"pockets": {"b": "2"}}, payload={"made_in": "awake"})
    assert outcome.accepted
    _, outcome = chart(state, {"pockets": {"b": "3"}}, payload={"made_in": "awake"})
    assert outcome.reason == "probing"


@pytest.mark.parametrize("depth", ["deep", "-1", "21"])
def test_a_pocket_is_a_depth_in_mm(depth) -> None:
    _, outcome = chart(asleep(), {"pockets": {"b": depth}})
    assert outcome.reason == "pocket"


def test_a_scale_reads_zero_or_has_its_finding() -> None:
    state, _ = chart(start(), {"zeros": ["mobility-3"]})
    assert "mobility 0" in for_record(walk(), dog()[T108], shown(state, dog(), T108))
    both = {"findings": [{"code": "MTH-06", "grade": "1"}]}
    _, outcome = chart(start(), {"zeros": ["mobility-3"]}, "set_abnormal", payload=both)
    assert outcome.reason == "grade"


def test_an_extraction_is_a_clinicians_under_an_anaesthetic() -> None:
    assert chart(start(), {"extracted": [108]})[1].reason == "extraction"
    assert chart(asleep(), {"extracted": [108]}, role="technician")[1].reason == "role"
    state, outcome = chart(asleep(), {"extracted": [108]})
    assert outcome.accepted
    assert [(a.what, a.words) for a in teeth_out(state.answers)] == [("tooth:108", "extracted")]


def test_a_known_extraction_becomes_a_lasting_fact_a_tooth_never_seen_does_not() -> None:
    how = "known extraction / never seen / unknown"
    state, _ = tap(start(), T108, "set_abnormal", found("MTH-07", qualifiers={how: "known extraction"}))
    state, _ = tap(state, "MTH.teeth|105", "set_abnormal", found("MTH-07", qualifiers={how: "never seen"}))
    assert [a.what for a in teeth_out(state.answers)] == ["tooth:108"]


def test_what_is_charted_stands_on_teeth_only() -> None:
    _, outcome = chart(start(), {"zeros": ["mobility-3"]}, key="EAR.canal|left")
    assert outcome.reason == "bad-payload"


def test_a_tooth_of_another_place_is_refused() -> None:
    _, outcome = chart(start(), {"present": [208]})
    assert outcome.reason == "tooth"


def test_what_is_charted_survives_the_way_to_the_database() -> None:
    state, _ = chart(asleep(), {"pockets": {"b": "2"}, "present": []})
    answer = shown(state, dog(), T108)
    assert answer_from_json(answer_to_json(answer)) == answer


# ---- Stages and X-rays


@pytest.mark.parametrize(
    ("loss", "furcation", "stage", "holds"),
    [("10", "2", "2", False), ("10", "2", "3", True), ("25", None, "3", True), ("60", None, "3", False)],
)
def test_the_worse_column_is_the_stage(loss, furcation, stage, holds) -> None:
    findings = [{"code": "MTH-05", "grade": stage, "qualifiers": {"attachment loss %": loss}}]
    if furcation:
        findings.append({"code": "MTH-04", "grade": furcation})
    _, outcome = tap(start(), T108, "set_abnormal", {"findings": findings})
    assert (outcome.accepted, outcome.reason) == (holds, "" if holds else "stage")


def test_a_stage_may_not_be_less_than_the_furcation_says() -> None:
    findings = [{"code": "MTH-05", "grade": "1"}, {"code": "MTH-04", "grade": "3"}]
    _, outcome = tap(start(), T108, "set_abnormal", {"findings": findings})
    assert outcome.words == "furcation 3 is PD 4: the worse column is the stage"


@pytest.mark.parametrize("more", [{"grade": "2"}, {"qualifiers": {"type 1 / type 2 / type 3": "type 1"}}])
def test_stage_and_type_of_a_resorption_need_an_x_ray(more) -> None:
    _, outcome = tap(start(), T108, "set_abnormal", found("MTH-15", **more))
    assert outcome.reason == "radiograph"
    more = {**more, "qualifiers": {**more.get("qualifiers", {}), "dental X-ray?": "yes"}}
    _, outcome = tap(start(), T108, "set_abnormal", found("MTH-15", **more))
    assert outcome.accepted


def test_a_suspected_resorption_can_be_signed_without_a_stage() -> None:
    state, _ = tap(start(), T108, "set_abnormal", found("MTH-15"))
    lacking = {m.kind: m.where for m in missing_to_sign(state, walk(), dog())}
    assert "grade" not in lacking
    state, _ = tap(state, T108, "set_abnormal", found("MTH-06"))
    lacking = {m.kind: m.where for m in missing_to_sign(state, walk(), dog())}
    assert lacking["grade"] == (T108,)


# ---- What the chart asks


def asked(state, lines):
    return [(q.code, q.tooth) for q in questions(lines, state.answers)]


def test_nothing_is_asked_of_a_normal_mouth() -> None:
    state, _ = tap(
        start(), "MTH.teeth", "station_all_normal", {"lines": [x.key for x in dog().at("MTH.teeth")]}
    )
    assert asked(state, dog()) == []


def test_both_teeth_are_no_question_while_teeth_change() -> None:
    state, _ = chart(start(), {"present": [504, 104]}, lines=puppy(4), key="MTH.teeth|104")
    assert asked(state, puppy(4)) == []


def test_a_question_answered_with_no_is_not_asked_again() -> None:
    lines = puppy(8)
    state, _ = chart(start(), {"present": [504, 104]}, lines=lines, key="MTH.teeth|104")
    assert asked(state, lines) == [("MTH-12", 504)]
    state, _ = chart(state, {"present": [504, 104], "no": ["MTH-12"]}, lines=lines, key="MTH.teeth|104")
    assert asked(state, lines) == []


def test_a_retained_tooth_that_was_extracted_is_no_question() -> None:
    lines = puppy(8)
    charted = {"present": [504, 104], "extracted": [504]}
    state, _ = chart(asleep(), charted, lines=lines, key="MTH.teeth|104")
    assert asked(state, lines) == []


def test_the_letter_names_the_baby_tooth_that_stayed() -> None:
    lines, baby = puppy(8), found("MTH-12", tooth=504)
    state, _ = chart(start(), {"present": [504, 104]}, "set_abnormal", lines, "MTH.teeth|104", payload=baby)
    section = teeth_section(SimpleNamespace(walk=walk(), lines=lines, state=state, names={}))
    ((_at, tooth, _words),) = section.blocks[0].table.rows
    assert tooth.text == "Upper right baby canine (504)"


@pytest.mark.parametrize(("lines", "key", "depth", "asks"), [
    (dog, T108, "3", False), (dog, T108, "4", True), (queen, T108, "1", False), (queen, T108, "1.5", True),
])  # fmt: skip
def test_a_pocket_deeper_than_usual_is_asked_about(lines, key, depth, asks) -> None:
    """Usual: dog 1-3 mm, cat 0.5-1 mm. Source: dvm360, oral charting proceedings."""
    state, _ = chart(asleep(), {"pockets": {"b": depth}}, lines=lines(), key=key)
    assert bool(asked(state, lines())) is asks


@pytest.mark.parametrize(("lines", "words"), [
    (dog, "41 of 42; not there: 108"), (queen, "29 of 30; not there: 108"),
    (lambda: puppy(5), "Mixed teeth: the adult set of 42 is complete by 6 to 7 months."),
])  # fmt: skip
def test_the_count_is_told_against_the_formula(lines, words) -> None:
    """Source: Bellows, Feline Dentistry; eruption: common practice."""
    state, _ = tap(start(), T108, "set_abnormal", found("MTH-07"), lines())
    assert count(lines(), state.answers).words == words


def test_a_baby_mouth_is_counted_by_its_own_formula() -> None:
    state, _ = tap(start(), "MTH.teeth|504", "set_abnormal", found("MTH-07"), puppy(2))
    assert count(puppy(2), state.answers).words == "27 of 28; not there: 504"


def test_the_marks_of_a_tooth_are_worst_first_and_say_what_is_not_firm() -> None:
    findings = [{"code": "MTH-02", "grade": "1"}, {"code": "MTH-05", "grade": "2"}]
    state, _ = tap(start(), T108, "set_abnormal", {"findings": findings})
    assert letters_of(shown(state, dog(), T108)) == ("P2?", "C1")


# ---- In the database


@pytest.mark.django_db
def test_states_and_what_is_charted_are_kept() -> None:
    house = people.people()
    tablet = exam_here(house.actor("clinician"))
    assert tablet.tap("exam", "set_awake", ASLEEP)["result"] == "accepted"
    tablet.tap(T108, "set_normal", {"charted": {"pockets": {"b": "2"}}})
    state = state_of(tablet.exam)
    assert [(s.state, s.by_what) for s in state.awake_log] == [("anaesthetised", "propofol, isoflurane")]
    assert (state.awake, state.answers[T108].made_in) == ("anaesthetised", "anaesthetised")
    assert state.answers[T108].charted == {"pockets": {"b": "2"}}
