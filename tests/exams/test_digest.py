"""What is left, and what stands against a signature."""

import pytest

from exams.digest import digest, judged, missing_to_sign
from exams.state import HeadsUp, start
from exams.urgency import facts_of
from tests.exams.walkhelp import dog, found, listed, tap, walk

INTAKE = {
    "VIT.weight|-": "inside", "VIT.temperature|-": "inside", "VIT.heart-rate|-": "inside",
    "VIT.pulse-rate|-": "inside", "VIT.respiratory-rate|-": "inside", "VIT.refill|-": "inside",
    "BCM.score|-": "inside", "BCM.muscle-score|-": "inside", "GEN.pain|-": "inside",
}  # fmt: skip


def whole_exam():
    state = start()
    for station in walk().stations:
        state, _ = tap(state, station.code, "station_all_normal", listed(dog(), station.code))
        state, _ = tap(state, station.code, "station_rest_not_examined", {"reason": "not-needed"})
    return state


def station(state, code, **more):
    return next(s for s in digest(state, walk(), dog(), **more).stations if s.code == code)


def missing(state, **more):
    return {m.kind: m.where for m in missing_to_sign(state, walk(), dog(), **more)}


def test_an_untouched_exam_is_new_everywhere() -> None:
    assert {s.standing for s in digest(start(), walk(), dog()).stations} == {"new"}


def test_a_whole_normal_exam_has_nothing_left() -> None:
    told = digest(whole_exam(), walk(), dog(), measured=INTAKE)
    assert (told.left, told.left_called_for, told.urgency) == (0, 0, "")
    assert {s.standing for s in told.stations} == {"normal"}


def test_two_taps_a_station_make_a_whole_exam() -> None:
    assert missing(whole_exam(), measured=INTAKE) == {}
    assert 2 * len(walk().stations) < 45


def test_a_station_is_begun_until_its_last_routine_line() -> None:
    state, _ = tap(start(), "EAR.canal|left", "set_normal")
    assert (station(state, "EAR").standing, station(state, "EAR").structures_left) == ("begun", 4)
    state, _ = tap(state, "EAR", "station_all_normal", listed(dog(), "EAR"))
    assert (station(state, "EAR").standing, station(state, "EAR").left_called_for) == ("normal", 3)


def test_a_station_reads_its_worst_word() -> None:
    state, _ = tap(start(), "EAR.canal|left", "set_abnormal", found("EAR-02"))
    state, _ = tap(state, "EAR", "station_all_normal", listed(dog(), "EAR"))
    assert station(state, "EAR").standing == "abnormal"
    unseen, _ = tap(start(), "EAR", "station_rest_not_examined", {"reason": "no-time", "all": True})
    assert station(unseen, "EAR").standing == "unseen"


def test_limbs_count_their_sides_apart() -> None:
    state, _ = tap(start(), "FLB|left", "station_all_normal", listed(dog(), "FLB|left"))
    assert station(state, "FLB").left_by_side == {"left": 0, "right": 11}


def test_what_does_not_apply_is_counted_apart() -> None:
    assert station(start(), "GUM").not_applicable == 2
    state, _ = tap(start(), "HLB.*|left", "set_abnormal", found("HLB-28"))
    assert station(state, "HLB").not_applicable > 10


def test_a_look_with_twins_is_left_once() -> None:
    before = digest(start(), walk(), dog()).left
    state, _ = tap(start(), "NEU.menace|left", "set_normal")
    assert digest(state, walk(), dog()).left == before - 1


def test_a_value_of_the_intake_answers_its_line_at_both_stations() -> None:
    assert station(start(), "HRT", measured={"VIT.heart-rate|-": "high"}).abnormal == 1


def test_an_untouched_exam_cannot_be_signed_and_the_count_is_named() -> None:
    told = missing_to_sign(start(), walk(), dog())
    assert {m.kind for m in told} == {"routine", "measured", "nothing-examined"}
    routine = next(m for m in told if m.kind == "routine")
    assert routine.words.startswith(str(len(routine.where)))
    assert len(routine.where) > 200


@pytest.mark.parametrize(
    ("target", "what", "payload", "kind"),
    [
        ("EAR.canal|left", "set_not_examined", {}, "reason"),
        ("EAR.canal|left", "set_abnormal", {}, "finding"),
        ("HRT.murmur|-", "set_abnormal", found("HRT-02"), "grade"),
        ("EAR.canal|left", "set_abnormal", found("EAR-05"), "plan"),
    ],
)
def test_a_signature_waits_for(target, what, payload, kind) -> None:
    state, outcome = tap(whole_exam(), target, what, payload)
    assert outcome.accepted
    assert kind in missing(state, measured=INTAKE)


def test_a_reason_a_note_or_a_plan_line_frees_the_signature() -> None:
    state, _ = tap(whole_exam(), "EAR.canal|left", "set_not_examined", {"reason": "too-painful"})
    state, _ = tap(state, "EAR.canal|right", "set_abnormal", found("EAR-05"))
    state, _ = tap(state, "LUN.percussion|left", "set_abnormal")
    state, _ = tap(state, "LUN.percussion|left", "note", {"text": "dull below"})
    assert missing(state, measured=INTAKE, planned={"EAR-05"}) == {}


def test_a_technicians_grade_is_confirmed_before_signing() -> None:
    state, _ = tap(
        whole_exam(), "HRT.murmur|-", "set_abnormal", found("HRT-01", grade="2"), role="technician"
    )
    assert missing(state, measured=INTAKE) == {"unconfirmed": ("HRT.murmur|-",)}
    state, _ = tap(state, "HRT.murmur|-", "confirm")
    assert missing(state, measured=INTAKE) == {}


def test_a_heads_up_is_answered_before_signing() -> None:
    state = start((HeadsUp("h1", "EAR", "sour"),))
    assert missing(state)["heads-up"] == ("h1",)


def test_a_weight_not_taken_needs_a_reason() -> None:
    rest = {k: v for k, v in INTAKE.items() if k != "VIT.weight|-"}
    assert missing(whole_exam(), measured=rest) == {"measured": ("VIT.weight|-",)}
    state, _ = tap(whole_exam(), "VIT.weight|-", "set_not_examined", {"reason": "no-equipment"})
    assert missing(state, measured=rest) == {}


def test_a_finding_beside_the_weight_is_not_a_weight() -> None:
    rest = {k: v for k, v in INTAKE.items() if k != "VIT.weight|-"}
    state, _ = tap(whole_exam(), "VIT.weight|-", "set_abnormal", found("VIT-18"))
    assert missing(state, measured=rest) == {"measured": ("VIT.weight|-",)}


def test_a_focused_exam_asks_only_for_its_stations() -> None:
    state, _ = tap(start(), "exam", "set_kind", {"kind": "focused", "stations": ["EAR"]})
    state, _ = tap(state, "EAR", "station_all_normal", listed(dog(), "EAR"))
    assert missing(state, measured=INTAKE) == {}


def test_the_class_follows_what_else_was_found() -> None:
    state, _ = tap(start(), "EAR.base|left", "set_abnormal", found("EAR-07"))
    facts = facts_of(walk(), species="dog")
    assert [j.urgency.letter for j in judged(state, walk(), facts)] == ["T"]
    state, _ = tap(state, "NEU.posture|-", "set_abnormal", found("NEU-01", qualifiers={"side": "left"}))
    assert digest(state, walk(), dog(), facts=facts).urgency == "E"


def test_a_clinicians_own_class_goes_first() -> None:
    state, _ = tap(
        start(), "EAR.canal|left", "set_abnormal", found("EAR-05", urgency="M", urgency_why="known for years")
    )
    told = judged(state, walk(), {})[0].urgency
    assert (told.letter, told.default, told.set_by_clinician) == ("M", "T", True)
    assert told.why == "known for years"
