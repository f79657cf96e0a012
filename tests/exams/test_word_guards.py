"""Words that contradict what they stand beside are asked about, with the reason, and taken with a yes."""

from __future__ import annotations

import pytest

from exams.state import MEASURED, ExamState, LineAnswer, start
from tests.exams.walkhelp import dog, found, tap

LEFT, RIGHT, SCORE = "EAR.canal|left", "EAR.canal|right", "BCM.score|-"


def refused(state: ExamState, *tapped: object, **more: object) -> str:
    _, outcome = tap(state, *tapped, **more)
    return "" if outcome.accepted else outcome.reason


def noted(target: str, words: str) -> ExamState:
    state, outcome = tap(start(), target, "note", {"text": words})
    assert outcome.accepted, outcome.words
    return state


def scored(value: str) -> ExamState:
    return ExamState(answers={SCORE: LineAnswer(MEASURED, value=value, unit="bcs-9")})


@pytest.mark.parametrize(
    ("target", "words", "reason"),
    [
        (LEFT, "the right one smells", "side-named"),
        (RIGHT, "wax on the left", "side-named"),
        (LEFT, "left worse than right", ""),
        (LEFT, "cleaned right away, all right since", ""),
        ("EAR", "right worse than left", ""),
        ("EYE.globe|left", "OD clear", "abbreviation"),
        ("exam", "WNL", "abbreviation"),
        (LEFT, "odd smell, as before", ""),
    ],
)
def test_a_note_that_names_the_other_side_or_a_misread_abbreviation_is_asked_about(
    target, words, reason
) -> None:
    assert refused(start(), target, "note", {"text": words}) == reason
    if reason:
        assert refused(start(), target, "note", {"text": words, "sure": True}) == ""


def test_a_side_changed_after_the_note_named_the_other_is_asked_about() -> None:
    line = next(
        x
        for x in dog()
        if x.side == "-" and x.applies and any(_sided(c) for c in x.codes) and not x.whole_station
    )
    code = next(c for c in line.codes if _sided(c))
    state = noted(line.key, "seen on the left")
    payload = found(code, qualifiers={"side": "right"})
    assert refused(state, line.key, "set_abnormal", payload) == "side-named"
    assert refused(state, line.key, "set_abnormal", {**payload, "sure": True}) == ""
    assert refused(state, line.key, "set_abnormal", found(code, qualifiers={"side": "left"})) == ""


def _sided(code: str) -> bool:
    from tests.exams.walkhelp import walk

    f = walk().finding[code]
    return f.side_text == "L/R" and not f.variant and not f.whole_station and not f.grade_scale


@pytest.mark.parametrize(
    ("score", "words", "reason"),
    [
        ("8", "thin over the ribs", "contradiction"),
        ("2", "rather fat", "contradiction"),
        ("5", "a little heavy", ""),
        ("7", "overweight", ""),
    ],
)
def test_condition_in_words_against_the_score_is_asked_about(score, words, reason) -> None:
    assert refused(scored(score), SCORE, "note", {"text": words}) == reason
    assert refused(scored(score), SCORE, "note", {"text": words, "sure": True}) == ""


def test_a_score_against_the_words_that_stand_is_asked_about() -> None:
    state = noted(SCORE, "thin over the ribs")
    assert refused(state, SCORE, "measure", {"value": "8", "unit": "bcs-9"}) == "contradiction"
    assert refused(state, SCORE, "measure", {"value": "3", "unit": "bcs-9"}) == ""


def test_a_code_of_another_score_is_asked_about() -> None:
    assert refused(scored("3"), SCORE, "set_abnormal", found("BCM-05")) == "contradiction"
    assert refused(scored("7"), SCORE, "set_abnormal", found("BCM-05")) == ""
