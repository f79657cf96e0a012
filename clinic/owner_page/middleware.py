"""The owners' own address (PUBLIC_URL): its own pages, nobody's session, and nothing that others may keep.

Asked for by that host, only the owners' URLconf answers; asked for by any other, none of it does. Cookies are
not read and never set.
"""

import re
from collections.abc import Callable
from urllib.parse import urlsplit

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.urls import get_script_prefix, set_script_prefix

URLS = "clinic.owner_page.urls"
POLICY = "; ".join(
    (
        "default-src 'none'",
        "style-src 'self'",
        "img-src 'self' data:",
        "font-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
HEADERS = {
    "Cache-Control": "no-store",
    "Referrer-Policy": "no-referrer",
    "X-Robots-Tag": "noindex, nofollow, noarchive",
    "X-Content-Type-Options": "nosniff",
}
OURS_ALONE = ("Set-Cookie", "Tailward-Works")
_SECRET = re.compile(r"/(l|stop-reminders)/[^/]+")
DEFAULT_PORTS = {"http": 80, "https": 443}


def is_owners_host(host: str) -> bool:
    """`host` as a browser sends it, with a port where it is not the usual one."""
    public = urlsplit(settings.PUBLIC_URL)
    usual = DEFAULT_PORTS[public.scheme]
    asked = urlsplit(f"{public.scheme}://{host}")
    return (asked.hostname, asked.port or usual) == (public.hostname, public.port or usual)


def frame_of(request: HttpRequest) -> str:
    """The frame of a page that staff and owners both reach."""
    return "owner/base.html" if getattr(request, "urlconf", None) == URLS else "base.html"


class OwnersHost:
    """Middleware, before the session's."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if not settings.PUBLIC_URL or not is_owners_host(request.get_host()):
            return self.get_response(request)
        before = get_script_prefix()
        folder = urlsplit(settings.PUBLIC_URL).path
        if folder and request.path_info.startswith(f"{folder}/"):
            request.path_info = request.path_info[len(folder) :]
        set_script_prefix(f"{folder}/")
        request.urlconf = URLS
        request.COOKIES = {}
        request.path = _SECRET.sub(r"/\1/…", request.path)  # logs and histories show this one
        try:
            response = self.get_response(request)
        finally:
            set_script_prefix(before)
        response.cookies.clear()
        for name in OURS_ALONE:
            response.headers.pop(name, None)
        for name, value in HEADERS.items():
            response.headers[name] = value
        if "Content-Security-Policy" not in response.headers:
            response.headers["Content-Security-Policy"] = POLICY
        return response
