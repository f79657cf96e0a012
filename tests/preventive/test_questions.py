"""Every question before a dose and before a preventive goes home: one case in which it is asked, one in which
it is not, its reason with a source, and who may go on.
"""

from dataclasses import replace

import pytest

from clinic.visits.lifestyle import CODES
from preventive import facts
from preventive.asking import Proposed, dose_questions
from preventive.codes import LIFESTYLE
from preventive.dates import PartialDate
from preventive.facts import Dose, ProductKind, Route, Species, VaccineProduct
from preventive.safety import safety_questions
from preventive.schedule import due_items
from tests.preventive.build import (
    CAT_CORE,
    DOG_CORE,
    cat,
    core,
    day,
    dog,
    dose,
    history,
    result,
    supply,
    under,
)
from tests.preventive.test_safety import HEARTWORM, product

ON = day("2026-06-01")
ADULT = "2022-01-01"
CORE = {Species.DOG: ("CDV", "CAV-2", "CPV"), Species.CAT: ("FPV", "FHV-1", "FCV")}


def asked(animal, what=None, *, kind="live", antigens=None, routes=(Route.SUBCUTANEOUS,), **facts):
    """What giving the core vaccine raises, by code; `not_due` is another test's."""
    given = Dose(
        id="proposed",
        antigens=antigens or CORE[animal.species],
        given=PartialDate(ON),
        product=VaccineProduct(name="Invented", kind=ProductKind(kind), species=(animal.species,)),
        route=facts.pop("route", routes[0]),
        site=facts.pop("site", "RF-D" if animal.species is Species.CAT else "SC-OTHER"),
        lot="L1",
    )
    proposed = Proposed(dose=given, routes=routes, well=facts.pop("well", True), **facts)
    found = dose_questions(animal, what or history(), under(), ON, proposed)
    assert all(each.text and each.source for each in found)
    return {each.code: each.level for each in found if each.code != "not_due"}


@pytest.mark.parametrize(
    ("found", "expected"),
    [
        (asked(dog(ADULT)), {}),
        (asked(dog(ADULT), well=None), {"well": "ask"}),
        (asked(dog(ADULT), well=False), {"ill": "warn"}),
        (asked(dog(ADULT, conditions=frozenset({"immunosuppressed"}))), {"immunosuppressed": "warn"}),
        (asked(dog(ADULT), in_use=("prednisolone",)), {"immunosuppressed": "warn"}),
        (asked(dog(ADULT), in_use=("ciclosporin",), kind="inactivated"), {"immunosuppressed": "ask"}),
        (asked(dog(ADULT), in_use=("amoxicillin",)), {}),
        (asked(dog(ADULT, conditions=frozenset({"pregnant"}))), {"pregnant": "warn"}),
        (asked(dog(ADULT, conditions=frozenset({"pregnant"})), kind="inactivated"), {}),
        (asked(cat(ADULT), history(tests=(result("fiv_ab", "2026-01-02", True),))), {"retrovirus": "warn"}),
        (asked(cat(ADULT), history(tests=(result("felv_ag", "2026-01-02", True),))), {"retrovirus": "warn"}),
        (asked(cat(ADULT), history(tests=(result("fiv_ab", "2026-01-02"),))), {}),
        (
            asked(cat(ADULT), history(tests=(result("fiv_ab", "2026-01-02", True),)), kind="inactivated"),
            {},
        ),
        (asked(dog(ADULT), reactions=("swollen face after a vaccine",)), {"reaction": "warn"}),
        (
            asked(dog(ADULT), antigens=("Bordetella",), routes=(Route.INTRANASAL,), route=Route.SUBCUTANEOUS),
            {"injected": "stop"},
        ),
        (
            asked(dog(ADULT), antigens=("Bordetella",), routes=(Route.ORAL,), route=Route.INTRAMUSCULAR),
            {"injected": "stop"},
        ),
        (asked(dog(ADULT), routes=(Route.SUBCUTANEOUS,), route=Route.INTRAMUSCULAR), {"route": "warn"}),
    ],
)
def test_before_a_dose(found, expected):
    assert found == expected


@pytest.mark.parametrize("condition", ["felv_infected", "fiv_infected"])
def test_a_live_vaccine_for_a_cat_on_record_as_infected_is_held(condition):
    held = asked(cat(ADULT, conditions=frozenset({condition})))
    assert {level for code, level in held.items() if code.startswith("hold:")} == {"warn"}
    assert not asked(cat(ADULT, conditions=frozenset({condition})), kind="inactivated")


def test_leukaemia_vaccine_asks_for_the_test_first():
    young = cat("2026-02-01")
    leukaemia = {"antigens": ("FeLV",), "kind": "recombinant", "site": "LH-D"}
    assert asked(young, **leukaemia) == {"untested": "warn"}
    assert asked(young, history(tests=(result("felv_ag", "2026-05-30"),)), **leukaemia) == {}


def test_a_lot_an_age_and_an_interval_are_asked_about():
    before = dose("2026-05-28", *CORE[Species.DOG])
    assert asked(dog(ADULT), history(before))["too_soon"] == "warn"
    assert asked(dog("2026-05-10"))["too_young"] == "warn"


def handing(animal, item, what=None, **facts):
    found = safety_questions(animal, item, what or history(), under(), ON, **facts)
    assert all(each.text and each.source for each in found)
    return {each.code: each.level for each in found}


RUN_OUT = supply("2026-01-01", count=3)
RUNNING = supply("2026-05-20")


@pytest.mark.parametrize(
    ("found", "expected"),
    [
        (handing(dog(ADULT), product("pyrantel")), {}),
        (handing(dog(ADULT, conditions=frozenset({"pregnant"})), product("pyrantel")), {"pregnant": "warn"}),
        (handing(cat(ADULT, conditions=frozenset({"nursing"})), product("pyrantel")), {"pregnant": "warn"}),
        (handing(dog(ADULT), HEARTWORM, history(supplies=(RUN_OUT,))), {"untested": "warn"}),
        (handing(dog(ADULT), HEARTWORM, history(supplies=(RUNNING,))), {}),
        (
            handing(dog(ADULT), product("fluralaner"), history(), in_use=("sarolaner",)),
            {"same_class": "warn", "isoxazoline_history": "ask"},
        ),
    ],
)
def test_before_a_preventive_goes_home(found, expected):
    assert found == expected


def test_every_answer_that_the_protocol_reads_is_asked_at_intake():
    asked_at_intake = {LIFESTYLE.get(code, code) for code in CODES}
    assert set(under().rules.lifestyle) - asked_at_intake == set()


READ_UNDER = ({}, {"leptospira_category": "noncore", "deworming": "esccap"})


RETROVIRUS = tuple(rule.result for rule in under().rules.retrovirus.values())


def answered(code, value):
    """Every due of puppies and kittens, and of grown ones with a history, where one answer is given."""
    answers = (facts.Answer("retrovirus_exposure", False), facts.Answer(code, value))
    answers = tuple({each.code: each for each in answers}.values())
    found = []
    for make, antigens, kinds in ((dog, DOG_CORE, ("heartworm_ag",)), (cat, CAT_CORE, RETROVIRUS)):
        for birth, doses in (
            ("2025-10-06", core("2025-12-01", "2026-01-26", antigens=antigens)),
            ("2019-01-06", core("2019-03-03", "2019-05-05", "2020-05-05", "2023-05-05", antigens=antigens)),
        ):
            animal = replace(make(birth), lifestyle=answers)
            tests = tuple(result(kind, "2026-02-02") for kind in kinds)
            treated = (facts.Treatment("deworming", day("2026-02-20")),)
            given = history(*doses, tests=tests, treatments=treated)
            for chosen in READ_UNDER:
                found.append(due_items(animal, given, under(**chosen), day("2026-03-11")))
    return found


@pytest.mark.parametrize("code", sorted(set(under().rules.lifestyle) - {"cats_in_home"}))
def test_a_yes_and_a_no_lead_to_other_dues(code):
    """But for a cat at home, which decides what a dog may be handed: asked there."""
    assert answered(code, True) != answered(code, False)
