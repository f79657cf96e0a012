"""The chart of a programme in the letter is that of its page, and knows nothing of later."""

from datetime import timedelta

import pytest
from django.utils import timezone

from clinic.letters.document import Figures
from nutrition.letter import FeedingInLetter
from nutrition.models import Plan
from tests import people
from tests.nutrition.clinic_rows import house_with_foods, weighed
from tests.nutrition.test_weigh_ins import advise, on_programme, page_of, weigh_on

pytestmark = pytest.mark.django_db


@pytest.fixture
def house():
    return house_with_foods()


def charts(record):
    part = FeedingInLetter().part(record, language="en", today=timezone.localdate())
    return [
        figure
        for section in part.sections
        for block in section.blocks
        if isinstance(block, Figures)
        for figure in block.figures
    ]


def test_it_is_the_chart_of_the_page_on_the_day_of_the_plan(house):
    patient = on_programme(house, "40", "39.2", "38.4")
    record = Plan.objects.get().record
    Plan.objects.update(at=timezone.now() - timedelta(days=28))
    (chart,) = charts(record)
    assert chart.shape == "low"
    assert "39.2" not in chart.alt
    assert chart.alt.startswith("Pomfret: 40 kg on")
    assert "39.2 kg on" in page_of(house, patient)


def test_a_plan_that_keeps_the_weight_has_none(house):
    record = weighed(house)
    advise(house, record)
    assert charts(record) == []


def test_a_later_plan_shows_all_weighed_so_far(house):
    patient = on_programme(house, "40", "39.2", "38.4")
    weigh_on(house, patient, "38.1", 0)
    first = Plan.objects.get()
    first.record.visit.place = "gone-home"
    first.record.visit.save(update_fields=["place"])
    record = people.visit_here(patient, clinician=house.clinician).record
    made = advise(house, record, aim="lose", target_weight_kg=34.0, shares={"tarrock-light-dry": 100.0})
    Plan.objects.filter(pk=made.pk).update(at=timezone.now())
    (chart,) = charts(record)
    assert "39.2 kg on" in chart.alt
    assert "The target is 34 kg." in chart.alt
