"""What every browser test has: one Chromium, a screen a person, and ears for what the browser mutters."""

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, Page, expect

from clinic.models import Staff, Visit
from tests import at_rest, people
from tests.chromium import browser as browser
from tests.people import PASSWORD, PIN

# Playwright's own loop runs in this thread; the database is used between its calls only
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")

TABLET = (1180, 820)
PORTRAIT = (820, 1180)
PHONE = (390, 844)
DESK = (1440, 900)
PICTURES = os.environ.get("BROWSER_PICTURES")  # a folder: how each screen looked at the end of a test
WAITS = int(os.environ.get("BROWSER_WAITS", "15000"))  # ms, for anything that a page should soon do
expect.set_options(timeout=WAITS)

Opens = Callable[..., BrowserContext]


@pytest.fixture(autouse=True)
def rows_stay_while_they_are_read(request: pytest.FixtureRequest) -> Iterator[None]:
    """Ends after every screen is closed and before the tables are emptied."""
    if "live_server" in request.fixturenames:
        request.getfixturevalue("transactional_db")
    yield
    if "live_server" in request.fixturenames:
        at_rest.wait()


@pytest.fixture
def muttered() -> Iterator[list[str]]:
    """What the browser complained about on any screen: refused by the page's policy, thrown, not found."""
    heard: list[str] = []
    yield heard
    assert not heard, "The browser complained:\n" + "\n".join(heard)


@pytest.fixture
def screen(browser: Browser, live_server, muttered: list[str]) -> Iterator[Opens]:
    """Opens a device of its own: screen(PHONE). All are closed before the rows go."""
    opened: list[BrowserContext] = []

    def opens(size: tuple[int, int] = TABLET, **options: object) -> BrowserContext:
        context = browser.new_context(
            base_url=live_server.url, viewport={"width": size[0], "height": size[1]}, **options
        )
        context.set_default_timeout(WAITS)
        listen(context, muttered)
        opened.append(context)
        return context

    yield opens
    for number, context in enumerate(opened):
        if PICTURES:
            for page in context.pages:
                page.screenshot(path=f"{PICTURES}/last-{number}.png", full_page=True)
        context.close()


def listen(context: BrowserContext, heard: list[str]) -> None:
    """Errors on the console, refusals by the Content-Security-Policy and exceptions of scripts are kept."""

    def console(message) -> None:
        # beside what is no page the browser looks for an icon by itself
        if message.type == "error" and not message.location.get("url", "").endswith("/favicon.ico"):
            heard.append(f"{message.page.url if message.page else ''}: {message.text}")

    context.on("console", console)
    context.on(
        "weberror", lambda error: heard.append(f"{error.page.url if error.page else ''}: {error.error}")
    )


def sign_in(context: BrowserContext, staff: Staff) -> Page:
    """Through the sign-in page, as a person does it."""
    page = context.new_page()
    page.goto("/")
    page.get_by_label("E-mail").fill(staff.email)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in", exact=True).click()
    page.locator("[data-works-here]").wait_for()
    return page


def bring_session(context: BrowserContext, staff: Staff, address: str) -> None:
    """Signed in without the form: for tests of other pages."""
    client = Client()
    client.force_login(staff)
    context.add_cookies(
        [{"name": name, "value": each.value, "url": address} for name, each in client.cookies.items()]
    )


def give_pin(staff: Staff) -> None:
    from django.contrib.auth.hashers import make_password

    staff.pin_hash = make_password(PIN)
    staff.save(update_fields=["pin_hash"])


@pytest.fixture
def house() -> people.People:
    """Everybody who works in the clinic; a test may bring its own."""
    people.clinic_details()
    return people.people()


@pytest.fixture
def visit(house: people.People) -> Visit:
    """A yearly check, measured at intake, with nothing examined yet."""
    from tests.browser.exam_room import measured_at_intake  # it reads this file

    made = people.visit_here(clinician=house.clinician, owners_words="the yearly check")
    measured_at_intake(made, house.technician)
    return made


@pytest.fixture(scope="module")
def service_workers() -> str:
    """Whether the tablet keeps pages: what it asks for then passes by `route`. A file may allow it."""
    return "block"


@pytest.fixture(scope="module")
def tablets(browser: Browser, live_server, service_workers: str) -> Iterator[Callable[[int], Page]]:
    """tablets(1) is the second of a file. A page opened anew finds the scripts read."""
    view = {"width": TABLET[0], "height": TABLET[1]}
    kept: list[Page] = []

    def nth(number: int) -> Page:
        while len(kept) <= number:
            context = browser.new_context(viewport=view, service_workers=service_workers)
            context.set_default_timeout(WAITS)
            kept.append(context.new_page())
        return kept[number]

    yield nth
    for each in kept:
        each.context.close()


@pytest.fixture(scope="module")
def tablet(tablets: Callable[[int], Page]) -> Page:
    """The exam room's tablet."""
    return tablets(0)


def wiped(tablet: Page, address: str) -> None:
    """As out of the box: nobody signed in, nothing kept, no other page, on the network, upright as it was."""
    context = tablet.context
    for other in context.pages:
        if other != tablet:
            other.close()
    tablet.unroute_all(behavior="ignoreErrors")
    tablet.goto("about:blank")
    context.set_offline(False)
    context.clear_cookies()
    session = context.new_cdp_session(tablet)
    session.send("Storage.clearDataForOrigin", {"origin": address, "storageTypes": "all"})
    session.detach()
    tablet.set_viewport_size({"width": TABLET[0], "height": TABLET[1]})


@contextmanager
def in_use(tablet: Page, address: str, staff: Staff) -> Iterator[Page]:
    """The tablet in somebody's hand, wiped when they are done; no script may throw meanwhile."""
    bring_session(tablet.context, staff, address)
    tablet.thrown = []

    def throws(error: object) -> None:
        tablet.thrown.append(str(error))

    tablet.on("pageerror", throws)
    yield tablet
    wiped(tablet, address)
    tablet.remove_listener("pageerror", throws)
    assert tablet.thrown == []


@pytest.fixture
def station() -> str:
    """Where `page` opens the exam, as "#EAR"; a file may bring its own."""
    return ""


@pytest.fixture
def page(tablet: Page, live_server, house: people.People, visit: Visit, station: str) -> Iterator[Page]:
    """The exam of that visit on the clinician's tablet."""
    from tests.browser.exam_room import open_exam  # it reads this file

    with in_use(tablet, live_server.url, house.clinician):
        yield open_exam(tablet, live_server.url, visit, station)
