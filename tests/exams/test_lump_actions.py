"""A lump keeps its number for life and has one size an exam."""

import pytest

from clinic.visits.errors import NotOpen
from exams.lump_actions import measure_lump, record_lump
from exams.models import LumpMeasure
from tests import people

pytestmark = pytest.mark.django_db


def test_lumps_are_numbered_in_their_order_and_measured_longest_first() -> None:
    house = people.people()
    visit = people.visit_here()
    vet = {"actor": house.actor("clinician"), "now": people.NOW}
    place = {"patient": visit.patient, "drawing": "dog-left", "x": 0.4, "y": 0.5, "region": "flank-left"}
    first, second = record_lump(**place, **vet), record_lump(**place, **vet)
    assert (first.number, second.number) == (1, 2)
    measure_lump(lump=second, record=visit.record, axes_mm=(8, 14, 12), **vet)
    measure_lump(lump=second, record=visit.record, axes_mm=(9, 15, 12), **vet)
    row = LumpMeasure.objects.get()
    assert (row.length_mm, row.width_mm, row.height_mm) == (15, 12, 9)


def test_a_signed_record_takes_no_size() -> None:
    house = people.people()
    visit = people.visit_here()
    vet = {"actor": house.actor("clinician"), "now": people.NOW}
    lump = record_lump(patient=visit.patient, drawing="dog-left", x=0.4, y=0.5, region="flank-left", **vet)
    record = visit.record
    record.signed_at, record.signed_by, record.signed_name = people.NOW, house.clinician, "x"
    record.save(update_fields=["signed_at", "signed_by", "signed_name"])
    with pytest.raises(NotOpen):
        measure_lump(lump=lump, record=record, axes_mm=(8, 14, 12), **vet)
