"""Stops that dictation left out or set anywhere, and what was mended with them: pure, no narration."""

from __future__ import annotations

import pytest

from exams.spoken.borders import misplaced, parted
from exams.spoken.normalise import normalise
from exams.spoken.terms import Term, terms_of
from exams.spoken.tokens import tokens_of
from tests.exams.spoken.scoring import vocabulary
from tests.exams.spoken.test_steps import heard, told

RUN_ON = (
    "weight is nine kilos temp thirty eight five heart rate one ten no murmur lungs clear both sides gums pink "
    "refill under two ears clean no smell eyes clear no discharge belly soft bladder small no nodes up left elbow "
    "fine right elbow sore when i bend it hips i did not test he is too wriggly plan is bloods and a recheck"
)
BREATHS = (
    "Gums are. Pink and moist the. Refill is under two ears. Are clean and there is no. Smell eyes are clear the. "
    "Left one has a. Little discharge belly is. Soft and the bladder. Is small"
)


def terms(said: str) -> list[Term]:
    return terms_of(normalise(tokens_of(said), vocabulary()), vocabulary())


def test_stops_are_set_where_something_else_begins_and_never_behind_a_no_of_what_follows() -> None:
    sentences = [
        " ".join(t.text for t in found if not t.pause) for found in parted(terms(RUN_ON), vocabulary())
    ]
    assert "ears clean no smell" in sentences
    assert any("no nodes up" in s for s in sentences)
    assert any(s.startswith("hips i did not test") for s in sentences)
    assert parted(terms("Gums pink. Ears clean."), vocabulary()) == [terms("Gums pink. Ears clean.")]


def test_a_run_on_is_heard_as_its_sentences() -> None:
    found = told(RUN_ON)
    assert ("FLB.elbow", "left", "normal", ()) in found
    assert ("FLB.elbow", "right", "abnormal", ("FLB-07",)) in found
    assert ("HLB.hip", "left", "not_examined", ()) in found
    assert ("EYE.tears", "left", "normal", ()) in found


def test_stops_at_every_breath_are_not_believed() -> None:
    assert misplaced(terms(BREATHS), vocabulary())
    assert not misplaced(
        terms("Gums pink. Ears clean. Eyes clear. Nose dry. Belly soft. Hips fine."), vocabulary()
    )
    assert ("VIT.mucous-membranes", "none", "normal", ()) in told(BREATHS)


@pytest.mark.parametrize(
    ("said", "line"),
    [
        ("Right back foot fine.", ("HLB.paw", "right", "normal", ())),
        ("Right front, toes fine. Now the left. Toes fine, wrist swollen.", ("FLB.carpus", "left", "abnormal", ("FLB-13",))),
        ("Murmur, left apex, 3/6.", ("HRT.murmur", "left", "abnormal", ("HRT-02",))),
        ("Every nail is split.", ("FLB.nails", "left", "abnormal", ("FLB-18",))),
        ("O D first because that's the good one. Conjunctiva pink.", ("EYE.conjunctiva", "right", "normal", ())),
        ("Hocks, no wobbliness.", ("HLB.hock", "left", "normal", ())),
        ("The spleen I didn't chase.", ("ABD.spleen", "none", "not_examined", ())),
        ("Hips swing freely.", ("HLB.hip", "right", "normal", ())),
        ("Bladder is about like a plum, soft.", ("ABD.bladder", "none", "normal", ())),
        ("Lungs I can only hear through the purring, but clear.", ("LUN.back", "left", "partial", ())),
        ("Tongue, pink on top.", ("MTH.tongue", "none", "partial", ())),
    ],
)  # fmt: skip
def test_what_stands_around_a_word_tells(said: str, line: tuple[str, str, str, tuple[str, ...]]) -> None:
    assert line in told(said)


@pytest.mark.parametrize(
    "said",
    [
        "Prepuce has blood on it, no, that's from my glove.",
        "A skin tag or something, no, you know what, that's a scab from the clippers, forget it.",
        "A crust at the left nostril, no, that's dinner, it wipes off.",
        "I thought I heard a murmur, hang on, hold still, no, that's the purr.",
    ],
)
def test_what_turned_out_to_be_something_else_is_no_finding(said: str) -> None:
    assert not heard(said).proposals


def test_the_eye_that_is_gone_through_has_the_numbers() -> None:
    found = heard("Left eye: tear test 18, pressure 12. CRT < 2.").measurements
    assert {(m.what, m.value) for m in found} == {
        ("Schirmer tear test left", "18"), ("intraocular pressure left", "12"), ("capillary refill time", "<2"),
    }  # fmt: skip
