"""The energies offered are those that fit the animal, and none where no formula may be used."""

import pytest

from nutrition import conditions as condition
from nutrition.options import Circumstances, energies
from nutrition.reasons import Refused
from tests.nutrition.builders import FACTORS, grown_dog, heavy_cat, heavy_dog


def offered(inputs, **around) -> list[str]:
    return [estimate.code for estimate in energies(inputs, Circumstances(**around), FACTORS)]


@pytest.mark.parametrize("code", condition.NO_FORMULA)
def test_none_where_no_formula_may_be_used(code: str) -> None:
    assert offered(grown_dog(conditions=frozenset({code}))) == []


@pytest.mark.parametrize(
    ("around", "codes"),
    [
        ({"neutered": True}, ["dog.inactive", "dog.neutered"]),
        ({"neutered": False, "family": "multiples"}, ["dog.intact", "dog.inactive"]),
        ({"body_size_code": "dog.active"}, ["dog.active", "dog.neutered"]),
    ],
)
def test_the_clinics_family_stands_first(around, codes: list[str]) -> None:
    assert offered(grown_dog(), **around) == codes


def test_an_animal_that_gains_easily_gets_the_lower_rules() -> None:
    prone = grown_dog(conditions=frozenset({condition.OBESE_PRONE}))
    assert offered(prone) == ["dog.fat_prone", "dog.obese_prone"]


def test_losing_weight_offers_the_published_starts() -> None:
    assert offered(heavy_dog(), measured_intake_kcal=1500) == [
        "loss.start.dog",
        "loss.intake",
        "loss.deficit",
    ]
    assert offered(heavy_cat()) == ["loss.start.cat", "loss.start.cat_rest", "loss.deficit"]


def test_the_deficit_goes_by_the_wanted_rate_and_by_the_usual_one_without_it() -> None:
    def deficit(**changes):
        return energies(heavy_dog(**changes), Circumstances(), FACTORS)[-1]

    keep = 95 * 40**0.75
    assert deficit().energy_kcal == pytest.approx(keep - 40 * 0.015 * 7920 / 7)
    assert deficit(wanted_percent_a_week=0.5).energy_kcal == pytest.approx(keep - 40 * 0.005 * 7920 / 7)


def test_the_deficit_goes_by_what_the_weigh_ins_say_that_it_needs() -> None:
    deficit = energies(heavy_dog(), Circumstances(seems_to_need_kcal=1300), FACTORS)[-1]
    assert deficit.energy_kcal == pytest.approx(1300 - 40 * 0.015 * 7920 / 7)


@pytest.mark.parametrize("rate", [0, 2.5])
def test_no_deficit_is_offered_at_a_rate_that_is_refused(rate: float) -> None:
    assert "loss.deficit" not in offered(heavy_dog(wanted_percent_a_week=rate))


def test_losing_towards_a_higher_target_is_refused() -> None:
    with pytest.raises(Refused, match="not below"):
        offered(heavy_dog(target_weight_kg=44))


@pytest.mark.parametrize(
    ("adult_kg", "first"), [(40, "growth.dog.large"), (12, "growth.dog.nrc"), (None, "growth.dog.rest_steps")]
)
def test_growth_offers_what_is_known_enough_for(adult_kg, first: str) -> None:
    young = grown_dog(stage="growth", weight_kg=6, age_months=4, expected_adult_kg=adult_kg)
    assert offered(young)[0] == first


def test_nothing_is_offered_to_a_kitten_of_unknown_adult_weight() -> None:
    assert offered(grown_dog(species="cat", stage="growth", weight_kg=2, age_months=4)) == []


def test_a_mother_is_reckoned_from_her_weight_before_breeding() -> None:
    pregnant = grown_dog(conditions=frozenset({condition.PREGNANT}))
    nursing = grown_dog(conditions=frozenset({condition.PREGNANT, condition.NURSING}))
    assert offered(pregnant) == []
    assert offered(pregnant, weight_before_kg=18, week=6) == ["gestation.dog.late"]
    assert offered(nursing, weight_before_kg=18, week=2, young=5) == [
        "lactation.dog",
        "lactation.dog.rest",
    ]


def test_gaining_has_no_formula() -> None:
    assert offered(grown_dog(bcs=3, aim="gain")) == []
