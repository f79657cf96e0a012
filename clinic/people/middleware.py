"""Puts `request.actor` on signed-in requests: whoever works on this tablet now."""

from collections.abc import Callable
from uuid import UUID

from django.http import HttpRequest, HttpResponse

from clinic.people.actor import Actor
from clinic.people.models import Grant

WORKING = "working_grant"


def actor_of(request: HttpRequest) -> Actor | None:
    """The person whose grant is in hand on this tablet; else whoever signed in."""
    if not request.user.is_authenticated:
        return None
    grant_id = request.session.get(WORKING)
    if grant_id:
        grant = Grant.objects.select_related("staff").filter(pk=UUID(grant_id), ended_at=None).first()
        if grant and grant.staff.is_active:
            return Actor.of(grant.staff, grant_id=grant.pk, by_pin=grant.how == Grant.How.PIN)
    return Actor.of(request.user)


class WorkingPerson:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        request.actor = actor_of(request)  # type: ignore[attr-defined]
        return self.get_response(request)
