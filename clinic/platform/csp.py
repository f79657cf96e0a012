"""Headers that tell the browser what a page may do: nothing but our own files, and no code in the page."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

POLICY = "; ".join(
    (
        "default-src 'self'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data: blob:",
        "object-src 'none'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
        "form-action 'self'",
        "worker-src 'self'",
    )
)
# a picture needs nothing, whatever it turned out to be; the browser's own frame around it brings its styles
PICTURE = "default-src 'none'; style-src 'unsafe-inline'; sandbox"
# the camera is for pictures of lumps and teeth
PERMISSIONS = "camera=(self), microphone=(), geolocation=(), payment=(), usb=(), browsing-topics=()"


class PageHeaders:
    """Middleware. A view that serves a stored file may set a narrower policy, never a wider one."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        response.headers.setdefault("Content-Security-Policy", POLICY)
        response.headers.setdefault("Permissions-Policy", PERMISSIONS)
        return response
