"""A euthanasia from the visit to the letter of condolence, on the tablet and on a telephone."""

import os
from datetime import timedelta
from pathlib import Path

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from clinic.models import Contact, Death, Letter, Message, PromiseStep, Visit
from tests import people
from tests.browser.conftest import DESK, PHONE, PORTRAIT, TABLET, bring_session
from tests.browser.eyes import in_both_themes

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
LOOK = os.environ.get("BROWSER_PICTURES")  # a folder: every page of the path, in every size


def looked_at(page: Page, name: str) -> None:
    """Nothing for axe to find, in either theme; nothing wider than the screen."""
    assert in_both_themes(page) == []
    wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert wide <= 0, f"{name} is {wide} px wider than the screen"
    if LOOK:
        own = page.viewport_size
        for width, height in (TABLET, PORTRAIT, PHONE, DESK):
            page.set_viewport_size({"width": width, "height": height})
            page.screenshot(path=Path(LOOK) / f"death-{name}-{width}.png", full_page=True)
        page.set_viewport_size(own)


@pytest.mark.parametrize("size", [TABLET, PHONE], ids=["tablet", "phone"])
def test_a_euthanasia_from_the_visit_to_the_letter(
    screen, live_server, muttered, house: people.People, visit: Visit, size
) -> None:
    line = visit.record.plan_lines.create(
        kind="call", text="Call with the blood result", answerable=house.technician,
        due_on=timezone.localdate(), by=house.clinician, at=timezone.now(),
    )  # fmt: skip
    visit.patient.problems.create(title="Kidneys", opened_at=people.NOW, opened_by=house.clinician)
    context = screen(size)
    bring_session(context, house.clinician, live_server.url)
    page = context.new_page()
    name = visit.patient.name

    # from the way home to the page of its own; what is not asked for is not shown
    page.goto(f"/visits/{visit.pk}/home/")
    page.get_by_label("euthanised").check()
    page.get_by_role("button", name="That is how it is").click()
    expect(page.get_by_label("was euthanised by us")).to_be_checked()
    expect(page.get_by_label("Who consented, by name")).to_be_visible()
    expect(page.get_by_label("Who told us")).to_be_hidden()
    expect(page.get_by_label("Colleague who listened")).to_be_hidden()
    expect(page.get_by_text("Kidneys")).to_be_visible()

    # without consent it is refused beside the field, and what was typed stays
    slept = timezone.localtime() - timedelta(minutes=1)
    page.locator("[name=on]").fill(slept.date().isoformat())
    page.locator("[name=consent_on]").fill(slept.date().isoformat())
    page.locator("[name=at]").fill(f"{slept:%H:%M}")
    page.locator("[name=words]").fill("Quiet, on her blanket.")
    page.locator("[name=owner_knows][value=yes]").check()
    page.locator("[name=identity][value=owner]").check()
    page.get_by_label("Why it was not weighed").fill("lying, in pain")
    page.locator("[name=body][value=private]").check()
    page.locator(f"[name='promise-plan-line-{line.pk}']").select_option("closed")
    looked_at(page, "form")
    page.get_by_role("button", name="Record the death").click()
    expect(page.get_by_text("No euthanasia without consent: say who gave it.")).to_be_visible()
    expect(page.locator("[name=words]")).to_have_value("Quiet, on her blanket.")

    # by telephone, a colleague listening
    page.get_by_label("Who consented, by name").fill("Henrike Dovale")
    page.locator("[name=consent_as][value=owner]").check()
    page.locator("[name=consent_how][value=telephone]").check()
    page.locator("[name=consent_time]").fill(f"{slept:%H:%M}")
    page.get_by_label("Colleague who listened").select_option(label=house.technician.full_name)
    page.get_by_role("button", name="Record the death").dblclick()
    expect(page.get_by_role("heading", name=f"{name} was euthanised by us")).to_be_visible()
    looked_at(page, "facts")
    assert Death.objects.get().consent_second == house.technician
    assert PromiseStep.objects.get().words.startswith(f"{name} died on")

    # said where somebody would write or call, and asked about once
    page.goto(f"/patients/{visit.patient_id}/")
    expect(page.locator(".is-unseen", has_text="euthanised on")).to_be_visible()
    page.goto(f"/patients/{visit.patient_id}/contacts/new/")
    page.locator("[name=text]").fill("She asked for the ashes.")
    page.get_by_role("button", name="Note it").click()
    expect(page.get_by_text("Look once more at your words")).to_be_visible()
    looked_at(page, "contact")
    page.get_by_role("button", name="Note it").click()
    expect(page.get_by_role("heading", name="Contacts about")).to_be_visible()
    assert Contact.objects.get().text == "She asked for the ashes."

    # the letter: nothing leaves before it was looked at and let go
    page.goto(f"/patients/{visit.patient_id}/death/")
    page.get_by_role("link", name="Write one").click()
    page.locator("[name=text]").fill("We will miss her.\n\nYou were good to her.")
    looked_at(page, "write")
    page.get_by_role("button", name="See it as it would go").click()
    expect(page.get_by_text("Nothing has left yet")).to_be_visible()
    looked_at(page, "look")
    assert not Letter.objects.exists()
    page.get_by_role("button", name="Send it to").dblclick()
    expect(page.get_by_text("Letter of condolence to")).to_be_visible()
    looked_at(page, "letter")
    assert Message.objects.get().purpose == "condolence"
    page.goto("/")
    expect(page.get_by_text("Call with the blood result")).to_have_count(0)
    refused = [each for each in muttered if "422" in each]
    assert len(refused) == 2  # without consent, and asked about once
    muttered[:] = [each for each in muttered if each not in refused]
