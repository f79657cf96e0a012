"""Every check fact of the exam's reference stands in a test under its id; what each is about is said here."""

import re
from pathlib import Path

import pytest

TESTS = Path(__file__).parents[1]
# vital signs, weight and condition, grades, teeth, lumps, record and letter
FACTS = {
    "V": "01 02 03 05 06 08 09 10 11 13 14 15 16 17 18 20 21 23 24 25 26 28 29 30 32 33 34 36 37",
    "W": "01 02 04 05 07 08 09 11 12 13 14 16",
    "G": "01 03 04 05 07 08 09 10 12 14 15 16 17 19 21 22 23 24 25 27 28 29 30 31",
    "T": "01 03 04 06 07 08 09 11 12 14",
    "L": "01 02 04 05 07 08 09 10 12 13",
    "R": "01 02 03 04 06 07 09 10 11 12 14 15 16 17 18 20",
}
IDS = [f"{letter}{number}" for letter, numbers in FACTS.items() for number in numbers.split()]


def named() -> set[str]:
    """Ids that a test names, as `exam-G05` in its parameters or docstring or `exam_g05` in its name."""
    here = Path(__file__)
    texts = (p.read_text(encoding="utf-8") for p in TESTS.rglob("test_*.py") if p != here)
    return {m.upper() for text in texts for m in re.findall(r"exam[-_]([VWGTLRvwgtlr]\d\d)(?!\d)", text)}


@pytest.mark.parametrize("fact", IDS)
def test_a_check_fact_has_a_test(fact) -> None:
    assert fact in named()


def test_no_test_claims_a_fact_that_there_is_not() -> None:
    assert named() <= set(IDS)
