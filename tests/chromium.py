"""One Chromium for all tests of a worker that follow one another.

Its loop must have ended before other tests run loops of their own: `tests/conftest.py` ends it then.
"""

import pytest
from playwright.sync_api import Browser, Playwright, sync_playwright

from fixtures.pictures import CHROMIUM

ARGUMENTS = (
    "--no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync --process-per-site"
)


class Kept:
    def __init__(self) -> None:
        self.playwright: Playwright | None = None
        self.browser: Browser | None = None

    def ready(self) -> Browser:
        if self.browser is None or not self.browser.is_connected():
            self.end()
            self.playwright = sync_playwright().start()
            self.browser = self.playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS.split())
        return self.browser

    def end(self) -> None:
        if self.browser is not None:
            self.browser.close()
        if self.playwright is not None:
            self.playwright.stop()
        self.browser = self.playwright = None


kept = Kept()


@pytest.fixture(scope="module")
def browser() -> Browser:
    return kept.ready()
