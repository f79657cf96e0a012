"""Owners, patients and their measurements, as actions."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import transaction

from clinic.models import Measurement, Owner, Patient
from clinic.patients import actions
from clinic.patients.errors import AskOnce, BornLater, ChipRefused, ChipTaken, Impossible, OwnerNeeded
from clinic.people.actor import Actor, NotAllowed
from clinic.people.phones import NotAPhone
from tests import people

pytestmark = pytest.mark.django_db


@pytest.fixture
def technician() -> Actor:
    return Actor.of(people.staff("Inés Varga", "technician"))


def pet(technician: Actor, **fields: object) -> Patient:
    facts = {"name": "Pomfret", "species": "dog", "sex": "male", "neutered": "yes"}
    return actions.register_patient(
        actor=technician, now=people.NOW, owner=people.owner(), **(facts | fields)
    )


def weigh(technician: Actor, patient: Patient, kg: str, **fields: object) -> Measurement:
    facts = {"kind": "weight", "typed": Decimal(kg), "unit": "kg"}
    return actions.measure(actor=technician, now=people.NOW, patient=patient, **(facts | fields))


def test_an_owner_without_an_address_gets_paper(technician: Actor) -> None:
    owner = actions.register_owner(actor=technician, now=people.NOW, given_name="Bea", family_name="Ostrow")
    assert (owner.email_state, owner.letters_by) == ("none", "paper")


def test_a_telephone_that_cannot_be_one_is_refused_and_nobody_is_made(technician: Actor) -> None:
    with pytest.raises(NotAPhone), transaction.atomic():
        actions.register_owner(
            actor=technician, now=people.NOW, given_name="Bea", family_name="Ostrow", phones=[("", "12")]
        )
    assert not Owner.objects.filter(family_name="Ostrow").exists()


def test_a_new_address_counts_as_not_tried(technician: Actor) -> None:
    owner = people.owner()
    Owner.objects.update(email_state="works")
    changed = actions.change_owner(actor=technician, now=people.NOW, owner=owner, email="new@example.com")
    assert changed.email_state == "untried"


def test_one_owner_is_first_and_another_can_become_it(technician: Actor) -> None:
    patient = pet(technician)
    second = people.owner("Noor van Wessel", "noor@example.com")
    actions.add_co_owner(actor=technician, now=people.NOW, patient=patient, owner=second)
    actions.make_first_owner(actor=technician, now=people.NOW, patient=patient, owner=second)
    assert [each.owner.family_name for each in patient.ownerships.filter(is_first=True)] == ["Wessel"]


def test_the_last_owner_stays(technician: Actor) -> None:
    patient = pet(technician)
    with pytest.raises(OwnerNeeded):
        actions.end_ownership(actor=technician, now=people.NOW, patient=patient, owner=patient.owners.get())


def test_a_chip_that_no_standard_allows_is_refused_with_its_reason(technician: Actor) -> None:
    with pytest.raises(ChipRefused, match="digit"):
        pet(technician, microchip="98511234567890O")


def test_a_chip_stands_at_one_patient_only(technician: Actor) -> None:
    pet(technician, microchip="985 1 1234 5678 903")
    with pytest.raises(ChipTaken, match="Pomfret"):
        pet(technician, name="Grit", microchip="985112345678903")


def test_nobody_is_born_tomorrow(technician: Actor) -> None:
    with pytest.raises(BornLater):
        pet(technician, birth_date=people.TODAY + timedelta(days=1))


def test_a_weight_keeps_what_was_typed_and_the_kilograms(technician: Actor) -> None:
    kept = weigh(technician, pet(technician), "12.4", unit="lb")
    assert (kept.typed, kept.unit, kept.value) == (Decimal("12.4"), "lb", Decimal("5.624545"))


def test_an_impossible_weight_is_refused_with_the_reason(technician: Actor) -> None:
    with pytest.raises(Impossible) as refused:
        weigh(technician, pet(technician, species="cat"), "25")
    assert refused.value.reason


def test_a_slipped_decimal_is_asked_once_and_kept_when_looked_at_twice(technician: Actor) -> None:
    patient = pet(technician)
    weigh(technician, patient, "4.5", measured_at=people.NOW - timedelta(days=90))
    with pytest.raises(AskOnce, match="decimal"):
        weigh(technician, patient, "45")
    assert weigh(technician, patient, "45", looked_twice=True).looked_twice


def test_a_fever_is_marked_high_with_its_code(technician: Actor) -> None:
    kept = weigh(technician, pet(technician), "39.6", kind="temperature", unit="C")
    assert (kept.flag, kept.finding_code, kept.urgency) == ("high", "VIT-01", "T")


def test_a_score_is_a_word(technician: Actor) -> None:
    kept = weigh(technician, pet(technician), "0", kind="mcs", typed=None, unit="", category="mild")
    assert (kept.value, kept.category) == (None, "mild")


def test_somebody_elses_value_is_struck_by_a_clinician_only(technician: Actor) -> None:
    kept = weigh(technician, pet(technician), "12")
    other = Actor.of(people.staff("Jonas Brel", "technician"))
    strike = {"now": people.NOW, "measurement": kept, "reason": "wrong patient"}
    with pytest.raises(NotAllowed):
        actions.strike_measurement(actor=other, **strike)
    actions.strike_measurement(actor=Actor.of(people.staff("Dr Maren Oduya", "clinician")), **strike)
    kept.refresh_from_db()
    assert kept.struck_reason == "wrong patient"


def test_a_food_told_unchanged_keeps_its_first_day(technician: Actor) -> None:
    patient = pet(technician)
    eats = [actions.Eaten("meal", "Tarrock adult dry", Decimal(175), "g a day")]
    actions.set_diet(actor=technician, now=people.NOW, patient=patient, visit=None, entries=eats)
    later = people.NOW + timedelta(days=30)
    eats.append(actions.Eaten("treat", "Dental chew", Decimal(2), "pieces a day"))
    actions.set_diet(actor=technician, now=later, patient=patient, visit=None, entries=eats)
    assert [entry.since for entry in patient.diet_entries.order_by("pk")] == [people.TODAY, later.date()]
