"""A browser in the exam room: one visit, its people, and a page of each."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from decimal import Decimal

from django.test import Client
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from clinic.models import Measurement, Staff, Visit
from tests import people

# Playwright's own loop runs in this thread; the database is used between its calls only
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")

ARGUMENTS = (
    "--no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync"
)
INTAKE = (
    ("weight", "27.4", "kg", "", "inside"),
    ("temperature", "38.6", "C", "", "inside"),
    ("heart-rate", "96", "per-min", "", "inside"),
    ("pulse-rate", "96", "per-min", "", "inside"),
    ("respiratory-rate", "22", "per-min", "", "inside"),
    ("capillary-refill", "", "s", "1-2", "inside"),
    ("bcs", "5", "bcs-9", "", "inside"),
    ("mcs", "", "mcs-4", "normal", "inside"),
    ("pain", "", "pain-4", "none", "inside"),
)


@contextmanager
def chromium() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=ARGUMENTS.split())
        try:
            yield browser
        finally:
            browser.close()


def signed_in(browser: Browser, address: str, staff: Staff, **options: object) -> BrowserContext:
    """A context of its own, as one tablet."""
    client = Client()
    client.force_login(staff)
    context = browser.new_context(viewport={"width": 1180, "height": 820}, **options)
    context.add_cookies(
        [{"name": name, "value": morsel.value, "url": address} for name, morsel in client.cookies.items()]
    )
    context.set_default_timeout(8000)
    return context


def measured_at_intake(visit: Visit, by: Staff) -> None:
    """Every value that an exam asks for was taken at intake."""
    for kind, typed, unit, category, flag in INTAKE:
        number = Decimal(typed) if typed else None
        Measurement.objects.create(
            patient=visit.patient,
            visit=visit,
            kind=kind,
            typed=number,
            value=number,
            unit=unit,
            category=category,
            flag=flag,
            measured_at=people.NOW,
            recorded_at=people.NOW,
            observed_by=by,
            entered_by=by,
        )


def exam_page(context: BrowserContext, address: str, visit: Visit, anchor: str = "") -> Page:
    """The exam, opened; anything that goes wrong in the page's script fails the test."""
    page = context.new_page()
    page.on("pageerror", lambda error: (_ for _ in ()).throw(AssertionError(str(error))))
    page.goto(f"{address}/visits/{visit.pk}/exam/{anchor}")
    page.wait_for_selector(".station[open] .lines")
    return page


def all_saved(page: Page) -> None:
    page.wait_for_function("document.querySelector('#kept span').textContent.startsWith('all saved')")
