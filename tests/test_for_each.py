import pytest

from tests.for_each import for_each


def test_every_one_that_fails_is_named():
    @for_each([1, 2, 3, 4])
    def odd(number: int) -> None:
        assert number % 2, "even"

    with pytest.raises(AssertionError, match=r"(?s)2: even.*\n4: even"):
        odd()


def test_an_empty_list_is_no_test():
    with pytest.raises(AssertionError, match="nothing to test"):
        for_each([])
