"""Agreed facts about weights and their change, each with its source."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from clinic.patients.limit_table import Setting
from clinic.patients.units import Unit, shown_weight, to_canonical
from clinic.patients.vitals import Context, Kind, judge
from clinic.patients.weight import (
    SlipKind,
    Weighing,
    WeightFacts,
    annualised_percent,
    change,
    detect_slip,
    percent_change,
    weight_alerts,
)

COMMON = "common practice"
DAY = date(2026, 3, 1)
ADULT = 5 * 365


def weighings(old, new, days):
    return Weighing(DAY, Decimal(old)), Weighing(DAY + timedelta(days=days), Decimal(new))


@pytest.mark.parametrize(
    ("case", "new", "percent", "codes", "source"),
    [
        ("exam-W01", "19.1", "-4.5", (), COMMON),
        ("exam-W02", "18.9", "-5.5", ("VIT-18",), COMMON),
        ("exam-W02", "18.0", "-10.0", ("VIT-19",), COMMON),
        ("exam-W02", "22.0", "10.0", ("VIT-20",), COMMON),
    ],
)
def test_unplanned_change_suggests_its_code(case, new, percent, codes, source):
    old, now = weighings("20.0", new, 90)
    alerts = weight_alerts(old, now, WeightFacts("dog", ADULT, planned=False))
    assert alerts.change.percent == Decimal(percent)
    assert alerts.codes == codes


@pytest.mark.parametrize(("case", "source"), [("exam-W04", COMMON)])
def test_planned_loss_shows_its_rate_and_no_finding(case, source):
    old, now = weighings("20.0", "18.0", 84)
    alerts = weight_alerts(old, now, WeightFacts("dog", ADULT, planned=True))
    assert alerts.codes == ()
    assert round(change(old, now).percent_per_week, 2) == Decimal("-0.83")
    assert any("0.83 %" in note for note in alerts.notes)


@pytest.mark.parametrize(
    ("case", "last", "new", "ratio", "kind", "source"),
    [
        ("exam-W05", "5.0", "11.0", "2.20", SlipKind.POUNDS, "arithmetic"),
        ("exam-W05", "11.0", "5.0", "0.45", SlipKind.POUNDS, "arithmetic"),
        ("exam-W07", "4.5", "45", "10.00", SlipKind.DECIMAL, "arithmetic"),
        ("exam-W07", "45", "4.5", "0.10", SlipKind.DECIMAL, "arithmetic"),
    ],
)
def test_a_slip_is_noticed(case, last, new, ratio, kind, source):
    slip = detect_slip(Decimal(last), Decimal(new))
    assert (slip.kind, slip.ratio) == (kind, Decimal(ratio))


@pytest.mark.parametrize(
    ("case", "typed", "accepted", "asked", "source"),
    [
        ("exam-W08", "25", False, (), COMMON),
        ("exam-W09", "12", True, ("rare-high",), COMMON),
        ("exam-W09", "5", True, (), COMMON),
    ],
)
def test_cat_weights_have_two_limits(case, typed, accepted, asked, source):
    found = judge(Kind.WEIGHT, Decimal(typed), Unit.KG, Context("cat", Setting.CLINIC, age_days=ADULT))
    assert found.accepted is accepted
    assert tuple(question.key for question in found.questions) == asked


@pytest.mark.parametrize(
    ("case", "source"), [("exam-W11", "Small Animal Clinical Nutrition 5th ed, Table 23-1; Little")]
)
def test_a_kitten_that_has_not_doubled_grows_poorly(case, source):
    facts = WeightFacts("cat", 14, birth_kg=Decimal("0.1"))
    poor = weight_alerts(None, Weighing(DAY, Decimal("0.15")), facts)
    assert poor.codes == ("BCM-12",)
    assert "200 g" in poor.suggestions[0].because
    assert weight_alerts(None, Weighing(DAY, Decimal("0.2")), facts).codes == ()


@pytest.mark.parametrize(("case", "source"), [("exam-W12", "arithmetic")])
def test_pounds_become_kilograms(case, source):
    kg = to_canonical(Decimal("12.4"), Unit.LB)
    assert kg == Decimal("5.624545388")
    assert shown_weight(kg) == "5.62 kg (12.4 lb)"


@pytest.mark.parametrize("source", ["arithmetic: 1 - 0.94^4"])
def test_six_percent_a_quarter_is_about_22_a_year(source):
    assert round(annualised_percent(Decimal(-6), Decimal("91.3125")), 1) == Decimal("-21.9")


def test_percent_is_of_the_old_weight():
    assert percent_change(Decimal(20), Decimal(25)) == 25
