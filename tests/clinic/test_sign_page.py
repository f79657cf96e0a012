"""Letter and signature: what is missing is answered in place; the PIN is asked; then nothing changes."""

from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse

from clinic.models import Record, Visit
from clinic.people.actions import set_pin
from clinic.platform.registries import sign_checks, sign_steps
from clinic.visits import actions
from tests import people

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def only_own_plugs(monkeypatch: pytest.MonkeyPatch) -> None:
    own = {
        name: entry for name, entry in sign_checks._entries.items() if name in ("weight", "bcs", "heads-up")
    }
    monkeypatch.setattr(sign_checks, "_entries", own)
    monkeypatch.setattr(sign_steps, "_entries", {})


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    house = people.people()
    set_pin(staff=house.clinician, pin=people.PIN, now=people.NOW)
    return house


@pytest.fixture
def visit(house: people.People) -> Visit:
    return people.visit_here(clinician=house.clinician)


@pytest.fixture
def record(visit: Visit) -> Record:
    return visit.record


@pytest.fixture
def vet(house: people.People) -> dict:
    return {"actor": house.actor("clinician"), "now": people.NOW}


@pytest.fixture
def page(client: Client, house: people.People) -> Client:
    client.force_login(house.clinician)
    return client


@pytest.fixture
def ready(record: Record, vet: dict) -> Record:
    people.weigh(record.visit, "27.4", by=vet["actor"].staff)
    actions.excuse_bcs(record=record, reason="bandaged", **vet)
    return record


def address(name: str, visit: Visit, *more: object) -> str:
    return reverse(name, args=[visit.pk, *more])


def seen(page: Client, visit: Visit) -> str:
    return page.get(address("visit-sign", visit)).content.decode()


def sign(page: Client, visit: Visit, secret: str = people.PIN, **more):
    return page.post(address("visit-sign", visit), {"once": str(uuid4()), "secret": secret} | more)


def test_what_is_missing_is_listed_and_the_button_waits(page: Client, visit: Visit) -> None:
    text = seen(page, visit)
    assert "No weight was taken today" in text
    assert "2 to answer" in text
    assert "Offered once the 2 above are answered" in text
    assert 'name="secret"' not in text


def test_a_reason_is_answered_in_place(page: Client, visit: Visit, record: Record) -> None:
    page.post(address("sign-excuse", visit, "weight"), {"reason": "must not be moved"})
    record.refresh_from_db()
    assert record.no_weight_reason == "must not be moved"
    assert "No weight was taken" not in seen(page, visit)


def test_an_empty_reason_is_refused_in_words(page: Client, visit: Visit) -> None:
    answer = page.post(address("sign-excuse", visit, "bcs"), {"reason": " "}, follow=True)
    assert "Say why it was not taken." in answer.content.decode()


def test_a_heads_up_is_answered_in_place(page: Client, visit: Visit, ready: Record, vet: dict) -> None:
    heads_up = actions.pin_heads_up(record=ready, station="", words="sits oddly", **vet)
    assert "sits oddly" in seen(page, visit)
    page.post(address("heads-up-answer", visit, heads_up.pk), {"answer": "looked"})
    heads_up.refresh_from_db()
    assert heads_up.answer == "looked"


def test_a_heads_up_of_another_visit_is_not_found(page: Client, visit: Visit, vet: dict) -> None:
    other = people.visit_here(people.patient("Grit"))
    heads_up = actions.pin_heads_up(record=other.record, station="", words="x", **vet)
    assert page.post(address("heads-up-answer", visit, heads_up.pk), {"answer": "looked"}).status_code == 404


def test_the_owner_s_letter_stands_beside(page: Client, visit: Visit, ready: Record) -> None:
    assert "27.4 kg" in seen(page, visit)
    assert "What the owner will read" in seen(page, visit)


def test_the_pin_signs(page: Client, visit: Visit, ready: Record) -> None:
    assert sign(page, visit).status_code == 302
    ready.refresh_from_db()
    assert ready.is_signed
    assert "Dr Maren Oduya, license L-1001 Fenland" in seen(page, visit)


def test_a_wrong_pin_signs_nothing_and_is_said_beside_the_field(
    page: Client, visit: Visit, ready: Record
) -> None:
    answer = sign(page, visit, "0000")
    assert answer.status_code == 422
    assert "That is not your PIN. Nothing was signed." in answer.content.decode()
    ready.refresh_from_db()
    assert not ready.is_signed


def test_wrong_tries_lock(page: Client, visit: Visit, ready: Record) -> None:
    for _try in range(5):
        sign(page, visit, "0000")
    answer = sign(page, visit)
    assert "locked" in answer.content.decode()
    ready.refresh_from_db()
    assert not ready.is_signed


def test_signing_what_is_not_ready_is_refused(page: Client, visit: Visit, record: Record) -> None:
    answer = sign(page, visit)
    assert answer.status_code == 409
    assert "2 to answer first" in answer.content.decode()


def test_a_double_tap_signs_once(page: Client, visit: Visit, ready: Record) -> None:
    once = str(uuid4())
    assert [sign(page, visit, once=once).status_code for _tap in range(2)] == [302, 302]


@pytest.mark.parametrize("role", ["technician", "assistant", "manager"])
def test_others_see_it_and_cannot_sign(client: Client, visit, ready, house, role: str) -> None:
    client.force_login(getattr(house, role))
    assert "A clinician signs" in seen(client, visit)
    assert sign(client, visit).status_code == 403


def test_looking_changes_nothing(page: Client, visit: Visit, ready: Record) -> None:
    seen(page, visit)
    ready.refresh_from_db()
    assert (ready.is_signed, ready.seal) == (False, "")


def test_an_addendum_is_added_to_a_signed_record(page: Client, visit: Visit, ready: Record) -> None:
    sign(page, visit)
    page.post(address("visit-addenda", visit), {"once": str(uuid4()), "text": "The owner called at six."})
    assert "The owner called at six." in seen(page, visit)


def test_an_empty_addendum_keeps_the_rest(page: Client, visit: Visit, ready: Record) -> None:
    sign(page, visit)
    answer = page.post(
        address("visit-addenda", visit), {"once": str(uuid4()), "text": "", "corrects": "Ear, left"}
    )
    assert answer.status_code == 422
    assert 'value="Ear, left"' in answer.content.decode()


def test_a_stranger_to_the_visit_adds_nothing(client: Client, visit, ready, vet, house) -> None:
    actions.sign(record=ready, **vet)
    client.force_login(house.technician)
    sent = {"once": str(uuid4()), "text": "x"}
    assert client.post(address("visit-addenda", visit), sent).status_code == 403


def test_the_kind_is_changed_with_a_reason(page: Client, visit: Visit) -> None:
    answer = page.post(address("visit-kind", visit), {"kind": "focused", "reason": ""})
    assert answer.status_code == 422
    assert "Say why this is not a full walk." in answer.content.decode()
    page.post(address("visit-kind", visit), {"kind": "focused", "reason": "recheck of the ear"})
    visit.refresh_from_db()
    assert (visit.kind, visit.kind_reason) == ("focused", "recheck of the ear")


def test_a_next_visit_is_planned_once_and_taken_back(page: Client, visit: Visit) -> None:
    sent = {
        "once": str(uuid4()), "on": "2099-03-01", "kind": "focused", "reason": "left ear", "minutes": 20,
    }  # fmt: skip
    for _tap in range(2):
        assert page.post(address("next-visit", visit), sent).status_code == 302
    plan = visit.patient.next_visits.get()
    assert "left ear" in page.get(address("next-visit", visit)).content.decode()
    page.post(reverse("next-visit-cancel", args=[plan.pk]))
    plan.refresh_from_db()
    assert plan.state == "cancelled"


def test_a_past_day_is_said_beside_the_field(page: Client, visit: Visit) -> None:
    sent = {"once": str(uuid4()), "on": "2020-03-01", "kind": "focused", "reason": "left ear", "minutes": 20}
    answer = page.post(address("next-visit", visit), sent)
    assert answer.status_code == 422
    assert "cannot be on a day that is past" in answer.content.decode()
    assert 'value="left ear"' in answer.content.decode()


def test_a_booking_without_a_time_is_for_the_day(page: Client, visit: Visit) -> None:
    sent = {"once": str(uuid4()), "on": "2099-03-01", "booked_for": "check", "kind": "full", "minutes": 30}
    page.post(reverse("visit-book", args=[visit.patient_id]), sent)
    booked = visit.patient.visits.get(place="expected")
    assert (booked.expected_at.hour, booked.expected_at.minute) == (0, 0)
