"""A tablet that dies in mid-exam, without a network: what was tapped is on its disk, and arrives once."""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import psutil
import pytest
from playwright.sync_api import BrowserContext, Page, Playwright, expect, sync_playwright

from clinic.models import Visit
from exams.models import ExamPhoto, Finding, Operation
from fixtures.pictures import CHROMIUM
from tests import at_rest, people
from tests.browser.conftest import WAITS, bring_session
from tests.browser.exam_room import (
    all_saved,
    corner,
    exam_page,
    kept_here,
    lines_to_tap,
    open_again,
    open_station_of,
    tap_normal,
)
from tests.browser.test_photos import from_camera
from tests.chromium import ARGUMENTS

pytestmark = [pytest.mark.browser, pytest.mark.faults, pytest.mark.django_db(transaction=True)]

CHANGES, FEW = 60, 12  # in the long run, and in the short one
PHOTOGRAPHS = 3


class Chromium:
    """A browser with a profile of its own on the disk, which can be killed and started again."""

    def __init__(self, playwright: Playwright, profile: Path) -> None:
        self.playwright, self.profile = playwright, profile

    def start(self, *more: str) -> BrowserContext:
        self.context = self.playwright.chromium.launch_persistent_context(
            str(self.profile),
            executable_path=CHROMIUM,
            args=[*ARGUMENTS.split(), *more],
            viewport={"width": 1180, "height": 820},
        )
        self.context.set_default_timeout(WAITS)
        return self.context

    def kill(self) -> None:
        """SIGKILL to every process of this profile, as when the battery is taken out."""
        flag = f"--user-data-dir={self.profile}"
        tops = [p for p in psutil.process_iter(["cmdline"]) if flag in (p.info["cmdline"] or [])]
        assert tops, "no process has this profile"
        family = {each for top in tops for each in (top, *top.children(recursive=True))}
        for process in family:
            with contextlib.suppress(psutil.NoSuchProcess, ProcessLookupError):
                os.kill(process.pid, signal.SIGKILL)
        psutil.wait_procs(family, timeout=20)
        for lock in self.profile.glob("Singleton*"):
            lock.unlink()

    def end(self) -> None:
        with contextlib.suppress(Exception):  # a killed one is closed already
            self.context.close()


@pytest.fixture
def chromium(tmp_path) -> Iterator[Chromium]:
    with sync_playwright() as playwright:
        made = Chromium(playwright, tmp_path / "profile")
        yield made
        made.end()
        at_rest.wait()


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def visit(house) -> Visit:
    return people.visit_here(clinician=house.clinician)


WAITING = """() => new Promise(yes => {
  const asks = indexedDB.open('tailward');
  asks.onsuccess = () => {
    const step = asks.result.transaction(['operations', 'photos']);
    const counts = ['operations', 'photos'].map(name => step.objectStore(name).count());
    step.oncomplete = () => { asks.result.close(); yes(counts.map(each => each.result)); };
  };
})"""


def photograph(page: Page, line: str, count: int) -> None:
    """As something abnormal of this line."""
    open_station_of(page, line)
    page.click(f'.choice[data-key="{line}"] .pick-abnormal')
    for _ in range(count):
        page.set_input_files(".panel .photos input[type=file]", from_camera(1200, 800))
    expect(page.locator(".panel .photos .photo-thumb")).to_have_count(count)


def test_a_browser_killed_without_a_network_loses_and_doubles_nothing(
    chromium, live_server, house, visit, long_run
) -> None:
    count = CHANGES if long_run else FEW
    tablet = chromium.start()
    bring_session(tablet, house.clinician, live_server.url)
    page = kept_here(exam_page(tablet, live_server.url, visit))
    *lines, abnormal = lines_to_tap(page, count)
    assert len(lines) == count - 1
    tap_normal(page, lines[:2])
    all_saved(page)
    tablet.set_offline(True)
    tap_normal(page, lines[2 : count // 2])
    open_again(page)
    tap_normal(page, lines[count // 2 :])
    photograph(page, abnormal, PHOTOGRAPHS)
    corner(page, "waiting for the network$")
    assert page.evaluate(WAITING) == [count - 2, PHOTOGRAPHS]
    cookies = tablet.cookies()  # the session's own cookie is not written to the disk at once
    chromium.kill()

    tablet = chromium.start()
    tablet.add_cookies(cookies)
    tablet.set_offline(True)
    page = exam_page(tablet, live_server.url, visit)
    corner(page, "waiting for the network$")
    assert page.evaluate(WAITING) == [count - 2, PHOTOGRAPHS]
    tablet.set_offline(False)
    all_saved(page)
    assert page.evaluate(WAITING) == [0, 0]
    assert Counter(Operation.objects.values_list("target", flat=True)) == Counter([*lines, abnormal])
    told = {(key, "normal") for key in lines} | {(abnormal, "abnormal")}
    assert set(Finding.objects.values_list("line", "status")) == told
    assert list(ExamPhoto.objects.values_list("target", flat=True)) == [abnormal] * PHOTOGRAPHS
    assert set(Operation.objects.values_list("person__full_name", flat=True)) == {house.clinician.full_name}
    assert page.thrown == []


def test_a_disk_that_lost_them_would_be_noticed(chromium, live_server, house, visit) -> None:
    """The same death, and the profile's database gone with it."""
    tablet = chromium.start()
    bring_session(tablet, house.clinician, live_server.url)
    page = kept_here(exam_page(tablet, live_server.url, visit, "#EAR"))
    tablet.set_offline(True)
    page.click('.choice[data-key="EAR.canal|left"] .pick-normal')
    corner(page, "^1 waiting")
    cookies = tablet.cookies()
    chromium.kill()
    for folder in chromium.profile.glob("Default/IndexedDB/*"):
        shutil.rmtree(folder)
    tablet = chromium.start()
    tablet.add_cookies(cookies)
    page = exam_page(tablet, live_server.url, visit, "#EAR")
    assert page.evaluate(WAITING) == [0, 0]
    all_saved(page)
    assert not Operation.objects.exists()


def test_an_address_that_is_not_secure_is_said_at_once(chromium, live_server, house, visit, settings) -> None:
    """Plain http under a name of the house: the browser keeps no pages there."""
    settings.ALLOWED_HOSTS = [*settings.ALLOWED_HOSTS, "tailward.home.arpa"]
    address = live_server.url.replace("localhost", "tailward.home.arpa")
    tablet = chromium.start("--host-resolver-rules=MAP tailward.home.arpa 127.0.0.1")
    bring_session(tablet, house.clinician, address)
    page = exam_page(tablet, address, visit, "#EAR")
    assert page.evaluate("isSecureContext") is False
    expect(page.locator("[data-trouble=insecure]")).to_contain_text("taps cannot wait here")
    page.click('.choice[data-key="EAR.canal|left"] .pick-normal')
    all_saved(page)
    assert Operation.objects.count() == 1
    assert page.thrown == []
