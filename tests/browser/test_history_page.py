"""One structure over all visits, with every kind of mark: fits a telephone, and axe finds nothing."""

from __future__ import annotations

import pytest

from tests import people
from tests.browser.exam_room import signed_in
from tests.browser.eyes import in_both_themes
from tests.exams.test_history import CANAL, looked, wax

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.mark.parametrize("width", [390, 1180])
def test_the_history_of_a_structure(browser, live_server, width) -> None:
    people.clinic_details()
    house, patient = people.people(), people.patient("Grit")
    for number, tap in enumerate(
        ((CANAL, "set_normal"), wax("mild"), wax("severe"), wax("moderate"), wax("moderate"))
    ):
        looked(house, patient, number, tap)
    looked(house, patient, 5)
    looked(house, patient, 6, (CANAL, "set_normal"))
    view = {"width": width, "height": 844}
    with signed_in(browser, live_server.url, house.clinician, viewport=view) as context:
        page = context.new_page()
        page.goto(f"{live_server.url}/patients/{patient.pk}/walk/EAR.canal/")
        marks = page.locator(".look-marks b").all_inner_texts()
        assert marks == ["gone", "same", "better", "worse", "new"]
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        assert in_both_themes(page) == []
