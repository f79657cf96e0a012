"""An owner says stop from a mail, without signing in. Only a POST changes anything (RFC 8058)."""

from uuid import UUID

from django.contrib.auth.decorators import login_not_required
from django.core import signing
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from clinic.callbacks.actions import stop_by_link
from clinic.callbacks.reminder_words import SALT
from clinic.owner_page.middleware import frame_of
from clinic.platform import rates
from clinic.platform.queries import clinic_details

LIMIT = rates.Limit("stop", most=30)


@csrf_exempt  # a mail program sends it, with no page before it; the token is what it proves itself by
@login_not_required
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def stop(request: HttpRequest, token: str) -> HttpResponse:
    """GET: one button, the same for every token. POST: done, the same answer for a token that is none."""
    context = {"frame": frame_of(request), "clinic": clinic_details().name}
    if request.method != "POST":
        return render(request, "clinic/callbacks/stop.html", {"done": False, **context})
    now = timezone.now()
    if not rates.may_ask(LIMIT, rates.who_of(request, now), now):
        return HttpResponse("Too many at once. Please try again later.\n", status=429)
    try:
        said = signing.loads(token, salt=SALT)
        stop_by_link(owner_id=said["owner"], message_id=UUID(said["message"]), now=now)
    except (signing.BadSignature, KeyError, ValueError, TypeError):
        pass  # whoever guesses learns nothing: the answer is the same
    return render(request, "clinic/callbacks/stop.html", {"done": True, **context})
