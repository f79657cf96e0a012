"""A medicine changed in one step; doses given on an order (Maryland COMAR 15.14.13.13; Texas 22 TAC 573)."""

from dataclasses import replace
from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse

from clinic.care import actions
from clinic.care.directions import Directions
from clinic.care.patient_case import in_use_rows
from clinic.letters.composition import compose
from clinic.letters.document import sentences
from clinic.models import DoseGiven, Medicine, MedicineStop
from clinic.people.actor import NotAllowed
from tests import medicines, people
from tests.people import NOW, TODAY

pytestmark = pytest.mark.django_db

CHEWS = Directions(
    name="Steadfold chews 5",
    ingredients=("pimobendan",),
    strength="5 mg in a chew",
    dose="1 chew",
    route="by mouth",
    side="",
    times="morning and evening",
    first_dose="this evening",
    last_dose="",
)


@pytest.fixture
def staff():
    people.clinic_details()
    return people.people()


@pytest.fixture
def me(staff):
    return {"actor": staff.actor("clinician"), "now": NOW}


@pytest.fixture
def visit(staff):
    visit = people.visit_here(clinician=staff.clinician)
    people.weigh(visit, "21.8", by=staff.technician)
    return visit


@pytest.fixture
def heart(visit, me):
    problem = actions.open_problem(patient=visit.patient, visit=visit, title="Heart murmur", **me)
    actions.assess(problem=problem, record=visit.record, text="valve disease", **me)
    return problem


@pytest.fixture
def before(visit, heart, me) -> Medicine:
    return actions.prescribe(
        record=visit.record, problem=heart, how="prescribed", directions=CHEWS, reason="heart disease", **me
    )


@pytest.fixture
def again(staff, visit, before, me):
    """The same patient a month later, weighed."""
    visit.gone_at, visit.place = NOW, "home"
    visit.save()
    later = people.visit_here(visit.patient, clinician=staff.clinician)
    people.weigh(later, "21.8", by=staff.technician)
    later.record.opened_at = NOW + timedelta(minutes=5)
    later.record.save()
    return later


def test_a_change_stops_the_old_one_and_asks_nothing_about_it(again, heart, before, me):
    later = me | {"now": NOW + timedelta(minutes=10)}
    more = replace(CHEWS, times="three times a day")
    order = {
        "record": again.record,
        "problem": heart,
        "how": "prescribed",
        "directions": more,
        "reason": "heart disease",
    }
    with pytest.raises(actions.QuestionsOpen, match="pimobendan already"):
        actions.prescribe(**order, **later)
    new = actions.prescribe(**order, instead_of=before, **later)
    assert new.answers == []
    stop = MedicineStop.objects.get(medicine=before)
    assert (stop.why, stop.on, stop.owner_told) == (
        "changed to Steadfold chews 5, 1 chew, three times a day",
        TODAY,
        True,
    )
    assert in_use_rows(again.patient, today=TODAY) == [new]
    words = [each.text for each in sentences(compose(again.record, today=TODAY))]
    assert any(
        text.startswith("Steadfold chews 5: these directions take the place of those") for text in words
    )
    assert not any("stopped from" in text for text in words), "it goes on, with other directions"
    assert "1 chew by mouth, three times a day. First dose: this evening." in words
    with pytest.raises(actions.StoppedBefore):
        actions.prescribe(**order, instead_of=before, **later)


def test_what_is_changed_to_another_medicine_is_said_to_stop(again, heart, before, me):
    other = replace(CHEWS, name="Fenwick tablets", ingredients=("benazepril",))
    actions.prescribe(
        record=again.record,
        problem=heart,
        how="prescribed",
        directions=other,
        reason="heart disease",
        instead_of=before,
        **me | {"now": NOW + timedelta(minutes=10)},
    )
    words = [each.text for each in sentences(compose(again.record, today=TODAY))]
    told = next(text for text in words if text.startswith("Steadfold chews 5: stopped from "))
    assert told.endswith("Changed to Fenwick tablets, 1 chew, morning and evening.")


def test_what_goes_on_stands_in_the_next_letter(again, before, me):
    words = [each.text for each in sentences(compose(again.record, today=TODAY))]
    assert any(text.startswith("Steadfold chews 5: still in use, as directed on ") for text in words)


def test_the_form_to_change_shows_what_stands_and_nothing_is_lost(client, staff, again, heart, before):
    medicines.keep_list(staff.actor("manager"))
    client.force_login(staff.clinician)
    plan = reverse("visit-plan", args=[again.pk])
    assert f"?do=medicine&amp;problem={heart.pk}&amp;at={before.pk}" in client.get(plan).content.decode()
    page = client.get(f"{plan}?do=medicine&problem={heart.pk}&at={before.pk}").content.decode()
    assert 'value="morning and evening"' in page
    assert "is stopped from today on" in page
    sent = {"once": uuid4(), "name": CHEWS.name, "how": "prescribed", "dose": "1 chew", "route": "by mouth"}
    sent |= {"times": "three times a day", "reason": "heart disease", "instead_of": before.pk}
    sent["answer-weight"] = "weighed at home today"
    answer = client.post(reverse("plan-medicine", args=[again.pk, heart.pk]), sent)
    assert answer.status_code == 302
    assert MedicineStop.objects.get().medicine == before


@pytest.fixture
def order(visit, heart, me) -> Medicine:
    directions = replace(
        CHEWS, name="Hollowell injection", ingredients=("furosemide",), strength="50 mg in 1 ml"
    )
    directions = replace(directions, dose="1 ml", route="into the vein", times="every 6 hours")
    return actions.prescribe(
        record=visit.record, problem=heart, how="given", directions=directions, reason="heart", **me
    )


def test_a_technician_gives_a_dose_on_a_clinicians_order(order, staff, me):
    dose = actions.give_dose(
        medicine=order,
        amount="1 ml",
        lot="HW221",
        expires_on=TODAY + timedelta(days=90),
        **me | {"actor": staff.actor("technician")},
    )
    assert (dose.given_by, dose.lot) == (staff.technician, "HW221")
    with pytest.raises(NotAllowed):
        actions.give_dose(medicine=order, amount="1 ml", **me | {"actor": staff.actor("assistant")})


def test_nothing_is_given_here_that_was_not_ordered_so(before, me):
    with pytest.raises(actions.DoseNotHere):
        actions.give_dose(medicine=before, amount="1 chew", **me)


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"amount": " "}, "amount"),
        ({"expires_on": TODAY - timedelta(days=1)}, "expires_on"),
        ({"given_at": NOW + timedelta(hours=1)}, "given_at"),
        ({"given_at": NOW - timedelta(days=1)}, "given_at"),
    ],
)
def test_a_dose_that_makes_no_sense_is_refused_beside_its_field(order, me, wrong, field):
    with pytest.raises(actions.TextMissing) as refused:
        actions.give_dose(medicine=order, **({"amount": "1 ml"} | wrong), **me)
    assert refused.value.field == field
    assert not DoseGiven.objects.exists()


def test_a_dose_is_only_struck_out(order, staff, me):
    dose = actions.give_dose(medicine=order, amount="1 ml", **me)
    with pytest.raises(NotAllowed):
        actions.strike_dose(dose=dose, reason="x", **me | {"actor": staff.actor("technician")})
    assert actions.strike_dose(dose=dose, reason="half of it was spilt", **me)
    assert not actions.strike_dose(dose=dose, reason="again", **me)
    with pytest.raises(IntegrityError, match="only be struck out"), transaction.atomic():
        DoseGiven.objects.update(amount="2 ml")


def test_doses_stand_with_their_order_on_the_plan_page(client, staff, visit, order):
    client.force_login(staff.technician)
    answer = client.post(
        reverse("plan-dose", args=[visit.pk, order.pk]), {"once": uuid4(), "amount": "1 ml", "lot": "HW221"}
    )
    # ordered at the tests' own time, given now: the page keeps both
    assert answer.status_code == 302
    page = client.get(reverse("visit-plan", args=[visit.pk])).content.decode()
    assert "1 ml given" in page
    assert "lot HW221" in page
