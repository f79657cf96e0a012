"""The sentence the owner reads: sides spelled out, nothing reckoned, nothing promised that is over."""

from dataclasses import replace

import pytest

from clinic.care.directions import Directions, compose_directions
from clinic.care.medicine_forms import last_dose
from clinic.care.routes import Route, place
from clinic.care.wording import judging_words
from tests.people import TODAY

DROPS = Directions(
    name="Millrace ear drops",
    ingredients=("miconazole",),
    strength="10 mg in 1 ml",
    dose="5 drops (0.25 ml)",
    route=Route.EAR,
    side="left",
    times="morning and evening for 10 days",
    first_dose="this evening",
    last_dose="5 December 2026, morning",
    quantity="1 bottle of 10 ml",
)


def test_the_parts_make_the_sentence():
    assert compose_directions(DROPS) == (
        "5 drops (0.25 ml) into the left ear, morning and evening for 10 days. First dose: this evening. "
        "Last dose: 5 December 2026, morning. You took home 1 bottle of 10 ml."
    )


def test_what_was_given_here_speaks_of_no_dose_to_come():
    given = replace(DROPS, route=Route.UNDER_SKIN, side="", dose="0.3 ml", times="once")
    assert compose_directions(given, given=True) == "0.3 ml under the skin, once."


def test_a_sentence_ends_once():
    assert compose_directions(replace(DROPS, first_dose="now.", last_dose="", quantity="")).endswith(
        "dose: now."
    )


@pytest.mark.parametrize(
    ("route", "side", "words"),
    [
        (Route.EAR, "left", "into the left ear"),
        (Route.EYE, "right", "into the right eye"),
        (Route.EAR, "both", "into both ears"),
        (Route.EYE, "both", "into both eyes"),
        (Route.MOUTH, "", "by mouth"),
        (Route.BREATHED, "left", "breathed in, left side"),
    ],
)
def test_a_side_is_spelled_out(route, side, words):
    """full words only (error-prone abbreviations)."""
    assert place(route, side) == words


@pytest.mark.parametrize(
    ("on", "when", "words"),
    [(TODAY, "morning", "11 March 2026, morning"), (TODAY, "", "11 March 2026"), (None, "", "")],
)
def test_the_last_dose_has_its_day(on, when, words):
    assert last_dose(on, when) == words


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("refused to pay for X-rays", ("refused",)),
        ("Non-compliant owner, Refuses bloods", ("Non-compliant", "Refuses")),
        ("declined X-rays today: wants to wait", ()),
        ("chews on cheap toys", ("cheap",)),
        ("owner can't afford it", ("can't afford",)),
        ("a difficult airway, breathing is difficult", ()),
    ],
)
def test_words_that_judge_are_pointed_at(text, found):
    """RCVS Supporting Guidance 13.2; which words is common practice: never "refused to pay"."""
    assert tuple(each.words for each in judging_words(text)) == found
    assert all(each.instead for each in judging_words(text))
