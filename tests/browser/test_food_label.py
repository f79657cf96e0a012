"""A label is typed in with the keyboard alone, in less than a minute."""

import pytest
from playwright.sync_api import Page, expect

from nutrition.models import FoodRow
from tests import people
from tests.browser.conftest import DESK, bring_session

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
A_KEY = 0.3  # seconds: 40 words a minute, five keys a word; many people are faster
LABEL = {
    "kcal_per_unit": "391",
    "protein_percent": "25",
    "fat_percent": "13.5",
    "fibre_percent": "2.8",
    "moisture_percent": "9",
    "ash_percent": "6.5",
}


class Keyboard:
    """Presses keys and counts them."""

    def __init__(self, page: Page) -> None:
        self.page, self.pressed = page, 0

    def press(self, *keys: str) -> None:
        for key in keys:
            self.page.keyboard.press(key)
        self.pressed += len(keys)

    def reach(self, name: str) -> None:
        """Tab on, from field to field, to the one of that id."""
        for _ in range(30):
            if self.page.locator(":focus").get_attribute("id") == f"id_{name}":
                return
            self.press("Tab")
        raise AssertionError(f"{name} is not reached with the Tab key")


def test_a_label_takes_less_than_a_minute(screen, live_server) -> None:
    people.clinic_details()
    context = screen(DESK)
    bring_session(context, people.people().manager, live_server.url)
    page = context.new_page()
    page.goto("/records/foods/new/")
    page.wait_for_load_state("load")
    keys = Keyboard(page)
    page.locator("#id_name").focus()
    keys.press(*"Wetherley adult dry")
    for tick in ("species_0", "life_stages_0"):
        keys.reach(tick)
        keys.press("Space")
    keys.reach("kcal_per_kg")
    keys.press(*"3640")
    keys.reach("unit")
    keys.press("c")
    for name, number in LABEL.items():
        keys.reach(name)
        keys.press(*number)
    keys.press("Enter")
    expect(page.get_by_text("Wetherley adult dry is kept.")).to_be_visible()
    body = FoodRow.objects.get().body
    assert (body["kcal_per_kg"], body["unit"], body["kcal_per_unit"]) == (3640, "cup", 391)
    assert body["analysis"]["fat_percent"] == 13.5
    assert keys.pressed * A_KEY < 60, f"{keys.pressed} keys"
