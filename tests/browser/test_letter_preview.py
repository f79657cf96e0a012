"""The letter's preview in a browser: a sentence opens its origin, takes other words, and gives them back."""

import os

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from clinic.letters.actions import keep_file
from clinic.models import Message
from clinic.platform.files import keep
from tests import letters
from tests.browser.conftest import DESK, PHONE, PORTRAIT, TABLET, bring_session
from tests.browser.eyes import in_both_themes, size, too_wide
from tests.letters import Case

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
FIRST, OWN = "His left ear has a yeast infection.", "His left ear is sore from yeast."
PICTURES = os.environ.get("BROWSER_PICTURES")


@pytest.fixture
def case() -> Case:
    return letters.sore_ear()


def opened(screen, case: Case, address: str, path: str, size=TABLET, **options) -> Page:
    context = screen(size, **options)
    bring_session(context, case.people.clinician, address)
    page = context.new_page()
    page.goto(path)
    return page


def test_a_sentence_opens_its_origin_takes_other_words_and_gives_them_back(screen, live_server, case):
    page = opened(screen, case, live_server.url, reverse("visit-sign", args=[case.visit.pk]))
    sentence = page.locator('.says[data-sentence="headline"]')
    sentence.click()
    origin = page.get_by_role("region", name="Where this sentence comes from")
    expect(origin).to_contain_text("yeast otitis externa")
    expect(origin).to_contain_text("Dr Maren Oduya")
    expect(sentence).to_have_attribute("aria-expanded", "true")
    origin.get_by_label("In your words").fill(OWN)
    origin.get_by_role("button", name="Use these words").click()
    expect(page.locator('.says[data-sentence="headline"]')).to_have_text(OWN)
    expect(page.locator(".short .corrected")).to_have_text("corrected")
    page.locator('.says[data-sentence="headline"]').click()
    origin.get_by_role("button", name="back to the first wording").click()
    expect(page.locator('.says[data-sentence="headline"]')).to_have_text(FIRST)


def test_a_second_touch_closes_the_origin_and_another_moves_it(screen, live_server, case):
    page = opened(screen, case, live_server.url, reverse("visit-sign", args=[case.visit.pk]))
    origins = page.locator(".origin")
    page.locator('.says[data-sentence="headline"]').click()
    expect(origins).to_have_count(1)
    page.locator('.says[data-sentence="weight"]').click()
    expect(origins).to_have_attribute("data-origin", "weight")
    page.locator('.says[data-sentence="weight"]').click()
    expect(origins).to_have_count(0)


def test_the_letter_s_pages_are_open_to_everybody_at_every_size(screen, live_server, case, settings):
    settings.EMAIL_BACKEND = "clinic.platform.outbox.OutboxBackend"
    letter = case.freeze()
    keep_file(letter=letter, name=keep(b"%PDF-1.7 a test", ".pdf"), size=15, pages=1, now=letters.NOW)
    Message.objects.update(state="failed", state_why="550 no such mailbox")
    page = opened(screen, case, live_server.url, "/")
    for path in (reverse("messages"), reverse("letter", args=[letter.pk]), "/outbox/"):
        page.goto(path)
        wrong = in_both_themes(page)
        for each in (TABLET, PORTRAIT, PHONE, DESK):
            size(page, each)
            wrong += too_wide(page)
            if PICTURES:
                page.screenshot(path=f"{PICTURES}/{path.strip('/')}-{each[0]}.png", full_page=True)
        assert not wrong, (path, wrong)


def test_on_a_phone_each_list_stands_under_its_own_telephone(screen, live_server, case):
    letter = case.freeze()
    page = opened(screen, case, live_server.url, reverse("letter", args=[letter.pk]), PHONE)
    tops = [
        page.locator(f".calls {cell}").evaluate("e => e.getBoundingClientRect().top")
        for cell in ("th:first-child", "td:first-child", "th:last-child", "td:last-child")
    ]
    assert tops == sorted(tops)
