"""What does not match the sex on record is asked about. Source: common practice, the reference's own table of
errors: missing neuter check and wrong sex; sexing errors are common in cats."""

from __future__ import annotations

import pytest

from exams.lines import Animal, applicable
from exams.sex_guards import MISMATCH, NEUTER_LINE, status_words
from exams.state import start
from tests.exams.walkhelp import ADULT_DAYS, dog, found, queen, tap, walk


def test_findings_that_do_not_match_the_record_are_taken_after_a_second_look() -> None:
    state, outcome = tap(start(), NEUTER_LINE, "set_abnormal", found(MISMATCH))
    assert (outcome.reason, "a neutered male" in outcome.words) == ("sex-record", True)
    assert NEUTER_LINE not in state.answers
    state, outcome = tap(state, NEUTER_LINE, "set_abnormal", {**found(MISMATCH), "sure": True})
    assert outcome.accepted
    detail = found(MISMATCH, qualifiers={"details": "one testis in the groin"})
    _, outcome = tap(state, NEUTER_LINE, "set_abnormal", detail)
    assert outcome.accepted, "asked once, not at each word"


@pytest.mark.parametrize(
    ("lines", "target"), [(dog(), "GUM.testes|left"), (dog(), "GUM.vulva|-"), (queen(), "GUM.prepuce|-")]
)
def test_an_organ_that_the_record_says_is_not_there_is_not_answered(lines, target) -> None:
    state, outcome = tap(start(), target, "set_normal", lines=lines)
    assert (outcome.reason, state.answers) == ("not-applicable", {})
    assert status_words(lines.animal) in outcome.words
    assert "corrected" in outcome.words


@pytest.mark.parametrize(
    ("lines", "words", "asked"),
    [
        (queen(), "both testes felt", True),
        (queen(), "PREPUCE sore", True),
        (queen(), "vulva clean", False),
        (dog(), "one testicle in the left groin", True),
        (dog(), "no testes felt", False),
        (dog(), "castrated, testes removed", False),
        (dog(), "prostate smooth", False),
        (dog(), "not painful; uterus thick", True),
        (applicable(walk(), "cat", "", None, ADULT_DAYS), "testes felt", False),
        (applicable(walk(), "cat", "male", False, ADULT_DAYS), "testes even", False),
    ],
)
def test_a_note_that_names_an_organ_of_the_other_sex_is_asked_about(lines, words, asked) -> None:
    for target in ("GUM.neuter|-", "ABD", "exam"):
        _, outcome = tap(start(), target, "note", {"text": words}, lines=lines)
        assert outcome.reason == ("sex-record" if asked else "")
        _, outcome = tap(start(), target, "note", {"text": words, "sure": True}, lines=lines)
        assert outcome.accepted


def test_how_the_record_says_it() -> None:
    assert status_words(Animal("cat", "female", False)) == "an intact female"
    assert status_words(Animal("cat", "male", None)) == "a male, not known whether neutered"
    assert status_words(Animal("cat")) == "of unknown sex"
