"""Three vaccines in eight taps, on the drawing."""

import os
from datetime import timedelta

import pytest
from django.conf import settings
from django.test import Client
from django.utils import timezone
from playwright.sync_api import sync_playwright

from fixtures.pictures import CHROMIUM
from preventive.models import Dose, Lot
from tests.preventive.room import room

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
SWITCHES = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


def test_three_vaccines_take_eight_taps(live_server, monkeypatch):
    monkeypatch.setitem(os.environ, "DJANGO_ALLOW_ASYNC_UNSAFE", "1")  # Playwright keeps a loop running
    puppy = room(birth_date=timezone.localdate() - timedelta(weeks=13))
    Lot.objects.update(expires_on=timezone.localdate() + timedelta(days=300))
    client = Client()
    client.force_login(puppy.people.technician)
    session = client.cookies[settings.SESSION_COOKIE_NAME].value
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=SWITCHES)
        context = browser.new_context(viewport={"width": 1180, "height": 820})
        context.add_cookies(
            [{"name": settings.SESSION_COOKIE_NAME, "value": session, "url": live_server.url}]
        )
        page = context.new_page()
        page.goto(f"{live_server.url}/visits/{puppy.visit.pk}/prevention/")
        taps = [page.locator("[name=well]").first]
        for number, site in enumerate(("RSH", "LSH", "RH-D")):
            taps.append(page.locator("[data-vial]").nth(number).locator("input[type=radio]").first)
            taps.append(page.locator(f"#places [data-site={site}]"))
        taps.append(page.get_by_role("button", name="Record three doses"))
        for each in taps:
            each.click()
        page.get_by_role("heading", name="Recorded at this visit").wait_for()
        browser.close()
    assert len(taps) == 8
    assert sorted(Dose.objects.values_list("site", flat=True)) == ["LSH", "RH-D", "RSH"]
