"""What an owner came for is answered from what the exam holds there, and from nothing else."""

import pytest

from exams.came_for import Told, spoken_of, told
from exams.letter_short import InShort
from exams.state import start
from tests.exams.test_letter_counts import letter_of
from tests.exams.test_letter_sentences import ANIMALS, LINES
from tests.exams.walkhelp import found, listed, tap

EARS = LINES[ANIMALS[0]]


@pytest.mark.parametrize(
    ("words", "stations"),
    [
        ("Scratches at the left ear, worse at night.", ("EAR",)),  # the place, not the sign
        ("Scratches at night.", ("SKN",)),
        ("Shakes the head since the weekend.", ("EAR",)),
        ("Coughs at night and tires on the hill.", ("THR", "LUN", "HRT")),
        ("Se rasca el oído.", ("EAR",)),
        ("Thinner, and the water bowl is empty every evening.", ("VIT", "BCM")),
        ("Fearless at the gate; hears well.", ()),
        ("Yearly check, nothing special.", ()),
        ("Back to normal.", ()),
        ("", ()),
    ],
)
def test_only_whole_words_that_name_a_place_or_a_sign_count(words, stations):
    assert spoken_of(words) == stations


@pytest.mark.parametrize(
    ("found", "normal", "limited", "what"),
    [
        (True, True, True, Told.FOUND),
        (False, True, False, Told.NORMAL),
        (False, True, True, Told.PART),
        (False, False, True, Told.UNSEEN),
        (False, False, False, Told.NOTHING),
    ],
)
def test_what_is_told_of_a_station(found, normal, limited, what):
    assert told(found=found, normal=normal, limited=limited) is what


def answered(state, words="Scratches at the left ear.", language="en"):
    return [each.text for each in InShort(letter_of(state, EARS, language)).answers(words)]


def ear_line():
    return next(line for line in EARS.at("EAR") if line.side == "left" and line.codes and line.applies)


def test_a_leg_that_was_not_looked_at_is_none_where_the_other_has_the_nail():
    line = next(line for line in EARS.at("FLB") if line.structure == "FLB.nails" and line.side == "left")
    state, _ = tap(start(), line.key, "set_abnormal", {**found(line.codes[0]), "sure": True}, EARS)
    assert answered(state, "Tore a nail, left front.") == [
        "What we found about this is below: left front leg."
    ]
    assert len(answered(start(), "Tore a nail, left front.")) == 1


def test_a_finding_there_is_the_answer():
    line = ear_line()
    state, _ = tap(start(), line.key, "set_abnormal", {**found(line.codes[0]), "sure": True}, EARS)
    assert answered(state) == ["What we found about this is below: left ear."]


def test_where_all_of_it_was_normal_it_is_said_what_was_looked_at():
    state, _ = tap(start(), "EAR", "station_all_normal", listed(EARS, "EAR"), EARS)
    assert answered(state) in (
        ["For this we looked at: ears. We found nothing unusual there."],
        ["For this we looked at part of: ears. That part was normal."],
    )
    assert "nada raro" in answered(state, language="es")[0]


def test_what_was_not_examined_is_said_so():
    line = ear_line()
    state, _ = tap(start(), line.key, "set_not_examined", {"reason": "would-not-allow"}, EARS)
    assert answered(state) == ["We did not examine this today: ears. Why is said below."]


def test_where_nothing_was_written_down_nobody_is_reassured():
    assert answered(start()) == ["We wrote down nothing about this today: ears. Please ask us."]


def test_what_is_normal_beside_a_finding_is_not_offered_as_the_answer():
    line = ear_line()
    state, _ = tap(start(), line.key, "set_abnormal", {**found(line.codes[0]), "sure": True}, EARS)
    state, _ = tap(state, "EYE", "station_all_normal", listed(EARS, "EYE"), EARS)
    assert answered(state, "His eye and his ear.") == ["What we found about this is below: left ear."]


def test_words_that_point_nowhere_are_not_answered():
    assert answered(start(), "We want to know that all is well.") == []


def test_a_weight_beside_the_body_s_condition_is_not_named_twice():
    state, _ = tap(start(), "VIT.weight|-", "set_abnormal", {**found("VIT-20"), "sure": True}, EARS)
    words = "We want to get the weight down."
    assert answered(state, words)[0] == "What we found about this is below: body weight."
    state, _ = tap(state, "BCM.score|-", "measure", {"value": "8", "unit": "bcs-9", "flag": "high"}, EARS)
    assert answered(state, words) == ["What we found about this is below: weight and muscles."]
