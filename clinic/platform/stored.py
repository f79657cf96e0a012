"""Stored files as answers to the browser, byte for byte."""

from django.http import HttpResponse

from clinic.platform.csp import PICTURE
from clinic.platform.files import read
from clinic.platform.papers import TYPES

YEAR = 365 * 24 * 3600
FOR_EVER = f"max-age={YEAR}, immutable"


def stored_file(stored: str, *, name: str, lasts: str = "no-cache") -> HttpResponse:
    """What is kept under `stored`. A picture is shown; anything else is saved, never shown by this origin.

    `name`: for the browser to save it under. `lasts`: how long the tablet may keep it, for itself alone.
    """
    suffix = stored[stored.rindex(".") :]
    shown = "inline" if suffix == ".jpg" else "attachment"
    return HttpResponse(
        read(stored),
        content_type=TYPES[suffix],
        headers={
            "Cache-Control": f"private, {lasts}",
            "Content-Disposition": f'{shown}; filename="{name}"',
            "Content-Security-Policy": PICTURE,
            "X-Content-Type-Options": "nosniff",
        },
    )
