"""What an owner's link opens. Nobody signs in; a look changes nothing; what does not open answers alike."""

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from clinic.callbacks.answer_page import answer_page
from clinic.letters.models import Letter
from clinic.mail.transport import letter_file_name
from clinic.owner_page import pages, queries
from clinic.owner_page.models import OwnerLink
from clinic.owner_page.texts import preferred, wanted_languages
from clinic.platform import rates
from clinic.platform.csp import PICTURE
from clinic.platform.files import read
from clinic.platform.queries import clinic_details
from clinic.visits import calendars

P = ParamSpec("P")
NOT_OPEN, TOO_MANY = 404, 429
LIMIT = rates.Limit("owner-page", most=300, in_vain=20)  # a letter with its photographs is a dozen
Opened = Callable[Concatenate[HttpRequest, OwnerLink, str, P], HttpResponse | None]


def opened_by_secret(view: Opened[P]) -> Callable[..., HttpResponse]:
    """Counts who asks, and turns the secret of the address into its link.

    The view gets the link and the secret; None from it answers as an address that opens nothing.
    """

    @wraps(view)
    def through(request: HttpRequest, secret: str, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
        now = timezone.now()
        who = rates.who_of(request, now)
        if not rates.may_ask(LIMIT, who, now):
            return _shut(request, "busy_title", "busy_text", TOO_MANY)
        link = queries.link_of_secret(secret, now=now)
        answer = view(request, link, secret, *args, **kwargs) if link else None
        if answer is None:
            rates.asked_in_vain(LIMIT, who, now)
            return _shut(request, "title", "text", NOT_OPEN)
        return answer

    return login_not_required(through)


@require_safe
@opened_by_secret
def page(request: HttpRequest, link: OwnerLink, secret: str) -> HttpResponse | None:
    """The letter, for a telephone; of a reminder the page on which it is answered."""
    if link.letter is None:
        return answer_page(request, link, secret)
    told = pages.letter_page(
        link,
        secret,
        version=_number(request.GET.get("copy", "")),
        language=request.GET.get("language", ""),
        now=timezone.now(),
    )
    if told is None:
        return None
    return render(request, "owner/letter.html", {"page": told, "d": told.d, "w": told.w})


@require_safe
@opened_by_secret
def pdf(request: HttpRequest, link: OwnerLink, secret: str) -> HttpResponse | None:
    """The stored bytes of the newest copy, or of the asked one."""
    letter = _copy(request, link)
    if letter is None or not hasattr(letter, "file"):
        return None
    sha = letter.file.sha256
    response = HttpResponse(read(f"{sha[:2]}/{sha}.pdf"), content_type="application/pdf")
    plain = letter_file_name(letter).encode("ascii", "replace").decode().replace("?", "_")
    response["Content-Disposition"] = f'inline; filename="{plain}"'
    return response


@require_safe
@opened_by_secret
def calendar(request: HttpRequest, link: OwnerLink, secret: str) -> HttpResponse | None:
    """What was agreed at the letter's visit and stands, as it is now."""
    letter = _copy(request, link)
    if letter is None or letter.record is None or letter.patient.deceased_on is not None:
        return None
    dates = calendars.of_record(letter.record)
    if dates is None:
        return None
    response = HttpResponse(dates, content_type="text/calendar; charset=utf-8")
    response["Content-Disposition"] = 'attachment; filename="next visit.ics"'
    return response


@require_safe
@opened_by_secret
def photograph(request: HttpRequest, link: OwnerLink, secret: str, number: int) -> HttpResponse | None:
    """One of the photographs that stand in the letter, counted from 0; no other can be asked for."""
    letter = _copy(request, link)
    if letter is None:
        return None
    shown = queries.photographs_of(queries.documents_of(letter)[letter.language])
    if number >= len(shown):
        return None
    sha = shown[number].sha256
    response = HttpResponse(read(f"{sha[:2]}/{sha}.jpg"), content_type="image/jpeg")
    response["Content-Security-Policy"] = PICTURE
    return response


@login_not_required
def nothing_here(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Any other address under PUBLIC_URL."""
    return _shut(request, "title", "text", NOT_OPEN)


def _copy(request: HttpRequest, link: OwnerLink) -> Letter | None:
    if link.letter is None:
        return None
    version = _number(request.GET.get("copy", ""))
    copies = queries.letters_behind(link.letter)
    return next((each for each in copies if version in (None, each.version)), None)


def _number(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 5 else None


def _shut(request: HttpRequest, title: str, text: str, status: int) -> HttpResponse:
    """The same bytes for whatever does not open, in the language that the browser asks for."""
    told = preferred(wanted_languages(request.headers.get("Accept-Language", "")))
    clinic = clinic_details()
    context = {
        "language": told.language,
        "title": told.shut[title],
        "text": told.shut[text],
        "clinic": clinic.name,
        "phone": told.page["clinic_phone"].format(phone=clinic.phone),
        "dial": pages.dialled(clinic.phone),
        "emergency": told.page["emergency"].format(phone=clinic.emergency_phone),
        "emergency_dial": pages.dialled(clinic.emergency_phone),
    }
    response = render(request, "owner/shut.html", context, status=status)
    response["Vary"] = "Accept-Language"
    response._has_been_logged = True  # type: ignore[attr-defined]  # an owner's old link is no fault of ours
    return response
