"""What a tap does to an exam, and what it is refused."""

import pytest

from exams.lines import Absence, applicable
from exams.operations import BadOperation, apply, operation_from_json, version_of
from exams.state import HeadsUp, shown, standing, start
from tests.exams.walkhelp import ADULT_DAYS, dog, found, listed, op, queen, tap, walk

EAR = "EAR.canal|left"
SOUR_EAR = HeadsUp("h1", "EAR", "Smells sour", "varga")


def reads(state, key, lines=None):
    return standing(state, lines or dog(), key)[0]


def test_nothing_is_answered_at_the_start() -> None:
    assert {reads(start(), x.key) for x in dog()} == {"not-yet", "not-applicable"}


def test_a_tap_on_normal_answers_that_line_alone() -> None:
    state, outcome = tap(start(), EAR, "set_normal")
    assert outcome.accepted
    assert reads(state, EAR) == "normal"
    assert reads(state, "EAR.canal|right") == "not-yet"


def test_an_abnormal_ear_keeps_its_finding_severity_and_quality() -> None:
    state, _ = tap(
        start(), EAR, "set_abnormal", found("EAR-02", severity="moderate", qualifiers={"colour": "brown"})
    )
    entry = shown(state, dog(), EAR).findings[0]
    assert (entry.code, entry.severity, entry.qualifiers) == ("EAR-02", "moderate", {"colour": "brown"})


@pytest.mark.parametrize(
    ("target", "what", "payload", "reason"),
    [
        ("EAR.canal", "set_normal", {}, "needs-side"),
        ("EAR.canal|-", "set_abnormal", found("EAR-02"), "needs-side"),
        ("EAR.canal|middle", "set_normal", {}, "no-such-line"),
        ("VIT.weight|-", "set_normal", {}, "measured"),
        ("GUM.testes|left", "set_normal", {}, "not-applicable"),
        ("GUM.vulva|-", "set_normal", {}, "not-applicable"),
        (EAR, "set_abnormal", found("EAR-99"), "no-such-finding"),
        (EAR, "set_abnormal", found("EYE-01"), "other-station"),
        ("THR.thyroid|left", "set_abnormal", found("THR-07"), "not-for-this-animal"),
        (EAR, "set_abnormal", found("EAR-13", severity="mild"), "severity"),
        (EAR, "set_abnormal", found("EAR-02", severity="dreadful"), "severity"),
        (EAR, "set_abnormal", found("EAR-02", grade="2"), "grade-without-scale"),
        (EAR, "set_abnormal", found("EAR-02", qualifiers={"mood": "bad"}), "qualifier"),
        (EAR, "set_abnormal", found("EAR-02", circumstances=["full moon"]), "circumstance"),
        (EAR, "set_abnormal", {"findings": "EAR-02"}, "bad-payload"),
        (EAR, "set_abnormal", {"findings": [{"code": "EAR-02"}, {"code": "EAR-02"}]}, "bad-payload"),
        (EAR, "set_normal", found("EAR-02"), "not-normal"),
        ("EAR.tympanum|left", "set_abnormal", found("EAR-10"), "limit"),
        ("HRT.murmur|-", "set_abnormal", found("HRT-02", grade="5"), "grade"),
        ("HRT.murmur|-", "set_abnormal", found("HRT-02", grade="3", scale="levine"), "other-scale"),
        ("HLB.patella|left", "set_abnormal", found("HLB-08"), "needs-direction"),
        ("NEU.posture|-", "set_abnormal", found("NEU-01"), "needs-side"),
        (EAR, "set_abnormal", found("EAR-02", qualifiers={"side": "right"}), "side"),
        ("MTH.gums|upper-left", "set_abnormal", found("MTH-05"), "needs-tooth"),
        ("MTH.gums|upper-left", "set_abnormal", found("MTH-05", tooth=108), "tooth"),
        ("MTH.teeth|108", "set_abnormal", found("MTH-05", tooth=208), "tooth"),
        ("LYM.mandibular|left", "set_abnormal", found("LYM-04"), "whole-station"),
        (EAR, "set_not_examined", {"reason": "lazy"}, "reason"),
        (EAR, "set_not_examined", {"reason": "other"}, "reason"),
        (EAR, "set_not_examined", found("EAR-02"), "not-looked-at"),
        (EAR, "measure", {"value": "3"}, "not-measured"),
        ("BCM.score|-", "measure", {"value": "12"}, "grade"),
        (EAR, "paint", {}, "unknown-operation"),
        ("XXX", "station_all_normal", {"lines": []}, "no-such-station"),
        ("exam", "station_all_normal", {"lines": []}, "no-such-station"),
    ],
)
def test_it_is_refused_and_nothing_changes(target, what, payload, reason) -> None:
    before = start()
    state, outcome = tap(before, target, what, payload)
    assert (outcome.result, outcome.reason) == ("refused", reason)
    assert outcome.words
    assert state.answers == before.answers
    assert state.versions == before.versions


def test_a_key_that_comes_again_gets_its_first_answer_again() -> None:
    first = op(EAR, "set_normal")
    state, outcome = apply(start(), first, walk(), dog())
    again, repeated = apply(state, first, walk(), dog())
    assert again is state
    assert (repeated.result, repeated.version, repeated.repeated) == ("accepted", outcome.version, True)


def test_a_refused_key_stays_refused_when_it_comes_again() -> None:
    wrong = op(EAR, "set_abnormal", found("EAR-99"))
    state, _ = apply(start(), wrong, walk(), dog())
    _, repeated = apply(state, wrong, walk(), dog())
    assert (repeated.reason, repeated.repeated) == ("no-such-finding", True)


def test_a_tablets_own_chain_never_conflicts_with_itself() -> None:
    chain = [op(EAR, "set_normal", key="a"), op(EAR, "clear", key="b", follows="a")]
    chain.append(op(EAR, "set_abnormal", found("EAR-02"), key="c", follows="b"))
    state = start()
    for one in chain:
        state, outcome = apply(state, one, walk(), dog())
        assert outcome.accepted
    assert version_of(state, dog(), EAR) == "c"


def test_whoever_follows_an_older_answer_is_shown_both() -> None:
    state, _ = tap(start(), EAR, "set_normal", key="theirs")
    _, outcome = tap(state, EAR, "set_abnormal", found("EAR-02"), follows="")
    assert (outcome.reason, outcome.version, outcome.same) == ("stale", "theirs", False)
    assert outcome.theirs[EAR]["status"] == "normal"


def test_a_stale_tap_that_says_the_same_says_so() -> None:
    state, _ = tap(start(), EAR, "set_normal")
    _, outcome = tap(state, EAR, "set_normal", follows="")
    assert (outcome.reason, outcome.same) == ("stale", True)


def test_an_operation_from_another_version_of_the_walk_is_refused() -> None:
    _, outcome = tap(start(), EAR, "set_normal", walk_version="0" * 64)
    assert outcome.reason == "other-walk"


# ---- Both sides, twins, whole findings


def test_both_becomes_two_entries_that_may_differ() -> None:
    payload = {side: found("EAR-01", severity=how) for side, how in (("left", "mild"), ("right", "severe"))}
    state, outcome = tap(start(), "EAR.canal|both", "set_abnormal", payload)
    assert outcome.changed == ("EAR.canal|left", "EAR.canal|right")
    assert [shown(state, dog(), k).findings[0].severity for k in outcome.changed] == ["mild", "severe"]


def test_both_follows_the_versions_of_its_two_sides() -> None:
    state, _ = tap(start(), EAR, "set_normal", key="one")
    assert version_of(state, dog(), "EAR.canal|both") == "one+-"
    _, outcome = tap(state, "EAR.canal|both", "set_normal", follows="one+-")
    assert outcome.accepted


def test_a_twin_answers_its_home() -> None:
    state, _ = tap(start(), "NEU.menace|left", "set_abnormal", found("NEU-06"))
    assert reads(state, "EYE.vision|left") == "abnormal"


def test_a_normal_gait_answers_all_four_limbs() -> None:
    state, _ = tap(start(), "GEN.gait|-", "set_normal")
    assert {reads(state, k) for k in ("FLB.gait|left", "HLB.gait|right", "NEU.gait|LH")} == {"normal"}


def test_an_abnormal_limb_makes_the_gait_abnormal_and_leaves_the_other_limbs_open() -> None:
    state, _ = tap(start(), "GEN.gait|-", "set_normal")
    state, _ = tap(state, "NEU.gait|LF", "set_abnormal", found("FLB-01", grade="2"))
    assert reads(state, "GEN.gait|-") == "abnormal"
    assert reads(state, "FLB.gait|left") == "abnormal"
    assert reads(state, "HLB.gait|left") == "not-yet"


def test_a_finding_without_a_side_answers_both_sides() -> None:
    state, _ = tap(start(), "NOS.nares|left", "set_abnormal", found("NOS-06"))
    assert reads(state, "NOS.nares|right") == "abnormal"
    assert shown(state, dog(), "NOS.nares|right").derived_from == ("NOS.nares|left",)


def test_a_missing_limb_takes_its_lines_away_at_once() -> None:
    state, _ = tap(start(), "HLB.*|left", "set_abnormal", found("HLB-28"))
    assert reads(state, "HLB.hip|left") == "not-applicable"
    assert reads(state, "HLB.hip|right") == "not-yet"
    _, outcome = tap(state, "HLB.hip|left", "set_normal")
    assert outcome.reason == "not-applicable"


def test_a_limb_known_to_be_missing_is_not_asked_about_again() -> None:
    lines = applicable(walk(), "dog", "male", True, ADULT_DAYS, [Absence("limb:LH", "amputated 2024")])
    assert not [x for x in lines.at("HLB|left") if x.applies and x.asked == "every"]


# ---- Variants, limits, grades, roles


@pytest.mark.parametrize("what", ["set_normal", "set_abnormal"])
def test_a_variant_keeps_the_line_normal(what) -> None:
    state, outcome = tap(start(), "EYE.lens|left", what, found("EYE-19", severity="mild"))
    assert outcome.accepted
    assert reads(state, "EYE.lens|left") == "normal"


def test_in_part_is_a_flag_with_what_limited_it() -> None:
    payload = {"status": "normal", "reason": "would-not-allow"}
    state, _ = tap(start(), "MTH.tongue|-", "set_in_part", payload)
    answer = shown(state, dog(), "MTH.tongue|-")
    assert (answer.status, answer.in_part, answer.reason) == ("normal", True, "would-not-allow")


def test_how_far_the_look_went_goes_with_not_examined() -> None:
    state, outcome = tap(start(), "EAR.tympanum|left", "set_not_examined", found("EAR-10"))
    assert outcome.accepted
    assert reads(state, "EAR.tympanum|left") == "not-examined"


def test_a_limited_station_says_so_without_answering_a_line() -> None:
    state, outcome = tap(start(), "ABD.*|-", "set_in_part", found("ABD-24") | {"reason": "tense"})
    assert outcome.accepted
    assert reads(state, "ABD.liver|-") == "not-yet"


def test_a_code_with_one_grade_carries_it() -> None:
    payload = found("HLB-09", qualifiers={"medial / lateral": "medial"})
    state, _ = tap(start(), "HLB.patella|left", "set_abnormal", payload)
    entry = shown(state, dog(), "HLB.patella|left").findings[0]
    assert (entry.grade, entry.scale) == ("2", "patella-4")


def test_a_technicians_grade_waits_for_a_clinician() -> None:
    murmur = found("HRT-02", grade="3")
    state, _ = tap(start(), "HRT.murmur|-", "set_abnormal", murmur, role="technician", person="varga")
    assert shown(state, dog(), "HRT.murmur|-").findings[0].unconfirmed
    _, refused = tap(state, "HRT.murmur|-", "confirm", role="technician")
    assert refused.reason == "role"
    state, _ = tap(state, "HRT.murmur|-", "confirm")
    answer = shown(state, dog(), "HRT.murmur|-")
    assert (answer.findings[0].unconfirmed, answer.person, answer.confirmed_by) == (False, "varga", "oduya")


def test_an_assistant_does_not_record_the_heart() -> None:
    _, outcome = tap(start(), "HRT.sounds|-", "set_normal", role="assistant")
    assert outcome.reason == "role"


def test_only_a_clinician_says_that_something_was_not_needed() -> None:
    _, outcome = tap(start(), EAR, "set_not_examined", {"reason": "not-needed"}, role="technician")
    assert outcome.reason == "role"


def test_only_a_clinician_sets_a_class_by_hand() -> None:
    _, outcome = tap(start(), EAR, "set_abnormal", found("EAR-02", urgency="T"), role="technician")
    assert outcome.reason == "role"


@pytest.mark.parametrize("sent", [{}, {"urgency": "T", "urgency_why": "he shakes it all day"}])
def test_a_clinicians_class_stays_when_a_technician_saves_the_line(sent) -> None:
    classed = found("EAR-02", urgency="T", urgency_why="he shakes it all day")
    state, _ = tap(start(), EAR, "set_abnormal", classed)
    state, outcome = tap(
        state, EAR, "set_abnormal", found("EAR-02", severity="moderate", **sent), role="technician"
    )
    assert outcome.result == "accepted"
    entry = shown(state, dog(), EAR).findings[0]
    assert (entry.urgency, entry.urgency_why) == ("T", "he shakes it all day")
    assert (entry.severity, entry.unconfirmed) == ("moderate", True)


@pytest.mark.parametrize(
    "sent",
    [{"urgency": "E", "urgency_why": "he shakes it all day"}, {"urgency": "T", "urgency_why": "other"}],
)
def test_a_technician_does_not_change_a_clinicians_class(sent) -> None:
    classed = found("EAR-02", urgency="T", urgency_why="he shakes it all day")
    state, _ = tap(start(), EAR, "set_abnormal", classed)
    after, outcome = tap(state, EAR, "set_abnormal", found("EAR-02", **sent), role="technician")
    assert outcome.reason == "role"
    assert shown(after, dog(), EAR).findings[0].urgency == "T"


def test_a_clinicians_class_goes_with_the_finding_when_its_side_is_put_right() -> None:
    line, code = next(
        (each.key, c)
        for each in dog()
        if each.side == "-" and not each.whole_station and each.depth == "routine"
        for c in each.codes
        if walk().finding[c].side_text == "L/R" and not walk().finding[c].grade_scale
    )
    first = found(code, qualifiers={"side": "left"}, urgency="T", urgency_why="it grows")
    state, outcome = tap(start(), line, "set_abnormal", first)
    assert outcome.accepted, outcome
    state, outcome = tap(
        state, line, "set_abnormal", found(code, qualifiers={"side": "right"}), role="technician"
    )
    assert outcome.accepted, outcome
    entry = shown(state, dog(), line).findings[0]
    assert (entry.qualifiers["side"], entry.urgency) == ("right", "T")


def test_a_dental_stage_is_an_estimate_unless_anaesthetised() -> None:
    stage = found("MTH-05", grade="2")
    state, _ = tap(start(), "MTH.teeth|108", "set_abnormal", stage)
    assert shown(state, dog(), "MTH.teeth|108").findings[0].awake_estimate
    state, _ = tap(start(), "exam", "set_awake", {"awake": "anaesthetised", "by_what": "propofol"})
    state, _ = tap(state, "MTH.teeth|108", "set_abnormal", stage)
    assert not shown(state, dog(), "MTH.teeth|108").findings[0].awake_estimate


@pytest.mark.parametrize(
    ("lines", "score", "codes", "word"),
    [(dog, "4", [], "measured"), (dog, "7", ["BCM-05"], "abnormal"), (queen, "4", ["BCM-03"], "measured")],
)
def test_a_score_brings_its_own_code(lines, score, codes, word) -> None:
    state, _ = tap(start(), "BCM.score|-", "measure", {"value": score}, lines())
    assert [f.code for f in shown(state, lines(), "BCM.score|-").findings] == codes
    assert reads(state, "BCM.score|-", lines()) == word


def test_a_value_outside_its_interval_reads_abnormal() -> None:
    state, _ = tap(start(), "VIT.temperature|-", "measure", {"value": "40.1", "unit": "C", "flag": "high"})
    assert reads(state, "VIT.temperature|-") == "abnormal"
    assert reads(state, "HRT.rate|-") == "not-yet"


# ---- A station together


def test_all_normal_fills_routine_lines_and_says_what_it_did_not() -> None:
    state, _ = tap(start(), EAR, "set_abnormal", found("EAR-02"))
    state, outcome = tap(state, "EAR", "station_all_normal", listed(dog(), "EAR"))
    assert "EAR.canal|right" in outcome.filled
    assert dict(outcome.not_filled) == {
        "EAR.canal|left": "already abnormal",
        "EAR.tympanum|left": "on indication",
        "EAR.tympanum|right": "on indication",
        "EAR.hearing|-": "on indication",
    }
    assert shown(state, dog(), "EAR.pinna|left").together


def test_all_normal_leaves_what_was_not_on_screen() -> None:
    state, outcome = tap(start(), "EAR", "station_all_normal", {"lines": ["EAR.pinna|left"]})
    assert outcome.filled == ("EAR.pinna|left",)
    assert dict(outcome.not_filled)["EAR.pinna|right"] == "was not on screen"
    assert reads(state, "EAR.pinna|right") == "not-yet"


def test_a_list_cannot_reach_into_another_station() -> None:
    _, outcome = tap(start(), "EAR", "station_all_normal", {"lines": ["EYE.lens|left"]})
    assert outcome.filled == ()
    assert dict(outcome.not_filled)["EYE.lens|left"] == "not at this place"


def test_one_side_of_the_limbs_is_marked_alone() -> None:
    state, outcome = tap(start(), "FLB|left", "station_all_normal", listed(dog(), "FLB|left"))
    assert all(k.endswith("|left") for k in outcome.filled)
    assert reads(state, "FLB.elbow|right") == "not-yet"


def test_all_teeth_can_be_marked_by_one_tap() -> None:
    _, outcome = tap(start(), "MTH.teeth", "station_all_normal", listed(dog(), "MTH.teeth"))
    assert len(outcome.filled) == 42


def test_the_rest_is_not_examined_for_one_reason_and_routine_lines_stay_open() -> None:
    state, outcome = tap(start(), "EAR", "station_rest_not_examined", {"reason": "not-needed"})
    assert set(outcome.filled) == {"EAR.tympanum|left", "EAR.tympanum|right", "EAR.hearing|-"}
    assert reads(state, EAR) == "not-yet"


def test_an_urgent_exam_answers_everything_open_together_but_never_as_normal() -> None:
    state, _ = tap(start(), EAR, "set_normal")
    state, _ = tap(state, "exam", "station_rest_not_examined", {"reason": "urgent-visit", "all": True})
    assert {reads(state, x.key) for x in dog() if x.applies and not x.whole_station} == {
        "normal",
        "not-examined",
    }
    assert reads(state, EAR) == "normal"


def test_taking_a_station_back_leaves_what_changed_since() -> None:
    state, first = tap(start(), "EAR", "station_all_normal", listed(dog(), "EAR"))
    state, _ = tap(state, EAR, "set_abnormal", found("EAR-02"))
    state, outcome = tap(state, "EAR", "take_back", {"operation": first.key})
    assert reads(state, "EAR.pinna|left") == "not-yet"
    assert reads(state, EAR) == "abnormal"
    assert outcome.not_filled == ((EAR, "changed since"),)


def test_taking_back_restores_what_stood_before() -> None:
    state, _ = tap(start(), EAR, "set_abnormal", found("EAR-02"))
    state, second = tap(state, EAR, "set_normal")
    state, _ = tap(state, EAR, "take_back", {"operation": second.key})
    assert reads(state, EAR) == "abnormal"


def test_what_was_refused_cannot_be_taken_back() -> None:
    state, refused = tap(start(), EAR, "set_abnormal", found("EAR-99"))
    _, outcome = tap(state, EAR, "take_back", {"operation": refused.key})
    assert outcome.reason == "nothing-to-take-back"


# ---- Heads-ups, notes, the kind of exam


@pytest.mark.parametrize(
    ("target", "what", "payload"),
    [(EAR, "set_normal", {}), ("EAR", "station_all_normal", listed(dog(), "EAR"))],
)
def test_nothing_is_normal_beside_a_heads_up_without_a_question(target, what, payload) -> None:
    _, outcome = tap(start((SOUR_EAR,)), target, what, payload)
    assert (outcome.reason, "Smells sour" in outcome.words) == ("heads-up-open", True)
    _, asked = tap(start((SOUR_EAR,)), target, what, payload | {"despite": ["h1"]})
    assert asked.accepted


def test_a_clinician_answers_the_heads_up_and_the_way_is_free() -> None:
    state, refused = tap(
        start((SOUR_EAR,)), "h1", "answer_heads_up", {"answer": "nothing"}, role="technician"
    )
    assert refused.reason == "role"
    state, _ = tap(state, "h1", "answer_heads_up", {"answer": "nothing"})
    assert state.heads_ups["h1"].answered_by == "oduya"
    _, outcome = tap(state, EAR, "set_normal")
    assert outcome.accepted


def test_a_technician_pins_a_heads_up_in_the_middle_of_the_exam() -> None:
    payload = {"station": "HLB", "words": "Sits with the leg out"}
    state, _ = tap(start(), "h2", "pin_heads_up", payload, role="technician", person="varga")
    assert state.open_heads_ups(("HLB",))[0].person == "varga"


def test_a_note_stands_beside_the_answer() -> None:
    state, _ = tap(start(), EAR, "set_normal")
    state, _ = tap(state, EAR, "note", {"text": "wax taken for a slide"})
    assert state.notes == {EAR: "wax taken for a slide"}
    assert reads(state, EAR) == "normal"


def test_leaving_the_full_walk_is_a_clinicians_recorded_choice() -> None:
    payload = {"kind": "focused", "stations": ["EAR"], "reason": "recheck of the left ear"}
    _, refused = tap(start(), "exam", "set_kind", payload, role="technician")
    state, outcome = tap(start(), "exam", "set_kind", payload)
    assert (refused.reason, outcome.accepted) == ("role", True)
    assert (state.kind, state.stations, state.kind_reason) == ("focused", ("EAR",), "recheck of the left ear")


# ---- On the wire


def test_an_operation_is_read_from_json_with_the_servers_person() -> None:
    data = {
        "key": "k",
        "target": EAR,
        "what": "set_normal",
        "made_at": "t",
        "walk_version": "w",
        "follows": None,
    }
    one = operation_from_json(data, person="oduya", role="clinician")
    assert (one.person, one.follows, one.payload) == ("oduya", "", {})


@pytest.mark.parametrize(
    "broken", [{"key": ""}, {"person": "me"}, {"payload": []}, {"follows": 3}, {"target": None}]
)
def test_what_is_not_an_operation_is_refused_as_such(broken) -> None:
    data = {"key": "k", "target": EAR, "what": "set_normal", "made_at": "t", "walk_version": "w"} | broken
    with pytest.raises(BadOperation):
        operation_from_json(data, person="oduya", role="clinician")
