"""A browser in the exam room: one visit, its people, and a page of each."""

from __future__ import annotations

import re
import time
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
KEPT = """async name => {
  const all = (await caches.keys()).filter(each => each.startsWith('tailward-pages-'));
  const own = async each => (await caches.open(each)).match(location.pathname);
  const found = (await Promise.all(all.map(own))).filter(Boolean);
  const words = await Promise.all(found.map(each => each.text()));
  return Boolean(navigator.serviceWorker.controller)
    && words.some(each => !name || each.includes(`<b data-works-here>${name}</b>`));
}"""


KEEPS_PAGES = {"service_workers": "allow"}


def signed_in(browser: Browser, address: str, staff: Staff, **options: object) -> BrowserContext:
    """A context of its own, as one tablet; it may lose its network without failing the test.

    Without the service worker, unless a test asks for it: what a page asks for through one passes by `route`.
    """
    options.setdefault("viewport", {"width": 1180, "height": 820})
    options.setdefault("service_workers", "block")
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
    return open_exam(page, address, visit, anchor)


def open_exam(page: Page, address: str, visit: Visit, anchor: str = "") -> Page:
    page.goto(f"{address}/visits/{visit.pk}/exam/{anchor}")
    page.wait_for_selector(".station[open] .lines")
    return page


def corner(page: Page, words: str) -> None:
    """Wait until the corner says where the work is."""
    expect(page.locator("#kept span")).to_have_text(re.compile(words), timeout=WAITS)


def all_saved(page: Page) -> None:
    corner(page, "^all saved")


def kept_here(page: Page, whose: Staff | None = None) -> Page:
    """Wait until the service worker keeps this page, made for this person."""
    deadline = time.monotonic() + 3 * WAITS / 1000
    while not page.evaluate(KEPT, whose.full_name if whose else ""):
        assert time.monotonic() < deadline, "the service worker does not keep the page"
        page.wait_for_timeout(100)
    return page


def lines_to_tap(page: Page, count: int) -> list[str]:
    """Lines that take a normal, station by station."""
    return page.evaluate(
        """async count => (await import(performance.getEntriesByType('resource').find(
            each => /exams\\/model[.]/.test(each.name)).name))
          .unpacked(JSON.parse(document.getElementById('walk-data').textContent)).stations
          .flatMap(s => s.lines).filter(x => !x.absent && !x.value && !x.structure.endsWith('.*')
            && x.stored_at.length === 1 && !x.covered_by && x.structure !== 'MTH.teeth')
          .map(x => x.key).slice(0, count)""",
        count,
    )


def open_station_of(page: Page, line: str) -> None:
    station = line.split(".")[0]
    if not page.locator(f"#{station}[open] .lines").count():
        page.click(f"[data-rail={station}]")
        page.wait_for_selector(f"#{station}[open] .lines")


def tap_normal(page: Page, keys: list[str]) -> None:
    """Each line's normal, its station opened when it is another."""
    for key in keys:
        open_station_of(page, key)
        page.click(f'.choice[data-key="{key}"] .pick-normal')


def open_again(page: Page) -> None:
    page.reload()
    page.wait_for_selector(".station[open] .lines")
