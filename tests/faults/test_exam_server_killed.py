"""The web server is killed while four tablets tap without pause: no tap is lost, none is doubled."""

import os
import socket
import subprocess
import sys
import time
import urllib.request
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import psutil
import pytest
from playwright.sync_api import Browser, Page

from clinic.models import Visit
from exams.models import Exam, Finding, Operation
from tests import people
from tests.browser.exam_room import KEEPS_PAGES, exam_page, signed_in
from tests.chromium import browser  # noqa: F401 - the fixture
from tests.faults.server_script import free_port, gone
from tests.faults.test_exam_taps_race import assert_log_is_what_stands

pytestmark = [pytest.mark.faults, pytest.mark.browser, pytest.mark.django_db(transaction=True)]
ROOT = Path(__file__).resolve().parents[2]
STATIONS = ("EAR", "EYE", "NOS", "ABD")
ANSWERED_BETWEEN_KILLS = 25
WITHIN_S = 240

# What the page sends and what it is answered, as the network saw it.
LISTENS = """
window.sent = []; window.answered = [];
const send = window.fetch;
window.fetch = async (url, how) => {
  const isTaps = String(url).endsWith('/exam/operations/');
  if (isTaps) window.sent.push(...JSON.parse(how.body).operations.map(o => o.key));
  const answer = await send(url, how);
  if (isTaps && answer.ok) window.answered.push(...(await answer.clone().json()).answers);
  return answer;
};
"""
TAPS = """
every => { window.tapping = setInterval(() => {
  const all = [...document.querySelectorAll('.station[open] .choice-set input')]
    .filter(x => ['normal', 'abnormal'].includes(x.value) && !x.checked && x.closest('.choice').dataset.key);
  all[Math.floor(Math.random() * all.length)]?.click();
}, every); }
"""


class Web:
    """gunicorn as a clinic runs it, on the test's database."""

    def __init__(self, dsn: str) -> None:
        self.port, self.dsn = free_port(), dsn
        self.address = f"http://127.0.0.1:{self.port}"
        self.process: subprocess.Popen | None = None

    def start(self) -> None:
        self.process = subprocess.Popen(
            [
                *(sys.executable, "-m", "gunicorn", "-c", "python:clinic.platform.gunicorn_conf"),
                *("--bind", f"127.0.0.1:{self.port}", "clinic.wsgi"),
            ],
            cwd=ROOT,
            # DEBUG: static files come from where they lie, so that none has to be collected first
            env={**os.environ, "DATABASE_URL": self.dsn, "DEBUG": "on", "LOG_LEVEL": "ERROR"},
            start_new_session=True,
        )
        end = time.monotonic() + WITHIN_S
        while time.monotonic() < end:
            assert self.process.poll() is None, "the web server ended by itself"
            try:
                with urllib.request.urlopen(self.address + "/healthz", timeout=5):
                    return
            except OSError:  # refused, or no answer yet
                time.sleep(0.1)
        raise AssertionError("the web server does not answer")

    def kill(self) -> None:
        """All of it at once, as a power cut would."""
        if self.process and self.process.poll() is None:
            top = psutil.Process(self.process.pid)
            everything = [top, *top.children(recursive=True)]
            for each in everything:
                each.kill()
            self.process.wait(10)
            assert gone(everything)
        with socket.socket() as probe:
            assert probe.connect_ex(("127.0.0.1", self.port)), "somebody still serves"


@pytest.fixture
def web(app_dsn) -> Iterator[Web]:
    running = Web(app_dsn)
    running.start()
    yield running
    running.kill()


@pytest.fixture
def tablets(browser: Browser, web: Web) -> Iterator[list[Page]]:  # noqa: F811 - the fixture
    """Four: two people's, each with one on both of two exams."""
    people.clinic_details()
    house = people.people()
    visits = [people.visit_here(clinician=house.clinician), other_visit(house)]
    contexts, pages = [], []
    for number, station in enumerate(STATIONS):
        staff = (house.clinician, house.colleague)[number % 2]
        context = signed_in(browser, web.address, staff, **KEEPS_PAGES)
        context.set_default_timeout(WITHIN_S * 1000)
        context.add_init_script(LISTENS)
        contexts.append(context)
        pages.append(exam_page(context, web.address, visits[number // 2], f"#{station}"))
    yield pages
    for context in contexts:
        context.close()


def other_visit(house: people.People) -> Visit:
    return people.visit_here(
        people.patient("Juniper", of=people.owner("Ivo Lant", "ivo@example.com")), clinician=house.clinician
    )


def answers(pages: list[Page]) -> list[dict]:
    return [each for page in pages for each in page.evaluate("window.answered")]


def until(condition, pages: list[Page]) -> None:
    """The browser's own loop runs while this one waits."""
    end = time.monotonic() + WITHIN_S
    while not condition():
        assert time.monotonic() < end, [page.inner_text("#kept") for page in pages]
        pages[0].wait_for_timeout(100)


def all_saved(pages: list[Page]) -> bool:
    return all(page.inner_text("#kept").startswith("all saved") for page in pages)


def test_no_tap_is_lost_or_doubled_when_the_server_is_killed(tablets, web, long_run) -> None:
    kills = 20 if long_run else 2
    for page in tablets:
        page.evaluate(TAPS, 60)
    for _ in range(kills):
        enough = len(answers(tablets)) + ANSWERED_BETWEEN_KILLS
        until(lambda enough=enough: len(answers(tablets)) >= enough, tablets)
        web.kill()
        tablets[0].wait_for_timeout(500)
        web.start()
    for page in tablets:
        page.evaluate("clearInterval(window.tapping)")
    until(lambda: all_saved(tablets), tablets)
    told = answers(tablets)
    sent = Counter(key for page in tablets for key in page.evaluate("window.sent"))
    assert sum(sent.values()) > len(sent), "no kill met a tap on its way"
    assert [page.thrown for page in tablets] == [[]] * 4
    check(told, sent, kills)


def check(told: list[dict], sent: Counter, kills: int) -> None:
    """Every acknowledged change against the database."""
    rows = {str(row.key): row.outcome for row in Operation.objects.all()}
    accepted = {each["key"] for each in told if each["result"] == "accepted"}
    lost = [key for key in accepted if rows.get(key, {}).get("result") != "accepted"]
    unanswered = sent.keys() - {each["key"] for each in told}
    strange = rows.keys() - sent.keys()
    again = sum(each.get("repeated", False) for each in told)
    stands = sum(assert_log_is_what_stands(exam) for exam in Exam.objects.all())
    print(  # noqa: T201 - the numbers are the result
        f"{kills} kills, 4 tablets: {len(sent)} taps, {sum(sent.values())} times sent;"
        f" {len(accepted)} accepted,"
        f" {again} of {len(told)} answers given again; {len(lost)} lost, {stands - len(accepted)} doubled,"
        f" {Finding.objects.count()} lines stand as the log says"
    )
    assert lost == []
    assert not unanswered
    assert not strange
    assert stands == len(accepted)
    for exam in Exam.objects.all():
        numbers = list(exam.operations.order_by("number").values_list("number", flat=True))
        assert numbers == list(range(1, len(numbers) + 1))


def test_a_lost_or_doubled_tap_would_be_noticed() -> None:
    gone = [{"key": "7f0c4f3e-2f0a-4d53-9a3c-6a5d1c1e9b10", "result": "accepted"}]
    with pytest.raises(AssertionError):
        check(gone, Counter(each["key"] for each in gone), 0)
