"""Ideal weight, weight loss and food energy against published numbers."""

import pytest

from nutrition import ideal_weight, label, weight_loss
from nutrition.factors import load
from nutrition.foods import Analysis

FACTORS = load()


@pytest.mark.parametrize(
    ("weight_kg", "ideal_kg", "within", "source"),
    [
        pytest.param(4.3, 3.8, 0.05, "SACN5 Table 27-3", id="nutr-ideal-30pc-4.3kg"),
        pytest.param(8.6, 7.5, 0.05, "SACN5 Table 27-3", id="nutr-ideal-30pc-8.6kg"),
        pytest.param(34.3, 30, 0.5, "SACN5 Table 27-3", id="nutr-ideal-30pc-34.3kg"),
    ],
)
def test_ideal_weight_at_thirty_percent_fat(
    weight_kg: float, ideal_kg: float, within: float, source: str
) -> None:
    found = ideal_weight.by_fat_kg(weight_kg, 30, FACTORS)
    assert found == pytest.approx(ideal_kg, abs=within), source


@pytest.mark.parametrize(
    ("bcs", "fat", "source"),
    [
        pytest.param(bcs, fat, "SACN5 Table 27-3", id=f"nutr-fat-bcs{bcs}")
        for bcs, fat in [(5, 20), (7, 30), (9, 40)]
    ],
)
def test_body_fat_by_score(bcs: int, fat: float, source: str) -> None:
    assert ideal_weight.fat_percent(bcs, FACTORS) == fat, source


@pytest.mark.parametrize(
    ("code", "kg", "source"),
    [
        pytest.param("ten", 33.3, "10 % a point (common practice)", id="nutr-ideal-40kg-ten"),
        pytest.param("fifteen", 30.8, "FEDIAF/AAHA tables (from memory)", id="nutr-ideal-40kg-fifteen"),
        pytest.param("fat", 35.0, "SACN5 Table 27-3", id="nutr-ideal-40kg-fat"),
    ],
)
def test_the_three_methods_for_a_dog_of_forty_kg_at_seven(code: str, kg: float, source: str) -> None:
    answers = {m.code: m.weight_kg for m in ideal_weight.methods(weight_kg=40, bcs=7, factors=FACTORS)}
    assert answers[code] == pytest.approx(kg, abs=0.05), source


@pytest.mark.parametrize(
    ("rate", "weeks", "within", "source"),
    [
        pytest.param(2.0, 12, 0.5, "SACN5 Box 27-12", id="nutr-loss-2pc"),
        pytest.param(0.5, 48, 1, "SACN5 Box 27-12", id="nutr-loss-half-pc"),
    ],
)
def test_weeks_from_5_9_to_4_5_kg(rate: float, weeks: float, within: float, source: str) -> None:
    assert weight_loss.weeks_to_target(5.9, 4.5, rate, FACTORS) == pytest.approx(weeks, abs=within), source


def test_fat_energy_of_a_deficit() -> None:
    start = weight_loss.start_by_deficit(1000, 50, 1, FACTORS)
    assert start.lines[0].value == pytest.approx(0.5 * 7920 / 7), "SACN5 Table 27-15"
    assert start.energy_kcal == pytest.approx(1000 - 0.5 * 7920 / 7), "SACN5 Table 27-15"


@pytest.mark.parametrize(
    ("species", "target_kg", "multiple", "source"),
    [
        pytest.param("dog", 25, 1.0, "SACN5 p. 532", id="nutr-start-dog"),
        pytest.param("cat", 4.5, 0.8, "AAHA 2014 (from memory)", id="nutr-start-cat"),
    ],
)
def test_start_of_weight_loss(species, target_kg: float, multiple: float, source: str) -> None:
    found = weight_loss.starts(species, target_kg, FACTORS)[0]
    assert found.energy_kcal == pytest.approx(multiple * 70 * target_kg**0.75), source


def test_start_of_a_cat_by_the_older_source_stands_beside() -> None:
    codes = {e.code: e.energy_kcal for e in weight_loss.starts("cat", 4.5, FACTORS)}
    assert codes["loss.start.cat_rest"] == pytest.approx(70 * 4.5**0.75), "SACN5 p. 532"


def test_start_from_a_measured_intake_is_four_fifths() -> None:
    found = weight_loss.start_by_intake(1000, FACTORS)
    assert found.energy_kcal == pytest.approx(800), "SACN5 p. 540"


FOOD = Analysis(22, 9, 3, 10, 5)


def test_nfe_of_a_label() -> None:
    assert label.proximate(FOOD, "dry", FACTORS).nfe_percent == 51, "SACN5 Box 1-6"


def test_modified_atwater_of_a_label() -> None:
    parts = label.proximate(FOOD, "dry", FACTORS)
    assert label.atwater_kcal_per_kg(parts, FACTORS) == pytest.approx(3320, abs=5), "SACN5 Box 1-6"


def test_energy_in_dry_matter() -> None:
    assert label.in_dry_matter_percent(3.6, 10) == pytest.approx(4.0), "SACN5 case 1-1"


@pytest.mark.parametrize(
    ("kcal", "grams", "source"),
    [
        pytest.param(253, 63, "FEDIAF Table VII-12", id="nutr-dm-cat-lean"),
        pytest.param(189, 47, "FEDIAF Table VII-12", id="nutr-dm-cat-indoor"),
        pytest.param(724, 181, "FEDIAF Table VII-12", id="nutr-dm-dog"),
    ],
)
def test_dry_matter_a_day_at_four_kcal_a_gram(kcal: float, grams: float, source: str) -> None:
    assert label.grams_a_day(kcal, 4000) == pytest.approx(grams, abs=0.5), source


@pytest.mark.parametrize(
    ("species", "digestibility", "urine", "source"),
    [
        pytest.param("dog", 91.2 - 1.43 * 3 / 0.9, 1.04, "NRC 2006; FEDIAF", id="nutr-four-steps-dog"),
        pytest.param("cat", 87.9 - 0.88 * 3 / 0.9, 0.77, "NRC 2006; FEDIAF", id="nutr-four-steps-cat"),
    ],
)
def test_four_steps_by_hand(species, digestibility: float, urine: float, source: str) -> None:
    steps = label.four_steps(label.proximate(FOOD, "dry", FACTORS), species, FACTORS)
    gross = 5.7 * 22 + 9.4 * 9 + 4.1 * 54
    assert steps.gross_kcal == pytest.approx(gross), source
    assert steps.digestibility_percent == pytest.approx(digestibility), source
    assert steps.metabolisable_kcal == pytest.approx(gross * digestibility / 100 - urine * 22), source
