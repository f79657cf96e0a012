"""An owner's page on a telephone: nothing for axe to find, in the light and in the dark, no sideways scroll,
no cookie, no script, no file of anybody else."""

from dataclasses import replace
from urllib.parse import urlsplit

import pytest
from django.utils import timezone

from clinic.callbacks.reminder_models import HouseholdReminder
from clinic.letters.document import Figures, from_json
from clinic.letters.figures import condition_figure
from clinic.models import Letter, Message
from clinic.owner_page.actions import address_of, make_link
from tests.browser.conftest import PHONE
from tests.browser.eyes import in_both_themes
from tests.house import PICTURE
from tests.owners import a_letter, copy_of, link_to, printed, with_photographs

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

WIDTHS = (320, PHONE[0], 820, 1440)


@pytest.fixture
def address(live_server, settings) -> str:
    """With everything that a letter can hold: photographs, a drawing, an earlier copy."""
    settings.PUBLIC_URL = live_server.url
    first = a_letter()
    document = from_json(first.content)
    sections = with_photographs(document, PICTURE, PICTURE + b"1")
    drawn = Figures((condition_figure(7, "dog", "Ludo"),))
    sections += (replace(sections[-1], name="drawing", title="Drawing", blocks=(drawn,)),)
    letter = printed(copy_of(first, sections=sections))
    return address_of(link_to(letter, now=timezone.now()))


@pytest.fixture
def answering(address) -> list[str]:
    """Where the same owner answers a reminder about two things, is thanked, and stops reminders."""
    letter, at = Letter.objects.all()[0], timezone.now()
    message = Message.objects.create(
        purpose="service", owner=letter.owner, to_address="reminded@example.com", subject="It is due",
        body="It is due.", state="sent", state_since=at, sent_at=at, made_at=at, once="reminder",
    )  # fmt: skip
    reminder = HouseholdReminder.objects.create(
        owner=letter.owner, day=at.date(), message=message, rest_until=at.date(), made_at=at
    )
    for step, (key, label) in enumerate({"rabies": "Rabies vaccine", "stool": "Faecal test"}.items()):
        reminder.items.create(
            patient=letter.patient, source="dues", key=key, label=label, due_on=at.date(), step=step
        )
    page = address_of(make_link(owner=letter.owner, message=message, now=at))
    return [page, f"{page}?thanks=1", f"{urlsplit(page).scheme}://{urlsplit(page).netloc}/stop-reminders/x"]


def test_it_is_for_everybody_s_eyes_and_keeps_nothing(
    address, answering, screen, live_server, muttered
) -> None:
    context = screen(PHONE)
    page = context.new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    wrong = []
    for path in (address, f"{address}?copy=1", *answering, f"{live_server.url}/l/{'x' * 32}"):
        answer = page.goto(path)
        assert answer is not None
        for each in page.locator("summary").all():
            each.click()
        page.wait_for_load_state("load")
        wrong += [f"{path}: {each}" for each in in_both_themes(page)]
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 844})
            reaches = page.evaluate("document.documentElement.scrollWidth")
            if reaches > width:
                wrong.append(f"{path} is {reaches} px wide at {width}")
    assert not wrong, "\n".join(wrong)
    assert muttered.pop().endswith("404 (Not Found)")  # of the last one, which does not open
    assert context.cookies() == []
    assert {urlsplit(url).netloc for url in asked} == {urlsplit(live_server.url).netloc}
    assert not [url for url in asked if url.endswith(".js")]


def test_its_links_lead_where_they_say(address, screen) -> None:
    page = screen(PHONE).new_page()
    page.goto(address)
    assert (
        page.get_by_role("link", name="Emergency, day and night: 555-0199").get_attribute("href")
        == "tel:5550199"
    )
    page.get_by_role("link", name="As it was sent on").click()
    page.get_by_role("link", name="There is a newer copy of this letter").click()
    page.get_by_role("link", name="As it was sent on").wait_for()
    pdf = page.get_by_role("link", name="Open the letter as a PDF").get_attribute("href")
    assert page.request.get(pdf).headers["content-type"] == "application/pdf"
