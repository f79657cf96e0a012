"""Every page for eyes, ears and keys: axe-core finds nothing, in the light theme and in the dark one."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from tests.browser.conftest import bring_session, give_pin
from tests.browser.tour import OUTBOX, Tourist, deeper, stops
from tests.house import furnished

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

THEME_DEPENDS = {"runOnly": ["color-contrast", "link-in-text-block"], "resultTypes": ["violations"]}


def violations(page: Page, theme: str, *, only_theme: bool = False) -> list[str]:
    page.emulate_media(color_scheme=theme)
    found = Axe().run(page, options=THEME_DEPENDS) if only_theme else Axe().run(page)
    return [
        f"{theme}, {each['id']}: {node['html'][:160]} {node.get('failureSummary', '')}"
        for each in found.response["violations"]
        for node in each["nodes"][:3]
    ]


def test_axe_finds_nothing_on_any_page(screen, live_server, settings, long_run, muttered) -> None:
    settings.EMAIL_BACKEND = OUTBOX
    made = furnished()
    tourist = Tourist(made, screen, live_server)
    wrong = []
    for stop in (*stops(made, every_role=long_run), *deeper(made, every_role=long_run)):
        page = tourist.look(stop)
        if page is None:
            continue
        found = violations(page, "light") + violations(page, "dark", only_theme=not long_run)
        wrong += [f"{stop}: {each}" for each in found]
    muttered.clear()  # the other tour's to say
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
    wrong = violations(page, "light") + violations(page, "dark")
    page.get_by_role("link", name=re.compile(r"\bchange$")).click()
    dialog = page.get_by_role("dialog")
    dialog.get_by_role("button", name="Take the tablet").wait_for()
    wrong += violations(page, "dark") + violations(page, "light")
    dialog.get_by_role("link", name="Somebody else signs in").click()
    dialog.get_by_role("button", name="Sign in and take the tablet").wait_for()
    wrong += violations(page, "light")
    assert not wrong, "\n".join(wrong)


def test_axe_would_notice(screen) -> None:
    page = screen().new_page()
    page.goto("/accounts/login/")
    page.evaluate("document.documentElement.removeAttribute('lang')")
    assert any("html-has-lang" in each for each in violations(page, "light"))
