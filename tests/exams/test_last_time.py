"""What was not normal when each line was last looked at stands beside it; what healed since does not."""

from __future__ import annotations

from datetime import timedelta

import pytest

from clinic.models import Record, Visit
from exams.pages import last_json
from exams.queries import last_exams
from tests import people
from tests.exams.house import Tablet, exam_here

pytestmark = pytest.mark.django_db

WAX = {"findings": [{"code": "EAR-02", "severity": "mild"}]}


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


def signed(tablet: Tablet, *, days: int, kind: str) -> Visit:
    """The exam signed, and the same patient's next visit `days` later."""
    record = Record.objects.select_related("visit__patient").get(pk=tablet.exam.record_id)
    type(tablet.exam).objects.filter(pk=tablet.exam.pk).update(kind=kind)
    Record.objects.filter(pk=record.pk).update(
        signed_at=people.NOW, signed_by=tablet.actor.staff, signed_name="x"
    )
    Visit.objects.filter(pk=record.visit_id).update(place="gone-home")
    visit = people.visit_here(record.visit.patient, clinician=tablet.actor.staff)
    Record.objects.filter(visit=visit).update(opened_at=record.opened_at + timedelta(days=days))
    return visit


def last(visit: Visit) -> dict[str, str]:
    record = Record.objects.select_related("visit__patient").get(visit=visit)
    return last_json(last_exams(record))


def test_what_a_later_look_at_a_part_found_normal_is_not_held_against_it(house) -> None:
    walk = exam_here(house.actor("clinician"))
    walk.tap("EAR.canal|left", "set_abnormal", WAX)
    walk.tap("EYE.lens|left", "set_abnormal", {"findings": []})
    recheck = exam_here(house.actor("clinician"), signed(walk, days=14, kind="full"))
    recheck.tap("EAR.canal|left", "set_normal")
    told = last(signed(recheck, days=300, kind="focused"))
    assert set(told) == {"EYE.lens|left"}


def test_what_the_later_look_did_not_examine_stands_as_it_was(house) -> None:
    walk = exam_here(house.actor("clinician"))
    walk.tap("EAR.canal|left", "set_abnormal", WAX)
    recheck = exam_here(house.actor("clinician"), signed(walk, days=14, kind="full"))
    recheck.tap("EAR.canal|left", "set_not_examined", {"reason": "not-part"})
    told = last(signed(recheck, days=300, kind="focused"))
    assert told["EAR.canal|left"].endswith("excess wax, mild")
