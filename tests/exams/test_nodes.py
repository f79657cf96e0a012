"""Lymph nodes measured in mm: a size stays with its line and offers a finding, it never records one."""

import pytest

from exams.digest import judged
from exams.nodes import suggested
from exams.sentences import for_record
from exams.state import answer_from_json, answer_to_json, start
from tests.exams.walkhelp import dog, found, tap, walk

LEFT = "LYM.mandibular|left"
KNEE = "LYM.popliteal|left"


def sizes(**mm):
    state = start()
    for name, size in mm.items():
        what = "set_normal" if size < 10 else "set_abnormal"
        state, outcome = tap(state, f"LYM.{name}|left", what, {"size_mm": str(size)})
        assert outcome.accepted, outcome.words
    return state


def test_a_small_soft_node_is_normal_with_its_size() -> None:
    """exam-G30. Source: Blois, Clinical Medicine 1, University of Guelph 2021."""
    state = sizes(mandibular=8)
    assert suggested(state, dog()) == ()
    assert for_record(walk(), dog()[LEFT], state.answers[LEFT]) == "left: normal; 8 mm"


def test_two_large_regions_offer_the_generalised_finding_once() -> None:
    """exam-G31. Source: Blois, Clinical Medicine 1, University of Guelph 2021; LYM-04 common practice."""
    state = sizes(mandibular=22, popliteal=18)
    (offer,) = suggested(state, dog())
    assert (offer.line, offer.code) == ("LYM.*|-", "LYM-04")
    assert "mandibular, popliteal" in offer.words
    assert not any(a.findings for a in state.answers.values())
    state, outcome = tap(state, "LYM.*|-", "set_abnormal", found("LYM-04"))
    assert outcome.accepted
    assert suggested(state, dog()) == ()


def test_one_large_node_and_one_that_is_usually_not_felt() -> None:
    assert [(s.line, s.code) for s in suggested(sizes(popliteal=14), dog())] == [(KNEE, "LYM-05")]
    assert [(s.line, s.code) for s in suggested(sizes(axillary=6), dog())] == [
        ("LYM.axillary|left", "LYM-10")
    ]


def test_a_size_stays_when_findings_are_added_and_goes_when_it_is_emptied() -> None:
    state = sizes(mandibular=22)
    state, _ = tap(state, LEFT, "set_abnormal", found("LYM-02"))
    assert (state.answers[LEFT].value, state.answers[LEFT].unit) == ("22", "mm")
    assert answer_from_json(answer_to_json(state.answers[LEFT])) == state.answers[LEFT]
    state, _ = tap(state, LEFT, "set_abnormal", {**found("LYM-02"), "size_mm": ""})
    assert state.answers[LEFT].value == ""


@pytest.mark.parametrize("size", ["0", "-3", "900", "pea"])
def test_a_size_that_is_none_is_refused(size) -> None:
    _, outcome = tap(start(), LEFT, "set_normal", {"size_mm": size})
    assert outcome.reason == "size"


def test_the_size_on_the_line_moves_the_class_of_its_findings() -> None:
    for mm, letter in (("9", "R"), ("11", "T")):
        here = {**found("LYM-10"), "size_mm": mm}
        state, _ = tap(start(), "LYM.axillary|left", "set_abnormal", here)
        assert judged(state, walk(), {})[0].urgency.letter == letter


def test_other_lines_have_no_size() -> None:
    state, _ = tap(start(), "EAR.canal|left", "set_normal", {"size_mm": "8"})
    assert state.answers["EAR.canal|left"].value == ""
