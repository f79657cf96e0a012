"""The request as staff views see it, and the gate in front of every one of them."""

from collections.abc import Callable
from functools import wraps
from typing import Any, Concatenate, ParamSpec
from urllib.parse import urlencode

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import redirect
from django.urls import reverse
from django_htmx.middleware import HtmxDetails

from clinic.people.actor import Actor
from clinic.people.models import Staff
from clinic.people.queries import AtWork
from clinic.people.rights import Right

P = ParamSpec("P")


class StaffRequest(HttpRequest):
    """A signed-in request: `actor` is whoever works on this tablet now.

    `locked` is True only in views that a locked tablet may still use; they must not trust `actor`.
    """

    user: Staff
    actor: Actor
    locked: bool
    at_work: AtWork
    htmx: HtmxDetails


View = Callable[Concatenate[StaffRequest, P], HttpResponseBase]


def needs(right: Right) -> Callable[[View[P]], Callable[Concatenate[HttpRequest, P], HttpResponseBase]]:
    """Let only those through who hold the right; others get 403.

    A manager who works by PIN is led to the full sign-in that gives the right back.
    """

    def gate(view: View[P]) -> Callable[Concatenate[HttpRequest, P], HttpResponseBase]:
        @wraps(view)
        def through(request: Any, /, *args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
            if not request.actor.may(right):
                if request.method == "GET" and request.actor.would_in_full(right):
                    return redirect(f"{reverse('tablet-add')}?{urlencode({'next': request.get_full_path()})}")
                raise PermissionDenied(right.value)
            return view(request, *args, **kwargs)

        through.needs = right  # type: ignore[attr-defined]
        return through

    return gate
