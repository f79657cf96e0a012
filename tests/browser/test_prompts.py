"""On the page: the sex on record is asked about before it is contradicted; a held animal is counted again."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from clinic.models import Measurement
from exams.models import Finding
from tests.browser.exam_room import all_saved, exam_page, signed_in

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
NEUTER = '.choice[data-key="GUM.neuter|-"]'
HEART = '.choice[data-key="VIT.heart-rate|-"]'


def test_the_sex_on_record_is_contradicted_with_a_second_look(browser, live_server, house, visit) -> None:
    with signed_in(browser, live_server.url, house.clinician) as context:
        page = exam_page(context, live_server.url, visit, "#GUM")
        prompt = page.locator('#GUM [data-prompt="sex"]')
        expect(prompt).to_contain_text("confirmed at 0 of 2 visits")
        prompt.get_by_role("button", name="It does not match").click()
        expect(page.locator(f"{NEUTER} .field-error")).to_contain_text("Did you look twice")
        assert not Finding.objects.exists()
        page.locator(f"{NEUTER} .field-error").get_by_role("button", name="Yes, it is so").click()
        expect(prompt).to_contain_text("Have the record corrected")
        all_saved(page)
        assert Finding.objects.get().findings[0]["code"] == "GUM-22"
        link = prompt.get_by_role("link", name="Correct the record")
        expect(link).to_have_attribute("href", f"/patients/{visit.patient_id}/edit/")
        assert page.thrown == []


def test_a_rate_counted_while_held_is_to_be_repeated_and_the_chip_asked_for(
    browser, live_server, house, visit
) -> None:
    with signed_in(browser, live_server.url, house.clinician) as context:
        page = exam_page(context, live_server.url, visit, "#VIT")
        expect(page.locator('#VIT [data-prompt="chip"]')).to_contain_text("No microchip is on record")
        heart = page.locator(HEART)
        heart.get_by_role("button", name="measure again").click()
        heart.locator("select").select_option("held")
        heart.locator("input[type=text]").first.fill("230")
        heart.locator("input[type=text]").first.press("Tab")
        said = heart.locator(".field-error button")
        repeat = page.locator('#VIT [data-prompt^="repeat"]')
        expect(repeat.or_(said).first).to_be_visible()
        if said.is_visible():
            said.click()
        expect(repeat).to_contain_text("was taken while held")
        all_saved(page)
        assert Measurement.objects.get(kind="heart-rate", typed=230).state == "held"
        assert page.thrown == []
