"""What a tablet keeps so that the exam goes on without a network: the service worker and its pages.

The worker is one script at the root, worker.js beside this file, with its settings in front: the release, the
static files to keep, which pages may be kept. Any change of them is a new worker, which keeps its own files.
"""

from __future__ import annotations

import hashlib
import json
import re
from dataclasses import dataclass
from functools import lru_cache
from os.path import normpath
from pathlib import Path, PurePosixPath
from threading import Lock
from typing import Any

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.contrib.staticfiles import finders
from django.contrib.staticfiles.storage import staticfiles_storage
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from clinic.people.pins import LOCK_AFTER
from clinic.platform.registries import offline_pages

BODY = Path(__file__).with_name("worker.js")
PAGE = "clinic/offline.html"
# what every page of the staff's side loads, beside what the kept pages name themselves
SHELL = (
    "clinic/tailward.css",
    "clinic/handover.css",
    "clinic/fonts/atkinson-hyperlegible-next-latin-wght-normal.woff2",
    "clinic/mark.svg",
    "clinic/handover.js",
    "clinic/kept.js",
    "clinic/offline.js",
    "clinic/page.js",
    "clinic/tablet.js",
    "clinic/waiting.js",
)
KINDS = (".js", ".css", ".woff2", ".svg")
# both those that a module starts with and those that it asks for later
IMPORTS = re.compile(
    r"""^(?:import|export)\b[^;]*?from\s*["'](\.[^"']+)["']|\bimport\(["'](\.[^"']+)["']\)""", re.M
)


@dataclass(frozen=True)
class Words:
    """One page shown instead of the one that could not be fetched. `pattern`: instead of which paths."""

    title: str
    lead: str
    pattern: str = ""
    names: bool = True  # whether it may name patients: not where nobody is at work


PAGES = {
    "page": Words(
        "No network",
        "The clinic’s server does not answer, and this page is not kept on this tablet. "
        "It opens by itself when the network is back.",
    ),
    "sign": Words(
        "Signing needs the network",
        "The record is sealed and the letter is made on the clinic’s server, which does not answer. "
        "Nothing was signed, and nothing was lost. This page opens by itself when the network is back.",
        pattern=r"^/visits/\d+/sign/$",
    ),
    "locked": Words(
        "The tablet is locked, and there is no network",
        "The PIN is checked on the clinic’s server, which does not answer. What was tapped is kept. "
        "This page opens by itself when the network is back.",
        names=False,
    ),
}


@login_not_required
@require_safe
def worker(request: HttpRequest) -> HttpResponse:
    """The service worker. Always asked for anew: a browser that kept it would stay on an old release."""
    with _one:  # threads that ask together get the same
        script = _script()
    answer = HttpResponse(script, content_type="text/javascript; charset=utf-8")
    answer.headers["Cache-Control"] = "no-cache"
    return answer


@login_not_required
@require_safe
def offline(request: HttpRequest, why: str) -> HttpResponse:
    """What the worker shows when there is no network. Names nobody: it is kept for whoever comes."""
    if why not in PAGES:
        raise Http404
    return render(request, PAGE, {"words": PAGES[why], "why": why})


_one = Lock()


@lru_cache(maxsize=1)
def _script() -> str:
    files = kept_files()
    told: dict[str, Any] = {
        "release": _release(files),
        "files": [staticfiles_storage.url(name) for name in files],
        "static": settings.STATIC_URL,
        "pages": [page.pattern for page in offline_pages],
        "instead": {why: reverse("offline", args=[why]) for why in PAGES},
        "insteadOf": {words.pattern: why for why, words in PAGES.items() if words.pattern},
        "signOut": reverse("account_logout"),
        "locksAfter": int(LOCK_AFTER.total_seconds() * 1000),
    }
    return f"const SET = {json.dumps(told, ensure_ascii=False)};\n{BODY.read_text()}"


def kept_files() -> tuple[str, ...]:
    """Names of the static files that a tablet keeps: those named, and every module that they import."""
    wanted = (*SHELL, *(start for page in offline_pages for start in page.files))
    listed = {name.replace("\\", "/") for finder in finders.get_finders() for name, _ in finder.list([])}
    named = {n for n in listed if n.startswith(wanted) and n.endswith(KINDS)}
    new = set(named)
    while new:
        new = {each for name in new if name.endswith(".js") for each in _imports(name)} - named
        named |= new
    return tuple(sorted(named))


def _imports(name: str) -> set[str]:
    here = PurePosixPath(name).parent
    return {normpath(here / (first or later)) for first, later in IMPORTS.findall(_where(name).read_text())}


def _where(name: str) -> Path:
    found = finders.find(name)
    assert isinstance(found, str), f"{name} is imported or listed, and is not there"
    return Path(found)


def _release(files: tuple[str, ...]) -> str:
    """Changes with every file kept, with the worker itself and with the pages shown instead."""
    digest = hashlib.sha256(BODY.read_bytes())
    digest.update(repr(PAGES).encode())
    digest.update((Path(settings.BASE_DIR) / "templates" / PAGE).read_bytes())
    for name in files:
        digest.update(f"{name} {staticfiles_storage.url(name)} ".encode())
        digest.update(_where(name).read_bytes())
    return digest.hexdigest()[:16]
