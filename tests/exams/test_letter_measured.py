"""Measured values that are not as usual, in a letter: by their name and number, kindly."""

from decimal import Decimal

import pytest

from clinic.letters.composition import compose
from clinic.letters.document import Mark, Walk, said, sentences
from clinic.models import Owner
from clinic.patients.actions import measure
from exams.state import start
from tests import letters
from tests.exams.house import exam_here
from tests.exams.test_letter_counts import letter_of
from tests.exams.test_letter_sentences import LINES
from tests.exams.walkhelp import tap

pytestmark = pytest.mark.django_db


def scored(species: str, bcs: str) -> letters.Case:
    case = letters.weighed(letters.arrived("Mota", species=species, breed="shorthair"), "4.2")
    measure(
        patient=case.patient, visit=case.visit, kind="bcs", typed=Decimal(bcs), looked_twice=True,
        planned_change=True, **case.me,
    )  # fmt: skip
    exam_here(case.actor(), case.visit).all_normal("EAR")
    return case


def told(case: letters.Case, language: str = "en") -> str:
    Owner.objects.update(language=language)
    return " ".join(each.text for each in sentences(compose(case.record, today=letters.TODAY)) if each.text)


# Merck Veterinary Manual, Body Condition Score Scales: ideal is 4 to 5 of 9 in dogs, 5 in cats
@pytest.mark.parametrize(
    ("language", "words"),
    [("en", "Weight and muscles: Mota is lean."), ("es", "Mota pesa un poco menos de lo ideal.")],
)
def test_a_cat_at_four_of_nine_is_lean_and_something_to_watch(language, words):
    case = scored("cat", "4")
    letter = told(case, language)
    assert words in letter
    assert "not as it should be" not in letter
    assert "no está como debe" not in letter


def test_a_dog_at_four_of_nine_is_just_right():
    case = scored("dog", "4")
    walk = next(each for each in case.section("walk").blocks if isinstance(each, Walk))
    assert {line.mark for line in walk.lines} <= {Mark.NORMAL, Mark.UNSEEN}
    assert "just right" in told(case)


@pytest.mark.parametrize(
    ("language", "words"),
    [
        ("en", "Heart rate: 96 a minute. That is more than usual."),
        ("es", "Latidos: 96 por minuto. Es más de lo usual."),
    ],
)
def test_a_value_that_nothing_names_is_told_with_its_number(language, words):
    lines = next(lines for animal, lines in LINES.items() if animal.species == "dog")
    payload = {"value": "96", "unit": "per-min", "flag": "high"}
    state, _outcome = tap(start(), "VIT.heart-rate|-", "measure", payload, lines)
    assert words in {each.text for each in said(letter_of(state, lines, language).section())}


def test_values_that_nobody_took_are_in_no_normal_of_the_letter():
    """Gums looked at, the refill time and the rates not: the letter names the gums alone."""
    lines = next(lines for animal, lines in LINES.items() if animal.species == "dog")
    state, _outcome = tap(start(), "VIT.mucous-membranes|-", "set_normal", {}, lines)
    text = " ".join(each.text for each in said(letter_of(state, lines, "en").section()))
    assert "Gum colo" in text
    assert "easured values" not in text
