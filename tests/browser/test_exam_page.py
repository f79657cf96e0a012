"""The exam in a browser: how many taps it takes, and that no tap is lost, doubled or credited to another."""

from __future__ import annotations

import time

import pytest
from playwright.sync_api import Page, expect

from clinic.models import Alert, HeadsUp, Patient
from exams.models import Exam, Finding, Operation
from tests import people
from tests.browser.exam_room import all_saved, corner, exam_page, signed_in
from tests.browser.eyes import in_both_themes, violations

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

MOST_TAPS = 45
BANNER = 112  # px of a tablet's 820
EAR_TAPS = 4
LEFT_CANAL = '.choice[data-key="EAR.canal|left"]'
RIGHT_CANAL = '.choice[data-key="EAR.canal|right"]'


class Taps:
    """A hand on the page: scrolls as it must, and counts what it taps."""

    def __init__(self, page: Page) -> None:
        self.page, self.count = page, 0

    def __call__(self, selector: str) -> None:
        self.page.locator(selector).first.click()
        self.count += 1


def look_at_every_line(page: Page, code: str) -> None:
    for line in page.locator(f"#{code} .line").all():
        line.scroll_into_view_if_needed()
    page.locator(f"#{code} .station-foot").scroll_into_view_if_needed()
    page.wait_for_timeout(80)


def test_the_banner_of_a_patient_with_much_to_say_leaves_the_tablet_to_the_walk(page, house, visit) -> None:
    Patient.objects.filter(pk=visit.patient_id).update(
        name="Bartholomew the Magnificent", breed="Nova Scotia duck tolling retriever cross"
    )
    for kind, text in (("allergy", "penicillin, swollen face"), ("alert", "epileptic, plan in the record")):
        Alert.objects.create(
            patient=visit.patient, kind=kind, text=text, entered_by=house.clinician, entered_at=people.NOW
        )
    page.reload()
    expect(page.locator(".bar-alerts .alert")).to_have_text(
        ["allergy: penicillin, swollen face", "alert: epileptic, plan in the record"]
    )
    expect(page.locator("#entering")).to_be_visible()
    assert page.locator(".bar-visit").bounding_box()["height"] <= BANNER


def test_a_wholly_normal_exam_takes_few_taps(page, visit) -> None:
    tap = Taps(page)
    codes = page.evaluate("[...document.querySelectorAll('.station')].map(s => s.id)")
    filled = time.monotonic() - 1
    for code in codes:
        page.wait_for_selector(f"#{code}[open] .lines")
        look_at_every_line(page, code)
        for _ in range(2):
            button = page.locator(f"#{code} [data-do=fill]")
            if not button.is_visible() or page.locator(f"#{code}[open]").count() == 0:
                break
            page.wait_for_timeout(max(0, 620 - (time.monotonic() - filled) * 1000))  # the page's own guard
            tap(f"#{code} [data-do=fill]")
            filled = time.monotonic()
        if page.locator(f"#{code}[open]").count():
            tap(f"#{code} [data-do=next]")
    all_saved(page)
    assert page.inner_text("#left-total") == "0"
    assert page.inner_text("#close-list") == "Everything is answered."
    assert tap.count <= MOST_TAPS
    assert Finding.objects.filter(status="normal").count() > 100
    assert not Finding.objects.filter(status="normal", together=False).exists()


def test_an_address_with_another_station_opens_it(page, visit) -> None:
    page.evaluate("location.hash = '#HRT'")
    page.wait_for_selector("#HRT[open] .lines")
    assert page.locator(".station[open]").count() == 1


def test_an_abnormal_ear_with_its_severity_takes_four_taps(page, visit) -> None:
    page.click("[data-rail=EAR]")
    tap = Taps(page)
    tap(f"{LEFT_CANAL} .pick-abnormal")
    tap('.panel .toggles .pick:has-text("Excess wax")')
    tap('.panel .told .pick:has-text("moderate")')
    tap(".panel-head .button")
    all_saved(page)
    assert tap.count == EAR_TAPS
    assert page.inner_text(f"{LEFT_CANAL} .said") == "excess wax, moderate"
    row = Finding.objects.get(line="EAR.canal|left")
    assert [(f["code"], f["severity"]) for f in row.findings] == [("EAR-02", "moderate")]
    assert row.person.full_name == "Dr Maren Oduya"


def test_taps_wait_for_the_network_through_a_reload_and_arrive_once(page, visit, live_server) -> None:
    page.click("[data-rail=EAR]")
    page.click(f"{LEFT_CANAL} .pick-normal")
    all_saved(page)
    page.route("**/exam/operations/", lambda route: route.abort())
    page.click(f"{RIGHT_CANAL} .pick-abnormal")
    page.click('.panel .toggles .pick:has-text("Excess wax")')
    corner(page, "^2 waiting for the network$")
    page.reload()
    page.wait_for_selector(".station[open] .lines")
    corner(page, "^2 waiting")
    assert page.is_checked(f"{RIGHT_CANAL} input[value=abnormal]")
    assert Operation.objects.count() == 1
    page.unroute("**/exam/operations/")
    all_saved(page)
    assert Operation.objects.count() == 3
    assert Finding.objects.get(line="EAR.canal|right").status == "abnormal"


def test_an_answer_that_never_came_back_is_not_applied_twice(page, visit) -> None:
    """The server took the tap, the network lost the answer: the same key is sent again."""
    page.click("[data-rail=EAR]")

    def lose(route) -> None:
        route.fetch()
        route.abort()

    page.route("**/exam/operations/", lose, times=1)
    page.click(f"{LEFT_CANAL} .pick-normal")
    all_saved(page)
    assert Operation.objects.count() == 1
    assert Exam.objects.get().revision == 1


def test_two_people_on_one_line_see_both_values_and_choose(browser, page, house, visit, live_server) -> None:
    other = signed_in(browser, live_server.url, house.colleague)
    theirs = exam_page(other, live_server.url, visit, "#EAR")
    page.click("[data-rail=EAR]")
    page.route("**/exam/operations/", lambda route: route.abort())
    page.click(f"{LEFT_CANAL} .pick-normal")
    corner(page, "^1 waiting")
    theirs.click(f"{LEFT_CANAL} .pick-abnormal")
    theirs.click('.panel .toggles .pick:has-text("Excess wax")')
    all_saved(theirs)
    page.unroute("**/exam/operations/")
    page.wait_for_selector(".clash")
    said = page.inner_text(".clash")
    assert "Dr Tobias Falk: excess wax" in said
    assert "You: normal" in said
    page.click('.clash .button:has-text("Keep mine")')
    all_saved(page)
    assert Finding.objects.get(line="EAR.canal|left").status == "normal"
    expect(theirs.locator(f"{LEFT_CANAL} input[value=normal]")).to_be_checked()
    other.close()


def test_a_heads_up_appears_at_its_station_while_the_exam_is_open(page, house, visit) -> None:
    page.click("[data-rail=EAR]")
    HeadsUp.objects.create(
        record=visit.record,
        station="EAR",
        side="left",
        words="Smells sour.",
        by=house.technician,
        at=people.NOW,
    )
    page.wait_for_selector("#EAR .headsup", timeout=3000)
    assert page.get_attribute("#EAR [data-do=fill]", "aria-disabled") == "true"
    page.click('#EAR .headsup .pick:has-text("looked, found nothing")')
    all_saved(page)
    assert HeadsUp.objects.get().answer == "looked"


def test_a_session_that_ended_keeps_the_page_and_the_taps(page, visit) -> None:
    page.click("[data-rail=EAR]")
    kept = page.context.cookies()
    page.context.clear_cookies()
    page.click(f"{LEFT_CANAL} .pick-normal")
    page.wait_for_selector("[data-trouble=signed-out]")
    assert "waiting for you to sign in" in page.inner_text("#kept")
    assert not Operation.objects.exists()
    page.context.add_cookies(kept)
    all_saved(page)
    assert Operation.objects.get().person.full_name == "Dr Maren Oduya"


def test_take_back_leaves_the_line_as_it_was(page, visit) -> None:
    page.click("[data-rail=EAR]")
    page.click(f"{LEFT_CANAL} .pick-normal")
    all_saved(page)
    page.click("#back")
    all_saved(page)
    assert not page.is_checked(f"{LEFT_CANAL} input[value=normal]")
    assert not Finding.objects.exists()


def test_the_exam_is_done_by_keyboard(page, visit) -> None:
    page.click("[data-rail=EAR]")
    page.focus('.choice[data-key="EAR.pinna|left"] input')
    page.keyboard.press("n")
    page.keyboard.press("j")
    page.keyboard.press("r")
    page.keyboard.press("x")
    page.wait_for_selector(".panel-unseen")
    page.keyboard.press("Escape")
    all_saved(page)
    assert dict(Finding.objects.values_list("line", "status")) == {
        "EAR.pinna|left": "normal",
        "EAR.base|right": "not-examined",
    }


def test_a_value_that_cannot_be_is_refused_beside_its_field(page, visit) -> None:
    page.click("[data-rail=VIT]")
    pressure = '.choice[data-key="VIT.blood-pressure|-"]'
    page.fill(f"{pressure} .measure-in:not(.measure-how) input", "2000")
    page.keyboard.press("Tab")
    expect(page.locator(f"{pressure} .field-error")).not_to_be_empty()
    assert not Finding.objects.exists()


def test_axe_finds_nothing_with_a_station_and_a_panel_open(page) -> None:
    page.click("[data-rail=EAR]")
    page.click(f"{LEFT_CANAL} .pick-abnormal")
    page.click('.panel .toggles .pick:has-text("Excess wax")')
    assert in_both_themes(page) == []
    for code in ("VIT", "MTH", "NEU"):
        page.click(f"[data-rail={code}]")
        assert violations(page, "light") == []
