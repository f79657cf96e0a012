"""The steps of a visit on a phone: the one in hand is in sight."""

import pytest
from playwright.sync_api import expect

from tests import people
from tests.browser.conftest import PHONE, bring_session

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_the_step_in_hand_is_in_sight_on_a_phone(screen, live_server) -> None:
    people.clinic_details()
    clinician = people.people().clinician
    visit = people.visit_here(clinician=clinician)
    context = screen(PHONE)
    bring_session(context, clinician, live_server.url)
    page = context.new_page()
    page.goto(f"/visits/{visit.pk}/sign/")
    expect(page.locator(".steps a[aria-current]")).to_be_in_viewport(ratio=0.9)
