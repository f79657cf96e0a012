"""Monday morning: the manager signs in, sees who is overdue, reads the messages, and they leave."""

from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from clinic.callbacks.reminder_models import HouseholdReminder, ReminderSettings
from clinic.models import CallBack, Message
from tests import people
from tests.browser.conftest import sign_in

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
AT_MOST = 6  # taps from the list to sent


class Finger:
    """Taps, and counts them."""

    def __init__(self, page: Page) -> None:
        self.page, self.taps = page, 0

    def tap(self, role: str, name: str) -> None:
        self.page.get_by_role(role, name=name).first.click()
        self.taps += 1


def what_a_telephone_folds(page: Page) -> None:
    """Whole on a wide screen, though the fold is shut, and on paper; under one line on a telephone."""
    line, filters = page.get_by_text("Shown: all that is overdue, to be asked"), page.get_by_label("Reached")
    expect(filters).to_be_visible()
    expect(line).to_be_hidden()
    page.set_viewport_size({"width": 390, "height": 844})
    expect(filters).to_be_hidden()
    line.click()
    expect(filters).to_be_visible()
    line.click()
    page.emulate_media(media="print")
    expect(line).to_be_hidden()
    page.emulate_media(media="screen")
    page.set_viewport_size({"width": 1440, "height": 900})


def test_from_signing_in_to_sent(screen, live_server, house: people.People) -> None:
    ReminderSettings.objects.create(
        pk=1, rehearsal=False, quiet_days=[], quiet_from="03:00", quiet_until="03:00"
    )
    for number in range(3):
        owner = people.owner(f"Henrike Dovale{number}", f"h{number}@example.com")
        CallBack.objects.create(
            patient=people.patient(f"Pomfret{number}", of=owner), source="dues", key="exam", label="Exam",
            due_on=timezone.localdate() - timedelta(days=20 + number), refreshed_at=people.NOW,
        )  # fmt: skip
    page = sign_in(screen((1440, 900)), house.manager)
    expect(page).to_have_url(f"{live_server.url}/morning/")
    expect(page.get_by_text("3 things are overdue")).to_be_visible()
    finger = Finger(page)
    finger.tap("link", "open the due list")
    expect(page.get_by_text("3 things are overdue for 3 patients of 3 households")).to_be_visible()
    what_a_telephone_folds(page)
    page.get_by_label("Write to Henrike Dovale1").uncheck()  # one is told in person
    finger.taps += 1
    finger.tap("button", "Write to the ticked ones")
    expect(page.get_by_text("2 messages, one a household.")).to_be_visible()
    page.get_by_text("Read the message").first.click()
    finger.taps += 1
    expect(page.get_by_text("Exam, was due on").first).to_be_visible()
    assert not Message.objects.exists()
    finger.tap("button", "Send 2 messages")
    expect(page.get_by_text("2 messages leave.")).to_be_visible()
    assert HouseholdReminder.objects.count() == Message.objects.count() == 2
    assert finger.taps <= AT_MOST
