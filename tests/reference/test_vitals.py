"""Published and agreed facts about vital signs, each with its source."""

from decimal import Decimal

import pytest

from clinic.patients.limit_table import Setting, Sign, State
from clinic.patients.units import Unit
from clinic.patients.urgency import Urgency
from clinic.patients.vitals import Context, Kind, Method, check_pressure_label, judge, rate_from_count

CLINIC, ASLEEP = Setting.CLINIC, Setting.HOME_ASLEEP
DORN = "Dorn et al., Animals 2024;14(13):1970"
LEVY = "Levy, Nutt, Tucker, J Feline Med Surg 2015;17:950-952"
SACN16 = "Small Animal Clinical Nutrition 5th ed, Table 16-1"
SACN23 = "Small Animal Clinical Nutrition 5th ed, Table 23-1"
BLOIS = "Blois, Clinical Medicine 1, University of Guelph 2021"
MERCK = "Merck Veterinary Manual, emergency assessment table"
DIJKSTRA = "Dijkstra, Teske, Szatmari, Vet J 2018;234:96-101"
RISHNIW = "Rishniw et al., Res Vet Sci 2012;93:965-969"
TELEMETRY = "Heart rate in 16 healthy cats by telemetry, J Feline Med Surg 2005"
COMMON = "common practice"
UNITS = {
    Kind.TEMPERATURE: Unit.CELSIUS,
    Kind.HEART_RATE: Unit.PER_MIN,
    Kind.RESPIRATORY_RATE: Unit.PER_MIN,
    Kind.CAPILLARY_REFILL: Unit.SECONDS,
}

NO_FLAG = [
    ("exam-V01", "dog", Kind.TEMPERATURE, "38.6", CLINIC, None, None, DORN),
    ("exam-V02", "dog", Kind.TEMPERATURE, "39.5", CLINIC, None, None, DORN),
    ("exam-V05", "cat", Kind.TEMPERATURE, "36.7", CLINIC, None, None, LEVY),
    ("exam-V11", "dog", Kind.TEMPERATURE, "35.6", CLINIC, 10, None, SACN16),
    ("exam-V13", "cat", Kind.TEMPERATURE, "34.0", CLINIC, 1, None, SACN23),
    ("exam-V14", "dog", Kind.HEART_RATE, "64", CLINIC, None, None, BLOIS),
    ("exam-V17", "cat", Kind.HEART_RATE, "187", CLINIC, None, State.HELD, TELEMETRY),
    ("exam-V20", "dog", Kind.HEART_RATE, "235", CLINIC, 10, None, SACN16),
    ("exam-V23", "cat", Kind.RESPIRATORY_RATE, "64", CLINIC, None, None, DIJKSTRA),
    ("exam-V25", "cat", Kind.RESPIRATORY_RATE, "28", ASLEEP, None, None, DIJKSTRA),
    ("exam-V26", "dog", Kind.RESPIRATORY_RATE, "13", ASLEEP, None, None, RISHNIW),
]


@pytest.mark.parametrize(("case", "species", "kind", "value", "setting", "age", "state", "source"), NO_FLAG)
def test_a_healthy_value_raises_no_flag(case, species, kind, value, setting, age, state, source):
    context = Context(species, setting, age_days=age, state=state)
    found = judge(kind, Decimal(value), UNITS[kind], context)
    assert (found.refused, found.flag, found.suggestions, found.questions) == ("", "inside", (), ())


FLAGGED = [
    ("exam-V03", "dog", Kind.TEMPERATURE, "39.6", CLINIC, set(), None, "VIT-01", "T", DORN),
    ("exam-V06", "cat", Kind.TEMPERATURE, "36.6", CLINIC, set(), None, "VIT-02", "T", LEVY),
    ("exam-V08", "dog", Kind.TEMPERATURE, "41.2", CLINIC, set(), None, "VIT-01", "E", COMMON),
    ("exam-V15", "dog", Kind.HEART_RATE, "170", CLINIC, set(), State.CALM, "VIT-03", "R", MERCK),
    ("exam-V16", "dog", Kind.HEART_RATE, "185", CLINIC, set(), State.CALM, "VIT-03", "E", MERCK),
    ("exam-V18", "cat", Kind.HEART_RATE, "112", CLINIC, {Sign.DULL}, None, "VIT-04", "E", MERCK),
    ("exam-V24", "cat", Kind.RESPIRATORY_RATE, "64", ASLEEP, set(), None, "VIT-05", "R", DIJKSTRA),
    ("exam-V32", "dog", Kind.CAPILLARY_REFILL, "2.5", CLINIC, set(), None, "VIT-12", "T", MERCK),
    ("exam-V33", "dog", Kind.CAPILLARY_REFILL, "0.5", CLINIC, set(), None, "VIT-13", "T", MERCK),
]


@pytest.mark.parametrize(
    ("case", "species", "kind", "value", "setting", "signs", "state", "code", "letter", "source"), FLAGGED
)
def test_a_value_outside_suggests_its_code(
    case, species, kind, value, setting, signs, state, code, letter, source
):
    context = Context(species, setting, state=state, signs=frozenset(signs))
    found = judge(kind, Decimal(value), UNITS[kind], context)
    assert found.codes == (code,)
    assert found.urgency == letter
    assert found.see_now is (letter == "E")


@pytest.mark.parametrize(("case", "source"), [("exam-V09", COMMON)])
def test_fahrenheit_typed_as_celsius_is_refused_and_offered(case, source):
    found = judge(Kind.TEMPERATURE, Decimal("102.2"), Unit.CELSIUS, Context("dog", CLINIC))
    assert not found.accepted
    (offer,) = found.offers
    assert (offer.unit, offer.canonical) == (Unit.FAHRENHEIT, Decimal("39"))
    assert "102.2 °F = 39.0 °C" in found.refused


@pytest.mark.parametrize("unit", [Unit.CELSIUS, Unit.FAHRENHEIT])
@pytest.mark.parametrize("value", ["60", "44.1", "76.9", "24.9", "111.3"])
@pytest.mark.parametrize(("case", "source"), [("exam-V10", COMMON)])
def test_what_is_no_temperature_in_either_unit_is_refused_without_offer(case, source, value, unit):
    found = judge(Kind.TEMPERATURE, Decimal(value), unit, Context("cat", CLINIC))
    assert not found.accepted
    assert found.offers == ()


@pytest.mark.parametrize(("case", "source"), [("exam-V21", BLOIS)])
def test_a_pulse_slower_than_the_heart_is_a_deficit(case, source):
    context = Context("dog", CLINIC, heart_rate=Decimal(120))
    found = judge(Kind.PULSE_RATE, Decimal(96), Unit.PER_MIN, context)
    assert (found.codes, found.deficit) == (("HRT-15",), 24)


@pytest.mark.parametrize(
    ("case", "species", "code", "urgency", "source"),
    [
        ("exam-V28", "dog", "LUN-05", Urgency.MONITOR, COMMON),
        ("exam-V29", "cat", "LUN-04", Urgency.EMERGENCY, COMMON),
    ],
)
def test_panting_needs_no_number(case, species, code, urgency, source):
    found = judge(Kind.RESPIRATORY_RATE, "panting", Unit.PER_MIN, Context(species, CLINIC))
    assert found.accepted
    assert (found.canonical, found.category) == (None, "panting")
    assert (found.codes, found.urgency) == ((code,), urgency)


@pytest.mark.parametrize(("case", "source"), [("exam-V30", BLOIS)])
def test_a_count_is_kept_with_its_seconds(case, source):
    counted = rate_from_count(7, 10)
    assert (counted.per_minute, counted.seconds, counted.step) == (42, 10, 6)


@pytest.mark.parametrize(("case", "source"), [("exam-V34", MERCK)])
def test_blue_gums_are_an_emergency_that_needs_a_plan(case, source):
    found = judge(Kind.MUCOUS_MEMBRANES, "blue", Unit.GUM_COLOUR, Context("cat", CLINIC))
    assert found.codes == ("VIT-07",)
    assert found.urgency is Urgency.EMERGENCY
    assert found.urgency.needs_plan


@pytest.mark.parametrize(
    ("case", "label", "accepted", "source"),
    [
        ("exam-V36", "borderline 150-159", False, "IRIS tables of 2014-2015, superseded"),
        ("exam-V36", "150–159 mmHg", False, "IRIS tables of 2014-2015, superseded"),
        ("exam-V36", "prehypertensive", True, "Acierno et al., J Vet Intern Med 2018 (C: from memory)"),
        ("exam-V36", "hypertensive", False, "Acierno et al., J Vet Intern Med 2018 (C: from memory)"),
    ],
)
def test_a_pressure_label_must_be_of_the_current_table(case, label, accepted, source):
    verdict = check_pressure_label(Decimal(155), label)
    assert (verdict.accepted, verdict.right) == (accepted, "prehypertensive")


@pytest.mark.parametrize(("case", "source"), [("exam-V37", COMMON)])
def test_a_pressure_without_cuff_or_site_is_not_final(case, source):
    bare = judge(Kind.BLOOD_PRESSURE, Decimal(130), Unit.MMHG, Context("dog", CLINIC))
    assert bare.accepted
    assert not bare.complete
    assert bare.missing == ("cuff", "site", "device", "readings")
    method = Method(cuff="4", site="left fore", device="Doppler", readings=6)
    full = judge(Kind.BLOOD_PRESSURE, Decimal(130), Unit.MMHG, Context("dog", CLINIC, method=method))
    assert full.complete


@pytest.mark.parametrize(
    ("systolic", "category", "code", "source"),
    [
        ("89", "low", "VIT-17", COMMON),
        ("90", "normotensive", None, COMMON),
        ("139", "normotensive", None, "Acierno et al., 2018 (C: from memory)"),
        ("140", "prehypertensive", "VIT-14", "Acierno et al., 2018 (C: from memory)"),
        ("160", "hypertensive", "VIT-15", "Acierno et al., 2018 (C: from memory)"),
        ("180", "severely hypertensive", "VIT-16", "Acierno et al., 2018 (C: from memory)"),
    ],
)
def test_pressures_fall_into_the_categories_of_2018(systolic, category, code, source):
    found = judge(Kind.BLOOD_PRESSURE, Decimal(systolic), Unit.MMHG, Context("cat", CLINIC))
    assert (found.category, found.codes) == (category, (code,) if code else ())


@pytest.mark.parametrize(
    ("case", "species", "score", "codes", "source"),
    [
        ("exam-W13", "dog", "4", (), "Merck Veterinary Manual, Body Condition Score Scales"),
        ("exam-W14", "cat", "4", ("BCM-03",), "Merck Veterinary Manual, Body Condition Score Scales"),
        ("exam-W14", "cat", "5", (), "Merck Veterinary Manual, Body Condition Score Scales"),
    ],
)
def test_ideal_condition_depends_on_the_species(case, species, score, codes, source):
    assert judge(Kind.BCS, Decimal(score), Unit.BCS_9, Context(species, CLINIC)).codes == codes


@pytest.mark.parametrize(("case", "source"), [("exam-W16", "WSAVA muscle condition score")])
def test_fat_and_muscle_may_move_apart(case, source):
    fat = judge(Kind.BCS, Decimal(7), Unit.BCS_9, Context("dog", CLINIC, mcs="severe"))
    muscle = judge(Kind.MCS, "severe", Unit.MCS_4, Context("dog", CLINIC, bcs=Decimal(7)))
    assert fat.codes == ("BCM-05", "BCM-10")
    assert muscle.codes == ("BCM-09", "BCM-10")


@pytest.mark.parametrize(
    ("case", "species", "value", "code", "source"),
    [
        ("exam-G24", "dog", "18", (), "Gelatt, Veterinary Ophthalmology, 6th ed 2021 (C: from memory)"),
        ("exam-G24", "dog", "12", ("EYE-11",), "Gelatt, 6th ed 2021 (C: from memory)"),
        ("exam-G24", "dog", "8", ("EYE-12",), "Gelatt, 6th ed 2021 (C: from memory)"),
        ("exam-G25", "cat", "5", (), COMMON),
    ],
)
def test_tear_tests_are_read_by_species(case, species, value, code, source):
    found = judge(Kind.STT_LEFT, Decimal(value), Unit.MM_PER_MIN, Context(species, CLINIC))
    assert found.codes == code
    assert bool(found.notes) is (species == "cat")


@pytest.mark.parametrize(("case", "source"), [("exam-G27", COMMON)])
def test_a_high_painful_eye_is_an_emergency(case, source):
    context = Context("dog", CLINIC, signs=frozenset({Sign.PAINFUL}))
    found = judge(Kind.IOP_RIGHT, Decimal(45), Unit.MMHG, context)
    assert (found.codes, found.urgency) == (("EYE-24",), "E")
