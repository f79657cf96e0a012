"""One test over all of a list: where a body takes less than what surrounds a test, and there are hundreds."""

from collections.abc import Callable, Iterable
from typing import Any


def for_each(things: Iterable[Any], *, named: Callable[[Any], str] = str) -> Callable[[Any], Any]:
    """Decorator: the body is run with each thing; the test fails with every one that does, by its name."""
    listed = list(things)
    assert listed, "nothing to test"

    def one_test(body: Callable[[Any], None]) -> Callable[[], None]:
        def test() -> None:
            wrong = []
            for thing in listed:
                try:
                    body(thing)
                except AssertionError as error:
                    wrong.append(f"{named(thing)}: {error}")
            assert not wrong, "\n".join(wrong)

        # not by functools.wraps: pytest would look through it and ask for the body's argument as a fixture
        test.__name__, test.__doc__, test.__module__ = body.__name__, body.__doc__, body.__module__
        return test

    return one_test
