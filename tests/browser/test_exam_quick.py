"""The exam page is small to load, and a tap is answered on the screen at once on a slow tablet.

What the machine can do now is measured beside it: a tap on a page with nothing on it.
"""

from __future__ import annotations

import gzip
import statistics
import time
from collections import Counter

import pytest
from playwright.sync_api import APIResponse, CDPSession, Page, Route, expect

from tests.browser.exam_room import KEEPS_PAGES, all_saved, exam_page, signed_in
from tests.exams.house import Tablet, exam_here

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

MOST_BYTES = 200_000
PACKED = ("font/woff2", "image/png", "image/jpeg", "image/webp")  # what a server does not press again
MOST_MS = 100
MOST_BARE_TAPS = 18  # a bare tap takes some 5 ms of a quiet one, 10 of one that others use as well
SLOWER = 4
TAPS = 8
TIMES = 4
LOAD_MS = 60_000  # nothing is measured meanwhile

SCROLL = """
async selector => {
  document.querySelector(selector).scrollIntoView({ block: 'center' });
  await new Promise(done => requestAnimationFrame(() => requestAnimationFrame(() => setTimeout(done))));
}
"""
# From the tap to the frame in which its answer stands: a task of the browser's after it was drawn.
TAP = """
async selector => {
  const input = document.querySelector(selector), began = performance.now();
  input.click();
  await new Promise(done => requestAnimationFrame(() => setTimeout(done)));
  return performance.now() - began;
}
"""


@pytest.fixture
def tablet(house, visit) -> Tablet:
    """Everything is answered, the stations of the tap test as not examined: as full as a page gets."""
    held = exam_here(house.actor("clinician"), visit)
    for code in ("EYE", "NOS", "HRT", "LUN", "ABD"):
        held.all_normal(code)
    held.tap("exam", "station_rest_not_examined", {"reason": "no-time", "all": True})
    return held


def pressed(answer: APIResponse) -> int:
    """What of it travels, as the server sends it: text pressed, fonts and pictures as they are."""
    kind = answer.headers.get("content-type", "").partition(";")[0]
    return len(answer.body()) if kind in PACKED else len(gzip.compress(answer.body(), 6))


def test_the_first_load_is_small(browser, live_server, house, visit) -> None:
    """What a tablet that has nothing yet asks for until the first station can be tapped.

    Counted: the page with its data, every script, sheet, drawing and answer that it asks for by itself, and
    the font; each is asked for once more to be weighed, pressed as a server presses it. Held back, because it
    comes only after the page has loaded and while nobody taps: what is fetched when the browser is idle (the
    tooth chart with its drawing, the body map, the photograph's view) and what the service worker keeps.
    """
    context = signed_in(browser, live_server.url, house.clinician)
    context.add_init_script("window.requestIdleCallback = () => 0")
    context.set_default_timeout(LOAD_MS)
    asked: dict[str, None] = {}
    context.on("requestfinished", lambda request: asked.setdefault(request.url.partition("#")[0]))
    page = exam_page(context, live_server.url, visit)
    page.wait_for_selector(".station[open] .lines")
    page.evaluate("document.fonts.ready.then(() => null)")
    page.wait_for_load_state("networkidle")
    sizes = {url.removeprefix(live_server.url): pressed(context.request.get(url)) for url in list(asked)}
    context.close()
    kinds: Counter[str] = Counter()
    for url, size in sizes.items():
        kinds[url.rpartition(".")[2] if "/static/" in url else "pages and answers"] += size
    print(dict(kinds), sum(sizes.values()))  # noqa: T201 - the numbers are the result
    assert any(url.endswith(".woff2") for url in sizes), "the font was not asked for"
    assert sum(sizes.values()) <= MOST_BYTES, sorted(sizes.items(), key=lambda x: -x[1])


def tapped(page: Page, selectors: list[str]) -> tuple[list[float], list[float]]:
    """Milliseconds of each tap on a slower processor: on the clock, and of its own time.

    What is tapped was brought into view before, and the tap before it is saved: each stands alone. The
    server's answer is held back until the tap was measured, so that it is counted for no tap. Each is taken
    back and tapped again until one was quick: the clock counts what other programs take of the machine, and
    the processor's time counts the spinning by which Chromium slows it.
    """
    slow = page.context.new_cdp_session(page)
    for selector in selectors[:2]:  # they warm up
        page.evaluate(SCROLL, selector)
        page.evaluate(TAP, selector)
    slow.send("Performance.enable", {"timeDomain": "threadTicks"})
    slow.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    held = Held(page)
    clock, worked = [], []
    for selector in selectors[2:]:
        taps = []
        for again in range(TIMES):
            if again:
                page.click("#back")
            expect(page.locator(selector)).not_to_be_checked()  # else the tap would change and send nothing
            all_saved(page)
            page.evaluate(SCROLL, selector)
            with held:
                before = busy(slow)
                took = page.evaluate(TAP, selector)
                taps.append((took, busy(slow) - before))
            if max(taps[-1]) < MOST_MS:
                break  # quick enough as it is
        clock.append(min(took for took, _ in taps))
        worked.append(min(work for _, work in taps))
    slow.send("Emulation.setCPUThrottlingRate", {"rate": 1})
    return clock, worked


class Held:
    """Keeps what the page sends from the server while it is entered, until the first of it has come."""

    def __init__(self, page: Page) -> None:
        self.page, self.routes, self.holds = page, list[Route](), False
        page.route("**/operations/", self.sent)

    def sent(self, route: Route) -> None:
        if self.holds:
            self.routes.append(route)
        else:
            route.continue_()

    def __enter__(self) -> None:
        self.holds = True

    def __exit__(self, *_error: object) -> None:
        deadline = time.monotonic() + LOAD_MS / 1000
        while not self.routes:
            assert time.monotonic() < deadline, "the tap sent nothing"
            self.page.wait_for_timeout(20)
        self.holds = False
        while self.routes:
            self.routes.pop().continue_()


def bare_tap(page: Page) -> float:
    """Milliseconds of the processor for a tap on a page with one box: what the machine can do now."""
    page.set_content("<!doctype html><title>bare</title><input type=checkbox>")
    slow = page.context.new_cdp_session(page)
    slow.send("Performance.enable", {"timeDomain": "threadTicks"})
    slow.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    page.evaluate(TAP, "input")
    took = []
    for _ in range(TAPS):
        before = busy(slow)
        page.evaluate(TAP, "input")
        took.append(busy(slow) - before)
    return min(took)


def busy(slow: CDPSession) -> float:
    """Milliseconds that the page's thread has worked so far: script, style, layout and the rest."""
    told = {each["name"]: each["value"] for each in slow.send("Performance.getMetrics")["metrics"]}
    return told["TaskDuration"] * 1000


@pytest.mark.alone
@pytest.mark.parametrize("code", ["EAR", "MTH", "NEU"])
def test_a_tap_is_answered_at_once(browser, live_server, house, visit, tablet, code) -> None:
    context = signed_in(browser, live_server.url, house.clinician, **KEEPS_PAGES)
    context.set_default_timeout(LOAD_MS)
    page = exam_page(context, live_server.url, visit, f"#{code}")
    page.wait_for_selector(f"#{code}[open] .lines")
    if code == "MTH":
        page.wait_for_selector("#MTH .tooth-mark")
    page.wait_for_load_state("networkidle")  # what is fetched while idle is here too
    keys = page.evaluate(
        """([code, many]) => [...document.querySelectorAll(`#${code} .choice[data-key]`)]
          .filter(x => x.querySelector('input[value=normal]:not(:checked)'))
          .map(x => x.dataset.key).slice(0, many)""",
        [code, TAPS],
    )
    clock, worked = tapped(page, [f'.choice[data-key="{key}"] input[value=normal]' for key in keys])
    all_saved(page)
    assert page.thrown == []
    assert {page.get_attribute(f'.choice[data-key="{key}"]', "data-state") for key in keys} == {"normal"}
    bare = bare_tap(context.new_page())
    context.close()
    assert len(worked) >= TAPS // 2, "too few lines to tap"
    print(  # noqa: T201 - the numbers are the result
        f"{code}: {statistics.median(worked):.0f} ms of a {SLOWER} times slower processor,"
        f" {min(clock):.0f} to {max(clock):.0f} ms on the clock; a bare tap {bare:.1f} ms"
    )
    assert statistics.median(worked) < max(MOST_MS, MOST_BARE_TAPS * bare)
