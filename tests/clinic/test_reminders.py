"""Reminders as rows and messages: planned, true when they leave, stopped, counted."""

import email
import email.policy
import time
from datetime import datetime, timedelta

import pytest
from django.core import mail as outgoing
from django.core import signing
from django.test import Client
from hypothesis import example, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from icalendar import Calendar, Event

from clinic.callbacks import (
    actions,
    answering,
    reminder_actions,
    reminder_pages,
    reminder_words,
    reminding,
    still_true,
)
from clinic.callbacks.answer_models import Answer
from clinic.callbacks.models import Asking, CallBack, ReminderStop
from clinic.callbacks.pages import asking_rows, due_list
from clinic.callbacks.queries import Wanted, askings_of
from clinic.callbacks.reminder_models import (
    AskingPlan,
    HouseholdReminder,
    ReminderItem,
    ReminderSettings,
    Suppressed,
)
from clinic.mail import actions as mail
from clinic.mail.bounces import note_report
from clinic.mail.models import Message
from clinic.mail.reports import Report
from clinic.models import NextVisit, Owner, Ownership, Patient, Visit
from clinic.platform.registries import message_checks, patient_watchers
from clinic.visits.actions import booking
from tests import death, people
from tests.examples import examples, longer

pytestmark = pytest.mark.django_db
TODAY, NOW = people.TODAY, people.NOW
FIVE = NOW.replace(hour=17)


@pytest.fixture
def house(db: None) -> people.People:
    people.clinic_details()
    made = people.people()
    ReminderSettings.objects.create(pk=1, rehearsal=False)
    plan = reminder_actions.propose_plan(
        what="", days=[-30, 0, 30], series_days=[-7, -1], words_after="It can still be done.",
        actor=made.actor("manager"), now=NOW,
    )  # fmt: skip
    reminder_actions.approve_plan(plan=plan, actor=made.actor("manager"), now=NOW)
    return made


def due(patient: Patient, *, days: int = 0, key: str = "rabies", label: str = "Rabies vaccine", **also):
    """Due so many days ago."""
    return CallBack.objects.create(
        patient=patient, source="dues", key=key, label=label, due_on=TODAY - timedelta(days=days),
        refreshed_at=NOW, **also,
    )  # fmt: skip


@pytest.fixture
def row(house: people.People) -> CallBack:
    return due(people.patient())


def plan(now: datetime = NOW) -> int:
    return reminding.plan_batch(after=0, today=now.date(), now=now).asked


def leave(now: datetime = FIVE) -> list[str]:
    """Send all that waits; the states."""
    rows = Message.objects.filter(state="waiting").order_by("made_at", "pk")
    return [mail.send(message_id=each.pk, now=now) for each in rows]


def test_a_household_gets_one_message_about_all_its_animals(house: people.People) -> None:
    owner = people.owner()
    due(people.patient(of=owner))
    due(people.patient("Grit", of=owner), days=-30, key="stool", label="Stool sample")
    due(people.patient("Esk", of=people.owner("Nobody Else", "")), key="x", label="not reached")
    assert plan() == 1
    message = Message.objects.get()
    assert message.next_try_at == FIVE
    assert (message.purpose, message.state) == ("marketing", "waiting")  # the clinic is in the US
    assert leave(NOW) == ["waiting"]
    assert leave() == ["sent"]
    (sent,) = outgoing.outbox
    assert "Pomfret: Rabies vaccine, due today" in sent.body
    assert "Grit: Stool sample" in sent.body
    asking = Asking.objects.get()
    assert (asking.by, asking.how, asking.again_on) == (None, "mail", TODAY + timedelta(days=30))
    assert asking.items.count() == 2


def test_a_reminder_that_came_back_asked_nobody(row: CallBack) -> None:
    plan()
    assert leave() == ["sent"]
    message, rests, tomorrow = Message.objects.get(), Wanted(why="lately"), TODAY + timedelta(days=1)
    assert len(due_list(rests, after=None, today=tomorrow).households) == 1
    assert note_report(Report(message.pk, lasting=True, why="5.1.1 550 no such mailbox"), now=FIVE)
    assert Asking.objects.get().taken_back.by is None
    assert not due_list(rests, after=None, today=tomorrow).households
    (house,) = due_list(Wanted(), after=None, today=tomorrow).households  # somebody calls, or writes on paper
    assert (house.reach.words, house.lines[0].asked) == ("e-mail came back", "not yet")
    (shown,) = asking_rows(askings_of(message.owner), today=tomorrow)
    assert shown.taken_back == "its mail came back: it counts for nothing, 11 March"
    assert plan(NOW + timedelta(days=1)) == 0


def dates_in(sent) -> dict[str, Event]:
    """The one calendar file of a mail as it left, by what its entries are called."""
    parsed = email.message_from_bytes(sent.message().as_bytes(), policy=email.policy.default)
    (part,) = [each for each in parsed.iter_attachments() if each.get_content_type() == "text/calendar"]
    assert part.get_filename().endswith(".ics")
    read = Calendar.from_ical(part.get_content())
    return {str(each["SUMMARY"]): each for each in read.walk("VEVENT")}


def test_the_calendar_file_moves_a_day_that_moved(house: people.People) -> None:
    """RFC 5545: an entry keeps its UID (3.8.4.7), and SEQUENCE grows when its day changes (3.8.7.4)."""
    owner = people.owner()
    rabies = due(people.patient(of=owner), days=-30)
    due(people.patient("Grit", of=owner), days=-30, key="stool", label="Stool sample")
    due(people.patient("Esk", of=owner), days=30, key="teeth", label="Teeth")  # past: in no calendar
    plan()
    assert leave() == ["sent"]
    CallBack.objects.filter(pk=rabies.pk).update(due_on=rabies.due_on + timedelta(days=40))
    plan(NOW + timedelta(days=40))
    assert leave(FIVE + timedelta(days=40)) == ["sent"]
    first, second = (dates_in(each) for each in outgoing.outbox)
    assert set(first) == {"Pomfret: Rabies vaccine due", "Grit: Stool sample due"}
    before, after = (each["Pomfret: Rabies vaccine due"] for each in (first, second))
    assert (before["DTSTART"].dt, before["SEQUENCE"]) == (rabies.due_on, 0)
    assert (after["DTSTART"].dt, after["SEQUENCE"]) == (rabies.due_on + timedelta(days=40), 1)
    assert before["UID"] == after["UID"] != first["Grit: Stool sample due"]["UID"]
    assert after["DTSTAMP"].dt > before["DTSTAMP"].dt


def test_what_is_past_brings_no_calendar_file(row: CallBack) -> None:
    CallBack.objects.update(due_on=TODAY - timedelta(days=30))
    plan()
    assert leave() == ["sent"]
    assert outgoing.outbox[0].attachments == []
    assert "calendar" not in outgoing.outbox[0].body


def test_of_what_was_never_recorded_no_day_is_said(house: people.People) -> None:
    """Neither where the messages are read before they leave, nor in the one that leaves."""
    thing = due(people.patient(), days=3000, never=True)
    owner = thing.patient.ownerships.get().owner
    found = reminder_actions.chosen_households([owner.pk], now=NOW)
    (read,) = reminder_pages.letters(found, today=TODAY)
    reminder_actions.write_to(owner_ids=[owner.pk], actor=house.actor("manager"), now=FIVE)
    queued = Message.objects.get().body
    assert leave() == ["sent"]
    (sent,) = outgoing.outbox
    for body in (read.body, queued, sent.body):
        assert "Pomfret: Rabies vaccine, never recorded here" in body
        assert "was due" not in body


def test_planning_again_writes_nobody_twice(row: CallBack) -> None:
    assert [plan(), plan()] == [1, 0]
    leave()
    assert plan(FIVE + timedelta(hours=1)) == 0
    assert plan(NOW + timedelta(days=1)) == 0
    assert Message.objects.count() == 1


@pytest.mark.parametrize("what", ["paused", "rehearsal", "unapproved", "plan paused"])
def test_nothing_is_planned_while(row: CallBack, what: str) -> None:
    ReminderSettings.objects.update(paused=what == "paused", rehearsal=what == "rehearsal")
    if what == "unapproved":
        AskingPlan.objects.update(approved_at=None, approved_by=None)
    AskingPlan.objects.update(paused=what == "plan paused")
    assert plan() == 0
    assert not Message.objects.exists()


def test_what_a_person_must_tell_is_in_no_reminder(house: people.People) -> None:
    """A recall is told, whatever was said about reminders; it is not one."""
    due(people.patient(), key="recall:1", label="Recalled lot", nature="by-person")
    assert plan() == 0


def test_a_machine_that_was_off_writes_once_and_notes_what_it_skipped(row: CallBack) -> None:
    AskingPlan.objects.update(days=[-2, -1, 0])
    assert plan(NOW + timedelta(days=2)) == 1
    noted = ReminderItem.objects.order_by("step").values_list("step", "skipped")
    assert list(noted) == [(-2, True), (-1, True), (0, False)]


def test_what_waited_over_a_night_is_the_message_of_its_new_day(row: CallBack) -> None:
    plan()
    later = FIVE + timedelta(days=1)
    assert plan(later) == 0  # it waits still
    assert leave(later) == ["sent"]
    assert HouseholdReminder.objects.get().day == later.date()


def test_after_a_pause_it_leaves_and_after_a_long_one_it_does_not(row: CallBack) -> None:
    plan()
    ReminderSettings.objects.update(paused=True)
    assert leave() == ["waiting"]
    ReminderSettings.objects.update(paused=False)
    assert leave(FIVE + timedelta(days=15)) == ["cancelled"]
    Message.objects.update(state="waiting", next_try_at=FIVE)
    assert leave(FIVE + timedelta(days=14)) == ["sent"]


def test_reminders_stand_in_their_registries() -> None:
    assert message_checks.names() == ["reminders"]
    assert patient_watchers.names() == ["reminders", "answers"]


def test_in_quiet_hours_it_waits(row: CallBack) -> None:
    plan()
    assert leave(NOW.replace(hour=21)) == ["waiting"]
    message = Message.objects.get()
    assert message.next_try_at == NOW.replace(hour=8) + timedelta(days=1)
    assert message.state_why == "quiet hours"


# --- Truth --------------------------------------------------------------------------------------------------


def ended(row: CallBack, house: people.People, what: str) -> None:
    patient, actor, owner = row.patient, house.actor("clinician"), row.patient.ownerships.get().owner
    if what == "died":
        death.die(patient, actor=actor)
    elif what == "booked":
        booking.book(
            patient=patient, expected_at=FIVE + timedelta(days=2), booked_for="it", actor=actor, now=NOW
        )
    elif what == "planned":
        booking.plan_next_visit(
            patient=patient, record=None, on=TODAY, kind="full", reason="it", actor=actor, now=NOW
        )
    elif what == "stop":
        actions.stop_reminders(owner=owner, actor=actor, now=NOW)
    elif what == "stop this":
        actions.stop_reminders(owner=owner, row=row, actor=actor, now=NOW)
    elif what == "elsewhere":
        actions.note_asking(owner=owner, rows=[row], how="call", outcome="elsewhere", actor=actor, now=NOW)
    elif what == "moved":
        from clinic.patients.actions import leave_practice

        leave_practice(patient=patient, on=TODAY, actor=actor, now=NOW)
    elif what == "owner":
        from clinic.patients.actions import make_first_owner

        make_first_owner(
            patient=patient, owner=people.owner("Else Where", "e@example.com"), actor=actor, now=NOW
        )


ENDS = ["died", "booked", "planned", "stop", "stop this", "elsewhere", "moved", "owner"]


@pytest.mark.parametrize("what", ENDS)
def test_what_waits_is_cancelled_at_once_and_says_so(row: CallBack, house: people.People, what: str) -> None:
    plan()
    ended(row, house, what)
    message = Message.objects.get(subject__startswith="A reminder")
    assert message.state == "cancelled"
    assert message.state_why.startswith("Pomfret: ")
    assert leave() == []
    assert outgoing.outbox == []


@pytest.mark.parametrize(
    "what",
    [
        "gone",
        "moved day",
        "visit",
        "stopped",
        "suppressed",
        "paper",
        "paused",
        "rehearsal",
        "address",
        "dead",
        "left",
        "stopped this",
        "answered",
        "plan paused",
        "elsewhere",
        "bounced",
    ],
)
def test_every_condition_is_asked_again_when_it_leaves(
    row: CallBack, house: people.People, what: str
) -> None:
    """Written past the actions, as an import or another program might."""
    plan()
    owner = Owner.objects.get()
    if what == "gone":
        CallBack.objects.all().delete()
    elif what == "moved day":
        CallBack.objects.update(due_on=TODAY + timedelta(days=9))
    elif what == "visit":
        Visit.objects.create(
            patient=row.patient, place="expected", place_since=NOW, made_at=NOW, expected_at=FIVE
        )
    elif what == "stopped":
        ReminderStop.objects.create(owner=owner, by=house.assistant, at=NOW)
    elif what == "suppressed":
        actions._suppress(owner.email.upper(), NOW)
    elif what == "dead":
        Patient.objects.update(deceased_on=TODAY, deceased_how="died")
    elif what == "left":
        Patient.objects.update(left_practice_on=TODAY)
    elif what == "stopped this":
        ReminderStop.objects.create(
            owner=owner, patient=row.patient, source=row.source, key=row.key, by=house.assistant, at=NOW
        )
    elif what == "answered":
        Answer.objects.create(
            owner=owner, message=Message.objects.get(), patient=row.patient, source=row.source, key=row.key,
            label=row.label, due_on=row.due_on, kind="book", at=NOW,
        )  # fmt: skip
    elif what == "plan paused":
        AskingPlan.objects.update(paused=True)
    elif what == "elsewhere":
        asking = Asking.objects.create(
            owner=owner, how="call", outcome="elsewhere", again_on=TODAY, by=house.assistant, at=NOW
        )
        asking.items.create(
            patient=row.patient, source=row.source, key=row.key, label=row.label, due_on=row.due_on
        )
    elif what == "bounced":
        Owner.objects.update(email_state="bounced")
    elif what in ("paused", "rehearsal"):
        ReminderSettings.objects.update(**{what: True})
    elif what == "address":
        Owner.objects.update(email="new@example.com")
    else:
        Owner.objects.update(letters_by="paper")
    state = {"paused": "waiting", "rehearsal": "waiting", "address": "sent"}.get(what, "cancelled")
    assert leave() == [state]
    assert [each.to for each in outgoing.outbox] == ([["new@example.com"]] if what == "address" else [])


def test_one_of_two_falls_and_the_message_speaks_of_the_other(house: people.People) -> None:
    owner = people.owner()
    one, other = people.patient(of=owner), people.patient("Grit", of=owner)
    due(one)
    due(other, key="stool", label="Stool sample")
    plan()
    death.die(one, actor=house.actor("clinician"))
    assert leave() == ["sent"]
    (sent,) = outgoing.outbox
    assert sent.subject == "A reminder for Grit"
    assert "Pomfret" not in sent.body + str(sent.alternatives)
    assert [item.patient for item in Asking.objects.get().items.all()] == [other]


def test_an_address_stays_suppressed_when_its_owner_is_entered_anew(
    row: CallBack, house: people.People
) -> None:
    """US CAN-SPAM, 15 USC 7704(a)(4); GDPR, art. 21."""
    actions.stop_reminders(owner=Owner.objects.get(), actor=house.actor("assistant"), now=NOW)
    ReminderStop.objects.all().delete()
    anew = people.owner("Henrike Dovale-Lund", "Henrike@Example.com")
    Ownership.objects.update(owner=anew)
    assert plan() == 0
    stop = ReminderStop.objects.create(owner=anew, by=house.assistant, at=NOW)
    actions.lift_stop(stop=stop, actor=house.actor("assistant"), now=NOW + timedelta(hours=1))
    assert plan() == 1


def test_letters_ask_nothing_of_this(row: CallBack, house: people.People) -> None:
    """Medical messages stand outside "stop reminders" and the switch."""
    actions.stop_reminders(owner=Owner.objects.get(), actor=house.actor("assistant"), now=NOW)
    Message.objects.create(
        purpose="medical", owner=Owner.objects.get(), to_address="a@example.com", subject="s", body="b",
        state_since=NOW, made_at=NOW, once="m",
    )  # fmt: skip
    assert leave() == ["sent"]
    assert "List-Unsubscribe" not in outgoing.outbox[0].message()
    assert not Asking.objects.exists()


OWNERS = {"host": "letters.tailward.example"}

# --- Stopping from a mail -----------------------------------------------------------------------------------


@pytest.fixture
def link(row: CallBack, settings) -> str:
    settings.PUBLIC_URL = "https://letters.tailward.example"
    settings.ALLOWED_HOSTS = [*settings.ALLOWED_HOSTS, OWNERS["host"]]
    plan()
    assert leave() == ["sent"]
    parsed = email.message_from_bytes(outgoing.outbox[0].message().as_bytes(), policy=email.policy.default)
    assert parsed["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"  # RFC 8058
    first, second = str(parsed["List-Unsubscribe"]).replace("\n", "").split(", ")
    assert second == "<mailto:desk@quillwater.example?subject=stop>"
    assert parsed.get_body(("html",)) is not None
    assert parsed.get_body(("plain",)) is not None
    return first.strip(" <>")


def test_one_post_from_outside_stops_and_a_look_does_not(link: str, monkeypatch) -> None:
    a_year_later = time.time() + 366 * 86_400  # at least 30 days: US CAN-SPAM, 15 USC 7704(a)(3)(A)(ii)
    monkeypatch.setattr("django.core.signing.time.time", lambda: a_year_later)
    path = link.removeprefix("https://letters.tailward.example")
    stranger = Client(enforce_csrf_checks=True, headers=OWNERS)
    assert stranger.get(path).status_code == 200
    assert not ReminderStop.objects.exists()
    for _each in range(2):
        answer = stranger.post(path, {"List-Unsubscribe": "One-Click"})
        assert answer.status_code == 200
    stop = ReminderStop.objects.get()
    assert (stop.by, stop.patient) == (None, None)
    assert Suppressed.objects.count() == 1


def test_a_token_cannot_be_guessed_nor_used_for_another_household(link: str) -> None:
    other = people.owner("Else Where", "else@example.com")
    stranger = Client(headers=OWNERS)
    good = stranger.post("/stop-reminders/nonsense")
    forged = [
        signing.dumps(
            {"owner": other.pk, "message": str(Message.objects.get().pk)}, salt=reminder_words.SALT
        ),
        signing.dumps(
            {"owner": Owner.objects.first().pk, "message": str(Message.objects.get().pk)}, salt="x"
        ),
    ]
    for token in forged:
        assert stranger.post(f"/stop-reminders/{token}").content == good.content
    assert not ReminderStop.objects.exists()


def test_many_tries_are_refused(link: str) -> None:
    stranger = Client(headers=OWNERS)
    path = "/stop-reminders/nonsense"
    assert {stranger.post(path).status_code for _each in range(40)} == {200, 429}


def test_without_a_public_address_stopping_works_by_mail(row: CallBack) -> None:
    plan()
    leave()
    headers = outgoing.outbox[0].message()
    assert headers["List-Unsubscribe"] == "<mailto:desk@quillwater.example?subject=stop>"
    assert "List-Unsubscribe-Post" not in headers


# --- Written by hand ----------------------------------------------------------------------------------------


def test_chosen_households_are_written_to_once(house: people.People) -> None:
    late = due(people.patient(), days=88)
    owner = late.patient.ownerships.get().owner
    for times in (1, 0):
        made = reminder_actions.write_to(owner_ids=[owner.pk], actor=house.actor("manager"), now=NOW)
        assert len(made) == times
    assert leave(NOW) == ["sent"]
    assert Asking.objects.get().by == house.manager
    (found,) = due_list(Wanted(why="any"), after=None, today=TODAY).households
    assert found.lines[0].asked == "once, last by e-mail, 11 March"


def test_stopping_one_message(row: CallBack, house: people.People) -> None:
    plan()
    reminder = HouseholdReminder.objects.get()
    assert reminder_actions.stop_one(reminder=reminder, actor=house.actor("manager"), now=NOW)
    assert not reminder_actions.stop_one(reminder=reminder, actor=house.actor("manager"), now=NOW)
    assert leave() == []
    assert Message.objects.get().state_why == "stopped by Ottoline Pryce"


# --- Over years ---------------------------------------------------------------------------------------------

ANSWERS = [
    f"answer {kind}" for kind in ("book", "elsewhere", "moved", "given-away", "unwanted", "stop", "died")
]
VISIT_IN = 20  # days; when it is over, they are asked again
LIFE = longer(150, 730)  # days
EVENTS = st.lists(
    st.tuples(
        st.integers(0, LIFE),
        st.sampled_from(
            ["stop", "stop this", "elsewhere", "died", "booked", "done", "lift", "visit", "call off"]
        )
        | st.sampled_from([*ANSWERS, "settle", "undo"]),
    ),
    max_size=longer(6, 20),
)
# each answer is given while a message has left, and all but the last are taken back
ANSWERED = [
    (day + later, what)
    for day, kind in zip(range(24, 38, 2), ANSWERS, strict=True)
    for later, what in (
        (0, kind), (1, "lift" if kind.endswith(("unwanted", "stop")) else "undo"),
    )
][:-1]  # fmt: skip


@hypothesis_settings(max_examples=examples(3))
@example(events=ANSWERED, dues=[30, 30], off=set())
@example(events=[(24, "answer book"), (25, "visit")], dues=[30], off=set())
@given(
    events=EVENTS,
    dues=st.lists(st.integers(-30, LIFE - 30), min_size=1, max_size=longer(3, 8)),
    off=st.sets(st.integers(0, LIFE)),
)
def test_over_random_months_no_message_breaks_a_rule(events, dues, off) -> None:
    """No reminder to the stopped, dead, declined, booked or done; no key twice; one a household and day."""
    from django.db import transaction

    with transaction.atomic():
        _months(events, dues, off)
        transaction.set_rollback(True)


def _months(events, dues, off) -> None:
    people.clinic_details()
    house = people.people()
    ReminderSettings.objects.create(pk=1, rehearsal=False, quiet_days=[])
    manager = house.actor("manager")
    made = reminder_actions.propose_plan(what="", days=[-7, 0, 30], series_days=[-1], actor=manager, now=NOW)
    reminder_actions.approve_plan(plan=made, actor=manager, now=NOW)
    owner = people.owner()
    pets = [people.patient(f"Pet{number}", of=owner) for number in range(2)]
    rows = [
        due(pets[number % 2], days=-days, key=f"k{number}", label=f"Thing {number}")
        for number, days in enumerate(dues)
    ]
    days = sorted(
        {
            day
            for each in dues
            for day in range(each - 9, each + 40)
            if day % 4 == 0 or day in (each - 7, each, each + 30)
        }
        | {on for on, _what in events}
    )
    gone: dict[int, str] = {}
    for on in [day for day in days if 0 <= day <= LIFE]:
        now = NOW + timedelta(days=on)
        if on not in off:
            reminding.plan_batch(after=0, today=now.date(), now=now)
        if not _expected(rows[0].patient_id, now):
            gone.pop("visit", None)
        if not NextVisit.objects.filter(patient=rows[0].patient_id, state="planned", on__gte=now).exists():
            gone.pop("booked", None)
        for when, what in events:
            if when == on and what in ANSWERS:
                _answered(what.removeprefix("answer "), rows[0], now, gone)
            elif when == on:
                _happens(what, rows[0], owner, house, now, gone)
        before = set(Message.objects.filter(state="sent").values_list("pk", flat=True))
        if on not in off:
            leave(now.replace(hour=17))
        for message in Message.objects.filter(state="sent").exclude(pk__in=before):
            told = message.reminder.items.filter(skipped=False, fell="")
            for item in told:
                for reason in gone.values():
                    assert reason == "" or not (
                        reason == "all"
                        or (
                            item.patient_id == rows[0].patient_id
                            and (reason == "animal" or item.key == rows[0].key)
                        )
                    ), (reason, message.body)
    keys = list(ReminderItem.objects.values_list("patient", "source", "key", "due_on", "step"))
    assert len(keys) == len(set(keys))
    left = Message.objects.filter(state="sent").values_list("sent_at", flat=True)
    assert len({at.date() for at in left}) == len(left)


def _expected(patient_id: int, now: datetime) -> bool:
    return Visit.objects.filter(
        patient=patient_id, place="expected", expected_at__date__gte=now.date()
    ).exists()


def _answered(kind: str, row: CallBack, now: datetime, gone: dict[str, str]) -> None:
    """By the newest mail that left; nothing where none did, or where it was answered before."""
    message = Message.objects.filter(state="sent").order_by("sent_at").last()
    things = answering.things_of(message) if message else []
    about = [each for each in things if (each.patient_id, each.key) == (row.patient_id, row.key)]
    if message is None or (kind != "stop" and not about):
        return
    given = answering.Given(
        kind, things=tuple(each.pk for each in about), animals=(row.patient_id,), done_on=now.date()
    )
    if answering.answer(message=message, given=given, now=now):
        reason = {"stop": ("stop", "all"), "unwanted": ("stop this", "key")}.get(
            kind, (f"answer {kind}", "key" if kind in ("book", "elsewhere") else "animal")
        )
        gone[reason[0]] = reason[1]


def _happens(what, row, owner, house, now, gone) -> None:
    actor = house.actor("clinician")
    patient = Patient.objects.get(pk=row.patient_id)
    if patient.deceased_on:
        return
    if what == "died":
        Patient.objects.filter(pk=patient.pk).update(deceased_on=now.date(), deceased_how="died")
        still_true.Review().changed([patient.pk], now=now)
        gone["died"] = "animal"
    elif what == "booked":
        NextVisit.objects.create(
            patient=patient, on=now.date() + timedelta(days=VISIT_IN), kind="full", reason="x",
            by=house.clinician, made_at=now,
        )  # fmt: skip
        gone["booked"] = "animal"
    elif what == "visit":
        booking.book(
            patient=patient, expected_at=now + timedelta(days=VISIT_IN), booked_for="it", actor=actor, now=now
        )
        gone["visit"] = "animal"
        gone.pop("answer book", None)  # the booking is what they asked for
    elif what == "call off":
        booking.cancel_bookings(patient=patient, why="x", actor=actor, now=now)
        for reason in ("visit", "booked"):
            gone.pop(reason, None)
    elif what in ("settle", "undo"):
        for each in Answer.objects.filter(undone_at=None):
            if what == "undo":
                answering.undo_answer(answer=each, actor=actor, now=now)
                gone.pop(f"answer {each.kind}", None)
            elif answering.settle_answer(answer=each, actor=actor, now=now) and each.source:
                gone.pop(f"answer {each.kind}", None)
    elif what == "done":
        CallBack.objects.filter(pk=row.pk).delete()
        gone["done"] = "key"
    elif what == "elsewhere":
        if CallBack.objects.filter(pk=row.pk).exists():
            actions.note_asking(
                owner=owner, rows=[row], how="call", outcome="elsewhere", actor=actor, now=now
            )
            gone["elsewhere"] = "key"
    elif what == "lift":
        for stop in ReminderStop.objects.filter(lifted_at=None):
            actions.lift_stop(stop=stop, actor=actor, now=now)
            gone.pop("stop" if stop.patient_id is None else "stop this", None)
    elif what == "stop" or CallBack.objects.filter(pk=row.pk).exists():
        actions.stop_reminders(owner=owner, row=row if what == "stop this" else None, actor=actor, now=now)
        gone[what] = "all" if what == "stop" else "key"
