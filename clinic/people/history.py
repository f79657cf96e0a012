"""Whose name a change gets in the history, when it is not the one who works on the tablet now."""

from collections.abc import Iterator
from contextlib import contextmanager
from uuid import UUID, uuid4

import pghistory
from pghistory import runtime

from clinic.people.models import Staff
from clinic.platform.requests import request_id


@contextmanager
def credited_to(staff: Staff, *, grant_id: UUID | None = None) -> Iterator[None]:
    """History rows written inside carry this person, their grant and the request's id.

    A nested `pghistory.context` would rename everything the request wrote before and after, so the outer one
    steps aside for as long as this lasts.
    """
    outer = getattr(runtime._tracker, "value", None)
    who = {"user": staff.pk, "grant": str(grant_id) if grant_id else None, "request": request_id()}
    if outer is None:
        with pghistory.context(**who):
            yield
        return
    runtime._tracker.value = runtime.Context(id=uuid4(), metadata={**outer.metadata, **who})
    try:
        yield
    finally:
        runtime._tracker.value = outer
