"""Resting energy and adult need against published numbers, within the source's rounding unless given."""

import pytest

from nutrition import energy, ideal_weight
from nutrition.factors import load

FACTORS = load()


@pytest.mark.parametrize(
    ("weight_kg", "kcal", "source"),
    [
        pytest.param(kg, kcal, "SACN5 Table 27-3, 5-point BCS 5 = 40 % fat", id=f"nutr-RER-{kg}kg")
        for kg, kcal in [
            (2, 95),
            (4, 160),
            (6, 216),
            (8, 268),
            (14, 408),
            (20, 534),
            (24, 612),
            (40, 897),
            (55, 1139),
        ]
    ],
)
def test_resting_energy_of_the_ideal_weight_by_body_fat(weight_kg: float, kcal: float, source: str) -> None:
    ideal = ideal_weight.by_fat_kg(weight_kg, 40, FACTORS)
    assert energy.resting_kcal(ideal, FACTORS) == pytest.approx(kcal, abs=0.6), source


@pytest.mark.parametrize(
    ("weight_kg", "multiple", "kcal", "within", "source"),
    [
        pytest.param(4.5, 1.0, 216, 0.6, "SACN5 Box 1-2", id="nutr-RER-cat-4.5kg"),
        pytest.param(4.5, 1.4, 302, 1, "SACN5 Box 1-2", id="nutr-need-cat-4.5kg"),
        pytest.param(34, 1.0, 988, 5, "SACN5 p. 540", id="nutr-RER-dog-34kg"),
        pytest.param(34, 1.4, 1383, 7, "SACN5 p. 540", id="nutr-need-dog-34kg-1.4"),
        pytest.param(34, 1.6, 1581, 8, "SACN5 p. 540", id="nutr-need-dog-34kg-1.6"),
        pytest.param(65, 1.9, 3000, 60, "SACN5 p. 294", id="nutr-need-bitch-65kg"),
    ],
)
def test_multiples_of_resting_energy(
    weight_kg: float, multiple: float, kcal: float, within: float, source: str
) -> None:
    assert multiple * energy.resting_kcal(weight_kg, FACTORS) == pytest.approx(kcal, abs=within), source


@pytest.mark.parametrize(
    ("code", "weight_kg", "kcal", "within", "source"),
    [
        pytest.param("cat.intact", 4.5, 302, 1, "SACN5 Box 1-2", id="nutr-cat-intact-4.5kg"),
        pytest.param("dog.neutered", 34, 1581, 8, "SACN5 p. 540", id="nutr-dog-neutered-34kg"),
        pytest.param("cat.lean", 4, 253, 0.6, "FEDIAF Table VII-12", id="nutr-cat-lean-4kg"),
        pytest.param("cat.indoor", 4, 189, 1, "FEDIAF Table VII-12", id="nutr-cat-indoor-4kg"),
        pytest.param("dog.inactive", 15, 724, 0.6, "FEDIAF Table VII-12", id="nutr-dog-inactive-15kg"),
        pytest.param("cat.lean", 5 * 0.45359237, 170, 5, "NRC-cat p. 5", id="nutr-cat-lean-5lb"),
        pytest.param("cat.overweight", 5 * 0.45359237, 180, 5, "NRC-cat p. 5", id="nutr-cat-over-5lb"),
        pytest.param("cat.lean", 10 * 0.45359237, 280, 5, "NRC-cat p. 5", id="nutr-cat-lean-10lb"),
        pytest.param("cat.overweight", 10 * 0.45359237, 240, 5, "NRC-cat p. 5", id="nutr-cat-over-10lb"),
        pytest.param("cat.lean", 1, 100, 5, "WSAVA 2020 cats (as quoted)", id="nutr-wsava-cat-1kg"),
        pytest.param("cat.lean", 2, 160, 5, "WSAVA 2020 cats (as quoted)", id="nutr-wsava-cat-2kg"),
        pytest.param("cat.lean", 3, 210, 5, "WSAVA 2020 cats (as quoted)", id="nutr-wsava-cat-3kg"),
        pytest.param("cat.lean", 4, 250, 5, "WSAVA 2020 cats (as quoted)", id="nutr-wsava-cat-4kg"),
        pytest.param("cat.lean", 5, 290, 5, "WSAVA 2020 cats (as quoted)", id="nutr-wsava-cat-5kg"),
    ],
)
def test_need_by_a_published_rule(
    code: str, weight_kg: float, kcal: float, within: float, source: str
) -> None:
    found = energy.need(weight_kg, FACTORS.need(code), FACTORS)
    assert found.energy_kcal == pytest.approx(kcal, abs=within), source


def test_resting_energy_in_kilojoules() -> None:
    # 904 kJ is the resting 216 kcal of the same box, not the 302 kcal of the need.
    found = energy.kilojoules(energy.resting_kcal(4.5, FACTORS), FACTORS)
    assert found == pytest.approx(904, abs=2), "SACN5 Box 1-2"


WSAVA_DOG_ROWS = [
    pytest.param(kg, low, high, "WSAVA 2020 dogs (as quoted)", id=f"nutr-wsava-dog-{kg}kg")
    for kg, low, high in [(2, 140, 177), (3, 190, 239), (4, 240, 297), (20, 790, 993)]
]


@pytest.mark.parametrize(("weight_kg", "low", "high", "source"), WSAVA_DOG_ROWS)
def test_wsava_dog_rows_fit_84_to_105(weight_kg: float, low: float, high: float, source: str) -> None:
    assert energy.by_size_kcal(weight_kg, 84, 0.75) == pytest.approx(low, abs=5), source
    assert energy.by_size_kcal(weight_kg, 105, 0.75) == pytest.approx(high, abs=1), source


@pytest.mark.parametrize(("weight_kg", "low", "high", "source"), WSAVA_DOG_ROWS)
def test_wsava_dog_rows_do_not_follow_their_own_footnote(
    weight_kg: float, low: float, high: float, source: str
) -> None:
    assert energy.by_size_kcal(weight_kg, 95, 0.75) > low + 5, source
    assert energy.by_size_kcal(weight_kg, 130, 0.75) > high + 1, source


@pytest.mark.parametrize(
    ("weight_kg", "ratio", "source"),
    [
        pytest.param(kg, ratio, "SACN5 Table 5-2, linear 30 × BW + 70", id=f"nutr-linear-{kg}kg")
        for kg, ratio in [(2, 1.10), (10, 0.94), (20, 1.01), (45, 1.17)]
    ],
)
def test_the_linear_rule_strays_from_ours_as_published(weight_kg: float, ratio: float, source: str) -> None:
    linear = 30 * weight_kg + 70
    assert linear / energy.resting_kcal(weight_kg, FACTORS) == pytest.approx(ratio, abs=0.006), source


@pytest.mark.parametrize("weight_kg", [0.3, 1, 70])
def test_resting_energy_is_exponential_outside_two_to_45_kg_too(weight_kg: float) -> None:
    assert energy.resting_kcal(weight_kg, FACTORS) == pytest.approx(70 * weight_kg**0.75)
    assert energy.resting_kcal(weight_kg, FACTORS) != pytest.approx(30 * weight_kg + 70, rel=0.02)


def test_resting_energy_in_kilojoules_is_293() -> None:
    one_kg = energy.kilojoules(energy.resting_kcal(1, FACTORS), FACTORS)
    assert one_kg == pytest.approx(293, abs=0.5), "SACN5 Table 5-2"


@pytest.mark.parametrize(
    ("code", "value", "source"),
    [
        pytest.param("dog.neutered", 1.6, "SACN5 Table 33-7", id="nutr-factor-dog-neutered"),
        pytest.param("dog.intact", 1.8, "SACN5 Table 33-7, Box 1-2", id="nutr-factor-dog-intact"),
        pytest.param("cat.neutered", 1.2, "SACN5 Table 5-2 (from memory)", id="nutr-factor-cat-neutered"),
        pytest.param("cat.obese_prone", 1.0, "SACN5 (from memory)", id="nutr-factor-cat-obese-prone"),
        pytest.param("dog.low_impact", 110, "FEDIAF", id="nutr-factor-dog-low-impact"),
        pytest.param("dog.high_impact", 125, "FEDIAF Table VII-7 (from memory)", id="nutr-factor-dog-high"),
        pytest.param("dog.active", 130, "NRC 2006", id="nutr-factor-dog-active"),
        pytest.param("dog.fat_prone", 90, "FEDIAF (from memory)", id="nutr-factor-dog-fat-prone"),
        pytest.param("dog.age_1_2", 130, "FEDIAF Table VII-6 (from memory)", id="nutr-factor-dog-1-2y"),
        pytest.param("dog.age_3_7", 110, "FEDIAF Table VII-6 (from memory)", id="nutr-factor-dog-3-7y"),
        pytest.param("dog.age_over_7", 95, "FEDIAF Table VII-6 (from memory)", id="nutr-factor-dog-over-7y"),
    ],
)
def test_factor_as_published(code: str, value: float, source: str) -> None:
    assert FACTORS.need(code).value == value, source


@pytest.mark.parametrize("code", ["dog.high_impact", "dog.fat_prone", "dog.age_3_7", "cat.neutered"])
def test_what_was_written_from_memory_says_so(code: str) -> None:
    assert FACTORS.need(code).certainty == "C"
