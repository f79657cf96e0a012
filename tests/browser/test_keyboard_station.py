"""One station wholly by keyboard: an abnormal line with severity and a note; a heads-up pinned."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page

from clinic.models import HeadsUp, Visit
from exams.models import Exam, Finding
from tests import people
from tests.browser.exam_room import all_saved, exam_page, measured_at_intake, signed_in

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PATIENT = 20_000


@pytest.fixture
def page(browser, live_server, db) -> Page:
    people.clinic_details()
    house = people.people()
    visit: Visit = people.visit_here(clinician=house.clinician)
    measured_at_intake(visit, house.technician)
    context = signed_in(browser, live_server.url, house.clinician)
    context.set_default_timeout(PATIENT)
    opened = exam_page(context, live_server.url, visit, "#EAR")
    yield opened
    context.close()
    assert opened.thrown == []


def tab_to(page: Page, selector: str, most: int = 80) -> None:
    """Only the Tab key moves."""
    for _ in range(most):
        if page.evaluate("s => Boolean(document.activeElement?.closest(s))", selector):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"Tab never reached {selector}")


def test_a_station_with_an_abnormal_line_is_done_by_keyboard(page) -> None:
    page.focus('.choice[data-key="EAR.pinna|left"] input')
    page.keyboard.press("n")
    page.keyboard.press("r")
    page.keyboard.press("a")
    page.wait_for_selector(".panel")
    tab_to(page, ".panel .toggles .pick")
    page.keyboard.press("Space")
    code = page.locator(".panel .told li").first.get_attribute("data-code")
    if page.locator(".panel .told fieldset .pick").count():
        tab_to(page, ".panel .told fieldset .pick")
        page.keyboard.press("Space")
    tab_to(page, ".panel textarea")
    page.keyboard.type("old scar, does not hurt")
    page.keyboard.press("Escape")
    all_saved(page)
    row = Finding.objects.get(line="EAR.pinna|right")
    assert (row.status, row.findings[0]["code"]) == ("abnormal", code)
    assert Exam.objects.get().notes == {"EAR.pinna|right": "old scar, does not hurt"}
    assert page.evaluate("document.activeElement.closest('.choice')?.dataset.key") == "EAR.pinna|right"


def test_a_heads_up_is_pinned_by_keyboard(page) -> None:
    page.focus("#EAR .pinner > .button")
    page.keyboard.press("Enter")
    page.keyboard.type("smells sour")
    page.keyboard.press("Enter")
    all_saved(page)
    assert HeadsUp.objects.get().words == "smells sour"
    assert page.locator("#EAR .pinner > .button").get_attribute("aria-expanded") == "false"
