"""The exam without a network: no tap is lost, doubled or credited to another, and nobody reads along."""

from __future__ import annotations

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import BrowserContext, Page, expect

from clinic.models import Record, Staff, Visit
from clinic.people.pins import LOCK_AFTER
from exams.models import Finding, Operation
from tests import people
from tests.browser.conftest import give_pin
from tests.browser.exam_room import (
    KEEPS_PAGES,
    all_saved,
    corner,
    exam_page,
    kept_here,
    open_again,
    signed_in,
)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

LEFT_CANAL = '.choice[data-key="EAR.canal|left"]'
RIGHT_CANAL = '.choice[data-key="EAR.canal|right"]'


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    made = people.people()
    for person in (made.clinician, made.colleague, made.technician):
        give_pin(person)
    return made


@pytest.fixture
def visit(house) -> Visit:
    return people.visit_here(clinician=house.clinician, owners_words="the yearly check")


@pytest.fixture(scope="module")
def service_workers() -> str:
    return "allow"


@pytest.fixture
def station() -> str:
    return "#EAR"


@pytest.fixture
def page(page: Page) -> Page:
    return kept_here(page)


@pytest.fixture
def context(page: Page) -> BrowserContext:
    return page.context


# ---- Nothing is lost


def test_the_page_opens_again_without_a_network_and_what_waited_arrives_once(page, context, visit) -> None:
    page.click(f"{LEFT_CANAL} .pick-normal")
    all_saved(page)
    context.set_offline(True)
    page.click(f"{RIGHT_CANAL} .pick-abnormal")
    page.click('.panel .toggles .pick:has-text("Excess wax")')
    corner(page, "^2 waiting for the network$")
    open_again(page)
    corner(page, "^2 waiting for the network$")
    assert page.is_checked(f"{LEFT_CANAL} input[value=normal]"), "what was acknowledged is forgotten"
    assert page.is_checked(f"{RIGHT_CANAL} input[value=abnormal]")
    # a page just opened may get one request out before Chromium cuts it off: the server is asked at the end
    context.set_offline(False)
    all_saved(page)
    assert Operation.objects.count() == 3
    assert dict(Finding.objects.values_list("line", "status")) == {
        "EAR.canal|left": "normal",
        "EAR.canal|right": "abnormal",
    }
    assert page.locator(".clash").count() == 0
    assert page.thrown == []


def test_a_tap_after_opening_again_follows_what_was_acknowledged(page, context) -> None:
    """The page kept is older than the taps made on it: a change of one of them must not look stale."""
    page.click(f"{LEFT_CANAL} .pick-normal")
    all_saved(page)
    context.set_offline(True)
    open_again(page)
    page.click(f"{LEFT_CANAL} .pick-unseen")
    page.keyboard.press("Escape")
    corner(page, "^1 waiting")
    context.set_offline(False)
    all_saved(page)
    assert page.locator(".clash").count() == 0
    assert Finding.objects.get().status == "not-examined"


def test_what_the_server_took_before_the_page_heard_of_it_is_not_doubled(page, context) -> None:
    """The answer was lost with the network, and the page was opened again before it could ask."""

    def lose(route) -> None:
        route.fetch()
        context.set_offline(True)
        route.abort()

    page.route("**/exam/operations/", lose, times=1)
    page.click(f"{LEFT_CANAL} .pick-normal")
    corner(page, "^1 waiting for the network$")
    assert Operation.objects.count() == 1
    open_again(page)
    corner(page, "^1 waiting for the network$")
    context.set_offline(False)
    all_saved(page)
    assert Operation.objects.count() == 1


# ---- Nobody's name but one's own


def hand_over(page: Page, to: Staff) -> None:
    page.locator(".who-change").click()
    page.locator("#handover .people label", has_text=to.full_name).click()
    page.locator("#hand-pin").fill(people.PIN)
    page.locator("#handover").get_by_role("button", name="Go on", exact=True).click()
    expect(page.locator("[data-works-here]")).to_have_text(to.full_name)


def also_signed_in(page: Page, staff: Staff) -> None:
    """A second person's full sign-in on the same tablet, over the open page."""
    page.locator(".who-change").click()
    page.get_by_role("link", name="Somebody else signs in").click()
    page.get_by_label("E-mail").fill(staff.email)
    page.get_by_label("Password").fill(people.PASSWORD)
    page.get_by_role("button", name="Sign in and take the tablet").click()
    page.locator("#handover").get_by_role("button", name="Go on", exact=True).click()
    expect(page.locator("[data-works-here]")).to_have_text(staff.full_name)


def test_taps_from_before_and_after_a_hand_over_are_credited_each_to_who_made_them(page, house) -> None:
    page.route("**/exam/operations/", lambda route: route.abort())
    page.click(f"{LEFT_CANAL} .pick-normal")
    corner(page, "^1 waiting")
    also_signed_in(page, house.technician)
    page.click(f"{RIGHT_CANAL} .pick-normal")
    corner(page, "^2 waiting")
    page.unroute("**/exam/operations/")
    all_saved(page)
    assert dict(Operation.objects.values_list("target", "person__full_name")) == {
        "EAR.canal|left": house.clinician.full_name,
        "EAR.canal|right": house.technician.full_name,
    }


def test_the_page_kept_is_that_of_who_works_now(page, context, house) -> None:
    """Opened again without a network after a hand-over, its taps are the second person's."""
    also_signed_in(page, house.technician)
    kept_here(page, house.technician)
    context.set_offline(True)
    open_again(page)
    page.click(f"{RIGHT_CANAL} .pick-normal")
    corner(page, "^1 waiting")
    context.set_offline(False)
    all_saved(page)
    assert Operation.objects.get().person == house.technician


def test_another_page_of_the_tablet_hears_of_the_hand_over(page, context, house, live_server, visit) -> None:
    """Two tabs: handed over in one, the other must not go on under the first name."""
    other = exam_page(context, live_server.url, visit, "#EAR")
    also_signed_in(page, house.technician)
    expect(other.locator("[data-works-here]")).to_have_text(house.technician.full_name)
    other.click(f"{LEFT_CANAL} .pick-normal")
    all_saved(other)
    assert Operation.objects.get().person == house.technician


def test_without_that_word_the_server_s_next_answer_says_it(page, context, house, live_server, visit) -> None:
    """A tab in which no message arrives: every answer names the grant at work."""
    other = context.new_page()
    other.add_init_script("delete window.BroadcastChannel")
    other.goto(f"{live_server.url}/visits/{visit.pk}/exam/#EAR")
    other.wait_for_selector(".station[open] .lines")
    also_signed_in(page, house.technician)
    other.bring_to_front()
    expect(other.locator("[data-works-here]")).to_have_text(house.technician.full_name)
    other.click(f"{LEFT_CANAL} .pick-normal")
    all_saved(other)
    assert Operation.objects.get().person == house.technician


def nobody_reads(page: Page, said: str) -> None:
    """One of our own pages stands there, and nothing of the patient or the exam on it."""
    expect(page.get_by_role("heading", level=1)).to_have_text(re.compile(said))
    assert "Pomfret" not in page.content()
    assert page.locator("#exam-data").count() == 0


def test_after_signing_out_the_page_is_gone_and_the_taps_are_not(page, context, live_server, visit) -> None:
    page.route("**/exam/operations/", lambda route: route.abort())
    page.click(f"{LEFT_CANAL} .pick-normal")
    corner(page, "^1 waiting")
    page.goto(f"{live_server.url}/accounts/logout/")
    page.locator("main").get_by_role("button", name="Sign everybody out").click()
    page.get_by_role("heading", name="Sign in", exact=True).wait_for()
    expect(page.locator(".waiting")).to_contain_text("1 tap waits on this tablet.")
    assert "Pomfret" not in page.content()
    assert (
        page.evaluate("caches.keys().then(all => all.some(name => name.startsWith('tailward-pages-')))")
        is False
    )
    context.set_offline(True)
    page.goto(f"{live_server.url}/visits/{visit.pk}/exam/")
    nobody_reads(page, "locked")
    context.set_offline(False)


def test_a_locked_tablet_stays_locked_without_a_network(page, context) -> None:
    page.locator(".who-change").click()
    page.get_by_role("button", name="Lock the tablet").click()
    page.get_by_text("Locked. The next person begins").wait_for()
    context.set_offline(True)
    page.reload()
    nobody_reads(page, "locked")
    context.set_offline(False)


def test_locked_without_a_network_it_stays_locked_with_one(page, context) -> None:
    """The server never heard of the lock: opened again, the page asks for a PIN all the same."""
    page.locator(".who-change").click()
    lock = page.get_by_role("button", name="Lock the tablet")
    lock.wait_for()
    context.set_offline(True)
    lock.click()
    page.locator("#handover").get_by_text("No answer from the clinic’s server").wait_for()
    page.reload()
    nobody_reads(page, "locked")
    context.set_offline(False)
    page.locator("#handover[open][data-locked]").wait_for(timeout=15_000)  # it opened by itself
    page.locator("#hand-pin").fill(people.PIN)
    page.locator("#handover").get_by_role("button", name="Go on", exact=True).click()
    page.click(f"{LEFT_CANAL} .pick-normal")
    all_saved(page)


def test_a_tablet_nobody_touched_shows_no_page_without_a_network(page, context) -> None:
    page.evaluate(
        """ago => new Promise(yes => {
          const asks = indexedDB.open('tailward');
          asks.onsuccess = () => {
            const step = asks.result.transaction('tablet', 'readwrite');
            step.objectStore('tablet').put(Date.now() - ago, 'touched');
            step.oncomplete = () => { asks.result.close(); yes(); };
          };
        })""",
        LOCK_AFTER.total_seconds() * 1000 + 1000,
    )
    context.set_offline(True)
    page.reload()
    nobody_reads(page, "locked")
    context.set_offline(False)


# ---- A session that ended


def test_a_session_that_ended_without_a_network_asks_to_sign_in_and_then_sends(page, context, house) -> None:
    context.set_offline(True)
    page.click(f"{LEFT_CANAL} .pick-normal")
    page.click(f"{RIGHT_CANAL} .pick-normal")
    corner(page, "^2 waiting for the network$")
    context.clear_cookies(name="sessionid")
    context.set_offline(False)
    page.locator("[data-trouble=signed-out]").wait_for()
    corner(page, "^2 waiting for you to sign in$")
    page.locator("[data-trouble=signed-out]").get_by_role("link", name="Sign in").click()
    expect(page.locator(".waiting")).to_contain_text("2 taps wait on this tablet.")
    assert not Operation.objects.exists()
    page.get_by_label("E-mail").fill(house.clinician.email)
    page.get_by_label("Password").fill(people.PASSWORD)
    page.get_by_role("button", name="Sign in", exact=True).click()
    page.wait_for_selector(".station[open] .lines")
    all_saved(page)
    assert [o.person for o in Operation.objects.all()] == [house.clinician] * 2


def test_somebody_else_who_signs_in_sends_them_under_the_first_name(
    page, context, house, live_server, visit
) -> None:
    context.set_offline(True)
    page.click(f"{LEFT_CANAL} .pick-normal")
    corner(page, "^1 waiting")
    context.clear_cookies(name="sessionid")
    context.set_offline(False)
    page.locator("[data-trouble=signed-out]").get_by_role("link", name="Sign in").click()
    page.get_by_label("E-mail").fill(house.colleague.email)
    page.get_by_label("Password").fill(people.PASSWORD)
    page.get_by_role("button", name="Sign in", exact=True).click()
    page.wait_for_selector(".station[open] .lines")
    all_saved(page)
    assert Operation.objects.get().person == house.clinician


# ---- What waits is shown, and sent from every page


def test_every_other_page_counts_what_waits_and_sends_it(page, context, live_server) -> None:
    context.route("**/exam/operations/", lambda route: route.abort())
    page.click(f"{LEFT_CANAL} .pick-normal")
    page.click(f"{RIGHT_CANAL} .pick-normal")
    corner(page, "^2 waiting")
    page.goto(f"{live_server.url}/patients/")
    expect(page.locator(".waiting")).to_contain_text("2 taps of Pomfret’s exam wait on this tablet")
    assert Axe().run(page).violations_count == 0
    context.unroute("**/exam/operations/")
    page.reload()
    expect(page.locator(".waiting")).to_have_attribute("data-lines", "[]")
    assert Operation.objects.count() == 2


def test_two_values_to_choose_from_wait_until_somebody_chose(
    browser, page, context, house, live_server, visit
) -> None:
    other = signed_in(browser, live_server.url, house.colleague)
    theirs = exam_page(other, live_server.url, visit, "#EAR")
    context.set_offline(True)
    page.click(f"{LEFT_CANAL} .pick-normal")
    corner(page, "^1 waiting")
    theirs.click(f"{LEFT_CANAL} .pick-unseen")
    all_saved(theirs)
    assert Finding.objects.get().status == "not-examined"
    other.close()
    context.set_offline(False)
    page.locator(".clash").wait_for()
    page.goto(f"{live_server.url}/patients/")
    expect(page.locator(".waiting")).to_contain_text("the server did not take all of it")
    page.get_by_role("link", name="Open the exam").click()
    page.locator(".clash").get_by_role("button", name="Keep mine").click()
    all_saved(page)
    assert Finding.objects.get().status == "normal"
    page.goto(f"{live_server.url}/patients/")
    expect(page.locator(".waiting")).to_have_attribute("data-lines", "[]")


def test_a_tap_that_comes_after_the_signature_is_read_before_it_goes(
    page, context, house, live_server, visit
) -> None:
    page.click(f"{RIGHT_CANAL} .pick-normal")
    all_saved(page)
    page.route("**/exam/operations/", lambda route: route.abort())
    page.click(f"{LEFT_CANAL} .pick-normal")
    corner(page, "^1 waiting")
    Record.objects.filter(pk=visit.record.pk).update(
        signed_at=people.NOW, signed_by=house.clinician, signed_name=house.clinician.printed_name
    )
    page.goto("about:blank")
    page.unroute("**/exam/operations/")
    page.goto(f"{live_server.url}/patients/")
    notice = page.locator(".waiting .notice")
    expect(notice).to_contain_text("1 tap of Pomfret’s exam came after the record was signed")
    expect(notice).to_contain_text("Left: Canal by otoscope: normal")
    assert Axe().run(page).violations_count == 0
    notice.get_by_role("button", name="discard").click()
    expect(page.locator(".waiting .notice")).to_have_count(0)
    page.reload()
    expect(page.locator(".waiting")).to_have_attribute("data-lines", "[]")


def test_pages_that_are_not_kept_say_so_and_lead_to_the_exam(page, context, live_server) -> None:
    context.set_offline(True)
    page.click(f"{LEFT_CANAL} .pick-normal")
    corner(page, "^1 waiting")
    page.goto(f"{live_server.url}/patients/")
    expect(page.get_by_role("heading", level=1)).to_have_text("No network")
    expect(page.locator(".waiting")).to_contain_text("1 tap of Pomfret’s exam waits on this tablet")
    assert Axe().run(page).violations_count == 0
    page.get_by_role("link", name="Exam of Pomfret").click()
    page.wait_for_selector(".station[open] .lines")
    corner(page, "^1 waiting")
    page.go_back()
    expect(page.get_by_role("heading", level=1)).to_have_text("No network")
    context.set_offline(False)
    page.get_by_role("heading", name="Patients").wait_for()  # it opened by itself


# ---- Signing


def test_signing_without_a_network_says_what_it_needs(page, context, live_server, visit) -> None:
    context.set_offline(True)
    page.goto(f"{live_server.url}/visits/{visit.pk}/sign/")
    expect(page.get_by_role("heading", level=1)).to_have_text("Signing needs the network")
    context.set_offline(False)


def test_nothing_is_signed_while_taps_wait(page, context, live_server, visit, settings) -> None:
    page.route("**/exam/operations/", lambda route: route.abort())
    page.click(f"{LEFT_CANAL} .pick-normal")
    page.click(f"{RIGHT_CANAL} .pick-normal")
    corner(page, "^2 waiting")
    page.goto(f"{live_server.url}/visits/{visit.pk}/sign/")
    expect(page.locator("#sign-waits")).to_contain_text("2 taps of this exam still wait on this tablet")
    page.unroute("**/exam/operations/")
    page.reload()
    expect(page.locator("#sign-waits")).to_be_hidden()


# ---- A tablet that cannot keep


def test_a_full_tablet_is_said_at_once_and_taps_are_sent_all_the_same(
    browser, live_server, house, visit
) -> None:
    """The disk is full before the page opens: the browser remembers for a while what was free."""
    context = signed_in(browser, live_server.url, house.clinician, **KEEPS_PAGES)
    before = context.new_page()
    before.goto(f"{live_server.url}/healthz")
    devtools = context.new_cdp_session(before)
    devtools.send("Storage.overrideQuotaForOrigin", {"origin": live_server.url, "quotaSize": 1})
    page = exam_page(context, live_server.url, visit, "#EAR")
    page.click(f"{LEFT_CANAL} .pick-normal")
    expect(page.locator("[data-trouble=storage]")).to_contain_text("storage of this tablet is full")
    all_saved(page)
    assert Operation.objects.count() == 1
    devtools.send("Storage.overrideQuotaForOrigin", {"origin": live_server.url})
    page.click(f"{RIGHT_CANAL} .pick-normal")
    all_saved(page)
    expect(page.locator("[data-trouble=storage]")).to_have_count(0)
    assert page.thrown == []
    context.close()


def test_a_browser_that_keeps_nothing_is_said_at_once_and_taps_are_sent(
    browser, live_server, house, visit
) -> None:
    context = signed_in(browser, live_server.url, house.clinician, **KEEPS_PAGES)
    context.add_init_script(
        "Object.defineProperty(window, 'indexedDB',"
        " {value: {open() { throw new DOMException('no', 'SecurityError'); }}})"
    )
    page = exam_page(context, live_server.url, visit, "#EAR")
    expect(page.locator("[data-trouble=storage]")).to_contain_text("keeps nothing")
    page.click(f"{LEFT_CANAL} .pick-normal")
    all_saved(page)
    assert Operation.objects.count() == 1
    assert page.thrown == []
    context.close()
