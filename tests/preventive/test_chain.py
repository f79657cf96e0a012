"""The reasons of an item stand in the order of the reckoning; what leads to no date stands apart."""

import pytest
from hypothesis import given

from preventive.chain import chain
from preventive.due import Action, DueGroup, Standing, standing
from preventive.due_rows import due_row
from preventive.protocol import Overrides, ValueOverride, load_protocol
from preventive.schedule import due_items
from tests.preventive.build import cat, core, day, dog, dose, due, history, rabies, result, under
from tests.preventive.histories import ON, lives

GROWN = "2020-01-06"


def told(item):
    return [(step.text, step.source) for step in chain(item)]


# NASPHV 2016 (A): a late booster is one dose, current at once, next by its label
def test_a_rabies_dose_is_told_from_what_was_given_to_the_date():
    item = due(dog(GROWN), history(rabies("2022-05-05"), rabies("2024-08-20", 36)), "2025-03-01", "rabies")
    assert told(item) == [
        ("Last dose that counts: 20 August 2024.", "the record"),
        (
            "Given after 5 May 2023, so a late booster: one dose, current at once, "
            "next by the label of this dose.",
            "NASPHV 2016",
        ),
        ("36 months by the label: 20 August 2027.", "the product's label"),
        ("This gives: due 20 August 2027.", "reckoned from the steps before"),
    ]
    row = due_row(DueGroup(item.label, (item,)), day("2025-03-01"))
    assert [reason.text for reason in row.why] == [text for text, _ in told(item)]
    assert "Rabies is law and differs by place: follow local law." in [each.text for each in row.notes]
    assert all(each.source for each in row.notes)


def test_the_place_s_limit_comes_after_the_label_and_before_the_date():
    """A local ordinance may force a yearly date also for a three-year product (NASPHV 2016, C)."""
    ordinance = {"months": 12, "source": "a town", "certainty": "clinic"}
    choice = ValueOverride("jurisdictions.us-tx.maximum", ordinance, "ours", "Dr. Imre Fontaine")
    rules = load_protocol(overrides=Overrides(jurisdiction="us-tx", values=(choice,)))
    what = history(rabies("2023-05-05"), rabies("2024-05-05", 36))
    found = told(due(dog(GROWN), what, "2025-03-01", "rabies", rules))
    assert [source for _, source in found[-3:]] == [
        "the product's label",
        "a town",
        "reckoned from the steps before",
    ]
    assert found[-1][0] == "This gives: due 5 May 2025."


# AAHA 2022; WSAVA 2016 T1 (A): every three years or longer
def test_a_booster_is_told_from_the_last_dose_that_counts():
    doses = core("2020-03-02", "2020-03-30", "2020-04-27", "2021-04-27", "2021-05-01")
    item = due(dog(GROWN), history(*doses), "2024-01-01", "dog_core:CPV")
    assert told(item) == [
        ("Last dose that counts: 27 April 2021.", "the record"),
        ("Every 36 months after the last dose.", "AAHA 2022; WSAVA 2016 T1"),
        ("This gives: due 27 April 2024.", "reckoned from the steps before"),
    ]
    assert [step.text for step in item.notes] == [
        "An antibody test may stand in for an adult booster of these three."
    ]


@pytest.mark.parametrize(
    ("code", "first"),
    [
        ("rabies", "No dose that counts is on record."),
        ("dog_faecal_test", "No test is on record."),
        ("dog_deworming", "No treatment is on record."),
        ("dog_exam", "No exam is on record."),
        ("dog_dental", "No cleaning is on record."),
    ],
)
def test_nothing_on_record_is_said_first(code, first):
    assert told(due(dog(GROWN), history(), "2025-03-01", code))[0] == (first, "the record")


# WSAVA 2016 T1; AAHA 2022 (A): from 6 weeks; dose 2 two to four weeks after the first
def test_a_window_ends_the_chain():
    item = due(dog("2025-01-06"), history(*core("2025-03-03")), "2025-03-03", "dog_core:CPV")
    assert told(item)[-1][0] == "This gives: from 17 March 2025 to 31 March 2025."


def test_what_is_still_open_is_no_step_and_no_note():
    """AAFP 2020 (A): test for FeLV before the first dose."""
    item = due(cat("2025-04-07"), history(), "2025-06-10", "cat_leukaemia")
    row = due_row(DueGroup(item.label, (item,)), day("2025-06-10"))
    (open_,) = row.needs
    assert open_.text.startswith("Test for FeLV before the first dose")
    assert open_ not in row.why
    assert open_ not in row.notes


# AAHA/AAFP 2020 (C): FIP not generally recommended; the FIV vaccine no longer sold in North America
@pytest.mark.parametrize(
    ("code", "antigen", "words"),
    [
        ("cat_peritonitis", "FIP", "Not generally recommended"),
        ("cat_immunodeficiency", "FIV", "No longer sold in North America"),
    ],
)
def test_what_no_cat_gets_is_listed_with_its_reason_and_never_due(code, antigen, words):
    given_elsewhere = dose("2024-05-05", antigen, kind="inactivated")
    for what in (history(), history(given_elsewhere), history(tests=(result("fiv_ab", "2024-06-01"),))):
        item = due(cat(GROWN, "outdoor", "boards_or_multicat"), what, "2025-03-01", code)
        assert standing(item, day("2025-03-01")) is Standing.NOT_APPLICABLE
        assert (item.target, item.action, item.recheck_on) == (None, Action.NONE, None)
        ((text, source),) = told(item)
        assert text.startswith(words)
        assert source == "AAHA/AAFP 2020"


@given(lives())
def test_no_note_stands_among_the_steps_and_the_date_is_the_last(life):
    who, what = life
    for item in due_items(who, what, under(), ON):
        steps = chain(item)
        assert steps
        assert not set(steps) & set(item.notes)
        assert all(step.text and step.source and step.certainty for step in (*steps, *item.notes))
        gives = [step.text.startswith("This gives") for step in steps]
        assert gives == [*[False] * (len(steps) - 1), bool(item.applies and item.target)]
