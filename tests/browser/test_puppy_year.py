"""A puppy from its first visit to its first yearly booster, by the pages; only the server's clock moves."""

from datetime import date, timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from preventive.models import Dose, Lot
from preventive.wording import day
from tests import people
from tests.browser.conftest import TABLET, bring_session
from tests.preventive.room import stock

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
CORE, LEPTO, RABIES = ("Distemper", "RSH"), ("Leptospirosis", "LSH"), ("Rabies", "RH-D")


class Clock:
    """The server's clock, set back, and moved on to the day that is wanted."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.behind, real = timedelta(days=500), timezone.now
        monkeypatch.setattr(timezone, "now", lambda: real() - self.behind)

    def on(self, wanted: date) -> None:
        self.behind -= wanted - timezone.localdate()


@pytest.fixture
def clock(monkeypatch):
    return Clock(monkeypatch)


def visit(screen, live_server, house: people.People, clock: Clock, on: date, vials) -> Page:
    """Comes in, is vaccinated and goes home, on a tablet of its own: the day before is long over."""
    clock.on(on)
    context = screen(TABLET)
    bring_session(context, house.clinician, live_server.url)
    page = context.new_page()
    page.goto("/")
    page.get_by_role("link", name="Someone came in").click()
    page.get_by_label("Animal, owner, telephone or chip").fill("Tarn")
    page.get_by_role("checkbox", name="Tarn").check(force=True)
    page.get_by_role("button", name="Came in, waits").click()
    page.locator("a", has_text="Tarn").first.click()
    page.get_by_role("link", name="Prevention").first.click()
    page.locator("#give").wait_for()
    page.wait_for_load_state("load")
    page.locator("[name=well]").first.check(force=True)
    for title, place in vials:
        vial = page.locator("[data-vial]").filter(has=page.locator("div > b", has_text=title)).first
        vial.locator("input[type=radio]").first.check(force=True)
        page.locator(f"#places [data-site={place}]").click()
    page.locator("#record").click()
    expect(page.get_by_role("heading", name="Recorded at this visit")).to_be_visible()
    return page


def goes_home(page: Page) -> None:
    page.goto(f"{page.url.partition('prevention/')[0]}home/")
    page.get_by_role("button", name="That is how it is").click()
    expect(page.get_by_role("heading", name="Gone home today")).to_be_visible()


def says(page: Page, patient_id: int, words: str) -> None:
    page.goto(f"/patients/{patient_id}/prevention/")
    expect(page.locator(".dues-short")).to_contain_text(words)


def test_a_puppy_to_its_first_yearly_booster(screen, live_server, house, clock) -> None:
    born = timezone.localdate() - timedelta(weeks=8)
    patient = people.patient("Tarn", of=people.owner(), birth_date=born, expected_adult_kg=24)
    stock(house.actor("manager"))
    Lot.objects.update(expires_on=timezone.localdate() + timedelta(days=1000))

    # prev-D02 (A): the second dose from two to four weeks after the first
    first, second, third = (born + timedelta(weeks=weeks) for weeks in (8, 12, 16))
    page = visit(screen, live_server, house, clock, first, [CORE])
    goes_home(page)
    says(page, patient.pk, f"from {day(first + timedelta(weeks=2))} to {day(second)}")

    page = visit(screen, live_server, house, clock, second, [CORE, LEPTO, RABIES])
    goes_home(page)

    # prev-D04, prev-L02 (A): sixteen weeks end the series, two doses that of leptospirosis; then a year
    page = visit(screen, live_server, house, clock, third, [CORE, LEPTO])
    goes_home(page)
    rabies_due, core_due = (on.replace(year=on.year + 1) for on in (second, third))
    says(page, patient.pk, f"due {day(core_due)}")
    says(page, patient.pk, f"due {day(rabies_due)}")

    page = visit(screen, live_server, house, clock, core_due, [CORE, LEPTO, RABIES])
    expect(page.get_by_role("region", name="Recorded at this visit").locator("li")).to_have_count(3)
    # prev-D07 (A): three years after the first booster; prev-L05 (A): leptospirosis yearly
    says(page, patient.pk, f"due {day(core_due.replace(year=core_due.year + 3))}")
    says(page, patient.pk, f"due {day(core_due.replace(year=core_due.year + 1))}")
    assert Dose.objects.filter(patient=patient).count() == 9
    assert set(Dose.objects.filter(given_on=core_due).values_list("sequence", flat=True)) == {"booster"}
