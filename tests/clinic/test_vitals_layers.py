"""The three layers of a limit: impossible, rare, outside the interval; and what goes with them."""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clinic.patients.limit_table import Setting, Sign, State, default_limits
from clinic.patients.units import Unit
from clinic.patients.urgency import Urgency
from clinic.patients.vitals import (
    Context,
    Flag,
    Kind,
    LastValue,
    Method,
    interval_words,
    judge,
    rate_from_count,
)

DOG = Context("dog", Setting.CLINIC, age_days=2000)
CAT = Context("cat", Setting.CLINIC, age_days=2000)
NUMBER_UNITS = [
    (Kind.WEIGHT, Unit.KG),
    (Kind.TEMPERATURE, Unit.CELSIUS),
    (Kind.HEART_RATE, Unit.PER_MIN),
    (Kind.RESPIRATORY_RATE, Unit.PER_MIN),
    (Kind.BLOOD_PRESSURE, Unit.MMHG),
    (Kind.BCS, Unit.BCS_9),
    (Kind.IOP_LEFT, Unit.MMHG),
]


def temperature(value, context=DOG, unit=Unit.CELSIUS):
    return judge(Kind.TEMPERATURE, Decimal(value), unit, context)


def breaths(value, context):
    return judge(Kind.RESPIRATORY_RATE, Decimal(value), Unit.PER_MIN, context)


def heart(value, context=DOG):
    return judge(Kind.HEART_RATE, Decimal(value), Unit.PER_MIN, context)


@pytest.mark.parametrize("value", ["25.0", "44.0"])
def test_a_hard_limit_itself_is_possible(value):
    assert temperature(value).accepted


@pytest.mark.parametrize("value", ["NaN", "Infinity", "-1", "1E+30", "38.123"])
def test_what_no_thermometer_shows_is_refused(value):
    assert not temperature(value).accepted


def test_celsius_typed_as_fahrenheit_is_offered_back():
    (offer,) = temperature("38.6", unit=Unit.FAHRENHEIT).offers
    assert (offer.unit, offer.canonical) == (Unit.CELSIUS, Decimal("38.6"))


def test_a_rare_value_is_asked_about_and_kept():
    found = heart("230", replace(DOG, state=State.CALM))
    assert found.accepted
    assert [question.key for question in found.questions] == ["rare-high"]


def test_a_unit_of_another_kind_is_refused():
    assert "not measured in kg" in judge(Kind.TEMPERATURE, Decimal(38), Unit.KG, DOG).refused


def test_an_unknown_word_is_refused():
    assert not judge(Kind.MCS, "B", Unit.MCS_4, DOG).accepted
    assert not judge(Kind.PAIN, Decimal(2), Unit.PAIN_4, DOG).accepted


def test_a_cats_borderline_fever_is_flagged_with_its_note():
    found = temperature("39.1", CAT)
    assert found.flag is Flag.HIGH
    assert found.notes[0].startswith("Borderline")
    assert not temperature("39.3", CAT).notes


@pytest.mark.parametrize(
    ("value", "species", "inside"),
    [
        ("103.1", "dog", True),
        ("103.2", "dog", False),
        ("102.1", "cat", True),
        ("98.1", "cat", True),
        ("97.9", "cat", False),
    ],
)
def test_printed_fahrenheit_limits_are_inside(value, species, inside):
    found = temperature(value, replace(DOG, species=species), Unit.FAHRENHEIT)
    assert (found.flag is Flag.INSIDE) is inside


def test_forty_degrees_is_urgent_only_in_a_dull_or_hot_animal():
    assert temperature("40.0").urgency is Urgency.TREAT_SOON
    assert temperature("40.0", replace(DOG, signs=frozenset({Sign.DULL}))).see_now
    assert temperature("41.0").see_now


def test_cold_is_graded():
    assert any("Moderate" in note for note in temperature("30.0").notes)
    assert temperature("35.9").see_now
    assert not temperature("36.0").see_now


def test_a_sick_cold_newborn_is_an_emergency():
    newborn = replace(DOG, age_days=10)
    assert temperature("34.0", newborn).urgency is Urgency.TREAT_SOON
    assert temperature("34.0", replace(newborn, signs=frozenset({Sign.DULL}))).see_now


def test_the_soft_minimum_is_lower_in_the_newborn():
    assert temperature("33.0", replace(CAT, age_days=1)).questions == ()
    assert temperature("33.0", CAT).questions


def test_a_puppy_of_six_weeks_may_be_as_warm_as_an_adult():
    found = temperature("38.9", replace(DOG, age_days=42))
    assert (found.flag, found.codes) == (Flag.INSIDE, ())
    assert "printed puppy range" in found.notes[0]
    assert temperature("39.6", replace(DOG, age_days=42)).codes == ("VIT-01",)


def test_unknown_age_is_judged_as_adult_and_says_so():
    assert "Age not known: judged as an adult." in heart("200", replace(DOG, age_days=None)).notes


def test_an_excited_dog_is_not_an_emergency():
    assert heart("185", replace(DOG, state=State.EXCITED)).urgency is Urgency.RECHECK
    assert heart("185").see_now


@pytest.mark.parametrize(("rate", "flagged"), [(120, False), (119, True), (220, False), (221, True)])
def test_the_cats_heart_limits_are_inside(rate, flagged):
    assert bool(heart(rate, CAT).codes) is flagged


def test_a_pulse_above_the_heart_is_refused_whichever_came_first():
    pulse = judge(Kind.PULSE_RATE, Decimal(120), Unit.PER_MIN, replace(DOG, heart_rate=Decimal(96)))
    assert "count both again" in pulse.refused
    assert "count both again" in heart(96, replace(DOG, pulse_rate=Decimal(120))).refused


def test_a_pulse_equal_to_the_heart_is_no_finding():
    found = judge(Kind.PULSE_RATE, Decimal(96), Unit.PER_MIN, replace(DOG, heart_rate=Decimal(96)))
    assert (found.codes, found.deficit) == ((), 0)


def test_a_deficit_with_a_fast_heart_is_an_emergency():
    assert judge(Kind.PULSE_RATE, Decimal(120), Unit.PER_MIN, replace(DOG, heart_rate=Decimal(200))).see_now


def test_a_pulse_alone_is_judged_like_a_heart():
    assert judge(Kind.PULSE_RATE, Decimal(170), Unit.PER_MIN, DOG).codes == ("VIT-03",)


def test_breathing_with_effort_is_alarming_whatever_the_number():
    found = breaths(64, replace(CAT, signs=frozenset({Sign.EFFORT})))
    assert set(found.codes) == {"VIT-05", "LUN-02"}
    assert found.see_now
    assert breaths(30, replace(CAT, signs=frozenset({Sign.EFFORT}))).codes == ("LUN-02",)


@pytest.mark.parametrize(
    ("species", "setting", "rate", "flagged"),
    [
        ("dog", Setting.HOME_ASLEEP, 30, False),
        ("dog", Setting.HOME_ASLEEP, 31, True),
        ("dog", Setting.CLINIC, 40, False),
        ("dog", Setting.CLINIC, 41, True),
        ("cat", Setting.CLINIC, 135, False),
        ("cat", Setting.CLINIC, 136, True),
    ],
)
def test_the_setting_decides_what_is_fast(species, setting, rate, flagged):
    assert bool(breaths(rate, Context(species, setting, age_days=2000)).codes) is flagged


def test_fast_sleeping_breaths_of_a_heart_patient_are_an_emergency():
    asleep = Context("dog", Setting.HOME_ASLEEP, age_days=3000, signs=frozenset({Sign.HEART_DISEASE}))
    assert breaths(41, asleep).see_now
    assert not breaths(40, asleep).see_now


def test_a_quarter_more_than_its_usual_is_said():
    asleep = Context("dog", Setting.HOME_ASLEEP, age_days=3000)
    last = {Kind.RESPIRATORY_RATE: LastValue(Decimal(16), 30, Setting.HOME_ASLEEP)}
    assert any("Up 25 %" in note for note in breaths(20, replace(asleep, last=last)).notes)
    assert breaths(19, replace(asleep, last=last)).notes == ()


@pytest.mark.parametrize(
    ("typed", "category", "codes"),
    [
        ("over-3", "over-3", ("VIT-12",)),
        ("cannot-assess", "cannot-assess", ()),
        (Decimal("2.0"), "1-2", ()),
        (Decimal("2.1"), "over-2-to-3", ("VIT-12",)),
        (Decimal("3.1"), "over-3", ("VIT-12",)),
    ],
)
def test_refill_is_kept_as_its_step(typed, category, codes):
    found = judge(Kind.CAPILLARY_REFILL, typed, Unit.SECONDS, DOG)
    assert (found.category, found.codes, found.see_now) == (category, codes, category == "over-3")


def test_half_points_only_where_the_practice_scores_them():
    assert not judge(Kind.BCS, Decimal("4.5"), Unit.BCS_9, DOG).accepted
    assert judge(Kind.BCS, Decimal("4.5"), Unit.BCS_9, replace(DOG, half_points=True)).accepted


@pytest.mark.parametrize(
    ("word", "code", "urgency"),
    [("mild", "GEN-17", "R"), ("moderate", "GEN-18", "T"), ("severe", "GEN-19", "E")],
)
def test_pain_is_a_word(word, code, urgency):
    found = judge(Kind.PAIN, word, Unit.PAIN_4, DOG)
    assert (found.codes, found.urgency) == ((code,), urgency)


def test_eyes_far_apart_are_said():
    context = replace(DOG, other_eye=Decimal(12), method=Method(device="rebound"))
    found = judge(Kind.IOP_LEFT, Decimal(20), Unit.MMHG, context)
    assert found.complete
    assert "differ by 8 mmHg" in found.notes[0]


def test_a_weight_near_twice_the_last_is_asked_about_with_an_offer():
    context = replace(DOG, last={Kind.WEIGHT: LastValue(Decimal(5), 60)})
    (question,) = judge(Kind.WEIGHT, Decimal(11), Unit.KG, context).questions
    assert question.key == "slip-pounds"
    assert question.offer.canonical == Decimal("4.989516")


def test_a_cat_too_heavy_in_kilograms_may_be_pounds():
    found = judge(Kind.WEIGHT, Decimal(25), Unit.KG, CAT)
    assert [offer.text for offer in found.offers] == ["25 lb = 11.34 kg"]


@pytest.mark.parametrize("seconds", [4, 121])
def test_a_count_needs_a_fair_time(seconds):
    with pytest.raises(ValueError, match="seconds"):
        rate_from_count(10, seconds)


def test_an_interval_reads_aloud():
    assert interval_words(temperature("38").interval, Unit.CELSIUS) == "37.7–39.5 °C"
    assert interval_words(breaths(20, replace(DOG, setting=Setting.HOME_ASLEEP)).interval, Unit.PER_MIN) == (
        "up to 30 a minute"
    )
    assert interval_words(judge(Kind.BCS, Decimal(5), Unit.BCS_9, CAT).interval, Unit.BCS_9) == "5 of 9"


@given(
    kind_unit=st.sampled_from(NUMBER_UNITS),
    value=st.decimals(allow_nan=True, allow_infinity=True),
    species=st.sampled_from(["dog", "cat"]),
    setting=st.sampled_from(list(Setting)),
    age=st.none() | st.integers(0, 8000),
)
def test_whatever_is_typed_gets_an_answer(kind_unit, value, species, setting, age):
    found = judge(kind_unit[0], value, kind_unit[1], Context(species, setting, age_days=age))
    assert found.accepted is (found.canonical is not None)
    assert found.accepted or not (found.suggestions or found.questions or found.flag)


@given(tenths=st.integers(250, 440), age=st.none() | st.integers(0, 8000))
def test_a_temperature_says_the_same_in_both_units(tenths, age):
    celsius = Decimal(tenths) / 10
    context = Context("dog", Setting.CLINIC, age_days=age)
    one, other = temperature(celsius, context), temperature(celsius * 9 / 5 + 32, context, Unit.FAHRENHEIT)
    assert (one.canonical, one.flag, one.codes, one.urgency) == (
        other.canonical,
        other.flag,
        other.codes,
        other.urgency,
    )


@given(
    low=st.integers(15, 349), species=st.sampled_from(["dog", "cat"]), age=st.none() | st.integers(0, 8000)
)
def test_a_faster_heart_is_never_lower(low, species, age):
    order = {Flag.LOW: 0, Flag.INSIDE: 1, Flag.HIGH: 2}
    context = Context(species, Setting.CLINIC, age_days=age)
    one, other = heart(low, context), heart(low + 1, context)
    if one.accepted and other.accepted:
        assert order[one.flag] <= order[other.flag]


@given(kind=st.sampled_from(list(Kind)), age=st.none() | st.integers(0, 8000))
def test_every_kind_has_limits_for_every_age(kind, age):
    for species in ("dog", "cat"):
        rows = [row for row in default_limits().plausible if row.kind == kind.subject]
        assert not rows or any(row.scope.fits(species, age, Setting.CLINIC) for row in rows)
