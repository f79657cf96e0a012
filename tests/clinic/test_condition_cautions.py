"""Every condition of the closed list says what it changes (common practice, shown with each condition)."""

import tomllib

import pytest

from clinic.patients.condition_cautions import FILE, caution_of
from clinic.patients.models import ConditionCode


@pytest.mark.parametrize("code", ConditionCode.values)
def test_a_condition_has_its_caution(code: str) -> None:
    assert caution_of(code).endswith(".")
    assert len(caution_of(code)) <= 130


def test_no_caution_without_its_condition() -> None:
    assert set(tomllib.loads(FILE.read_text())) == set(ConditionCode.values)


def test_a_code_that_is_not_on_the_list_is_refused() -> None:
    with pytest.raises(KeyError):
        caution_of("cheerful")
