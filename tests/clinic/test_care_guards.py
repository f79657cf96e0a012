"""Each guard asks where it should, stays silent where it should, and is lifted only by a reason."""

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clinic.care.catalogue import cautions
from clinic.care.guards import Case, InUse, Proposed, questions
from clinic.care.kinds import published
from clinic.care.routes import Route
from clinic.patients.models import ConditionCode
from tests.people import TODAY

KINDS = published().with_own({})
WELL = Case(name="Pomfret", species="dog", today=TODAY, weighed_on=TODAY)
TABLETS = Proposed("Amberlock tablets 250", ("amoxicillin",), Route.MOUTH, species=frozenset({"dog", "cat"}))
DROPS = Proposed("Millrace ear drops", ("miconazole",), Route.EAR, "left", frozenset({"dog", "cat"}))
NSAID = Proposed("Oakwhistle chews 50", ("carprofen",), Route.MOUTH, species=frozenset({"dog"}))
STEROID = Proposed("Lantern tablets 5", ("prednisolone",), Route.MOUTH)


def over(ingredient: str, days: int) -> InUse:
    """What ended so many days ago."""
    return InUse("before", (ingredient,), ended=TODAY - timedelta(days))


def codes(medicine: Proposed, case: Case) -> list[str]:
    return [each.code for each in questions(medicine, case, KINDS)]


def test_a_well_known_patient_raises_no_question():
    assert codes(TABLETS, WELL) == []


@pytest.mark.parametrize(
    ("medicine", "case", "asked"),
    [
        (TABLETS, replace(WELL, allergies=("hives after penicillin",)), "allergy"),
        (TABLETS, replace(WELL, allergies=("Amoxicillin: swollen face",)), "allergy"),
        (
            replace(TABLETS, ingredients=("amoxicillin trihydrate",)),
            replace(WELL, allergies=("amoxicillin",)),
            "allergy",
        ),
        (NSAID, replace(WELL, species="cat"), "species"),
        (NSAID, replace(WELL, in_use=(InUse("other chews", ("Carprofen",)),)), "duplicate"),
        (NSAID, replace(WELL, in_use=(InUse("drops", ("meloxicam",)),)), "duplicate"),
        (NSAID, replace(WELL, in_use=(InUse("tablets", ("prednisolone",)),)), "steroid-with-nsaid"),
        (STEROID, replace(WELL, in_use=(InUse("chews", ("carprofen",)),)), "steroid-with-nsaid"),
        (TABLETS, replace(WELL, weighed_on=None), "weight"),
        (TABLETS, replace(WELL, weighed_on=TODAY - timedelta(31)), "weight"),
        (TABLETS, replace(WELL, weighed_on=TODAY - timedelta(8), growing=True), "weight"),
        (DROPS, WELL, "ear-drum"),
        (DROPS, replace(WELL, drum_seen_whole={"left": False}), "ear-drum"),
        (DROPS, replace(WELL, drum_seen_whole={"right": True}), "ear-drum"),
        (replace(DROPS, side="both"), replace(WELL, drum_seen_whole={"left": True}), "ear-drum"),
        (TABLETS, replace(WELL, conditions=frozenset({"pregnant"})), "pregnancy"),
        (TABLETS, replace(WELL, conditions=frozenset({"nursing"})), "pregnancy"),
        (NSAID, replace(WELL, allergies=("Non-steroidal anti-inflammatories: vomited blood",)), "allergy"),
        (NSAID, replace(WELL, allergies=("reacts to NSAIDs",)), "allergy"),
        (STEROID, replace(WELL, allergies=("cortisone",)), "allergy"),
        (TABLETS, replace(WELL, allergies=("penicillins",)), "allergy"),
        (
            STEROID,
            replace(WELL, lately=(over("carprofen", 2),)),
            "lately",
        ),
        (
            NSAID,
            replace(WELL, lately=(over("meloxicam", 6),)),
            "lately",
        ),
    ],
)
def test_a_guard_asks(medicine, case, asked):
    assert codes(medicine, case) == [asked]


@pytest.mark.parametrize(
    ("medicine", "case"),
    [
        (TABLETS, replace(WELL, allergies=("chicken",))),
        (NSAID, replace(WELL, in_use=(InUse("tablets", ("amoxicillin",)),))),
        (TABLETS, replace(WELL, in_use=(InUse("capsules", ("doxycycline",)),))),
        (TABLETS, replace(WELL, weighed_on=TODAY - timedelta(30))),
        (TABLETS, replace(WELL, weighed_on=TODAY - timedelta(7), growing=True)),
        (DROPS, replace(WELL, weighed_on=None, drum_seen_whole={"left": True})),
        (replace(TABLETS, species=frozenset()), replace(WELL, species="cat")),
        (TABLETS, replace(WELL, conditions=frozenset({"kidney_disease"}))),
        (STEROID, replace(WELL, allergies=("non-steroidal anti-inflammatories",))),
        (STEROID, replace(WELL, allergies=("nonsteroidal drugs",))),
        (TABLETS, replace(WELL, allergies=("cephalosporins",))),
        (STEROID, replace(WELL, lately=(over("carprofen", 7),))),
        (STEROID, replace(WELL, lately=(over("dexamethasone", 1),))),
        (NSAID, replace(WELL, lately=(over("carprofen", 1),))),
    ],
)
def test_a_guard_stays_silent(medicine, case):
    assert codes(medicine, case) == []


def test_every_question_gives_a_reason_and_says_where_it_comes_from():
    worst = replace(
        WELL,
        species="cat",
        allergies=("carprofen",),
        conditions=frozenset({"pregnant"}),
        weighed_on=None,
        in_use=(InUse("chews", ("carprofen",)), InUse("tablets", ("prednisolone",))),
    )
    asked = questions(replace(NSAID, route=Route.MOUTH), worst, KINDS)
    assert [each.code for each in asked] == [
        "allergy",
        "species",
        "duplicate",
        "steroid-with-nsaid-1",
        "weight",
        "pregnancy",
    ]
    assert all(each.reason and each.source and each.sentence.endswith("?") for each in asked)


@pytest.mark.parametrize("caution", cautions(), ids=lambda each: f"{each.condition}-{min(each.kinds)}")
def test_a_condition_asks_about_the_kinds_its_caution_names_and_no_others(caution):
    """Each is a question with a reason and its source; the same medicine raises none in a well animal."""
    named = next(name for name, kinds in KINDS.of.items() if kinds & caution.kinds)
    other = next(name for name, kinds in KINDS.of.items() if not kinds & caution.kinds)
    ill = replace(WELL, conditions=frozenset({caution.condition}))
    asked = questions(Proposed("it", (named,), Route.MOUTH), ill, KINDS, cautions())
    assert [(each.reason, each.source) for each in asked] == [(caution.because, caution.source)]
    assert asked[0].sentence.endswith("?")
    assert questions(Proposed("it", (named,), Route.MOUTH), WELL, KINDS, cautions()) == ()
    assert questions(Proposed("it", (other,), Route.MOUTH), ill, KINDS, cautions()) == ()


def test_cautions_name_conditions_and_kinds_that_there_are():
    kinds = frozenset().union(*KINDS.of.values())
    for caution in cautions():
        assert caution.condition in ConditionCode.values
        assert caution.kinds & kinds


INGREDIENTS = st.sampled_from([*KINDS.of, "something else"])


@given(
    st.lists(INGREDIENTS, min_size=1, max_size=3),
    st.lists(st.lists(INGREDIENTS, min_size=1, max_size=2), max_size=4),
    st.lists(st.sampled_from(["penicillin", "carprofen", "chicken"]), max_size=3),
)
def test_each_question_has_a_code_of_its_own(own, in_use, allergies):
    """An answer to one question can never stand for another."""
    case = replace(
        WELL,
        in_use=tuple(InUse("x", tuple(each)) for each in in_use),
        allergies=tuple(allergies),
        weighed_on=None,
    )
    asked = codes(Proposed("new", tuple(own), Route.MOUTH), case)
    assert len(asked) == len(set(asked))


@given(st.sampled_from(sorted(KINDS.of)), st.sampled_from(sorted(KINDS.of)))
def test_the_order_of_two_medicines_does_not_hide_a_clash(first, second):
    def clashes(new, old):
        case = replace(WELL, in_use=(InUse("old", (old,)),))
        return [code.partition("-")[0] for code in codes(Proposed("new", (new,), Route.MOUTH), case)]

    assert clashes(first, second) == clashes(second, first)
