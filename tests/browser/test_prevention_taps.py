"""Three vaccines in eight taps, on the drawing."""

from datetime import timedelta

import pytest
from django.utils import timezone

from preventive.models import Dose, Lot
from tests.browser.conftest import bring_session
from tests.preventive.room import room

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_three_vaccines_take_eight_taps(screen, live_server):
    puppy = room(birth_date=timezone.localdate() - timedelta(weeks=13))
    Lot.objects.update(expires_on=timezone.localdate() + timedelta(days=300))
    context = screen()
    bring_session(context, puppy.people.technician, live_server.url)
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
    assert len(taps) == 8
    assert sorted(Dose.objects.values_list("site", flat=True)) == ["LSH", "RH-D", "RSH"]
