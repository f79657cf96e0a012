"""A browser in the exam room: one visit, its people, and a page of each."""

from __future__ import annotations

import re
from decimal import Decimal

from playwright.sync_api import Browser, BrowserContext, Page, expect

from clinic.models import Measurement, Staff, Visit
from tests import people
from tests.browser.conftest import WAITS, bring_session

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


def signed_in(browser: Browser, address: str, staff: Staff, **options: object) -> BrowserContext:
    """A context of its own, as one tablet; it may lose its network without failing the test."""
    options.setdefault("viewport", {"width": 1180, "height": 820})
    context = browser.new_context(**options)
    bring_session(context, staff, address)
    context.set_default_timeout(WAITS)
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
    """The exam, opened; what its scripts throw is kept in `page.thrown`."""
    page = context.new_page()
    page.thrown = []
    page.on("pageerror", lambda error: page.thrown.append(str(error)))
    page.goto(f"{address}/visits/{visit.pk}/exam/{anchor}")
    page.wait_for_selector(".station[open] .lines")
    return page


def corner(page: Page, words: str) -> None:
    """Wait until the corner says where the work is."""
    expect(page.locator("#kept span")).to_have_text(re.compile(words), timeout=WAITS)


def all_saved(page: Page) -> None:
    corner(page, "^all saved")
