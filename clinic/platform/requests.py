"""One id a request: in the log, in the answer's headers and on every history row the request wrote."""

import logging
import re
import time
import uuid
from collections.abc import Callable
from contextvars import ContextVar
from typing import Any

from django.http import HttpRequest, HttpResponse
from pghistory.middleware import HistoryMiddleware

HEADER = "X-Request-ID"
_not_worth_a_line = ("/static/", "/healthz")
_acceptable = re.compile(r"[A-Za-z0-9-]{8,64}")
_current: ContextVar[str] = ContextVar("request_id", default="-")
logger = logging.getLogger("clinic.requests")


def request_id() -> str:
    """Id of the request (or job) being worked on, `-` outside of any."""
    return _current.get()


class RequestId:
    """Middleware, the outermost: names the request and writes its one line in the log.

    The query is left out of the log: searches hold names and telephone numbers.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        given = request.headers.get(HEADER, "")
        token = _current.set(given if _acceptable.fullmatch(given) else uuid.uuid4().hex)
        began = time.monotonic()
        try:
            response = self.get_response(request)
            response.headers[HEADER] = request_id()
            took = (time.monotonic() - began) * 1000
            level = logging.DEBUG if request.path.startswith(_not_worth_a_line) else logging.INFO
            logger.log(level, "%s %s %s %.0f ms", request.method, request.path, response.status_code, took)
            return response
        finally:
            _current.reset(token)


class RequestHistory(HistoryMiddleware):  # type: ignore[misc]
    """Puts who, by which grant, and the request's id on the history rows that the request writes.

    Who works on the tablet, not who opened its session.
    """

    def get_context(self, request: HttpRequest) -> dict[str, Any]:
        context = {**super().get_context(request), "request": request_id()}
        actor = getattr(request, "actor", None)
        if actor is not None:
            context |= {"user": actor.staff.pk, "grant": str(actor.grant_id) if actor.grant_id else None}
        return context


class AddRequestId(logging.Filter):
    """Gives every log record the id of its request."""

    def filter(self, record: logging.LogRecord) -> bool:
        record.request_id = request_id()
        return True
