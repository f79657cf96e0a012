"""A dose given here: what it keeps, what is asked before, what is refused."""

from datetime import date, timedelta
from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction

from clinic.models import Alert, CallBack, Condition, DataVersion
from clinic.people.actor import NotAllowed
from clinic.visits.errors import NotOpen, SentBefore
from preventive import actions
from preventive.errors import ClinicianDecides, Incomplete, PatientDied, QuestionsOpen, Refused, WrongPatient
from preventive.models import Dose
from preventive.queries import dues_of
from tests import people
from tests.preventive.room import NOW, TODAY, Room, room, weeks_old

pytestmark = pytest.mark.django_db


@pytest.fixture
def puppy() -> Room:
    return room()


@pytest.fixture
def kitten() -> Room:
    return room(17, species="cat", expected_adult_kg=None)


def codes(refused) -> list[str]:
    return [each.code for each in refused.value.questions]


def test_a_dose_keeps_the_label_the_lot_and_the_people(puppy):
    dose = puppy.give(by="technician")
    assert dose.antigens == ["CDV", "CAV-2", "CPV"]
    assert (dose.lot, dose.expires_on, dose.route, dose.site) == (
        "QX4471",
        date(2028, 3, 31),
        "SC",
        "SC-OTHER",
    )
    assert (dose.given_by, dose.supervising) == (puppy.people.technician, puppy.people.clinician)
    assert (dose.licence, dose.sequence, dose.given_on) == ("L-1001 Fenland", "initial 1", TODAY)
    assert dose.product_facts["maker"] == "Lindhollow Biologicals"
    assert dose.record == puppy.visit.record


def test_the_label_kept_is_that_of_the_day(puppy):
    dose = puppy.give()
    puppy.stock["corvane-three"].facts["licensed_months"] = 12
    puppy.stock["corvane-three"].save()
    dose.refresh_from_db()
    assert dose.product_facts["facts"]["licensed_months"] == 36


def test_a_dose_points_to_its_protocol_which_is_kept_once(puppy):
    first, second = puppy.give(), puppy.give("bordelle-nasal")
    assert first.protocol == second.protocol
    assert DataVersion.objects.filter(kind="protocol").count() == 1


def test_the_next_dose_is_reckoned_from_it(puppy):
    puppy.give()
    due = next(each for each in dues_of(puppy.patient, today=TODAY) if each.code == "dog_core:CPV")
    assert (due.last_on, due.target) == (TODAY, TODAY + timedelta(weeks=4))
    row = CallBack.objects.get(patient=puppy.patient, source="dues", key="dog_core:CDV")
    assert row.due_on == TODAY + timedelta(weeks=4)


def test_a_nasal_vaccine_needs_no_place(puppy):
    dose = puppy.give("bordelle-nasal", site="")
    assert (dose.route, dose.site) == ("IN", "IN")


def test_an_injection_needs_a_place(puppy):
    with pytest.raises(Incomplete, match="where"):
        puppy.give(site="")


def test_a_nasal_vaccine_injected_is_refused_whatever_the_reason(puppy):
    with pytest.raises(Refused) as refused:
        puppy.give("bordelle-nasal", route="SC", answers={"injected": "no other left"})
    assert codes(refused) == ["injected"]
    assert not Dose.objects.exists()


@pytest.mark.parametrize(
    ("facts", "code"),
    [({"well": None}, "well"), ({"well": False}, "ill"), ({"route": "IM"}, None), ({"route": "PO"}, "route")],
)
def test_what_is_asked_before(puppy, facts, code):
    if code is None:
        assert puppy.give(**facts).route == "IM"
        return
    with pytest.raises(QuestionsOpen) as asked:
        puppy.give(**facts)
    assert codes(asked) == [code]


def test_an_expired_lot_is_asked(puppy):
    old = puppy.stock["leptavar-four"].lots.get(number="LP1987")
    puppy.patient.birth_date = weeks_old(13)
    puppy.patient.save()
    with pytest.raises(QuestionsOpen) as asked:
        puppy.give("leptavar-four", lot=old)
    assert codes(asked) == ["expired"]


def test_below_the_age_of_the_label_is_asked(puppy):
    with pytest.raises(QuestionsOpen) as asked:
        puppy.give("rabisal-3")
    assert "too_young" in codes(asked)


def test_too_soon_after_the_dose_before_is_asked(puppy):
    puppy.give(given_on=TODAY - timedelta(days=6))
    with pytest.raises(QuestionsOpen) as asked:
        puppy.give()
    assert "too_soon" in codes(asked)


def test_the_same_antigen_twice_on_a_day_is_refused(puppy):
    puppy.give()
    with pytest.raises(Refused) as refused:
        puppy.give("corvane-four", answers={"duplicate": "mistake"})
    assert "duplicate" in codes(refused)


def test_another_species_is_asked(puppy):
    with pytest.raises(QuestionsOpen) as asked:
        puppy.give("felcora-three")
    assert "wrong_species" in codes(asked)


def test_a_booster_long_before_its_day_is_asked(puppy):
    puppy.patient.birth_date = weeks_old(200)
    puppy.patient.save()
    puppy.give("rabisal-3", given_on=TODAY - timedelta(days=400))
    puppy.give("rabisal-3", given_on=TODAY - timedelta(days=30))
    with pytest.raises(QuestionsOpen) as asked:
        puppy.give("rabisal-3")
    assert codes(asked) == ["not_due"]


@pytest.mark.parametrize(
    ("site", "asks"), [("LH-D", True), ("RH-D", False), ("TAIL", False), ("SCRUFF-AVOID", True)]
)
def test_a_cat_s_rabies_place_is_asked(kitten, site, asks):
    if not asks:
        assert kitten.give("rabisal-1", site=site).site == site
        return
    with pytest.raises(QuestionsOpen) as asked:
        kitten.give("rabisal-1", site=site)
    assert codes(asked) == ["site"]


def test_leukaemia_vaccine_without_a_test_is_asked(kitten):
    with pytest.raises(QuestionsOpen) as asked:
        kitten.give("leukavane", site="LH-D")
    assert "untested" in codes(asked)


@pytest.mark.parametrize("condition", ["pregnant", "immunosuppressed"])
def test_a_live_vaccine_is_asked_for_an_animal_it_could_harm(puppy, condition):
    Condition.objects.create(
        patient=puppy.patient, code=condition, since=TODAY, entered_by=puppy.people.clinician, entered_at=NOW
    )
    with pytest.raises(QuestionsOpen) as asked:
        puppy.give()
    assert condition in codes(asked)


def test_a_past_reaction_is_asked(puppy):
    Alert.objects.create(
        patient=puppy.patient,
        kind="allergy",
        text="swollen face after a vaccine",
        entered_by=puppy.people.clinician,
        entered_at=NOW,
    )
    with pytest.raises(QuestionsOpen) as asked:
        puppy.give()
    assert codes(asked) == ["reaction"]


def test_a_clinician_s_reason_stands_in_the_dose(puppy):
    dose = puppy.give(well=False, answers={"ill": "a scratch only"})
    assert [(each["code"], each["reason"], each["by"]) for each in dose.answers] == [
        ("ill", "a scratch only", "Dr Maren Oduya")
    ]


def test_a_technician_s_reason_is_not_enough_where_a_clinician_decides(puppy):
    with pytest.raises(ClinicianDecides):
        puppy.give(by="technician", well=False, answers={"ill": "a scratch only"})


def test_a_blank_reason_is_none(puppy):
    with pytest.raises(QuestionsOpen):
        puppy.give(well=False, answers={"ill": "  "})


def test_three_are_given_or_none(puppy):
    givings = [
        actions.Giving(product=puppy.stock[code], lot=puppy.lot(code), site="SC-OTHER")
        for code in ("corvane-three", "rabisal-3")
    ]
    with pytest.raises(QuestionsOpen):
        actions.give_doses(
            actor=puppy.actor(), now=NOW, patient=puppy.patient, visit=puppy.visit, givings=givings, well=True
        )
    assert not Dose.objects.exists()


def test_the_same_form_twice_gives_once(puppy):
    once = uuid4()
    puppy.give(once=once)
    with pytest.raises(SentBefore):
        puppy.give("bordelle-nasal", once=once)
    assert Dose.objects.count() == 1


def test_a_lot_of_another_product_is_refused(puppy):
    with pytest.raises(WrongPatient, match="LP2210"):
        puppy.give(lot=puppy.lot("leptavar-four"))


def test_a_visit_of_another_patient_is_refused(puppy):
    other = people.visit_here(people.patient("Grit", of=people.owner("Ana Brook", "ana@example.com")))
    with pytest.raises(WrongPatient):
        puppy.give(visit=other)


def test_nothing_is_given_after_the_signature(puppy):
    record = puppy.visit.record
    record.signed_at, record.signed_by, record.signed_name = NOW, puppy.people.clinician, "Dr Maren Oduya"
    record.save()
    with pytest.raises(NotOpen):
        puppy.give()


def test_nothing_is_given_to_the_dead(puppy):
    puppy.patient.deceased_on, puppy.patient.deceased_how = TODAY, "died"
    puppy.patient.save()
    with pytest.raises(PatientDied):
        puppy.give()


def test_a_day_to_come_is_refused(puppy):
    with pytest.raises(Incomplete):
        puppy.give(given_on=TODAY + timedelta(days=1))


@pytest.mark.parametrize("role", ["assistant", "manager"])
def test_who_may_not_give(puppy, role):
    with pytest.raises(NotAllowed):
        puppy.give(by=role)


def test_a_dose_is_never_changed_or_deleted(puppy):
    dose = puppy.give()
    with pytest.raises(IntegrityError, match="struck"), transaction.atomic():
        Dose.objects.filter(pk=dose.pk).update(lot="OTHER")
    with pytest.raises(IntegrityError, match="struck"), transaction.atomic():
        Dose.objects.filter(pk=dose.pk).delete()


def test_a_ruling_needs_a_clinician_and_a_reason(puppy):
    dose = puppy.give()
    with pytest.raises(NotAllowed):
        actions.rule_on_dose(
            actor=puppy.actor("technician"), now=NOW, dose=dose, counted=False, reason="spilled"
        )
    with pytest.raises(Incomplete):
        actions.rule_on_dose(actor=puppy.actor(), now=NOW, dose=dose, counted=False, reason=" ")
    actions.rule_on_dose(actor=puppy.actor(), now=NOW, dose=dose, counted=False, reason="spilled")
    due = next(each for each in dues_of(puppy.patient, today=TODAY) if each.code == "dog_core:CPV")
    assert [each.code for each in due.uncounted] == ["vet_refused"]
