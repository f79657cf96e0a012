"""An owner says stop from a mail, without signing in. Only a POST changes anything (RFC 8058)."""

from dataclasses import dataclass
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
from clinic.owner_page.texts import Texts, preferred, texts, wanted_languages
from clinic.people.models import Owner
from clinic.platform import rates
from clinic.platform.queries import clinic_details

LIMIT = rates.Limit("stop", most=30)


@csrf_exempt  # a mail program sends it, with no page before it; the token is what it proves itself by
@login_not_required
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def stop(request: HttpRequest, token: str) -> HttpResponse:
    """GET: one button, the same for every token. POST: done, the same answer for a token that is none.

    In the owner's language, which only a token of ours tells; else in one that the browser asks for.
    """
    said = _said(token)
    told = _told(said, request.headers.get("Accept-Language", ""))
    context = {
        "frame": frame_of(request),
        "clinic": clinic_details().name,
        "language": told.language,
        "said": told.answer,
    }
    if request.method != "POST":
        return render(request, "clinic/callbacks/stop.html", {"done": False, **context})
    now = timezone.now()
    if not rates.may_ask(LIMIT, rates.who_of(request, now), now):
        return HttpResponse("Too many at once. Please try again later.\n", status=429)
    if said is not None:  # whoever guesses learns nothing: the answer is the same
        stop_by_link(owner_id=said.owner, message_id=said.message, now=now)
    return render(request, "clinic/callbacks/stop.html", {"done": True, **context})


@dataclass(frozen=True)
class Said:
    """Whose reminder a token came with, by their keys."""

    owner: int
    message: UUID


def _said(token: str) -> Said | None:
    try:
        said = signing.loads(token, salt=SALT)
        return Said(int(said["owner"]), UUID(said["message"]))
    except (signing.BadSignature, KeyError, ValueError, TypeError):
        return None


def _told(said: Said | None, wanted: str) -> Texts:
    language = (
        Owner.objects.filter(pk=said.owner).values_list("language", flat=True).first() if said else None
    )
    return texts(language) if language else preferred(wanted_languages(wanted))
