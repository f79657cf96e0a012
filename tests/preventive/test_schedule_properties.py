"""What must hold for every history."""

import os
import time
from dataclasses import fields, replace
from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from preventive.dates import PartialDate
from preventive.facts import (
    Animal,
    Birth,
    Dose,
    DoseSource,
    History,
    ProductKind,
    Route,
    Species,
    VaccineProduct,
)
from preventive.schedule import due_item, due_items
from tests.preventive.build import under
from tests.preventive.histories import lives

BIRTH = date(2021, 3, 1)
ON = date(2026, 2, 1)
ANTIGENS = {
    Species.DOG: ["CDV", "CAV-2", "CPV", "CPiV", "Leptospira", "Bordetella", "Borrelia", "Rabies"],
    Species.CAT: ["FPV", "FHV-1", "FCV", "FeLV", "Rabies"],
}
PLACES = st.sampled_from(["", "us-tx", "us-ny", "us-pa", "eu-travel", "ca-strict"])


def animal(species):
    return Animal(species=species, birth=Birth(PartialDate(BIRTH)), chipped_on=BIRTH)


@st.composite
def dose(draw, antigens, months=(12, 36)):
    product = VaccineProduct(
        kind=draw(st.sampled_from(ProductKind)), licensed_months=draw(st.sampled_from(months))
    )
    return Dose(
        id=draw(st.uuids().map(str)),
        antigens=tuple(draw(st.sets(st.sampled_from(antigens), min_size=1))),
        given=PartialDate(draw(st.dates(BIRTH, ON))),
        product=product,
        route=draw(st.sampled_from([Route.SUBCUTANEOUS, Route.INTRANASAL, Route.ORAL])),
        lot="L1",
    )


@st.composite
def situations(draw):
    species = draw(st.sampled_from(Species))
    doses = draw(st.lists(dose(ANTIGENS[species]), max_size=6, unique_by=lambda d: d.given.value))
    return animal(species), tuple(doses)


def all_dates(dues):
    """Everything of the dues but which record a refused dose stands in."""
    return [replace(due, uncounted=tuple(replace(u, dose_id="") for u in due.uncounted)) for due in dues]


@given(situations())
def test_no_due_date_lies_before_the_dose_it_counts_from(situation):
    who, doses = situation
    for due in due_items(who, History(doses=doses), under(), ON):
        if due.last_on is not None and due.target is not None:
            assert due.target >= due.last_on
            assert due.earliest is None or due.earliest <= due.target


@st.composite
def never_given(draw):
    """A dose as written that cannot have been given, or whose only witness is the owner."""
    species = draw(st.sampled_from(Species))
    # the law asks for proof instead of the owner's word: such a rabies dose may have been given
    antigens = [each for each in ANTIGENS[species] if each != "Rabies"]
    doses = tuple(draw(st.lists(dose(ANTIGENS[species]), max_size=6, unique_by=lambda d: d.given.value)))
    fresh = replace(draw(dose(antigens)), id="extra")
    future = replace(fresh, given=PartialDate(ON + timedelta(days=draw(st.integers(1, 400)))))
    before_birth = replace(fresh, given=PartialDate(BIRTH - timedelta(days=draw(st.integers(1, 400)))))
    said = replace(fresh, source=DoseSource.OWNER, proof=False)
    return animal(species), doses, draw(st.sampled_from([future, before_birth, said]))


@given(never_given())
def test_a_dose_that_was_never_given_moves_nothing_and_says_why(situation):
    who, doses, extra = situation
    before = due_items(who, History(doses=doses), under(), ON)
    after = due_items(who, History(doses=(*doses, extra)), under(), ON)
    listed = {due.code for due in after if any(each.dose_id == "extra" for each in due.uncounted)}
    assert len(listed) == len(extra.antigens)
    for was, now in zip(before, after, strict=True):
        kept = tuple(each for each in now.uncounted if each.dose_id != "extra")
        assert replace(now, uncounted=kept) == was


@given(situations())
def test_a_combined_dose_equals_its_antigens_one_by_one(situation):
    who, doses = situation
    singly = tuple(
        replace(each, id=f"{each.id}-{antigen}", antigens=(antigen,))
        for each in doses
        for antigen in each.antigens
    )
    together = due_items(who, History(doses=doses), under(), ON)
    assert all_dates(due_items(who, History(doses=singly), under(), ON)) == all_dates(together)


@given(st.lists(dose(["Rabies"], (12,)), min_size=1, max_size=4), dose(["Rabies"], (12, 36)), PLACES)
def test_one_more_rabies_dose_never_brings_the_legal_date_forward(doses, extra, place):
    """The added label is at least as long as every other one."""
    who, rules = animal(Species.DOG), under(place)
    before = due_item(who, History(doses=tuple(doses)), rules, ON, "rabies")
    after = due_item(who, History(doses=(*doses, extra)), rules, ON, "rabies")
    if before.last_on is not None:
        assert after.legal >= before.legal


@given(lives(), st.integers(0, 20), st.integers(0, 400))
def test_the_answer_holds_until_the_recheck_day(life, which, days):
    """Until the day before it nothing of an answer changes: dates, action, pause, nor any reason."""
    who, what = life
    found = due_items(who, what, under(), ON)
    last = [min(due.recheck_on or date.max, ON + timedelta(days=400)) - timedelta(days=1) for due in found]
    for on in {last[which % len(last)], ON + timedelta(days=days)}:
        for due, until, later in zip(found, last, due_items(who, what, under(), on), strict=True):
            if on <= until:
                assert replace(later, recheck_on=None, changes=()) == replace(
                    due, recheck_on=None, changes=()
                )


@given(lives(), st.randoms(use_true_random=False))
def test_reckoning_twice_or_in_another_order_of_entry_gives_the_same(life, random):
    who, what = life
    mixed = {
        name: tuple(random.sample(rows, len(rows))) for name, rows in vars_of(what).items() if name != "exams"
    }
    first = due_items(who, what, under(), ON)
    assert due_items(who, what, under(), ON) == first
    assert due_items(who, replace(what, **mixed), under(), ON) == first
    # a row's number says when it was entered
    named = tuple(
        replace(dose, id=f"{n:03}") for n, dose in enumerate(random.sample(what.doses, len(what.doses)))
    )
    assert all_dates(due_items(who, replace(what, doses=named), under(), ON)) == all_dates(first)


def vars_of(what):
    return {each.name: getattr(what, each.name) for each in fields(what)}


def test_the_time_zone_of_the_server_plays_no_part(monkeypatch):
    who, what = animal(Species.DOG), History()
    found = []
    for zone in ("Pacific/Kiritimati", "Pacific/Pago_Pago"):
        monkeypatch.setitem(os.environ, "TZ", zone)
        time.tzset()
        found.append(due_items(who, what, under(), ON))
    monkeypatch.undo()
    time.tzset()
    assert found[0] == found[1]
