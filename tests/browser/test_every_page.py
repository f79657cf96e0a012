"""Every page for eyes, ears, keys and thumbs.

On a phone nothing leaves the house, nothing is muttered, nothing has to be pushed sideways; on a tablet
axe-core finds nothing, in the light theme and in the dark one.
"""

import re
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Page

from tests.browser.conftest import PHONE, TABLET, bring_session, give_pin
from tests.browser.eyes import in_both_themes, size, too_wide, violations
from tests.browser.tour import OUTBOX, Tourist, deeper, stops
from tests.house import furnished

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def troubles(page: Page, house: str, muttered: list[str]) -> list[str]:
    """What is wrong with a page on this screen; `muttered` is read, then emptied."""
    asked = page.evaluate("performance.getEntriesByType('resource').map(each => each.name)")
    wrong = too_wide(page)
    wrong += [f"asked {each}" for each in asked if urlsplit(each).netloc not in ("", house)]
    wrong += muttered
    muttered.clear()
    return wrong


def test_every_page_is_fit_for_everybody(screen, live_server, settings, long_run, muttered) -> None:
    """The console is listened to by `muttered`: a refusal by the page's policy is an error there."""
    settings.EMAIL_BACKEND = OUTBOX
    made = furnished()
    tourist = Tourist(made, screen, live_server, size=PHONE)
    seen: set[int] | None = None if long_run else set()
    house, wrong = urlsplit(live_server.url).netloc, []
    for stop in (*stops(made, every_role=long_run), *deeper(made, every_role=long_run)):
        page = tourist.look(stop)
        if page is None:
            continue
        found = troubles(page, house, muttered)
        size(page, TABLET)
        found += in_both_themes(page, seen=seen)
        size(page, PHONE)
        muttered.clear()  # axe asks for more than a page does
        wrong += [f"{stop}: {each}" for each in found]
    assert not wrong, "\n".join(wrong)


def test_axe_finds_nothing_in_what_opens_over_a_page(screen, live_server) -> None:
    made = furnished()
    give_pin(made.people.clinician)
    context = screen()
    bring_session(context, made.people.clinician, live_server.url)
    page = context.new_page()
    page.goto("/")
    page.get_by_role("link", name="Someone came in").click()
    page.get_by_role("heading", name="Who came in?").wait_for()
    wrong = in_both_themes(page)
    page.get_by_role("link", name=re.compile(r"\bchange$")).click()
    dialog = page.get_by_role("dialog")
    dialog.get_by_role("button", name="Take the tablet").wait_for()
    wrong += in_both_themes(page)
    dialog.get_by_role("link", name="Somebody else signs in").click()
    dialog.get_by_role("button", name="Sign in and take the tablet").wait_for()
    wrong += violations(page, "light")
    assert not wrong, "\n".join(wrong)


def test_axe_would_notice(screen) -> None:
    page = screen().new_page()
    page.goto("/accounts/login/")
    page.evaluate("document.documentElement.removeAttribute('lang')")
    assert any("html-has-lang" in each for each in violations(page, "light"))


def test_axe_would_notice_pale_writing_among_what_it_saw_before(screen) -> None:
    page = screen().new_page()
    page.goto("/accounts/login/")
    seen: set[int] = set()
    assert in_both_themes(page, seen=seen) == []
    assert in_both_themes(page, seen=seen) == []
    page.evaluate("document.querySelector('main').style.opacity = '0.3'")
    dark, light = (violations(page, theme, seen=seen) for theme in ("dark", "light"))
    assert all(any("color-contrast" in each for each in wrong) for wrong in (dark, light))


def test_a_refusal_by_the_policy_would_be_noticed(screen, live_server, muttered) -> None:
    page = screen().new_page()
    page.goto("/accounts/login/")
    with page.expect_console_message(lambda said: "Content Security Policy" in said.text):
        page.evaluate("document.body.insertAdjacentHTML('beforeend', '<p style=\"color: red\">x</p>')")
    assert any(
        "Content Security Policy" in each
        for each in troubles(page, urlsplit(live_server.url).netloc, muttered)
    )


def test_a_page_that_is_too_wide_would_be_noticed(screen, live_server, muttered) -> None:
    page = screen(PHONE).new_page()
    page.goto("/accounts/login/")
    page.evaluate("document.querySelector('main').style.width = '600px'")
    assert "wider" in troubles(page, urlsplit(live_server.url).netloc, muttered)[0]
