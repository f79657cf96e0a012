"""What one dose holds for each kilogram is arithmetic on what was written; silence where it does not fit."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clinic.care.amounts import given_in_a_dose, in_words
from fixtures.demo.medicines import told


@pytest.mark.parametrize(
    ("strength", "dose", "ingredients", "kg", "words"),
    [
        ("50 mg in a chew", "half a chew", ["carprofen"], 12.5, "carprofen 25 mg, 2 mg/kg"),
        ("50 mg in a chew", "1 chew", ["carprofen"], None, "carprofen 50 mg"),
        ("250 mg in a tablet", "1½ tablets", ["amoxicillin"], 30, "amoxicillin 375 mg, 12.5 mg/kg"),
        ("250 mg in a tablet", "½ tablet", ["amoxicillin"], 10, "amoxicillin 125 mg, 12.5 mg/kg"),
        ("0.5 mg in 1 ml", "0,8 ml", ["meloxicam"], 4, "meloxicam 0.4 mg, 0.1 mg/kg"),
        ("1 g in 10 ml", "2 ml", ["x"], 20, "x 200 mg, 10 mg/kg"),
        ("100 µg/ml", "1 ml", ["x"], 5, "x 0.1 mg, 0.02 mg/kg"),
        (
            "3 mg and 1 mg in 1 ml",
            "2 ml",
            ["gentamicin", "dexamethasone"],
            10,
            "gentamicin 6 mg, 0.6 mg/kg; dexamethasone 2 mg, 0.2 mg/kg",
        ),
    ],
)
def test_it_is_reckoned_where_units_fit(strength, dose, ingredients, kg, words) -> None:
    told = given_in_a_dose(strength=strength, dose=dose, ingredients=ingredients, weight_kg=kg)
    assert in_words(told) == words


@pytest.mark.parametrize(
    ("strength", "dose", "ingredients"),
    [
        ("10 mg in 1 ml", "5 drops", ["miconazole"]),
        ("250 mg in a tablet", "1 ml", ["amoxicillin"]),
        ("250 mg", "1 tablet", ["amoxicillin"]),
        ("strong", "1 tablet", ["amoxicillin"]),
        ("250 mg in a tablet", "as needed", ["amoxicillin"]),
        ("250 mg in a tablet", "", ["amoxicillin"]),
        ("3 mg and 1 mg in 1 ml", "1 ml", ["gentamicin"]),
        ("5 mg in 0 ml", "1 ml", ["x"]),
    ],
)
def test_nothing_is_said_where_they_do_not(strength, dose, ingredients) -> None:
    assert given_in_a_dose(strength=strength, dose=dose, ingredients=ingredients, weight_kg=10) == ()


IN_UNITS = "Larkwell insulin"  # counted by what it does: its weight says nothing


@pytest.mark.parametrize("listed", [x for x in told() if x.name != IN_UNITS], ids=lambda each: each.name)
def test_the_demos_own_strengths_are_read(listed) -> None:
    """Each as its own unit, so that what is listed can be reckoned with."""
    unit = listed.strength.rpartition(" ")[2]
    inside = given_in_a_dose(
        strength=listed.strength, dose=f"1 {unit}", ingredients=listed.ingredients, weight_kg=10
    )
    assert [each.ingredient for each in inside] == list(listed.ingredients)


@given(st.floats(0.1, 500), st.floats(0.1, 20), st.floats(0.2, 90))
def test_pounds_for_kilograms_would_show(mg: float, count: float, kg: float) -> None:
    """Twice the weight halves the figure; the same slip in the dose doubles it."""
    strength, dose = f"{mg:.2f} mg in a tablet", f"{count:.2f} tablets"
    one = given_in_a_dose(strength=strength, dose=dose, ingredients=["x"], weight_kg=kg)[0]
    two = given_in_a_dose(strength=strength, dose=dose, ingredients=["x"], weight_kg=2 * kg)[0]
    assert one.mg_per_kg == pytest.approx(2 * two.mg_per_kg, abs=2e-4)
    assert one.mg == two.mg


@given(st.text(max_size=40), st.text(max_size=40))
def test_no_text_breaks_it(strength: str, dose: str) -> None:
    given_in_a_dose(strength=strength, dose=dose, ingredients=["x"], weight_kg=5)
