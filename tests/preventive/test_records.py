"""Doses that do not count, sites, certificates, pauses, open questions."""

import pytest

from preventive.certificate import DoseDoesNotCountError, certificate_dates, missing_fields
from preventive.dates import Precision
from preventive.due import Action, Standing, grouped, standing
from preventive.facts import Deferral, DoseSource, Hold, Species, born
from preventive.protocol import Overrides, ValueOverride, load_protocol
from preventive.schedule import due_items
from preventive.sites import published_sites, site_questions
from tests.preventive.build import (
    cat,
    core,
    day,
    dog,
    dose,
    due,
    history,
    rabies,
    result,
    supply,
    under,
)

PUP = "2025-01-06"


@pytest.mark.parametrize(
    ("facts", "code"),
    [
        ({"lot_expires_on": day("2025-03-02")}, "expired"),
        ({"lot": ""}, "no_lot"),
        ({"species": (Species.CAT,)}, "wrong_species"),
        ({"source": DoseSource.OWNER, "proof": False}, "hearsay"),
        ({"decision": False, "decision_reason": "Spilled."}, "vet_refused"),
        ({"min_age": "9 wk"}, "too_young"),
    ],
)
def test_a_doubtful_dose_does_not_count(facts, code):
    item = due(dog(PUP), history(*core("2025-03-03", **facts)), "2025-03-03", "dog_core:CPV")
    assert [entry.code for entry in item.uncounted] == [code]
    assert item.last_on is None


@pytest.mark.parametrize("facts", [{"lot": ""}, {"species": (Species.CAT,)}, {"min_age": "9 wk"}])
def test_a_veterinarian_may_count_a_doubtful_dose(facts):
    item = due(dog(PUP), history(*core("2025-03-03", decision=True, **facts)), "2025-03-03", "dog_core:CPV")
    assert (item.uncounted, item.last_on) == ((), day("2025-03-03"))


def test_an_outside_record_may_lack_the_lot():
    given = core("2025-03-03", lot="", source=DoseSource.OUTSIDE)
    assert due(dog(PUP), history(*given), "2025-03-03", "dog_core:CPV").uncounted == ()


def test_no_decision_makes_an_unproven_rabies_dose_lawful():
    given = rabies("2025-05-05", source=DoseSource.OUTSIDE, proof=False, decision=True)
    item = due(dog(PUP), history(given), "2025-05-05", "rabies")
    assert [entry.code for entry in item.uncounted] == ["unproven"]


def test_the_same_antigen_twice_on_a_day_is_a_duplicate():
    what = history(*core("2025-03-03", "2025-03-03"))
    item = due(dog(PUP), what, "2025-03-03", "dog_core:CPV")
    assert ([entry.code for entry in item.uncounted], str(item.sequence)) == (["duplicate"], "initial 2")


def test_a_month_only_dose_counts_from_its_first_day():
    given = dose("2024-06-20", "Leptospira", precision="month")
    second = dose("2024-06-20", "Leptospira", "CPV", precision="day")
    assert due(dog("2020-01-01"), history(given), "2024-07-01", "dog_leptospira").last_on == day("2024-06-01")
    item = due(dog("2020-01-01"), history(given, second), "2024-07-01", "dog_leptospira")
    assert (item.last_on, item.uncounted) == (day("2024-06-20"), ())


def test_an_unknown_birth_date_becomes_a_question():
    item = due(dog(None), history(), "2025-03-03", "dog_core:CPV")
    assert (item.action, standing(item, day("2025-03-03"))) == (Action.ASK, Standing.DUE)


def test_an_estimated_month_of_birth_uses_the_youngest_age():
    who = dog(None)
    object.__setattr__(who, "birth", born(day("2025-01-15"), Precision.MONTH, estimated=True))
    what = history(*core("2025-03-17", "2025-04-14", "2025-05-12"))
    assert str(due(who, what, "2025-05-12", "dog_core:CPV").sequence) == "initial 4"


@pytest.mark.parametrize(
    ("sites", "antigens", "site", "number"),
    [
        ({"RF-D", "TAIL"}, ("FPV", "FHV-1", "FCV"), "LH-D", 3),
        ({"LH-D", "TAIL"}, ("FeLV",), "LH-D", 0),
        ({"RH-D", "TAIL"}, ("Rabies",), "LH-D", 1),
        ({"RH-D", "TAIL"}, ("Rabies",), "SCRUFF-AVOID", 2),
        ({"RF-D", "TAIL"}, ("FPV",), "IN", 0),
    ],
)
def test_a_cat_s_wrong_site_is_asked(sites, antigens, site, number):
    assert published_sites(under(), Species.CAT, antigens) == sites
    assert len(site_questions(under(), Species.CAT, antigens, site)) == number


def test_dogs_have_no_published_site():
    assert site_questions(under(), Species.DOG, ("Rabies",), "SC-OTHER") == ()


def test_a_hold_stands_until_it_is_released():
    held = Hold("Leptospira", day("2025-03-31"), "Swollen face after the dose.")
    what = history(dose("2025-03-31", "Leptospira"), holds=(held,))
    item = due(dog(PUP), what, "2025-06-01", "dog_leptospira")
    assert (standing(item, day("2027-01-01")), item.action) == (Standing.HOLD, Action.WAIT)
    released = Hold("Leptospira", day("2025-03-31"), "Swollen face.", day("2025-05-20"))
    free = due(dog(PUP), history(*what.doses, holds=(released,)), "2025-06-01", "dog_leptospira")
    assert standing(free, day("2025-06-01")) is Standing.OVERDUE


def test_a_deferral_ends_by_itself():
    ill = Deferral("dog_core", day("2025-03-03"), day("2025-03-20"), "Diarrhoea.")
    item = due(dog(PUP), history(deferrals=(ill,)), "2025-03-05", "dog_core:CPV")
    assert standing(item, day("2025-03-19")) is Standing.DEFERRED
    assert standing(item, day("2025-03-20")) is Standing.OVERDUE


@pytest.mark.parametrize("condition", ["pregnant", "felv_infected", "fiv_infected"])
def test_no_live_vaccine_for_a_cat_it_could_harm(condition):
    who = cat("2022-01-01", conditions=frozenset({condition}))
    item = due(who, history(), "2025-03-03", "cat_panleukopenia")
    assert standing(item, day("2025-03-03")) is Standing.HOLD


def test_leukaemia_vaccine_waits_for_a_negative_test():
    kitten = cat("2025-04-07")
    assert due(kitten, history(), "2025-06-02", "cat_leukaemia").needs
    negative = history(tests=(result("felv_ag", "2025-06-02"),))
    assert due(kitten, negative, "2025-06-02", "cat_leukaemia").needs == ()
    positive = history(tests=(result("felv_ag", "2025-06-02", True),))
    item = due(kitten, positive, "2025-06-02", "cat_leukaemia")
    assert standing(item, day("2025-06-02")) is Standing.HOLD


def test_a_noncore_vaccine_asks_before_it_is_listed():
    item = due(dog(PUP), history(), "2025-03-03", "dog_borrelia")
    assert (item.action, item.target) == (Action.ASK, None)
    assert "ticks" in item.needs[0].text


@pytest.mark.parametrize(
    ("second", "on", "target"),
    [
        ("2025-02-15", "2025-02-15", "2025-07-01"),
        ("2025-02-16", "2025-02-16", "2025-07-01"),
        ("2025-02-17", "2025-02-17", "2025-02-17"),
    ],
)
def test_a_preventive_more_than_fifteen_days_late_means_tests_again(second, on, target):
    """Monthly from 1 January, tested that day: due again 1 February; 16 February is 15 days late."""
    both = tuple(result(kind, "2025-01-01") for kind in ("heartworm_ag", "heartworm_mf"))
    what = history(tests=both, supplies=(supply("2025-01-01"), supply(second, count=12)))
    assert due(dog("2020-01-01"), what, on, "dog_heartworm_test").target == day(target)


def test_a_positive_heartworm_test_ends_the_dates():
    what = history(tests=(result("heartworm_ag", "2025-03-03", True),))
    item = due(dog("2020-01-01"), what, "2025-03-03", "dog_heartworm_test")
    assert (item.target, item.action) == (None, Action.NONE)


def test_the_certificate_prints_the_legal_date_and_keeps_the_product_s():
    yearly = {"months": 12, "source": "an invented town's ordinance", "certainty": "clinic"}
    override = ValueOverride("jurisdictions.us-tx.maximum", yearly, "ordinance", "Dr. Imre Fontaine")
    rules = load_protocol(overrides=Overrides(jurisdiction="us-tx", values=(override,)))
    what = history(rabies("2025-05-05", 36), rabies("2026-05-05", 36, id="second"))
    issued = certificate_dates(dog(PUP), what, rules, "second", day("2026-05-05"))
    assert (issued.due_by, issued.product_due) == (day("2027-05-05"), day("2029-05-05"))
    assert issued.sequence == "booster"


def test_no_certificate_for_a_dose_that_does_not_count():
    what = history(rabies("2025-03-17", id="early"))
    with pytest.raises(DoseDoesNotCountError):
        certificate_dates(dog(PUP), what, under(), "early", day("2025-03-17"))


def test_a_certificate_names_what_is_missing():
    filled = {code: "x" for code, field in under().rules.certificate.items() if field.required}
    assert missing_fields(under(), filled) == ()
    assert missing_fields(under(), {**filled, "serial": " "}) == ("Serial (lot) number",)
    with pytest.raises(KeyError):
        missing_fields(under(), {"sereal": "x"})


def test_antigens_due_alike_are_one_line():
    dues = due_items(dog(PUP), history(*core("2025-03-03")), under(), day("2025-03-03"))
    lines = {line.label: len(line.dues) for line in grouped(dues)}
    assert lines["Distemper, adenovirus, parvovirus"] == 3
    assert sum(lines.values()) == len(dues)


@pytest.mark.parametrize("who", [dog(PUP), cat(PUP)])
def test_every_answer_has_its_reason(who):
    for item in due_items(who, history(), under(), day("2025-06-01")):
        assert item.why, item.code
        assert all(step.text and step.source and step.certainty for step in item.why)
