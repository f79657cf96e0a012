"""What was done about a call-back: asked, reached or not, booked, stopped; each noted with who and when."""

import re
from datetime import timedelta
from html import unescape
from uuid import uuid4

import pytest
from django.db import DatabaseError, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from clinic.callbacks import actions, queries
from clinic.callbacks.errors import AgainInThePast, NothingSpokenOf, NotTheirs
from clinic.callbacks.models import AskedItem, Asking, ReminderStop
from clinic.callbacks.reasons import LeftOut
from clinic.models import CallBack, Owner, Patient
from clinic.people.actor import NotAllowed
from clinic.visits.errors import SentBefore
from tests import people
from tests.examples import examples

pytestmark = pytest.mark.django_db


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def today():
    return timezone.localdate()


@pytest.fixture
def desk(house: people.People) -> dict:
    return {"actor": house.actor("assistant"), "now": timezone.now()}


@pytest.fixture
def owner() -> Owner:
    return people.owner()


@pytest.fixture
def rows(owner: Owner, today) -> list[CallBack]:
    pomfret, grit = people.patient("Pomfret", of=owner), people.patient("Grit", of=owner)
    return [
        CallBack.objects.create(
            patient=patient, source="dues", key=key, label=label, due_on=today - timedelta(days=41),
            refreshed_at=people.NOW,
        )
        for patient, key, label in (
            (pomfret, "rabies", "Rabies vaccine"),
            (grit, "exam", "Yearly examination"),
        )
    ]  # fmt: skip


def why(row: CallBack, today) -> str:
    return queries.call_backs(today=today, until=today).get(pk=row.pk).why


def note(owner: Owner, rows: list[CallBack], desk: dict, **fields) -> Asking:
    return actions.note_asking(
        owner=owner, rows=rows, **({"how": "call", "outcome": "asked"} | fields | desk)
    )


# --- Asking -------------------------------------------------------------------------------------------------


def test_a_call_says_who_when_and_about_what(owner: Owner, rows: list[CallBack], desk: dict, today) -> None:
    asking = note(owner, rows, desk, words="  she  rings   on Friday ")
    assert (asking.by, asking.at, asking.words) == (desk["actor"].staff, desk["now"], "she rings on Friday")
    assert asking.again_on == today + timedelta(days=30)
    assert {(item.patient.name, item.key, item.due_on) for item in asking.items.all()} == {
        ("Pomfret", "rabies", today - timedelta(days=41)),
        ("Grit", "exam", today - timedelta(days=41)),
    }
    assert [why(row, today) for row in rows] == ["lately", "lately"]


def test_asked_about_one_thing_the_other_still_stands(
    owner: Owner, rows: list[CallBack], desk: dict, today
) -> None:
    note(owner, rows[:1], desk, again=today + timedelta(days=3))
    assert [why(row, today) for row in rows] == ["lately", ""]
    in_three_days = today + timedelta(days=3)
    assert queries.call_backs(today=in_three_days, until=today).get(pk=rows[0].pk).why == ""


def test_what_is_refused(owner: Owner, rows: list[CallBack], desk: dict, today) -> None:
    other = people.owner("Ada Lunt", "ada@example.com")
    with pytest.raises(NothingSpokenOf):
        note(owner, [], desk)
    with pytest.raises(AgainInThePast):
        note(owner, rows, desk, again=today)
    with pytest.raises(NotTheirs):
        note(other, rows, desk)
    assert not Asking.objects.exists()


def test_sent_twice_it_is_noted_once(owner: Owner, rows: list[CallBack], desk: dict) -> None:
    once = uuid4()
    note(owner, rows, desk, once=once)
    with pytest.raises(SentBefore), transaction.atomic():
        note(owner, rows, desk, once=once)
    assert Asking.objects.count() == 1


def test_the_database_lets_no_asking_be_changed(owner: Owner, rows: list[CallBack], desk: dict) -> None:
    note(owner, rows, desk)
    for change in (
        lambda: Asking.objects.update(words="other"),
        lambda: AskedItem.objects.update(label="other"),
        lambda: AskedItem.objects.all().delete(),
    ):
        with pytest.raises(DatabaseError, match="rows are only added"), transaction.atomic():
            change()


# --- Stopping -----------------------------------------------------------------------------------------------


def test_one_tap_stops_one_thing_and_lasts(owner: Owner, rows: list[CallBack], desk: dict, today) -> None:
    stop = actions.stop_reminders(owner=owner, row=rows[0], **desk)
    assert (stop.by, stop.at, stop.label) == (desk["actor"].staff, desk["now"], "Rabies vaccine")
    assert [why(row, today) for row in rows] == ["stopped-item", ""]
    CallBack.objects.filter(pk=rows[0].pk).update(due_on=today - timedelta(days=1))  # another due date
    assert why(rows[0], today) == "stopped-item"


def test_a_second_tap_finds_the_first_ones_stop(owner: Owner, rows: list[CallBack], desk: dict) -> None:
    for row in (None, rows[0]):
        first = actions.stop_reminders(owner=owner, row=row, **desk)
        assert actions.stop_reminders(owner=owner, row=row, **desk) == first
    assert ReminderStop.objects.count() == 2


def test_a_lifted_stop_stays_on_record_and_can_be_said_again(
    owner: Owner, rows: list[CallBack], desk: dict, today
) -> None:
    stop = actions.stop_reminders(owner=owner, **desk)
    assert actions.lift_stop(stop=stop, **desk)
    assert not actions.lift_stop(stop=stop, **desk)
    assert why(rows[0], today) == ""
    again = actions.stop_reminders(owner=owner, **desk)
    assert again != stop
    assert why(rows[0], today) == "stopped"
    assert ReminderStop.objects.get(pk=stop.pk).lifted_by == desk["actor"].staff


def test_somebody_who_left_notes_nothing(owner: Owner, rows: list[CallBack], desk: dict) -> None:
    desk["actor"].staff.is_active = False
    with pytest.raises(NotAllowed):
        note(owner, rows, desk)
    with pytest.raises(NotAllowed):
        actions.stop_reminders(owner=owner, **desk)


# --- The page -----------------------------------------------------------------------------------------------


@pytest.fixture
def at_desk(client: Client, house: people.People) -> Client:
    client.force_login(house.assistant)
    return client


def sent(rows: list[CallBack], **fields) -> dict:
    return {
        "once": uuid4(), "items": [row.pk for row in rows], "how": "call", "outcome": "will-call",
        "again_on": "", "words": "",
    } | fields  # fmt: skip


def test_noted_from_the_page_it_stands_there(at_desk: Client, owner: Owner, rows: list[CallBack]) -> None:
    url = reverse("due-household", args=[owner.pk])
    answer = at_desk.post(url, sent(rows, words="rings on Friday"), follow=True)
    text = answer.content.decode()
    assert "by telephone: reached, they will call us" in text
    assert "“rings on Friday”" in text
    assert "asked lately; again on" in text


def test_called_from_a_list_they_are_noted_and_the_list_goes_on(
    at_desk: Client, owner: Owner, rows: list[CallBack]
) -> None:
    listed = at_desk.get(reverse("due-list"), {"over": "30", "reach": "mail"}).content.decode()
    (url,) = set(re.findall(rf'href="({reverse("due-household", args=[owner.pk])}[^"#]*)#note"', listed))
    answer = at_desk.post(unescape(url), sent(rows))
    assert answer["Location"] == f"{reverse('due-list')}?over=30&reach=mail"
    assert "No household fits" in at_desk.get(answer["Location"]).content.decode()
    astray = at_desk.get(reverse("due-household", args=[owner.pk]), {"list": "//elsewhere.example"})
    assert 'href="//' not in astray.content.decode()


def test_a_refused_form_keeps_what_was_typed(
    at_desk: Client, owner: Owner, rows: list[CallBack], today
) -> None:
    url = reverse("due-household", args=[owner.pk])
    for wrong, sentence in (
        ({"items": []}, "Tick at least one thing"),
        ({"outcome": ""}, "Say what came of it."),
        ({"again_on": today.isoformat()}, "This day is not after today."),
    ):
        answer = at_desk.post(url, sent(rows, words="my long words", **wrong))
        assert answer.status_code == 422
        text = answer.content.decode()
        assert sentence in text
        assert "my long words" in text
    assert not Asking.objects.exists()


def test_stopped_and_lifted_with_one_tap_each(at_desk: Client, owner: Owner, rows: list[CallBack]) -> None:
    stop = reverse("due-stop", args=[owner.pk])
    text = at_desk.post(stop, {"about": rows[0].pk}, follow=True).content.decode()
    assert "gets no reminders about Rabies vaccine for Pomfret" in text
    assert "Pomfret: Rabies vaccine" in text
    text = at_desk.post(stop, {"about": "all"}, follow=True).content.decode()
    assert "No reminders at all" in text
    for each in ReminderStop.objects.all():
        at_desk.post(reverse("due-lift", args=[owner.pk, each.pk]))
    assert not ReminderStop.objects.filter(lifted_at=None).exists()


def test_a_stop_about_anothers_animal_is_none(at_desk: Client, rows: list[CallBack]) -> None:
    other = people.owner("Ada Lunt", "ada@example.com")
    assert at_desk.post(reverse("due-stop", args=[other.pk]), {"about": rows[0].pk}).status_code == 404
    assert not ReminderStop.objects.exists()


def test_a_garbled_stop_never_stops_more_than_was_meant(
    at_desk: Client, owner: Owner, rows: list[CallBack]
) -> None:
    for garbled in ({}, {"about": ""}, {"about": "x"}):
        at_desk.post(reverse("due-stop", args=[owner.pk]), garbled)
    assert not ReminderStop.objects.exists()


# --- Over many histories ------------------------------------------------------------------------------------


@pytest.mark.parametrize("source", [pytest.param("15 USC 7704(a)(4): obeyed at once", id="prev-M03")])
def test_a_stop_works_on_the_day_it_was_said(
    owner: Owner, rows: list[CallBack], desk: dict, today, source: str
) -> None:
    actions.stop_reminders(owner=owner, **desk)
    assert [why(row, today) for row in rows] == ["stopped", "stopped"]


EVENTS = ("stop", "stop-item", "lift", "ask", "elsewhere", "unreached")
EVENTS += ("book", "call-off", "die", "live", "leave")


@settings(
    max_examples=examples(40), suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None
)
@given(events=st.lists(st.sampled_from(EVENTS), max_size=12))
def test_nobody_is_asked_who_is_stopped_dead_gone_booked_or_done(
    owner: Owner, rows: list[CallBack], desk: dict, today, events: list[str]
) -> None:
    """After whatever happened before; the weightiest reason is the one that is said."""
    row = rows[0]
    with transaction.atomic():
        stands: set[str] = set()
        for event in events:
            _happens(event, owner, row, desk, today, stands)
        reason = why(row, today)
        transaction.set_rollback(True)
    assert reason == next((each for each in LeftOut if each in stands), ""), (events, stands)


def _happens(event: str, owner: Owner, row: CallBack, desk: dict, today, stands: set[str]) -> None:
    patient = Patient.objects.filter(pk=row.patient_id)
    if event == "stop":
        actions.stop_reminders(owner=owner, **desk)
        stands.add("stopped")
    elif event == "stop-item":
        actions.stop_reminders(owner=owner, row=row, **desk)
        stands.add("stopped-item")
    elif event == "lift":
        for each in queries.stops_of(owner):
            actions.lift_stop(stop=each, **desk)
        stands -= {"stopped", "stopped-item"}
    elif event in ("ask", "elsewhere", "unreached"):
        outcome = {"ask": "asked", "unreached": "not-reached"}.get(event, event)
        note(owner, [row], desk, outcome=outcome)
        stands -= {"elsewhere"}
        stands |= {"lately"} | ({"elsewhere"} if event == "elsewhere" else set())
        if AskedItem.objects.filter(key=row.key).exclude(asking__outcome="not-reached").count() >= 3:
            stands.add("often")
    elif event == "book":
        at = desk["now"] + timedelta(days=2)
        patient.get().visits.create(place="expected", place_since=at, made_at=desk["now"], expected_at=at)
        stands.add("booked")
    elif event == "call-off":
        patient.get().visits.update(place="cancelled")
        stands -= {"booked"}
    elif event in ("die", "live"):
        dead = event == "die"
        patient.update(deceased_on=today if dead else None, deceased_how="died" if dead else "")
        (stands.add if dead else stands.discard)("died")
    else:
        patient.update(left_practice_on=today)
        stands.add("moved")
