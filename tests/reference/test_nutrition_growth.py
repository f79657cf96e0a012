"""Growth, gestation, lactation against published numbers; worked numbers of ours are marked as regression."""

import pytest

from nutrition import growth, reproduction
from nutrition.factors import load

FACTORS = load()
LB = 0.45359237


@pytest.mark.parametrize(
    ("percent", "factor", "source"),
    [
        pytest.param(p, f, "NRC 2006 equation against VNJ 2022 Table 2", id=f"nutr-puppy-{p}pc")
        for p, f in [(15, 2.5), (30, 2.1), (60, 1.6), (71, 1.4), (100, 1.0)]
    ],
)
def test_puppy_equation_gives_the_published_factors(percent: int, factor: float, source: str) -> None:
    assert growth.nrc_factor("dog", percent / 100, FACTORS) == pytest.approx(factor, abs=0.05), source


@pytest.mark.parametrize(
    ("percent", "factor", "source"),
    [
        pytest.param(p, f, "VNJ 2022 Table 2, after Richardson 2010", id=f"nutr-large-{p}pc")
        for p, f in [(15, 2.5), (30, 2.1), (43, 1.9), (60, 1.6), (71, 1.4), (80, 1.3), (100, 1.0)]
    ],
)
def test_large_puppies_by_the_published_table(percent: int, factor: float, source: str) -> None:
    weight = 50 * percent / 100
    found = growth.large_puppy(weight, 50, FACTORS).energy_kcal
    assert found == pytest.approx(factor * 130 * weight**0.75), source


@pytest.mark.parametrize(
    ("species", "weight_kg", "adult_kg", "kcal"),
    [
        pytest.param("cat", 1, 4, 197, id="nutr-kitten-1kg"),
        pytest.param("cat", 2, 4, 266, id="nutr-kitten-2kg"),
        pytest.param("cat", 3, 4, 291, id="nutr-kitten-3kg"),
        pytest.param("dog", 10, 30, 1517, id="nutr-puppy-10kg"),
        pytest.param("dog", 15, 30, 1735, id="nutr-puppy-15kg"),
        pytest.param("dog", 24, 30, 1798, id="nutr-puppy-24kg"),
    ],
)
def test_growth_equation_regression(species, weight_kg: float, adult_kg: float, kcal: float) -> None:
    found = growth.nrc(species, weight_kg, adult_kg, FACTORS).energy_kcal
    assert found == pytest.approx(kcal, abs=0.6), "NRC 2006, formula only (regression)"


@pytest.mark.parametrize(
    ("species", "weight_kg", "adult_kg", "age_months", "multiple", "source"),
    [
        pytest.param("dog", 5, 20, 3, 3.0, "SACN5 Table 33-7", id="nutr-steps-puppy-3m"),
        pytest.param("dog", 5, 20, 4, 3.0, "SACN5 Table 33-7", id="nutr-steps-puppy-4m"),
        pytest.param("dog", 9, 20, 5, 2.0, "SACN5 Table 33-7", id="nutr-steps-puppy-5m"),
        pytest.param("cat", 2, 4, 4, 3.0, "SACN5 Tables 33-7, 24-4", id="nutr-steps-kitten-50pc"),
        pytest.param("cat", 2.6, 4, 6, 2.5, "SACN5 Tables 33-7, 24-4", id="nutr-steps-kitten-65pc"),
        pytest.param("cat", 3.6, 4, 9, 2.0, "SACN5 Tables 33-7, 24-4", id="nutr-steps-kitten-90pc"),
    ],
)
def test_simple_steps_of_growth(
    species, weight_kg: float, adult_kg: float, age_months: float, multiple: float, source: str
) -> None:
    found = growth.rest_steps(species, weight_kg, FACTORS, expected_adult_kg=adult_kg, age_months=age_months)
    assert found.energy_kcal == pytest.approx(multiple * 70 * weight_kg**0.75), source


@pytest.mark.parametrize(
    ("species", "percent", "low", "high", "source"),
    [
        pytest.param("dog", 40, 210, 210, "VNJ 2022 Table 2", id="nutr-fediaf-puppy-40pc"),
        pytest.param("dog", 60, 175, 175, "VNJ 2022 Table 2", id="nutr-fediaf-puppy-60pc"),
        pytest.param("dog", 90, 140, 140, "VNJ 2022 Table 2", id="nutr-fediaf-puppy-90pc"),
        pytest.param("cat", 40, 75 * 2.0, 100 * 2.5, "VNJ 2022 Table 2", id="nutr-fediaf-kitten-40pc"),
        pytest.param("cat", 60, 75 * 1.75, 100 * 2.0, "VNJ 2022 Table 2", id="nutr-fediaf-kitten-60pc"),
        pytest.param("cat", 90, 75 * 1.5, 100 * 1.5, "VNJ 2022 Table 2", id="nutr-fediaf-kitten-90pc"),
    ],
)
def test_steps_of_adult_weight(species, percent: int, low: float, high: float, source: str) -> None:
    exponent, weight = (0.75, percent / 5) if species == "dog" else (0.67, percent / 25)
    found = growth.fediaf_steps(species, weight, 20 if species == "dog" else 4, FACTORS)
    assert found.low_kcal == pytest.approx(low * weight**exponent), source
    assert found.high_kcal == pytest.approx(high * weight**exponent), source
    assert found.energy_kcal == pytest.approx((low + high) / 2 * weight**exponent), source


def test_unweaned_by_body_weight() -> None:
    found = growth.unweaned(0.2, FACTORS)
    assert (found.low_kcal, found.high_kcal) == (pytest.approx(40), pytest.approx(50)), "NRC-cat p. 5"


@pytest.mark.parametrize(
    ("pounds", "kcal", "source"),
    [
        pytest.param(5, 336, "NRC-cat p. 5", id="nutr-queen-peak-5lb"),
        pytest.param(10, 603, "NRC-cat p. 5", id="nutr-queen-peak-10lb"),
    ],
)
def test_queen_with_four_kittens_at_her_peak(pounds: float, kcal: float, source: str) -> None:
    peak = max(
        reproduction.lactation("cat", pounds * LB, 4, week, FACTORS).energy_kcal for week in range(1, 8)
    )
    assert peak == pytest.approx(kcal, abs=2), source


def test_bitch_with_eleven_puppies_by_resting_energy() -> None:
    herself = reproduction.bitch_by_rest(65, 11, FACTORS)
    own = herself.lines[1].value
    assert own == pytest.approx(3000, abs=60), "SACN5 p. 294"
    assert herself.energy_kcal - own == pytest.approx(8250, abs=165), "SACN5 p. 294"


@pytest.mark.parametrize(
    ("found", "kcal"),
    [
        pytest.param(reproduction.gestation("dog", 20, 6, FACTORS), 1749, id="nutr-bitch-20kg-late"),
        pytest.param(reproduction.lactation("dog", 20, 4, 4, FACTORS), 3675, id="nutr-bitch-20kg-4pups-w4"),
        pytest.param(reproduction.gestation("cat", 3.5, 6, FACTORS), 324, id="nutr-queen-3.5kg"),
    ],
)
def test_reproduction_regression(found, kcal: float) -> None:
    assert found.energy_kcal == pytest.approx(kcal, abs=0.6), "NRC 2006, formula only (regression)"
