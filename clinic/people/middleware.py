"""Puts `request.actor` on signed-in requests: whoever works on this tablet now. Locked, it shows nothing."""

from collections.abc import Callable
from datetime import datetime, timedelta
from functools import wraps
from http import HTTPStatus
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from django.conf import settings
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.crypto import constant_time_compare

from clinic.people.actions import touch_tablet
from clinic.people.queries import TABLET, AtWork, at_work

COOKIE = "tablet"  # outlives the session, so that what a tablet still holds keeps its people
COOKIE_AGE = 365 * 24 * 3600
POLL = "Tailward-Poll"  # a header: nobody touched the tablet, the page only asks again
LOCKED = "Tailward-Locked"
WORKS = "Tailward-Works"  # on every answer: when it was so (ms), and the grant at work (none: nobody)
WRITTEN_EVERY = timedelta(seconds=20)  # a touch is not worth a write each time

# Of django-allauth's pages: an address is changed by a manager, and nobody signs up.
NOT_OURS = frozenset({"account_email", "account_set_password", "account_confirm_email"})


def open_when_locked(view: Callable[..., HttpResponseBase]) -> Callable[..., HttpResponseBase]:
    """Mark a view that a locked tablet may still use: hand-over, and operations that carry their grant.

    Such a view must not trust `request.actor`: `request.locked` says whether somebody works.
    """

    @wraps(view)
    def through(*args: Any, **kwargs: Any) -> HttpResponseBase:
        return view(*args, **kwargs)

    through.open_when_locked = True  # type: ignore[attr-defined]
    return through


class WorkingPerson:
    """Middleware, after sign-in's: `request.actor`, `request.locked`, `request.at_work`."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: Any) -> HttpResponse:
        now = timezone.now()
        work = at_work(request.session, now=now)
        _known_already(request, work)
        signed_in = request.user.is_authenticated
        work = work if signed_in else AtWork()
        request.at_work, request.actor, request.locked = work, work.actor, signed_in and work.locked
        if work.tablet_id and not work.locked and not request.headers.get(POLL) and _is_old(work, now):
            touch_tablet(tablet_id=work.tablet_id, now=now)
        note_works(request, None if request.locked or work.actor is None else work.actor.grant_id, at=now)
        response = self.get_response(request)
        response.headers[WORKS] = request.works
        _remember_tablet(request, response)
        return response

    def process_view(
        self, request: Any, view: Callable[..., Any], args: Any, kwargs: Any
    ) -> HttpResponseBase | None:
        allauths = getattr(view, "__module__", "").startswith("allauth.")
        if allauths and request.resolver_match.url_name in NOT_OURS:
            raise Http404
        if not request.user.is_authenticated or not getattr(view, "login_required", True):
            return None
        if request.locked:
            return None if getattr(view, "open_when_locked", False) else _ask_for_pin(request)
        if allauths and not _is_own_sign_in(request):
            raise PermissionDenied("own sign-in")
        return None


def note_works(request: Any, grant_id: UUID | None, *, at: datetime) -> None:
    """What the tablet is told of who works on it: a page kept there is shown to nobody else."""
    request.works = f"{int(at.timestamp() * 1000)} {grant_id or ''}".rstrip()


def _known_already(request: Any, work: AtWork) -> None:
    """Whoever opened the session mostly works on the tablet too, and is read with it: read nobody twice.

    Only where all that Django itself asks of a session holds; in any doubt it is left to ask.
    """
    staff = work.actor.staff if work.actor else None
    if staff is None or not staff.is_active or request.session.get(SESSION_KEY) != str(staff.pk):
        return
    mark = request.session.get(HASH_SESSION_KEY, "")
    is_theirs = constant_time_compare(mark, staff.get_session_auth_hash())
    if is_theirs and request.session.get(BACKEND_SESSION_KEY) in settings.AUTHENTICATION_BACKENDS:
        request._cached_user = staff


def _is_old(work: AtWork, now: Any) -> bool:
    return work.seen_at is not None and now - work.seen_at >= WRITTEN_EVERY


def _is_own_sign_in(request: Any) -> bool:
    """The sign-in pages speak of whoever opened the session; another person at work must not change them."""
    return bool(request.actor.staff == request.user and not request.actor.by_pin)


def _ask_for_pin(request: HttpRequest) -> HttpResponse:
    """A page goes to the hand-over; whatever was sent by a script learns that it must wait."""
    by_script = request.headers.get("HX-Request") or "text/html" not in request.headers.get(
        "Accept", "text/html"
    )
    if by_script or request.method not in ("GET", "HEAD"):
        words = "The tablet is locked. Nothing was saved: go back, and pick who works now."
        return HttpResponse(
            words,
            status=HTTPStatus.UNAUTHORIZED,
            content_type="text/plain; charset=utf-8",
            headers={LOCKED: "1"},
        )
    return redirect(f"{reverse('handover')}?{urlencode({'next': request.get_full_path()})}")


def _remember_tablet(request: Any, response: HttpResponse) -> None:
    tablet = request.session.get(TABLET)
    if tablet and request.get_signed_cookie(COOKIE, default=None) != tablet:
        response.set_signed_cookie(
            COOKIE, tablet, max_age=COOKIE_AGE, httponly=True, samesite="Lax", secure=request.is_secure()
        )
