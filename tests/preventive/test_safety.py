import pytest

from preventive.dates import Span
from preventive.facts import Abcb1, Species
from preventive.safety import PreventiveProduct, safety_questions
from tests.preventive.build import cat, day, dog, history, result, supply, under

ON = day("2025-06-01")
ADULT = "2022-01-01"


def product(*ingredients, **facts):
    return PreventiveProduct(name="Invented", ingredients=ingredients, **facts)


def asked(animal, item, what=None, **facts):
    found = safety_questions(animal, item, what or history(), under(), ON, **facts)
    return [(question.code, question.level) for question in found]


@pytest.mark.parametrize(
    ("animal", "item", "expected"),
    [
        (cat(ADULT), product("Permethrin"), ("permethrin_cat", "stop")),
        (dog(ADULT, "cats_in_home"), product("permethrin"), ("permethrin_home", "warn")),
        (dog(ADULT), product("permethrin"), ("permethrin_home_unknown", "ask")),
        (dog(ADULT, abcb1=Abcb1.TWO_MUTANT), product("moxidectin"), ("abcb1", "warn")),
        (dog(ADULT, abcb1=Abcb1.ONE_MUTANT), product("ivermectin"), ("abcb1", "warn")),
        (dog(ADULT, abcb1_breed=True), product("moxidectin"), ("abcb1_unknown", "ask")),
        (
            dog(ADULT, conditions=frozenset({"seizures"})),
            product("fluralaner"),
            ("isoxazoline_seizures", "warn"),
        ),
        (cat(ADULT), product("lotilaner"), ("isoxazoline_history", "ask")),
        (cat(ADULT), product("pyrantel", species=(Species.DOG,)), ("wrong_species", "stop")),
        (dog("2025-04-07"), product("pyrantel", min_age=Span.parse("8 wk")), ("too_young", "stop")),
        (dog(None), product("pyrantel", min_age=Span.parse("8 wk")), ("age_unknown", "ask")),
        (dog(ADULT, weight_kg=4.4), product("pyrantel", min_weight_kg=4.5), ("too_light", "stop")),
        (dog(ADULT, weight_kg=10.1), product("pyrantel", max_weight_kg=10.0), ("too_heavy", "stop")),
        (dog(ADULT), product("pyrantel", max_weight_kg=10.0), ("weight_unknown", "ask")),
        (
            dog("2025-01-06", weight_kg=9.0, weighed_on="2025-04-01"),
            product("pyrantel", max_weight_kg=10.0),
            ("weight_old", "ask"),
        ),
    ],
)
def test_one_danger_raises_its_one_question(animal, item, expected):
    assert asked(animal, item) == [expected]


def test_a_harmless_product_raises_no_question():
    assert (
        asked(dog(ADULT, no=["cats_in_home"], weight_kg=10.0), product("pyrantel", max_weight_kg=10.0)) == []
    )
    assert asked(dog(ADULT, no=["cats_in_home"]), product("permethrin")) == []
    assert asked(dog(ADULT, abcb1=Abcb1.NORMAL, abcb1_breed=True), product("moxidectin")) == []


def test_two_of_one_class_are_not_stacked():
    other = supply("2025-05-20", ingredients=("milbemycin oxime",), product="Other")
    assert asked(dog(ADULT), product("moxidectin"), history(supplies=(other,))) == [("same_class", "warn")]
    run_out = supply("2025-04-20", ingredients=("milbemycin oxime",), product="Other")
    assert asked(dog(ADULT), product("moxidectin"), history(supplies=(run_out,))) == []
    assert asked(dog(ADULT), product("moxidectin"), in_use=("ivermectin",)) == [("same_class", "warn")]


HEARTWORM = product("moxidectin", protects=frozenset({"heartworm"}))
NEGATIVE = (result("heartworm_ag", "2025-05-28"), result("heartworm_mf", "2025-05-28"))


@pytest.mark.parametrize(
    ("birth", "tests", "supplies", "expected"),
    [
        ("2024-11-02", (), (), []),
        ("2024-11-01", (), (), [("untested", "warn")]),
        (ADULT, NEGATIVE, (), []),
        (ADULT, NEGATIVE[:1], (), [("untested", "warn")]),
        (ADULT, (), (supply("2025-05-01"),), []),
        (ADULT, (*NEGATIVE[:1], result("heartworm_mf", "2025-05-28", True)), (supply("2025-05-01"),),
         [("mf_positive", "stop")]),
        (ADULT, (result("heartworm_ag", "2025-05-28", True),), (supply("2025-05-01"),),
         [("heartworm_positive", "stop")]),
    ],
)  # fmt: skip
def test_heartworm_is_tested_before_a_preventive(birth, tests, supplies, expected):
    assert asked(dog(birth), HEARTWORM, history(tests=tests, supplies=supplies)) == expected


def test_stops_come_first():
    levels = [level for _, level in asked(cat(ADULT), product("lotilaner", "permethrin"))]
    assert levels == ["stop", "ask"]
