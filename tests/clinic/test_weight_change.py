"""Change of weight: slips against growth, alerts by what is known, trend over a year."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clinic.patients.limit_table import Sign
from clinic.patients.units import Unit, from_canonical, shown_weight, to_canonical
from clinic.patients.urgency import Urgency
from clinic.patients.weight import (
    NotAWeight,
    Weighing,
    WeightFacts,
    WrongOrder,
    annualised_percent,
    change,
    detect_slip,
    expected_newborn_kg,
    last_comparable,
    trend,
    weight_alerts,
)

DAY = date(2026, 3, 1)
DOG = WeightFacts("dog", 5 * 365, planned=False)
CAT = WeightFacts("cat", 5 * 365, planned=False)
KG = st.decimals(min_value=Decimal("0.05"), max_value=Decimal(150), places=3)


def alerts(old, new, days, facts):
    return weight_alerts(
        Weighing(DAY, Decimal(old)), Weighing(DAY + timedelta(days=days), Decimal(new)), facts
    )


def test_nothing_is_said_before_planned_is_asked():
    assert alerts(20, 18, 90, replace(DOG, planned=None)).ask_planned
    assert not alerts(20, 18, 90, DOG).ask_planned
    assert not alerts(20, "19.5", 90, replace(DOG, planned=None)).ask_planned


def test_fluid_loss_is_no_weight_loss():
    found = alerts(20, 17, 30, replace(DOG, fluid=True))
    assert found.codes == ()
    assert "fluid" in found.notes[0]


@pytest.mark.parametrize(
    ("facts", "urgency"),
    [
        (DOG, "R"),
        (replace(DOG, signs=frozenset({Sign.SENIOR})), "T"),
        (replace(DOG, signs=frozenset({Sign.MUSCLE_LOSS})), "T"),
        (replace(CAT, age_days=11 * 365), "T"),
    ],
)
def test_a_small_loss_weighs_more_in_the_old_and_wasted(facts, urgency):
    found = alerts("5.0", "4.7", 90, facts)
    assert (found.codes, found.urgency) == (("VIT-18",), urgency)


def test_a_large_loss_without_appetite_is_an_emergency():
    assert alerts(20, 17, 90, replace(DOG, signs=frozenset({Sign.NOT_EATING}))).urgency is Urgency.EMERGENCY


def test_gain_is_flagged_in_adults_that_are_not_pregnant():
    assert alerts(20, 22, 90, DOG).codes == ("VIT-20",)
    assert alerts(20, 22, 90, replace(DOG, pregnant=True)).codes == ()
    assert alerts(10, 13, 30, replace(DOG, age_days=200)).codes == ()
    grown_since = replace(CAT, age_days=430)  # weighed at three months, and now
    assert alerts("2.2", "3.5", 343, grown_since).codes == ()
    assert alerts("4.0", "5.0", 90, grown_since).codes == ("VIT-20",)


def test_any_loss_while_growing_is_poor_growth():
    assert alerts("4.0", "3.95", 14, replace(DOG, age_days=100)).codes == ("BCM-12",)
    assert alerts("4.0", "4.05", 14, replace(DOG, age_days=100)).codes == ()


def test_a_newborn_that_does_not_gain_in_a_day_is_an_emergency():
    found = alerts("0.150", "0.150", 1, replace(CAT, age_days=6))
    assert (found.codes, found.urgency) == (("BCM-12",), "E")


@pytest.mark.parametrize(("kg", "codes"), [("0.091", ()), ("0.090", ()), ("0.089", ("BCM-12",))])
def test_a_tenth_may_be_lost_on_the_first_day(kg, codes):
    facts = replace(CAT, age_days=1, birth_kg=Decimal("0.1"))
    assert alerts("0.100", kg, 1, facts).codes == codes


def test_a_diet_too_fast_is_said():
    found = alerts(20, 19, 14, replace(DOG, planned=True))
    assert found.codes == ()
    assert "too fast" in found.suggestions[0].because


def test_a_cat_that_thins_fast_is_treated_soon_even_on_a_diet():
    found = alerts("6.0", "5.6", 14, replace(CAT, planned=True))
    assert found.urgency is Urgency.TREAT_SOON
    assert "fatty liver" in found.suggestions[0].because


def test_an_obese_cat_that_does_not_eat_is_treated_soon():
    found = weight_alerts(None, Weighing(DAY, Decimal(8)), replace(CAT, obese=True, hours_not_eating=24))
    assert found.urgency is Urgency.TREAT_SOON


def test_a_day_apart_gives_no_weekly_rate():
    assert change(Weighing(DAY, Decimal(20)), Weighing(DAY, Decimal(19))).percent_per_week is None


def test_weighings_must_be_in_order():
    with pytest.raises(WrongOrder):
        change(Weighing(DAY, Decimal(20)), Weighing(DAY - timedelta(days=1), Decimal(19)))


@pytest.mark.parametrize("kg", ["0", "-1", "NaN"])
def test_nothing_weighs_nothing(kg):
    with pytest.raises(NotAWeight):
        detect_slip(Decimal(kg), Decimal(1))


@pytest.mark.parametrize(
    ("last", "new", "slip"),
    [
        ("5", "10", True),
        ("5", "12", True),
        ("5", "9.99", False),
        ("5", "12.01", False),
        ("5", "2.1", True),
        ("5", "2.5", True),
        ("5", "45", True),
        ("5", "56", False),
        ("5", "0.45", True),
    ],
)
def test_the_ends_of_a_slip_count(last, new, slip):
    assert bool(detect_slip(Decimal(last), Decimal(new))) is slip


def test_growth_is_no_slip():
    assert detect_slip(Decimal("2.0"), Decimal("4.4"), age_days=100, days_between=42) is None
    assert detect_slip(Decimal("2.0"), Decimal("4.4"), age_days=100, days_between=21)
    assert detect_slip(Decimal("10"), Decimal("22"), age_days=330, days_between=40)
    assert detect_slip(Decimal("4.4"), Decimal("2.0"), age_days=100, days_between=42)


def test_puppies_double_sooner_than_kittens():
    assert expected_newborn_kg("dog", Decimal("0.3"), 10) == Decimal("0.6")
    assert expected_newborn_kg("cat", Decimal("0.1"), 7) == Decimal("0.15")


def test_the_last_calibrated_weighing_is_compared_with():
    home = Weighing(DAY - timedelta(days=5), Decimal(30), calibrated=False)
    clinic = Weighing(DAY - timedelta(days=50), Decimal(20))
    assert last_comparable([home, clinic, Weighing(DAY, Decimal(19))], before=DAY) == clinic
    assert last_comparable([home], before=DAY) is None


def test_small_losses_add_up_over_a_year():
    steps = [Weighing(DAY - timedelta(days=90 * back), Decimal(20 + back) / 4) for back in (0, 1, 2, 3, 4, 5)]
    found = trend(steps, as_of=DAY)
    assert (found.weighings, found.first.kg) == (5, Decimal(6))
    assert round(found.percent, 1) == Decimal("-16.7")


def test_two_weeks_give_no_yearly_rate():
    found = trend(
        [Weighing(DAY, Decimal(20)), Weighing(DAY + timedelta(days=14), Decimal(19))], DAY + timedelta(14)
    )
    assert found.percent == -5
    assert found.percent_per_year is None


def test_one_weighing_is_no_trend():
    assert trend([Weighing(DAY, Decimal(20))], as_of=DAY) is None


def test_grams_are_shown_for_the_newborn():
    assert shown_weight(Decimal("0.15")) == "150 g (0.33 lb)"


@given(KG)
def test_pounds_go_there_and_back(pounds):
    assert round(from_canonical(to_canonical(pounds, Unit.LB), Unit.LB), 9) == pounds


@given(KG, KG)
def test_a_slip_taken_back_is_near_the_last_weight(last, new):
    slip = detect_slip(last, new)
    if slip:
        assert Decimal("0.85") * last < slip.offer_kg < Decimal("1.2") * last


@given(st.decimals(min_value=-50, max_value=50, places=2))
def test_a_year_at_its_own_rate_is_itself(percent):
    assert round(annualised_percent(percent, Decimal("365.25")), 6) == percent
