"""How many requests the live server is answering: its tables are emptied only once nobody reads them."""

import threading
import time

from django.core.signals import request_finished, request_started

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


def _begins(**_: object) -> None:
    _count(1)


def _ends(**_: object) -> None:
    _count(-1)


request_started.connect(_begins)
request_finished.connect(_ends)


def wait() -> None:
    """Return when no request has been under way for a moment, or after a long while in any case."""
    deadline = time.monotonic() + LONGEST
    while time.monotonic() < deadline:
        with _lock:
            if not _answering and time.monotonic() - _since > STEADY:
                return
        time.sleep(0.05)
