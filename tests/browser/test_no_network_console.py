"""Every page on a phone: nothing leaves the house, nothing is muttered, nothing has to be pushed sideways."""

from urllib.parse import urlsplit

import pytest

from tests.browser.conftest import PHONE
from tests.browser.tour import OUTBOX, Tourist, deeper, stops
from tests.house import furnished

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

TOO_WIDE = """() => {
  const wide = document.documentElement.clientWidth;
  if (document.documentElement.scrollWidth <= wide) return [];
  const beyond = each => each.getBoundingClientRect().right > wide + 1;
  const out = [...document.querySelectorAll('body *')].filter(beyond);
  return out.slice(0, 3).map(each => each.outerHTML.slice(0, 140));
}"""


def test_every_page_fits_a_phone_and_asks_only_this_house(
    screen, live_server, settings, long_run, muttered
) -> None:
    """The console is listened to by `muttered`: a refusal by the page's policy is an error there."""
    settings.EMAIL_BACKEND = OUTBOX
    made = furnished()
    tourist = Tourist(made, screen, live_server, size=PHONE)
    here, wrong = urlsplit(live_server.url).netloc, []
    for stop in (*stops(made, every_role=long_run), *deeper(made, every_role=long_run)):
        page = tourist.look(stop)
        if page is None:
            continue
        wrong += [f"{stop}: wider than the phone: {each}" for each in page.evaluate(TOO_WIDE)]
        asked = page.evaluate("performance.getEntriesByType('resource').map(each => each.name)")
        wrong += [f"{stop}: asked {each}" for each in asked if urlsplit(each).netloc not in ("", here)]
        wrong += [f"{stop}: {each}" for each in muttered]
        muttered.clear()
    assert not wrong, "\n".join(wrong)


def test_a_refusal_by_the_policy_would_be_noticed(screen, muttered) -> None:
    page = screen().new_page()
    page.goto("/accounts/login/")
    page.evaluate("document.body.insertAdjacentHTML('beforeend', '<p style=\"color: red\">x</p>')")
    page.wait_for_timeout(50)
    assert any("Content Security Policy" in each for each in muttered)
    muttered.clear()


def test_a_page_that_is_too_wide_would_be_noticed(screen) -> None:
    page = screen(PHONE).new_page()
    page.goto("/accounts/login/")
    page.evaluate("document.querySelector('main').style.width = '600px'")
    assert page.evaluate(TOO_WIDE)
