"""What a colleague reads of the exam: what was abnormal at the last signed look, with its day; lumps."""

from __future__ import annotations

import pytest

from clinic.letters.document import said
from clinic.models import Patient
from clinic.platform.registries import summary_parts
from tests import people
from tests.exams.house import exam_here
from tests.exams.test_last_time import WAX, signed
from tests.house import furnished

pytestmark = pytest.mark.django_db


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


def told(patient: Patient, part: str) -> str:
    room = next(each for each in summary_parts if each.name == part)
    blocks = room.blocks(patient, today=people.TODAY)
    return " ".join(sentence.text for block in blocks for sentence in said(block))


def test_an_open_exam_is_not_passed_on(house: people.People) -> None:
    walk = exam_here(house.actor("clinician"))
    walk.tap("EAR.canal|left", "set_abnormal", WAX)
    assert told(Patient.objects.get(), "findings") == ""


def test_what_was_abnormal_at_the_signed_one_stands_with_its_day(house: people.People) -> None:
    walk = exam_here(house.actor("clinician"))
    walk.tap("EAR.canal|left", "set_abnormal", WAX)
    walk.tap("EAR.canal|right", "set_normal")
    walk.tap("EYE.lens|left", "set_not_examined", {"reason": "would-not-allow"})
    signed(walk, days=14, kind="full")
    words = told(Patient.objects.get(), "findings")
    assert words.startswith("11 March 2026, full walk, signed by x.")
    assert "left: excess wax, mild." in words
    assert "right" not in words
    assert "Not examined that day: Lens" in words


def test_a_partial_look_brings_the_last_full_walk_for_what_it_left_out(house: people.People) -> None:
    walk = exam_here(house.actor("clinician"))
    walk.tap("EAR.canal|left", "set_abnormal", WAX)
    recheck = exam_here(house.actor("clinician"), signed(walk, days=14, kind="full"))
    recheck.tap("EYE.lens|left", "set_normal")
    signed(recheck, days=20, kind="focused")
    words = told(Patient.objects.get(), "findings")
    assert words.index("25 March 2026, focused") < words.index("11 March 2026, full walk")
    assert "Nothing abnormal was recorded." in words
    assert "excess wax, mild" in words


def test_what_the_partial_look_found_healed_is_not_said_again(house: people.People) -> None:
    walk = exam_here(house.actor("clinician"))
    walk.tap("EAR.canal|left", "set_abnormal", WAX)
    recheck = exam_here(house.actor("clinician"), signed(walk, days=14, kind="full"))
    recheck.tap("EAR.canal|left", "set_normal")
    signed(recheck, days=20, kind="focused")
    words = told(Patient.objects.get(), "findings")
    assert "wax" not in words
    assert "Nothing else abnormal was recorded." in words


def test_a_lump_comes_with_place_size_and_what_a_sample_showed() -> None:
    made = furnished()
    patient = made.own.lump_result.sample.lump.patient
    words = told(patient, "lumps")
    assert words.startswith("Lump 1, left flank")
    assert "14 × 11 mm" in words
    assert "fat cells, no other cells" in words
    assert ".." not in words
