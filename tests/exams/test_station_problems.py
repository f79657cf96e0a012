"""An open problem stands at every station whose lines it speaks of."""

import pytest
from django.urls import reverse

from clinic.care import actions
from clinic.care.panels import problems_by_station
from tests import people

pytestmark = pytest.mark.django_db


def test_an_open_problem_stands_where_it_is_looked_at(client) -> None:
    people.clinic_details()
    house = people.people()
    visit = people.visit_here(clinician=house.clinician)
    me = {"actor": house.actor("clinician"), "now": people.NOW}
    lines = ["EAR.canal|left", "SKN.head|-", "heads-up:1"]
    both = actions.open_problem(patient=visit.patient, visit=visit, title="Itch", lines=lines, **me)
    actions.assess(problem=both, record=visit.record, text="allergy likely", **me)
    own = actions.open_problem(patient=visit.patient, visit=visit, title="Old wound", station="SKN", **me)
    over = actions.open_problem(patient=visit.patient, visit=visit, title="Cough", station="LUN", **me)
    actions.close_problem(problem=over, reason="healed", **me)
    dealt = {code: [row.id for row in rows] for code, rows in problems_by_station(visit.patient).items()}
    assert dealt == {"EAR": [both.pk], "SKN": [both.pk, own.pk]}
    client.force_login(house.clinician)
    page = client.get(reverse("visit-exam", args=[visit.pk])).content.decode()
    ear = page.split('id="EAR"')[1].split("</details>")[0]
    assert "Open problem: Itch" in ear
    assert "allergy likely (possible)" in ear
    assert "Old wound" not in ear
