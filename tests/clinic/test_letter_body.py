"""The mail's text says the main points to somebody who never opens the letter."""

from dataclasses import replace

import pytest

from clinic.letters.document import Section, Sentence, Table, Tone
from clinic.letters.sheet import letter_title, mail_body, mail_closing
from tests import letters

pytestmark = pytest.mark.django_db


@pytest.fixture
def body() -> str:
    document = letters.sore_ear().letter()
    return mail_body(document) + mail_closing(document)


def test_the_subject_names_patient_day_and_clinic():
    title = letter_title(letters.healthy().letter())
    assert title == "Tansy’s visit, 11 March 2026, Quillwater Animal Clinic"


@pytest.mark.parametrize(
    "point",
    [
        "You came because: he shakes his head and scratches his left ear.",
        "His left ear has a yeast infection.",
        "1. Left ear. Give Millrace ear drops, morning and evening, from this evening.",
        "5 drops (0.25 ml) into the left ear, morning and evening.",
        "16 March 2026: Dr Tobias Falk calls you about the result: Ear culture",
        "25 March 2026: Ear check and weigh-in",
        "CALL 555-0199 AT ONCE, DAY OR NIGHT, IF:",
        "CALL 555-0100 WITHIN A DAY IF:",
        "Quillwater Animal Clinic",
    ],
)
def test_it_says(body, point):
    assert point in body


def test_in_an_emergency_whom_to_call_stands_first():
    document = replace(letters.sore_ear().letter(), tone=Tone.NOW)
    assert mail_body(document).index("AT ONCE") < mail_body(document).index("yeast")


def test_after_a_death_nobody_is_told_when_to_call():
    assert "CALL" not in mail_body(letters.put_to_sleep().letter())


def test_it_is_text_without_a_mark_of_a_template(body):
    assert not {"<", "{", "&"} & set(body)


def test_a_row_of_a_table_names_what_its_values_are():
    head = ("What", "Result", "Usual here", "It is")
    cells = ("Creatinine", "248 µmol/l", "70-165", "high")
    row = tuple(Sentence(f"v:{n}", text, "the result") for n, text in enumerate(cells))
    told = letters.sore_ear().letter()
    told = replace(told, kind="result", sections=(Section("tests", "Tests", 80, (Table((row,), head),)),))
    assert "Creatinine: result 248 µmol/l, usual here 70-165, it is high" in mail_body(told)
