"""A clinician makes a summary: asked for the consent, nothing typed is lost, signed, then read and listed."""

import pytest
from playwright.sync_api import expect

from clinic.models import Contact, Summary, Visit
from tests import people
from tests.browser.conftest import PHONE, TABLET, bring_session, give_pin
from tests.people import PIN

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.mark.parametrize("size", [TABLET, PHONE], ids=["tablet", "phone"])
def test_from_the_question_to_the_list(
    screen, live_server, muttered, house: people.People, visit: Visit, size
) -> None:
    give_pin(house.clinician)
    context = screen(size)
    bring_session(context, house.clinician, live_server.url)
    page = context.new_page()
    page.goto(f"/patients/{visit.patient_id}/")
    page.get_by_role("link", name="Make a summary for a colleague").click()
    expect(page.get_by_role("heading", name="What it will say")).to_be_visible()

    # sent without an answer about the owner's consent
    page.get_by_label("For whom").fill("Dr Ines Tarn, Harbour Referrals")
    page.get_by_label("Reason, and what you ask of them").fill("Limps since Sunday.")
    page.get_by_label("Your PIN").fill(PIN)
    page.get_by_role("button", name="Sign it and make the PDF").click()
    question = page.get_by_text("Has the owner agreed that this goes to Dr Ines Tarn, Harbour Referrals?")
    expect(question).to_be_visible()
    expect(page.get_by_label("Reason, and what you ask of them")).to_have_value("Limps since Sunday.")
    assert not Contact.objects.exists()

    # noted now, in person
    page.get_by_label("The owner has agreed; note it now").check()
    page.get_by_label("How they agreed").select_option("in-person")
    page.get_by_label("Your PIN").fill(PIN)
    page.get_by_role("button", name="Sign it and make the PDF").click()
    expect(page.get_by_text("agreed in person")).to_be_visible()
    assert Summary.objects.get().consent == Contact.objects.get()
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]

    # listed on the patient's page, with whom it is for
    page.goto(f"/patients/{visit.patient_id}/")
    page.get_by_role("link", name="Dr Ines Tarn, Harbour Referrals").click()
    expect(page.get_by_role("heading", name="summary for a colleague")).to_be_visible()
    muttered[:] = [each for each in muttered if "422" not in each]  # the question's own answer
