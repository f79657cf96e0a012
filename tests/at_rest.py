"""How many requests the live server is answering: its tables are emptied only once nobody reads them."""

import threading
import time

from django.core.signals import request_finished, request_started
from django.test.client import ClientHandler

STEADY = 0.4  # seconds without a request: what a closed browser had sent last has come in by then
LONGEST = 20.0

_lock = threading.Lock()
_answering = 0
_since = time.monotonic()


def _count(step: int) -> None:
    global _answering, _since
    with _lock:
        _answering = max(0, _answering + step)
        _since = time.monotonic()


def _of_a_server(sender: type | None) -> bool:
    """Not the test client: a stream that it does not read to its end never finishes."""
    return sender is not None and not issubclass(sender, ClientHandler)


def _begins(sender: type, **_: object) -> None:
    if _of_a_server(sender):
        _count(1)


def _ends(sender: type | None, **_: object) -> None:
    if _of_a_server(sender):
        _count(-1)


request_started.connect(_begins)
request_finished.connect(_ends)


def wait() -> None:
    """Return when no request has been under way for a moment; AssertionError when one does not end."""
    deadline = time.monotonic() + LONGEST
    while time.monotonic() < deadline:
        with _lock:
            if not _answering and time.monotonic() - _since > STEADY:
                return
        time.sleep(0.05)
    raise AssertionError(f"{_answering} requests are still under way after {LONGEST:.0f} s")
