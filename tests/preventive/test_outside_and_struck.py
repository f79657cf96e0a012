"""Doses from elsewhere, and what is struck out."""

from datetime import date

import pytest

from clinic.letters.actions import freeze_letter
from clinic.models import Addendum, CallBack, Letter
from clinic.people.actor import NotAllowed
from preventive import actions
from preventive.errors import Incomplete, StruckAlready
from preventive.queries import dues_of
from tests.preventive.room import NOW, TODAY, Room, room

pytestmark = pytest.mark.django_db


@pytest.fixture
def grown() -> Room:
    return room(200)


def outside(grown: Room, by: str = "assistant", **facts):
    facts = {"antigens": ["Rabies"], "given_on": date(2025, 6, 2)} | facts
    return actions.record_outside_dose(actor=grown.actor(by), now=NOW, patient=grown.patient, **facts)


def due(grown: Room, code: str):
    return next(each for each in dues_of(grown.patient, today=TODAY) if each.code == code)


def test_a_proven_outside_dose_counts(grown):
    outside(grown, proof=True, proof_words="certificate 4402", licensed_months=12, kind="inactivated")
    assert due(grown, "rabies").last_on == date(2025, 6, 2)


def test_an_unproven_rabies_dose_does_not_count_for_the_law(grown):
    outside(grown)
    assert [each.code for each in due(grown, "rabies").uncounted] == ["unproven"]


def test_the_owner_s_word_is_kept_and_not_counted(grown):
    outside(grown, antigens=["CPV"], source="owner")
    assert [each.code for each in due(grown, "dog_core:CPV").uncounted] == ["hearsay"]


def test_a_month_is_enough_of_a_date(grown):
    outside(grown, antigens=["Leptospira"], precision="month", proof=True)
    assert due(grown, "dog_leptospira").last_on == date(2025, 6, 1)


@pytest.mark.parametrize("antigens", [[], ["Measles"]])
def test_an_unknown_antigen_is_asked(grown, antigens):
    with pytest.raises(Incomplete):
        outside(grown, antigens=antigens)


def test_a_struck_dose_counts_no_more(grown):
    dose = grown.give("rabisal-3")
    actions.strike_dose(actor=grown.actor(), now=NOW, dose=dose, reason="wrong animal")
    assert due(grown, "rabies").last_on is None
    assert CallBack.objects.get(source="dues", key="rabies").due_on <= TODAY
    dose.refresh_from_db()
    assert (dose.struck_by, dose.struck_reason) == (grown.people.clinician, "wrong animal")


def test_striking_gives_back_the_state_before_it_was_entered(grown):
    outside(grown, antigens=["CPV", "Leptospira"], given_on=date(2025, 6, 2), proof=True)
    before = dues_of(grown.patient, today=TODAY)
    doses = [grown.give("rabisal-3"), grown.give("corvane-three")]
    doses += outside(grown, proof=True, licensed_months=12), outside(grown, given_on=date(2025, 6, 30))
    assert dues_of(grown.patient, today=TODAY) != before
    for dose in doses:
        actions.strike_dose(actor=grown.actor(), now=NOW, dose=dose, reason="wrong animal")
    assert dues_of(grown.patient, today=TODAY) == before


def test_it_is_struck_once_and_with_a_reason(grown):
    dose = grown.give("rabisal-3")
    with pytest.raises(Incomplete):
        actions.strike_dose(actor=grown.actor(), now=NOW, dose=dose, reason=" ")
    actions.strike_dose(actor=grown.actor(), now=NOW, dose=dose, reason="wrong animal")
    with pytest.raises(StruckAlready):
        actions.strike_dose(actor=grown.actor(), now=NOW, dose=dose, reason="again")


def test_a_technician_strikes_her_own_only(grown):
    mine, theirs = grown.give("rabisal-3", by="technician"), grown.give("corvane-three")
    actions.strike_dose(actor=grown.actor("technician"), now=NOW, dose=mine, reason="wrong animal")
    with pytest.raises(NotAllowed):
        actions.strike_dose(actor=grown.actor("technician"), now=NOW, dose=theirs, reason="wrong animal")


def test_striking_after_the_signature_makes_an_addendum_and_a_corrected_letter(grown):
    dose, record = grown.give("rabisal-3"), grown.visit.record
    freeze_letter(record=record, actor=grown.actor(), now=NOW)
    record.signed_at, record.signed_by, record.signed_name = NOW, grown.people.clinician, "Dr Maren Oduya"
    record.save()
    dose.record.refresh_from_db()
    actions.strike_dose(actor=grown.actor(), now=NOW, dose=dose, reason="wrong animal")
    assert "wrong animal" in Addendum.objects.get().text
    assert list(Letter.objects.order_by("version").values_list("version", flat=True)) == [1, 2]
