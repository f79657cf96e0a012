"""What is booked: day by day, moved and called off with a reason, missed; and its calendar file."""

from datetime import UTC, date, datetime, time, timedelta
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from icalendar import Calendar

from clinic.callbacks.missed import refresh_missed
from clinic.models import BookingChange, CallBack, NextVisit, Visit
from clinic.people.actor import NotAllowed
from clinic.visits import actions, calendars
from clinic.visits.calendar_file import Entry, calendar_file
from clinic.visits.day_list import Slot, at_the_same_time
from clinic.visits.errors import BookedOtherwise, NeedsWords
from tests import people

pytestmark = pytest.mark.django_db
FRIDAY = people.TODAY + timedelta(days=2)
MONDAY = people.TODAY + timedelta(days=5)


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def desk(house: people.People) -> dict:
    return {"actor": house.actor("assistant"), "now": people.NOW}


@pytest.fixture
def plan(desk: dict) -> NextVisit:
    return actions.plan_next_visit(
        patient=people.patient(), record=None, on=FRIDAY, at=time(9, 30), kind="focused",
        reason="left ear again", **desk,
    )  # fmt: skip


@pytest.fixture
def booked(desk: dict) -> Visit:
    at = datetime.combine(FRIDAY, time(9, 40), UTC)
    owner = people.owner("Ada Lunt", email="ada@example.com")
    return actions.book(patient=people.patient("Grit", of=owner), expected_at=at, booked_for="nails", **desk)


def event(content: bytes):
    (only,) = Calendar.from_ical(content).walk("VEVENT")
    return only


# --- Moved and called off -----------------------------------------------------------------------------------


def test_moved_it_keeps_the_day_it_had_and_why(plan: NextVisit, desk: dict) -> None:
    actions.move_next_visit(next_visit=plan, on=MONDAY, at=time(11, 0), why="the owner works", **desk)
    change = BookingChange.objects.get()
    assert (change.was_on, change.was_at, change.now_on) == (FRIDAY, time(9, 30), MONDAY)
    assert (change.why, change.by) == ("the owner works", desk["actor"].staff)
    assert (plan.on, plan.at) == (MONDAY, time(11, 0))


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"on": people.TODAY - timedelta(days=1), "why": "x"}, "on"),
        ({"on": FRIDAY, "at": time(9, 30), "why": "x"}, "on"),
        ({"on": MONDAY, "why": " "}, "why"),
    ],
)
def test_a_move_makes_sense_and_says_why(plan: NextVisit, desk: dict, fields: dict, field: str) -> None:
    with pytest.raises(NeedsWords) as refused:
        actions.move_next_visit(next_visit=plan, **fields, **desk)
    assert refused.value.field == field


def test_called_off_with_a_reason_it_is_expected_no_more(plan: NextVisit, desk: dict) -> None:
    actions.call_off_next_visit(next_visit=plan, why="goes to the coast", **desk)
    assert actions.expect_today(now=people.NOW + timedelta(days=2)) == 0
    assert BookingChange.objects.get().why == "goes to the coast"


@pytest.mark.parametrize("second", ["move", "off"])
def test_of_two_tablets_one_gets_through(plan: NextVisit, desk: dict, second: str) -> None:
    other = NextVisit.objects.get()
    actions.move_next_visit(next_visit=plan, on=MONDAY, why="asked", **desk)
    again = MONDAY + timedelta(days=1)
    rival = {
        "move": lambda: actions.move_next_visit(next_visit=other, on=again, why="asked", **desk),
        "off": lambda: actions.call_off_next_visit(next_visit=other, why="asked", **desk),
    }
    with pytest.raises(BookedOtherwise):
        rival[second]()
    assert BookingChange.objects.count() == 1


def test_a_booking_is_moved_and_its_plan_follows(plan: NextVisit, desk: dict) -> None:
    later = {**desk, "now": people.NOW + timedelta(days=2)}
    actions.expect_today(now=later["now"])
    plan.refresh_from_db()
    visit = plan.became
    actions.move_booking(visit=visit, on=MONDAY, at=time(8, 0), why="snow", **later)
    plan.refresh_from_db()
    assert (plan.on, plan.at, plan.sequence) == (MONDAY, time(8, 0), 1)
    assert visit.expected_at == datetime.combine(MONDAY, time(8, 0), UTC)
    actions.call_off_booking(visit=visit, why="moved away", **later)
    plan.refresh_from_db()
    assert (visit.place, plan.state, plan.sequence) == ("cancelled", "cancelled", 2)


def test_of_two_tablets_one_moves_the_booking(booked: Visit, desk: dict) -> None:
    other = Visit.objects.get(pk=booked.pk)
    actions.move_booking(visit=booked, on=MONDAY, why="asked", **desk)
    with pytest.raises(BookedOtherwise):
        actions.call_off_booking(visit=other, why="asked", **desk)


def test_who_may_not_book_may_not_move(plan: NextVisit, house: people.People) -> None:
    house.assistant.is_active = False
    with pytest.raises(NotAllowed):
        actions.move_next_visit(
            next_visit=plan, on=MONDAY, why="x", actor=house.actor("assistant"), now=people.NOW
        )


# --- The calendar file (RFC 5545) ---------------------------------------------------------------------------


def test_the_uid_stays_and_the_sequence_rises(plan: NextVisit, desk: dict) -> None:
    """RFC 5545, 3.8.4.7: one identifier for ever; 3.8.7.4: each revision counts up."""
    before = event(calendars.of_plan(plan))
    actions.move_next_visit(next_visit=plan, on=MONDAY, at=time(9, 30), why="asked", **desk)
    after = event(calendars.of_plan(plan))
    actions.call_off_next_visit(next_visit=plan, why="asked", **desk)
    plan.refresh_from_db()
    off = event(calendars.of_plan(plan))
    assert before["uid"] == after["uid"] == off["uid"]
    assert [each["sequence"] for each in (before, after, off)] == [0, 1, 2]
    assert [str(each["status"]) for each in (before, after, off)] == ["CONFIRMED", "CONFIRMED", "CANCELLED"]
    assert after["dtstart"].dt.date() == MONDAY


def test_two_plans_have_two_uids(plan: NextVisit, desk: dict) -> None:
    other = actions.plan_next_visit(
        patient=plan.patient, record=None, on=MONDAY, kind="focused", reason="weight", **desk
    )
    assert other.uid != plan.uid


def entry(**fields) -> Entry:
    facts = {
        "uid": uuid4(), "sequence": 0, "on": date(2026, 3, 29), "start": None, "minutes": 20, "week": False,
        "summary": "Pomfret: left ear; both, again\nwith drops", "place": "4 Weir Lane, Quillwater",
        "changed_at": people.NOW,
    }  # fmt: skip
    return Entry(**(facts | fields))


@pytest.mark.parametrize(("day", "hour"), [(date(2026, 3, 28), 8), (date(2026, 3, 29), 7)])
def test_the_hour_on_both_sides_of_the_change_of_clocks(day: date, hour: int) -> None:
    """Madrid puts its clocks forward on 29 March 2026: nine o'clock is another instant."""
    start = datetime.combine(day, time(9, 0), ZoneInfo("Europe/Madrid"))
    told = event(calendar_file([entry(on=day, start=start)], domain="clinic.example"))
    assert told["dtstart"].dt == datetime.combine(day, time(hour, 0), UTC)
    assert told["dtend"].dt - told["dtstart"].dt == timedelta(minutes=20)


def test_without_a_time_it_is_the_whole_day() -> None:
    told = event(calendar_file([entry()], domain="clinic.example"))
    assert (told["dtstart"].dt, told["dtend"].dt) == (date(2026, 3, 29), date(2026, 3, 30))


def test_the_week_of_begins_on_monday_and_blocks_nobody() -> None:
    told = event(calendar_file([entry(week=True)], domain="clinic.example"))
    assert (told["dtstart"].dt, told["dtend"].dt) == (date(2026, 3, 23), date(2026, 3, 30))
    assert str(told["transp"]) == "TRANSPARENT"


def test_lines_are_folded_ended_and_escaped_as_the_standard_says() -> None:
    """RFC 5545, 3.1: 75 octets a line, CRLF; 3.3.11: commas, semicolons and line breaks are escaped."""
    content = calendar_file([entry(summary="Ünïcode " * 20 + "a, b; c\nd")], domain="clinic.example")
    assert content.endswith(b"END:VCALENDAR\r\n")
    assert b"\n" not in content.replace(b"\r\n", b"")
    assert all(len(line) <= 75 for line in content.split(b"\r\n"))
    assert b"a\\, b\\; c\\nd" in content.replace(b"\r\n ", b"")
    assert str(event(content)["summary"]).endswith("a, b; c\nd")


def test_it_travels_with_the_letter(house: people.People, desk: dict) -> None:
    visit = people.visit_here()
    assert calendars.of_record(visit.record) is None
    made = actions.plan_next_visit(
        patient=visit.patient, record=visit.record, on=FRIDAY, kind="focused", reason="ear", **desk
    )
    told = event(calendars.of_record(visit.record))
    assert str(told["uid"]).startswith(str(made.uid))
    actions.call_off_next_visit(next_visit=made, why="asked", **desk)
    assert calendars.of_record(visit.record) is None


def test_staff_download_it(client: Client, house: people.People, plan: NextVisit) -> None:
    client.force_login(house.assistant)
    answer = client.get(reverse("next-visit-calendar", args=[plan.pk]))
    assert answer["Content-Type"].startswith("text/calendar")
    assert str(event(answer.content)["summary"]) == "Pomfret: left ear again"


# --- The day ------------------------------------------------------------------------------------------------


def slot(key: str, hour: int, minute: int, minutes: int) -> Slot:
    return Slot(key, datetime(2026, 3, 11, hour, minute, tzinfo=UTC), minutes)


def test_what_shares_a_minute_is_said_and_what_touches_is_not() -> None:
    slots = [slot("a", 9, 0, 60), slot("b", 9, 30, 10), slot("c", 9, 50, 20), slot("d", 10, 10, 20)]
    assert at_the_same_time(slots) == {"a": ("b", "c"), "b": ("a",), "c": ("a",)}


def test_the_day_shows_bookings_plans_and_what_overlaps(
    client: Client, house: people.People, plan: NextVisit, booked: Visit, desk: dict
) -> None:
    week = actions.plan_next_visit(
        patient=plan.patient, record=None, on=FRIDAY, week_of=True, kind="focused", reason="weight", **desk
    )
    client.force_login(house.technician)
    text = client.get(reverse("day", args=[FRIDAY.isoformat()])).content.decode()
    assert "at the same time as Grit" in text
    assert "at the same time as Pomfret" in text
    assert week.reason in text
    assert reverse("day", args=[(FRIDAY + timedelta(days=1)).isoformat()]) in text
    assert client.get("/days/2026-13-40/").status_code == 404


def test_the_day_asks_equally_often_for_two_and_twenty(client: Client, house, desk: dict) -> None:
    client.force_login(house.technician)
    counts = []
    for many in (2, 18):
        for number in range(many):
            owner = people.owner(f"Ada Lunt{many}x{number}", email=f"a{many}{number}@example.com")
            patient = people.patient(f"P{many}x{number}", of=owner)
            at = datetime.combine(FRIDAY, time(9, number), UTC)
            actions.book(patient=patient, expected_at=at, booked_for="x", **desk)
            actions.plan_next_visit(
                patient=patient, record=None, on=FRIDAY, kind="focused", reason="y", **desk
            )
        with CaptureQueriesContext(connection) as asked:
            client.get(reverse("day", args=[FRIDAY.isoformat()]))
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_moved_on_its_page(client: Client, house: people.People) -> None:
    today = timezone.localdate()
    plan = actions.plan_next_visit(
        patient=people.patient(), record=None, on=today + timedelta(days=2), kind="focused", reason="ear",
        actor=house.actor("assistant"), now=timezone.now(),
    )  # fmt: skip
    client.force_login(house.assistant)
    url = reverse("next-visit-change", args=[plan.pk])
    sent = {
        "once": uuid4(),
        "seen": "0",
        "on": (today + timedelta(days=4)).isoformat(),
        "why": "",
        "move": "1",
    }
    assert client.post(url, sent).status_code == 422
    assert client.post(url, {**sent, "why": "the owner works"}).status_code == 302
    answer = client.post(url, {**sent, "once": uuid4(), "on": today.isoformat(), "why": "typed by another"})
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "changed on another tablet" in text
    assert "typed by another" in text
    assert 'name="seen" value="1"' in text
    assert "the owner works" in client.get(url).content.decode()


def test_a_booking_is_called_off_on_its_page(client: Client, house: people.People, booked: Visit) -> None:
    client.force_login(house.assistant)
    url = reverse("booking", args=[booked.pk])
    sent = {"once": uuid4(), "seen": booked.expected_at.isoformat(), "why": "goes away", "off": "1"}
    assert client.post(url, sent).status_code == 302
    assert "goes away" in client.get(url).content.decode()
    booked.refresh_from_db()
    assert booked.place == "cancelled"


# --- Missed -------------------------------------------------------------------------------------------------


def test_who_did_not_come_is_called_back_until_something_is_agreed(plan: NextVisit, desk: dict) -> None:
    day_after = people.NOW + timedelta(days=3)
    actions.expect_today(now=people.NOW + timedelta(days=2))
    assert refresh_missed(now=people.NOW + timedelta(days=2)) == 0
    assert refresh_missed(now=day_after) == 1
    assert refresh_missed(now=day_after) == 1
    row = CallBack.objects.get()
    assert (row.source, row.due_on, row.label) == ("missed", FRIDAY, "Missed visit: left ear again")
    actions.plan_next_visit(
        patient=plan.patient, record=None, on=MONDAY, kind="focused", reason="ear",
        actor=desk["actor"], now=day_after,
    )  # fmt: skip
    assert refresh_missed(now=day_after) == 0
    assert not CallBack.objects.exists()


def test_only_the_rows_of_missed_visits_are_touched(plan: NextVisit) -> None:
    CallBack.objects.create(
        patient=plan.patient, source="dues", key="k", label="l", due_on=FRIDAY, refreshed_at=people.NOW
    )
    refresh_missed(now=people.NOW)
    assert CallBack.objects.get().source == "dues"


def test_nobody_is_called_back_for_an_animal_that_died(booked: Visit) -> None:
    booked.patient.deceased_on = people.TODAY
    booked.patient.save()
    assert refresh_missed(now=people.NOW + timedelta(days=9)) == 0
