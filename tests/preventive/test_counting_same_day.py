"""Which doses count, where several stand for one day, or a veterinarian ruled: their content decides."""

from itertools import permutations

import pytest

from preventive.case import Case
from preventive.counting import Limits, count_doses
from preventive.dates import Span
from preventive.facts import DoseSource, Species
from tests.preventive.build import day, dog, dose, history, under

ON = "2026-01-10"


def counted(*doses):
    """By the number of the dose: what counts, and why the others do not."""
    case = Case(dog("2025-01-06"), history(*doses), under(), day(ON))
    limits = Limits(min_ages=(Span.parse("12 wk"),), min_interval=Span.parse("2 wk"), legal=True)
    found = count_doses(case, "Rabies", lambda _: limits)
    return [each.id for each in found.doses], {each.dose_id: each.code for each in found.uncounted}


def given(name, on="2025-06-01", **facts):
    return dose(on, "Rabies", **{"kind": "inactivated", "months": 12, "id": name, **facts})


@pytest.mark.parametrize(
    ("leads", "other"),
    [
        ({"months": 12}, {"months": 36}),
        ({"months": None}, {"months": 1}),  # a label not on record holds for the shortest time there is
        ({}, {"lot": ""}),
        ({"source": DoseSource.OUTSIDE}, {"source": DoseSource.OUTSIDE, "lot": ""}),
    ],
)
def test_of_two_on_one_day_the_same_one_counts_whichever_was_entered_first(leads, other):
    for first, second in permutations(("1", "2")):
        assert counted(given(first, **leads), given(second, **other)) == ([first], {second: "duplicate"})


def test_what_is_proven_leads_and_a_dose_given_here_is_its_own_proof():
    here = given("here", proof=False)
    paper = given("paper", source=DoseSource.OUTSIDE)
    assert counted(here, paper) == (["paper"], {"here": "duplicate"})
    assert counted(here) == (["here"], {})


def test_a_ruling_counts_what_is_doubtful_and_refuses_what_is_not():
    young = {"on": "2025-02-10"}
    assert counted(given("a", **young)) == ([], {"a": "too_young"})
    assert counted(given("a", **young, decision=True)) == (["a"], {})
    assert counted(given("a", decision=False)) == ([], {"a": "vet_refused"})
    born = given("a", on="2025-01-06", decision=True)  # the day of its birth is none before it
    assert counted(born) == (["a"], {})
    assert counted(given("a", species=(Species.CAT,))) == ([], {"a": "wrong_species"})
    assert counted(given("a", species=(Species.DOG,))) == (["a"], {})
