"""The edges of rabies: current or not, in time or late, early, by label, by place. Follow local law."""

from dataclasses import replace

import pytest

from preventive.case import Case
from preventive.dates import PartialDate, Precision, Span
from preventive.due import Action
from preventive.facts import Birth, DoseSource, VaccineProduct
from preventive.rabies import count_rabies, rabies_state
from preventive.schedule import due_items
from tests.preventive.build import cat, dates, day, dog, due, history, own, rabies, said, under

DOG = dog("2020-01-06")
PUP = "2025-01-06"  # 12 weeks: 2025-03-31


def state(*doses, place="", who=DOG, rules=None, on="2030-01-01"):
    case = Case(who, history(*doses), rules or under(place), day(on))
    return rabies_state(case, count_rabies(case).doses)


# --- currently vaccinated -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("on", "current"),
    [("2025-06-01", False), ("2025-06-02", True), ("2026-05-05", True), ("2026-05-06", False)],
)
def test_it_is_current_from_day_28_to_the_day_it_is_due(on, current):
    """NASPHV 2016 (A): 28 days after the first dose; the law gives no tolerance (B)."""
    assert state(rabies("2025-05-05", 36)).is_current(day(on)) is current


def test_a_booster_is_current_at_once():
    """NASPHV 2016 (A): memory response; so is a late one, dated by its own label."""
    for second in ("2026-05-05", "2026-05-06", "2029-05-05"):
        found = state(rabies("2025-05-05"), rabies(second, 36))
        assert (found.sequence, found.valid_from, found.given_on) == ("booster", day(second), day(second))
        assert found.is_current(day(second))
        assert found.legal_due == found.product_due == day(str(int(second[:4]) + 3) + second[4:])


def test_no_dose_is_no_state():
    assert state() is None


# --- in time, late, early -----------------------------------------------------------------------------------


# Canada, strict label (A): a late booster is for 12 months; on the due day itself it is in time (B)
@pytest.mark.parametrize(("second", "due_by"), [("2026-05-05", "2029-05-05"), ("2026-05-06", "2027-05-06")])
def test_late_begins_the_day_after_the_due_day(second, due_by):
    found = state(rabies("2025-05-05"), rabies(second, 36), place="ca-strict")
    assert found.legal_due == day(due_by)
    late = second != "2026-05-05"
    text = "so a late booster: current at once, next in 12 months." if late else "Booster in time"
    assert any(text in step.text for step in found.why)


def test_a_booster_known_to_the_month_is_late_where_it_may_have_been():
    """The cautious reading (ours): 31 May lies after the due day of 5 May."""
    found = state(rabies("2025-05-05"), rabies("2026-05-20", 36, precision="month"), place="ca-strict")
    assert (found.given_on, found.legal_due) == (day("2026-05-01"), day("2027-05-01"))


def test_a_late_booster_says_by_whose_rule():
    """NASPHV 2016 (A): one dose, currently vaccinated at once, next by its label."""
    step, label = state(rabies("2025-05-05"), rabies("2027-05-05", 36)).why
    assert step.text == (
        "Given after 5 May 2026, so a late booster: one dose, current at once, "
        "next by the label of this dose."
    )
    assert step.source == "NASPHV 2016"
    assert (label.text, label.source) == ("36 months by the label: 5 May 2030.", "the product's label")
    step, label = state(rabies("2025-05-05"), rabies("2026-05-05", None)).why
    assert step.text == "Booster in time: current at once, next by the label of this dose."
    assert label.text == (
        "The label's time is not on record, so the shortest there is: 12 months, to 5 May 2027."
    )
    assert (label.source, label.certainty) == ("ours", "ours")


def test_in_the_union_a_late_dose_begins_again():
    """Reg. (EU) 576/2013 Annex III (A): counts as a primary one, valid after 21 days."""
    who = dog("2020-01-06", chipped_on="2020-03-01")
    found = state(rabies("2023-05-05"), rabies("2025-09-01", 36), place="eu-travel", who=who)
    assert (found.sequence, found.primary_on) == ("primary", day("2025-09-01"))
    assert found.valid_from == day("2025-09-22")
    texts = [step.text for step in found.why]
    assert texts[0] == "After 5 May 2024: counts as a first dose again."
    assert "Currently vaccinated 21 days after the first dose." in texts
    at = texts.index("First dose: next by the label.")
    assert texts[at + 1] == "36 months by the label: 1 September 2028."


# Within six months of the first dose a second is no booster for the label's full time (ours)
@pytest.mark.parametrize(
    ("second", "sequence", "due_by"),
    [("2025-11-04", "primary", "2026-11-04"), ("2025-11-05", "booster", "2028-11-05")],
)
def test_a_second_dose_soon_after_the_first_is_dated_as_a_first_one(second, sequence, due_by):
    found = state(rabies("2025-05-05", 36), rabies(second, 36))
    assert (found.sequence, found.legal_due) == (sequence, day(due_by))
    if sequence == "primary":
        # it was valid already, and goes on being so
        assert (found.valid_from, found.primary_on) == (day("2025-06-02"), day("2025-05-05"))
        texts = [step.text for step in found.why]
        assert texts == [
            "Within 6 months of the first dose: dated as a first dose.",
            "First dose: booster 12 months later, whatever the product.",
        ]
        assert found.why[0].source == "ours"
    # the month's end rolls up: 31 August and six months are 1 March
    early = state(rabies("2025-08-31", 36), rabies("2026-02-28", 36))
    assert early.sequence == "primary"


def test_an_early_second_dose_moves_the_beginning_of_the_run_nowhere():
    third = state(rabies("2025-05-05", 36), rabies("2025-06-20", 36), rabies("2025-11-05", 36))
    assert (third.sequence, third.legal_due, third.primary_on) == (
        "booster",
        day("2028-11-05"),
        day("2025-05-05"),
    )
    month_only = state(rabies("2025-05-05", 36), rabies("2025-11-20", 36, precision="month"))
    assert month_only.sequence == "primary"  # 1 November is within the six months


def test_a_booster_soon_after_a_booster_is_a_booster():
    third = state(rabies("2023-05-05"), rabies("2024-05-05", 36), rabies("2024-06-05", 36))
    assert (third.sequence, third.legal_due) == ("booster", day("2027-06-05"))


# --- label and place ----------------------------------------------------------------------------------------


def test_an_unknown_licence_is_taken_as_the_shortest():
    """Only twelve months are safe to assume (ours)."""
    assert state(rabies("2025-05-05", None), rabies("2026-05-05", None)).legal_due == day("2027-05-05")


# 7 Pa. Code 16.43 as quoted (B): from one year of age the label decides, also for a first dose
@pytest.mark.parametrize(("birth", "due_by"), [("2024-02-10", "2028-02-10"), ("2024-02-11", "2026-02-10")])
def test_in_pennsylvania_a_first_dose_at_a_year_of_age_goes_by_the_label(birth, due_by):
    found = state(rabies("2025-02-10", 36), place="us-pa", who=dog(birth))
    assert found.legal_due == day(due_by)
    expected = "next by the label." if due_by == "2028-02-10" else "12 months later, whatever the product."
    assert any(step.text.endswith(expected) for step in found.why)
    assert {step.source for step in found.why if "First dose" in step.text} == {"7 Pa. Code 16.43"}
    # an unknown age is no year (ours)
    assert state(rabies("2025-02-10", 36), place="us-pa", who=dog(None)).legal_due == day("2026-02-10")


def ordinance(months):
    return own(
        ("jurisdictions.us-tx.maximum", {"months": months, "source": "a town", "certainty": "clinic"}),
        place="us-tx",
    )


def test_a_stricter_ordinance_shortens_the_legal_date_and_says_so():
    """An ordinance may force a yearly date even for a three-year product (C); the product's stays visible."""
    what = history(rabies("2025-05-05", 36), rabies("2026-05-05", 36))
    item = due(DOG, what, "2026-05-05", "rabies", ordinance(12))
    assert dates(item, "target", "legal", "latest", "product_due") == (
        *("2027-05-05", "2027-05-05", "2027-05-05"),
        "2029-05-05",
    )
    text = "The place allows 12 months at most; the product's label would allow more."
    assert text in said(item)
    for rules in (ordinance(36), ordinance(48)):
        same = due(DOG, what, "2026-05-05", "rabies", rules)
        assert same.legal == same.product_due == day("2029-05-05")
        assert text[:16] not in said(same)
    leap = history(rabies("2023-02-28", 12), rabies("2024-02-29", 36))
    assert due(DOG, leap, "2024-02-29", "rabies", ordinance(12)).legal == day("2025-02-28")


# --- the first dose -----------------------------------------------------------------------------------------


def test_the_first_dose_has_its_day_its_deadline_and_its_reasons():
    """25 TAC 169.29 (A): by 16 weeks of age; from 12 weeks (AAHA 2022, A)."""
    item = due(dog(PUP), history(), PUP, "rabies", under("us-tx"))
    assert dates(item, "earliest", "target", "latest", "legal") == (
        *("2025-03-31", "2025-03-31"),
        *("2025-04-28", "2025-04-28"),
    )
    assert (str(item.sequence), item.then, item.action) == ("initial 1", Action.START, Action.WAIT)
    assert "From 12 weeks of age; the product's label may say another age." in said(item)
    assert "Texas: by 16 weeks of age." in said(item)
    assert "follow local law" in said(item)
    plain = due(dog(PUP), history(), PUP, "rabies")
    assert dates(plain, "earliest", "target", "latest", "legal") == (*("2025-03-31",) * 3, None)
    assert "by 16 weeks" not in said(plain)


def test_a_place_s_own_minimum_age_counts_beside_the_usual_one():
    """Reg. (EU) 576/2013 (A): at least 12 weeks; the later of two ages opens."""
    rules = own(("jurisdictions.eu-travel.min_age.age", "15 wk"), place="eu-travel")
    item = due(dog(PUP), history(), PUP, "rabies", rules)
    assert item.earliest == day("2025-04-21")
    assert "Travel in the European Union: from 15 weeks." in said(item)
    who = dog(PUP, chipped_on="2025-02-01")
    early = history(rabies("2025-04-20"), rabies("2025-04-21"))
    found = due(who, early, "2025-05-01", "rabies", rules)
    assert [(each.code, str(each.given)) for each in found.uncounted] == [("too_young", "2025-04-20")]
    older = own(("rabies.min_age", "15 wk"), place="eu-travel")
    assert due(dog(PUP), history(), PUP, "rabies", older).earliest == day("2025-04-21")


def test_a_deadline_that_is_over_before_it_opens_does_not_end_before_its_first_day():
    rules = own(("rabies.min_age", "17 wk"), place="us-tx")
    item = due(dog(PUP), history(), PUP, "rabies", rules)
    assert dates(item, "earliest", "latest", "legal") == ("2025-05-05", "2025-05-05", "2025-04-28")


def test_a_month_only_birth_opens_by_the_youngest_and_ends_by_the_oldest_age():
    """The cautious reading of both (ours)."""
    who = replace(dog(None), birth=Birth(PartialDate(day("2025-01-15"), Precision.MONTH)))
    item = due(who, history(), "2025-02-10", "rabies", under("us-tx"))
    assert dates(item, "earliest", "legal") == ("2025-04-25", "2025-04-23")


def test_without_a_birth_date_the_first_dose_is_a_question():
    item = due(dog(None), history(), PUP, "rabies")
    assert (item.action, item.earliest, item.target) == (Action.ASK, None, None)
    given = due(dog(None), history(rabies("2025-05-05")), "2025-05-05", "rabies")
    assert given.legal == day("2026-05-05")


# --- which doses count --------------------------------------------------------------------------------------


def test_only_the_label_asks_for_a_distance_between_two_rabies_doses():
    """No minimum interval is published for rabies; the label's own is kept."""
    near = (rabies("2025-05-05"), rabies("2025-05-06"))
    assert due(DOG, history(*near), "2025-06-01", "rabies").uncounted == ()
    spaced = tuple(
        replace(each, product=VaccineProduct(licensed_months=12, min_interval=Span.parse("28 d")))
        for each in near
    )
    (refused,) = due(DOG, history(*spaced), "2025-06-01", "rabies").uncounted
    assert (refused.code, str(refused.given)) == ("too_soon", "2025-05-06")


def test_a_chip_is_asked_for_only_where_the_law_does():
    """Reg. (EU) 576/2013 Annex III (A): the microchip comes before the vaccine, or on its day."""
    dose = rabies("2025-05-05")
    for chipped, counts in (("2025-05-04", True), ("2025-05-05", True), ("2025-05-06", False), (None, False)):
        who = dog("2020-01-06", chipped_on=chipped)
        assert (due(who, history(dose), "2025-06-01", "rabies", under("eu-travel")).uncounted == ()) is counts
        assert due(who, history(dose), "2025-06-01", "rabies").uncounted == ()


def test_no_paper_no_rabies_dose():
    """NASPHV 2016 (C): unproven doses do not count for the law; an unproven first is no first."""
    unproven = rabies("2024-05-05", source=DoseSource.OUTSIDE, proof=False)
    item = due(DOG, history(unproven, rabies("2025-05-05", 36)), "2025-05-05", "rabies")
    assert (item.legal, item.valid_from) == (day("2026-05-05"), day("2025-06-02"))


def test_the_next_dose_is_one_and_carries_every_date():
    item = due(DOG, history(rabies("2024-05-05"), rabies("2025-05-05", 36)), "2025-05-05", "rabies")
    assert dates(item, "earliest", "target", "latest", "legal", "product_due", "valid_from", "last_on") == (
        *(None, "2028-05-05", "2028-05-05", "2028-05-05", "2028-05-05"),
        *("2025-05-05", "2025-05-05"),
    )
    assert (str(item.sequence), item.then, item.kind) == ("booster", Action.ONE_DOSE, "vaccine")
    assert (item.code, item.label, item.category) == ("rabies", "Rabies", "core")
    assert "Booster in time" in said(item)
    assert "A titre is no legal substitute" in said(item)
    assert "Several states have no statewide requirement" in said(item)


def test_a_species_that_the_law_leaves_out_has_no_rabies_item():
    rules = own(("rabies.species", ["dog"]))
    for who, listed in ((DOG, True), (cat("2020-01-06"), False)):
        codes = [each.code for each in due_items(who, history(), rules, day("2025-01-06"))]
        assert ("rabies" in codes) is listed


# --- month ends and half-known days -------------------------------------------------------------------------


def test_a_legal_date_falls_on_the_last_day_of_a_short_month():
    """Due and expiry dates clamp down, the cautious reading of 29 February (date rule, ours)."""
    assert state(rabies("2024-02-29")).legal_due == day("2025-02-28")
    assert state(rabies("2023-02-28"), rabies("2024-02-28", 36)).legal_due == day("2027-02-28")
    by_four_months = under("us-tx", rabies_deadline="four_months")
    item = due(dog("2024-10-31"), history(), "2024-11-01", "rabies", by_four_months)
    assert item.legal == day("2025-02-28")  # Tex. H&S 826.021 (A): four months


def test_in_pennsylvania_a_dose_known_to_the_month_is_no_year_of_age():
    """7 Pa. Code 16.43 as quoted (B); the earliest day it can have been given decides (ours)."""
    given = rabies("2025-02-20", 36, precision="month")
    assert state(given, place="us-pa", who=dog("2024-02-11")).legal_due == day("2026-02-01")


def test_rabies_is_an_item_of_its_own_with_its_first_category():
    cited = {"source": "x", "certainty": "clinic"}
    named = [{"guideline": each, "value": each, **cited} for each in ("first", "second")]
    item = due(DOG, history(), PUP, "rabies", own(("rabies.categories", named)))
    assert (item.group, item.group_label, item.category) == ("rabies", "Rabies", "first")
    assert due(DOG, history(), PUP, "rabies", own(("rabies.categories", []))).category == ""
