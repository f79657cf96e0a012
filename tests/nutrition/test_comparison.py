"""Foods side by side: the sums of a published label, and what a bare or broken one leaves out."""

from dataclasses import replace

import pytest

from nutrition.comparison import compared
from nutrition.foods import Analysis
from tests.nutrition.builders import FACTORS, FOODS

DRY = FOODS["tarrock-adult-dry"]
BOX_1_6 = Analysis(22, 9, 3, 10, 5)


def test_the_label_of_the_book():
    """NFE 51, 3,320 kcal/kg (SACN5 Box 1-6)."""
    found = compared(replace(DRY, analysis=BOX_1_6, kcal_per_kg=None), FACTORS)
    assert found.atwater == found.used == pytest.approx(3320)
    assert (found.label, found.off_percent) == (None, None)
    nfe = next(part for part in found.parts if part.name == "nfe")
    assert (nfe.as_fed, nfe.dry_matter) == (51, pytest.approx(56.67, abs=0.01))
    assert nfe.per_1000_kcal == pytest.approx(51 * 10_000 / 3320)
    assert [kind for kind, _ in found.four_steps] == ["dog"]


def test_the_label_goes_before_the_sum_and_says_how_far_it_is_off():
    found = compared(replace(DRY, analysis=BOX_1_6, kcal_per_kg=3500), FACTORS)
    assert found.used == 3500
    assert found.off_percent == pytest.approx((3320 / 3500 - 1) * 100)


def test_ash_that_is_not_stated_is_marked():
    assert compared(replace(DRY, analysis=replace(BOX_1_6, ash_percent=None)), FACTORS).ash_assumed
    assert not compared(DRY, FACTORS).ash_assumed


def test_a_food_without_an_analysis_has_its_label_alone():
    found = compared(replace(DRY, analysis=None), FACTORS)
    assert (found.used, found.atwater, found.parts, found.moisture_percent) == (3720, None, (), None)


def test_a_broken_label_is_refused_with_the_reason_and_one_with_neither_too():
    broken = compared(replace(DRY, analysis=replace(BOX_1_6, moisture_percent=80)), FACTORS)
    assert (broken.used, broken.parts) == (None, ())
    assert "more than 100 %" in broken.refused
    bare = compared(replace(DRY, analysis=None, kcal_per_kg=None), FACTORS)
    assert "states no energy" in bare.refused
