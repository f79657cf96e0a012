"""What several parts of one page or letter ask, read once while it is put together.

Only around what reads: inside `asked_once` a function marked `once` answers the same arguments with what it
found the first time, so nothing that writes may run there, and nobody may change what was found.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import wraps
from typing import Any, ParamSpec, TypeVar

P = ParamSpec("P")
R = TypeVar("R")
_FOUND: ContextVar[dict[Any, Any] | None] = ContextVar("found_once", default=None)


@contextmanager
def asked_once() -> Iterator[None]:
    """One inside another is the outer one."""
    if _FOUND.get() is not None:
        yield
        return
    token = _FOUND.set({})
    try:
        yield
    finally:
        _FOUND.reset(token)


def once(read: Callable[P, R]) -> Callable[P, R]:
    """`read` by its arguments, all hashable (rows go by their key); outside `asked_once` as ever."""

    @wraps(read)
    def asked(*args: P.args, **kwargs: P.kwargs) -> R:
        found = _FOUND.get()
        if found is None:
            return read(*args, **kwargs)
        key = (read, args, tuple(sorted(kwargs.items())))
        if key not in found:
            found[key] = read(*args, **kwargs)
        answer: R = found[key]
        return answer

    return asked
