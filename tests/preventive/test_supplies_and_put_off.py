"""Preventives that go home, what is declined, put off, stopped or done once."""

from datetime import date, timedelta

import pytest

from clinic.models import Alert, CallBack, Condition, Test, TestResult
from clinic.people.actor import NotAllowed
from preventive import actions
from preventive.due import Standing, standing
from preventive.errors import ClinicianDecides, Incomplete, QuestionsOpen, Refused, WrongPatient
from preventive.models import Supply
from preventive.queries import dues_of
from tests import people
from tests.preventive.room import NOW, TODAY, Room, room

pytestmark = pytest.mark.django_db
IN_TWO_WEEKS = TODAY + timedelta(days=14)


@pytest.fixture
def puppy() -> Room:
    return room()


def due(puppy: Room, code: str):
    return next(each for each in dues_of(puppy.patient, today=TODAY) if each.code == code)


def codes(asked) -> set[str]:
    return {each.code for each in asked.value.questions}


def result(puppy: Room, kind: str, meaning: str) -> None:
    test = Test.objects.create(
        patient=puppy.patient,
        record=puppy.visit.record,
        kind=kind,
        title=kind,
        ordered_by=puppy.people.clinician,
        ordered_at=NOW,
        taken_at=NOW,
    )
    TestResult.objects.create(
        test=test, value=meaning, meaning=meaning, resulted_at=NOW, entered_by=puppy.people.clinician
    )


def test_the_size_follows_the_weight_and_the_day_the_count(puppy):
    supply = puppy.hand_out(count=2, first_on=date(2026, 3, 14))
    assert (supply.band, supply.interval, supply.form) == ("over 5 to 10 kg", "1 mo", "chew")
    later = dues_of(puppy.patient, today=date(2026, 3, 20))
    assert next(each for each in later if each.code == "dog_heartworm_prevention").target == date(2026, 5, 14)


def test_another_size_than_the_weight_asks_for_is_refused(puppy):
    with pytest.raises(Refused) as refused:
        puppy.hand_out(band="over 20 to 40 kg", answers={"too_light": "he grows"})
    assert codes(refused) == {"too_light"}


def test_no_weight_no_size(puppy):
    puppy.patient.measurements.update(struck_at=NOW, struck_by=puppy.people.clinician, struck_reason="scale")
    with pytest.raises(Incomplete, match="size"):
        puppy.hand_out()


def test_permethrin_is_asked_where_a_cat_of_the_same_owner_lives(puppy):
    people.patient("Sixpence", of=puppy.patient.owners.get(), species="cat")
    with pytest.raises(QuestionsOpen) as asked:
        puppy.hand_out("permaleash-spot-dog")
    assert codes(asked) == {"permethrin_home"}
    with pytest.raises(ClinicianDecides):
        puppy.hand_out("permaleash-spot-dog", by="technician", answers={"permethrin_home": "kept apart"})
    assert puppy.hand_out("permaleash-spot-dog", answers={"permethrin_home": "kept apart"}).answers


def test_permethrin_never_for_a_cat():
    cat = room(60, species="cat", expected_adult_kg=None)
    with pytest.raises(Refused) as refused:
        cat.hand_out("permaleash-spot-dog", answers={"permethrin_cat": "none left"})
    assert {"permethrin_cat", "wrong_species"} <= codes(refused)


def test_seizures_are_asked_before_an_isoxazoline(puppy):
    Condition.objects.create(
        patient=puppy.patient, code="seizures", since=TODAY, entered_by=puppy.people.clinician, entered_at=NOW
    )
    with pytest.raises(QuestionsOpen) as asked:
        puppy.hand_out("ticklode-chew-dog")
    assert codes(asked) == {"isoxazoline_seizures"}


def test_a_grown_dog_is_tested_before_the_first_heartworm_chew():
    grown = room(60)
    with pytest.raises(QuestionsOpen) as asked:
        grown.hand_out()
    assert codes(asked) == {"untested"}
    result(grown, "heartworm-antigen", "negative")
    result(grown, "heartworm-microfilariae", "negative")
    assert grown.hand_out().count == 1


def test_an_unclear_result_is_no_test():
    grown = room(60)
    result(grown, "heartworm-antigen", "unclear")
    result(grown, "heartworm-microfilariae", "negative")
    with pytest.raises(QuestionsOpen) as asked:
        grown.hand_out()
    assert codes(asked) == {"untested"}


def test_nothing_goes_home_after_a_positive_heartworm_test():
    grown = room(60)
    result(grown, "heartworm-antigen", "positive")
    with pytest.raises(Refused):
        grown.hand_out(answers={"heartworm_positive": "owner insists"})


def test_a_vaccine_is_no_supply(puppy):
    with pytest.raises(WrongPatient):
        puppy.hand_out("rabisal-3")


def test_what_the_owner_has_at_home_is_history_and_asks_nothing():
    grown = room(60)
    supply = grown.hand_out(by="assistant", source="owner", count=3, first_on=date(2026, 2, 1))
    assert due(grown, "dog_heartworm_prevention").last_on == supply.first_on


def test_a_struck_supply_is_forgotten(puppy):
    supply = puppy.hand_out()
    actions.strike_supply(actor=puppy.actor(), now=NOW, supply=supply, reason="brought back")
    assert due(puppy, "dog_heartworm_prevention").last_on is None
    assert Supply.objects.filter(struck_at=None).count() == 0


def test_a_decline_is_not_overdue_and_offered_again(puppy):
    actions.decline(
        actor=puppy.actor(),
        now=NOW,
        patient=puppy.patient,
        visit=puppy.visit,
        code="dog_core",
        reason="afraid",
    )
    item = due(puppy, "dog_core:CPV")
    assert standing(item, TODAY) is Standing.DECLINED
    assert CallBack.objects.get(source="dues", key="dog_core:CDV").due_on == date(2027, 3, 11)


def test_a_deferral_waits_until_its_day(puppy):
    actions.defer(
        actor=puppy.actor("technician"),
        now=NOW,
        patient=puppy.patient,
        visit=puppy.visit,
        code="dog_core",
        reason="unwell",
        until=IN_TWO_WEEKS,
    )
    assert standing(due(puppy, "dog_core:CPV"), TODAY) is Standing.DEFERRED
    assert CallBack.objects.get(source="dues", key="dog_core:CDV").due_on == IN_TWO_WEEKS


@pytest.mark.parametrize(("reason", "until"), [("", IN_TWO_WEEKS), ("unwell", TODAY)])
def test_what_is_put_off_says_why_and_until_when(puppy, reason, until):
    with pytest.raises(Incomplete):
        actions.defer(
            actor=puppy.actor(),
            now=NOW,
            patient=puppy.patient,
            visit=puppy.visit,
            code="dog_core",
            reason=reason,
            until=until,
        )


def test_taking_back_a_decline_brings_the_item_back(puppy):
    row = actions.decline(
        actor=puppy.actor(),
        now=NOW,
        patient=puppy.patient,
        visit=puppy.visit,
        code="dog_core",
        reason="afraid",
    )
    actions.strike_put_off(actor=puppy.actor(), now=NOW, row=row, reason="changed her mind")
    assert standing(due(puppy, "dog_core:CPV"), TODAY) is Standing.OVERDUE


def test_a_hold_is_a_clinician_s_and_asked_before_a_dose(puppy):
    with pytest.raises(NotAllowed):
        actions.hold(
            actor=puppy.actor("technician"), now=NOW, patient=puppy.patient, code="dog_core", reason="hives"
        )
    held = actions.hold(actor=puppy.actor(), now=NOW, patient=puppy.patient, code="dog_core", reason="hives")
    with pytest.raises(QuestionsOpen) as asked:
        puppy.give()
    assert "hold:dog_core" in codes(asked)
    assert actions.release_hold(actor=puppy.actor(), now=NOW, held=held, reason="it was a wasp")
    assert not actions.release_hold(actor=puppy.actor(), now=NOW, held=held, reason="again")
    assert puppy.give().pk


def test_a_deworming_moves_the_next_one(puppy):
    actions.record_treatment(
        actor=puppy.actor("technician"), now=NOW, patient=puppy.patient, visit=puppy.visit, kind="deworming"
    )
    assert due(puppy, "dog_deworming").target == date(2026, 4, 11)


def test_the_dead_are_called_back_for_nothing(puppy):
    actions.refresh_call_backs(patient=puppy.patient, today=TODAY, now=NOW)
    assert CallBack.objects.filter(source="dues").exists()
    puppy.patient.deceased_on, puppy.patient.deceased_how = TODAY, "died"
    puppy.patient.save()
    actions.refresh_call_backs(patient=puppy.patient, today=TODAY, now=NOW)
    assert not CallBack.objects.filter(source="dues").exists()


def test_call_backs_of_other_rooms_stay(puppy):
    CallBack.objects.create(
        patient=puppy.patient, source="weigh-in", key="w", label="Weigh", due_on=TODAY, refreshed_at=NOW
    )
    actions.refresh_call_backs(patient=puppy.patient, today=TODAY, now=NOW)
    assert CallBack.objects.filter(source="weigh-in").count() == 1


def test_an_allergy_that_names_no_vaccine_is_not_asked(puppy):
    Alert.objects.create(
        patient=puppy.patient,
        kind="allergy",
        text="chicken",
        entered_by=puppy.people.clinician,
        entered_at=NOW,
    )
    assert puppy.give().answers == []
