"""Somebody quicker than the page: what is typed before its scripts have come is looked for all the same."""

import re

import pytest
from playwright.sync_api import Route

from tests import people
from tests.browser.conftest import PHONE, Opens, sign_in

pytestmark = pytest.mark.browser


@pytest.mark.parametrize(
    ("path", "label", "found"),
    [
        ("/check-in/", "Animal, owner, telephone or chip", "checkbox"),
        ("/patients/", "Find", "link"),
    ],
)
def test_words_typed_before_the_scripts_came_are_looked_for(screen: Opens, path, label, found) -> None:
    page = sign_in(screen(PHONE), people.people().technician)
    people.patient("Pomfret")
    held: list[Route] = []
    page.route(
        re.compile(r"htmx.*\.js"), lambda route: held.append(route)
    )  # playwright cannot mark a builtin
    page.goto(path, wait_until="commit")
    page.get_by_label(label, exact=True).fill("pomf")
    page.wait_for_timeout(500)
    assert page.get_by_role(found, name=re.compile("Pomfret")).count() == 0
    for route in held:
        route.continue_()
    page.get_by_role(found, name=re.compile("Pomfret")).first.wait_for(state="attached")


def test_an_answer_chosen_before_the_scripts_came_is_kept(screen: Opens) -> None:
    staff = people.people()
    people.clinic_details()
    visit = people.visit_here(technician=staff.technician)
    page = sign_in(screen(PHONE), staff.technician)
    held: list[Route] = []
    page.route(re.compile(r"htmx.*\.js"), lambda route: held.append(route))
    page.goto(f"/visits/{visit.pk}/intake/", wait_until="commit")
    words = page.get_by_label("Reason, in the owner’s words")
    words.fill("Shakes the head.")
    for route in held:
        route.continue_()
    page.locator("#why-said").get_by_text(re.compile("saved", re.I)).wait_for()
    visit.refresh_from_db()
    assert visit.owners_words == "Shakes the head."


def test_words_typed_before_a_part_of_the_page_was_woken_are_looked_for(screen: Opens) -> None:
    """The panel on Today comes by htmx, which listens to it only a moment after it can be typed into."""
    page = sign_in(screen(PHONE), people.people().technician)
    people.patient("Pomfret")
    page.wait_for_load_state("load")
    page.evaluate("htmx.config.defaultSettleDelay = 1500")
    page.get_by_role("link", name="Someone came in").click()
    page.get_by_label("Animal, owner, telephone or chip").fill("pomf")
    assert page.get_by_role("checkbox", name=re.compile("Pomfret")).count() == 0
    page.get_by_role("checkbox", name=re.compile("Pomfret")).first.wait_for(state="attached")
