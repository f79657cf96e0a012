"""A whole programme in the browser: begun by a clinician, weighed five times by a technician, changed."""

from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from clinic.models import Visit
from nutrition.models import Plan
from tests import people
from tests.browser.conftest import TABLET, bring_session
from tests.nutrition.clinic_rows import house_with_foods

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
WEIGHED = (
    ("39.1", "on course"),
    ("38.2", "on course"),
    ("38.15", "slow"),
    ("38.15", "slow"),
    ("38.1", "standing still"),
)


@pytest.fixture
def house():
    return house_with_foods()


class Clock:
    """The server's clock, moved on by weeks."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.behind, real = timedelta(weeks=10), timezone.now
        monkeypatch.setattr(timezone, "now", lambda: real() - self.behind)

    def on(self, weeks: int) -> None:
        self.behind -= timedelta(weeks=weeks)


@pytest.fixture
def clock(monkeypatch):
    return Clock(monkeypatch)


def heavy_dog(house: people.People) -> Visit:
    visit = people.visit_here(clinician=house.clinician)
    for kind, value, unit in (("weight", "40", "kg"), ("bcs", "7", "bcs-9")):
        visit.patient.measurements.create(
            visit=visit, kind=kind, typed=value, unit=unit, value=value, measured_at=timezone.now(),
            recorded_at=timezone.now(), observed_by=house.technician, entered_by=house.technician,
        )  # fmt: skip
    return visit


def opened(screen, live_server, staff, url: str, size=TABLET) -> Page:
    """On a tablet of its own: the day before is long over."""
    context = screen(size)
    bring_session(context, staff, live_server.url)
    page = context.new_page()
    page.goto(url)
    return page


def test_a_programme_over_five_weigh_ins(screen, live_server, house, clock) -> None:
    visit = heavy_dog(house)
    page = opened(screen, live_server, house.clinician, f"/visits/{visit.pk}/feeding/")
    page.get_by_label("lose weight", exact=True).check()
    page.get_by_role("button", name="take as target").first.click()
    expect(page.get_by_label("Target, when it should lose")).to_have_value("33.3")
    page.get_by_label("Food", exact=True).select_option("tarrock-light-dry")
    expect(page.locator("#reckoned").get_by_text("Tarrock light dry")).to_be_visible()
    page.get_by_role("button", name="Put this plan in the letter").click()
    expect(page.get_by_role("heading", name="Stands in the letter")).to_be_visible()
    Visit.objects.filter(pk=visit.pk).update(place="gone-home", gone_at=timezone.now())

    weigh_ins = f"/patients/{visit.patient_id}/weigh-ins/"
    for kg, word in WEIGHED:
        clock.on(2)
        page = opened(screen, live_server, house.technician, weigh_ins)
        page.get_by_label("Weight", exact=True).fill(kg)
        page.get_by_role("button", name="Keep this weight").click()
        expect(page.get_by_text("The weight is kept.")).to_be_visible()
        expect(page.get_by_role("heading", name=f"Losing weight: {word}")).to_be_visible()

    page.get_by_text("The same as a table").click()
    expect(page.get_by_role("row", name="38.15")).to_have_count(2)
    people.visit_here(visit.patient, clinician=house.clinician)
    page = opened(screen, live_server, house.clinician, weigh_ins)
    page.get_by_role("link", name="Write the changed plan").click()
    expect(page.get_by_label("my own number, below")).to_be_checked()
    page.get_by_role("button", name="Put this plan in the letter").click()
    expect(page.get_by_role("heading", name="Stands in the letter")).to_be_visible()
    first, second = Plan.objects.order_by("at")
    assert first.energy_kcal * 0.8 <= second.energy_kcal <= first.energy_kcal * 0.95
    page.goto(weigh_ins)
    expect(page.locator("dd", has_text="40 kg on")).to_be_visible()
