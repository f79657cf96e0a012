"""Lots: what comes in and is left, what is recalled, and who had it."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.core.exceptions import PermissionDenied
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from clinic.callbacks.models import CallBack
from preventive import actions
from preventive.errors import Incomplete, LotRecalled, LotUsedUp
from preventive.models import Dose, Lot, LotStep, RecallTold
from tests import people
from tests.people import NOW, TODAY
from tests.preventive.room import room

pytestmark = pytest.mark.django_db


@pytest.fixture
def puppy():
    return room()


def counted(puppy, left, code="corvane-three"):
    return actions.count_lot(actor=puppy.actor("technician"), now=NOW, lot=puppy.lot(code), left=left)


def on_hand(lot):
    return Lot.objects.get(pk=lot.pk).on_hand


def came(puppy, **facts):
    facts = {
        "product": puppy.stock["corvane-three"],
        "number": "NEW-1",
        "expires_on": TODAY + timedelta(400),
        "received_on": TODAY,
        "count": 10,
    } | facts
    return actions.receive_lot(actor=puppy.actor("technician"), now=NOW, **facts)


def test_a_dose_leaves_the_count_and_a_struck_one_comes_back(puppy):
    lot = counted(puppy, 2)
    dose = puppy.give(lot=lot)
    assert on_hand(lot) == 1
    actions.strike_dose(actor=puppy.actor(), now=NOW, dose=dose, reason="not given after all")
    assert on_hand(lot) == 2


def test_nothing_is_given_from_an_empty_lot_and_nothing_is_left_half(puppy):
    lot = counted(puppy, 0)
    with pytest.raises(LotUsedUp):
        puppy.give(lot=lot)
    assert not Dose.objects.exists()
    assert on_hand(lot) == 0


def test_a_refused_dose_takes_nothing(puppy):
    lot = counted(puppy, 2)
    with pytest.raises(Incomplete):
        puppy.give(lot=lot, site="")
    assert on_hand(lot) == 2


def test_a_lot_that_nobody_counted_is_given_from(puppy):
    lot = puppy.lot("corvane-three")
    puppy.give(lot=lot)
    assert on_hand(lot) is None


def test_more_of_a_lot_is_added(puppy):
    lot = came(puppy)
    assert came(puppy, count=5) == lot
    assert on_hand(lot) == 15
    assert LotStep.objects.filter(lot=lot, kind="received").count() == 2


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"number": " "}, "number"),
        ({"received_on": TODAY + timedelta(1)}, "received_on"),
        ({"expires_on": TODAY - timedelta(1)}, "expires_on"),
        ({"count": 0}, "count"),
    ],
)
def test_what_cannot_be_is_said_at_its_field(puppy, wrong, field):
    with pytest.raises(Incomplete) as refused:
        came(puppy, **wrong)
    assert refused.value.field == field


def test_one_number_has_one_expiry(puppy):
    came(puppy)
    with pytest.raises(Incomplete, match="another expiry"):
        came(puppy, expires_on=TODAY + timedelta(401))


def test_no_more_is_thrown_away_than_is_there(puppy):
    lot = counted(puppy, 3)
    common = {"actor": puppy.actor("technician"), "now": NOW, "lot": lot, "why": "warm over night"}
    with pytest.raises(Incomplete, match="3 by the count"):
        actions.throw_away(**common, count=4)
    actions.throw_away(**common, count=3)
    assert on_hand(lot) == 0
    assert LotStep.objects.first().words == "3: warm over night"


def test_an_assistant_does_not_count(puppy):
    with pytest.raises(PermissionDenied):
        actions.count_lot(actor=puppy.actor("assistant"), now=NOW, lot=puppy.lot("corvane-three"), left=1)


def recalled(puppy, lot):
    return actions.recall_lot(
        actor=puppy.actor("technician"), now=NOW, lot=lot, reason="Maker’s notice 7: weak."
    )


def test_a_recall_stops_the_lot_and_calls_for_every_owner_until_told(puppy):
    lot = counted(puppy, 5)
    dose = puppy.give(lot=lot)
    other = people.visit_here(
        people.patient("Sorrel", of=puppy.patient.owners.first(), birth_date=puppy.patient.birth_date),
        clinician=puppy.people.clinician,
    )
    puppy.give(lot=lot, patient=other.patient, visit=other)
    recalled(puppy, lot)
    with pytest.raises(LotRecalled):
        puppy.give(lot=lot, patient=other.patient, visit=other)
    waiting = CallBack.objects.filter(key__startswith="recall:")
    assert {each.patient.name for each in waiting} == {"Tarn", "Sorrel"}
    told = {"actor": puppy.actor("assistant"), "now": NOW, "given": dose, "how": "by telephone"}
    actions.owner_told(**told)
    actions.owner_told(**told)
    assert RecallTold.objects.count() == 1
    assert {each.patient.name for each in waiting.all()} == {"Sorrel"}


def test_only_a_clinician_lifts_a_recall(puppy):
    lot = recalled(puppy, counted(puppy, 5))
    with pytest.raises(PermissionDenied):
        actions.lift_recall(actor=puppy.actor("technician"), now=NOW, lot=lot, reason="wrong lot")
    actions.lift_recall(actor=puppy.actor(), now=NOW, lot=lot, reason="wrong lot")
    assert puppy.give(lot=lot).pk
    assert [each.kind for each in LotStep.objects.filter(lot=lot)] == ["lifted", "recalled", "counted"]


# --- the pages ---


def client(puppy, role="technician"):
    made = Client()
    made.force_login(getattr(puppy.people, role))
    return made


def test_the_shelf_says_what_ends_what_is_few_and_what_is_recalled(puppy):
    today = timezone.localdate()
    for number, expires, left in (("A-1", 300, 9), ("A-2", 30, 9), ("A-3", -1, 9), ("A-4", 300, 2)):
        lot = came(puppy, number=number, expires_on=TODAY + timedelta(1000), count=left)
        Lot.objects.filter(pk=lot.pk).update(expires_on=today + timedelta(expires))
    recalled(puppy, came(puppy, number="A-5", count=4))
    shown = client(puppy).get(reverse("stock")).content.decode()
    for words in ("ends soon", "take it off the shelf", "few left", "recalled 11 March 2026"):
        assert words in shown


def test_the_lot_names_who_had_it_and_how_to_reach_them(puppy):
    lot = counted(puppy, 5)
    puppy.give(lot=lot)
    recalled(puppy, lot)
    page = reverse("lot", args=[lot.pk])
    shown = client(puppy).get(page).content.decode()
    assert "Tarn" in shown
    assert "Henrike Dovale, 555-0142, henrike@example.com" in shown
    assert "1 of 1 still to be told" in shown
    sent = {"once": uuid4(), "given": f"dose:{Dose.objects.get().pk}", "how": "called, comes for a new one"}
    assert client(puppy, "assistant").post(reverse("lot-told", args=[lot.pk]), sent).status_code == 302
    assert "Everyone who had it was told." in client(puppy).get(page).content.decode()


def test_a_form_sent_twice_adds_the_doses_once(puppy):
    sent = {
        "once": uuid4(),
        "product": puppy.stock["corvane-three"].pk,
        "number": "TW-2",
        "count": 10,
        "expires_on": timezone.localdate() + timedelta(300),
        "received_on": timezone.localdate(),
    }
    for _ in range(2):
        assert client(puppy).post(reverse("lot-new"), sent).status_code == 302
    assert Lot.objects.get(number="TW-2").on_hand == 10


def test_what_was_typed_of_a_lot_stays(puppy):
    answer = client(puppy).post(reverse("lot-new"), {"once": uuid4(), "number": "TW-9"})
    assert answer.status_code == 422
    assert "TW-9" in answer.content.decode()
    assert "Which product came in?" in answer.content.decode()


def test_empty_and_recalled_lots_are_named_but_not_offered(puppy):
    counted(puppy, 0)
    address = reverse("visit-prevention", args=[puppy.visit.pk])
    shown = client(puppy).get(address).content.decode()
    assert f"{puppy.lot('corvane-three').number} is used up by the count" in shown


def test_the_shelf_takes_the_same_queries_for_two_lots_and_twenty(puppy):
    looks = client(puppy)

    def queries():
        looks.get(reverse("stock"))
        with CaptureQueriesContext(connection) as asked:
            looks.get(reverse("stock"))
        return len(asked)

    few = queries()
    for number in range(20):
        came(puppy, number=f"Q-{number}")
    assert queries() == few


def test_a_lot_takes_the_same_queries_for_one_animal_and_twelve(puppy):
    looks, lot = client(puppy), counted(puppy, 50)
    page = reverse("lot", args=[lot.pk])

    def given(number):
        of = people.owner(f"Ada Lunt{number}", f"a{number}@example.com")
        animal = people.patient(f"N{number}", of=of, birth_date=puppy.patient.birth_date)
        puppy.give(lot=lot, patient=animal, visit=people.visit_here(animal, clinician=puppy.people.clinician))

    def queries():
        looks.get(page)
        with CaptureQueriesContext(connection) as asked:
            looks.get(page)
        return len(asked)

    given(0)
    few = queries()
    for number in range(1, 12):
        given(number)
    assert queries() == few
