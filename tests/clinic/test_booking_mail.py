"""A moved or called-off visit is told by mail: opened as it arrived, its calendar file read back."""

from collections.abc import Iterator
from datetime import UTC, datetime, time, timedelta
from email.message import EmailMessage
from uuid import uuid4

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from icalendar import Calendar
from procrastinate.contrib.django.models import ProcrastinateJob

from clinic.letters.actions import keep_file
from clinic.mail import actions as mail
from clinic.models import BookingChange, Message, NextVisit, Owner, Patient, Record, Visit
from clinic.platform.files import keep
from clinic.visits import actions
from clinic.visits.errors import NeedsWords
from tests import letters, people
from tests.death import die
from tests.letters import NOW, TODAY, Case
from tests.smtp import Peer, serving

pytestmark = pytest.mark.django_db

MONDAY, FRIDAY = TODAY + timedelta(days=5), TODAY + timedelta(days=2)


@pytest.fixture
def peer(settings) -> Iterator[Peer]:
    with serving(settings) as peer:
        yield peer


@pytest.fixture
def case() -> Case:
    return letters.weighed(letters.arrived(), "27.4", 5)


@pytest.fixture
def plan(case: Case) -> NextVisit:
    """Planned at a visit whose letter has gone out."""
    made = actions.plan_next_visit(
        patient=case.patient, record=case.record, on=FRIDAY, at=time(9, 30), kind="focused",
        reason="left ear again", **case.me,
    )  # fmt: skip
    Record.objects.filter(pk=case.record.pk).update(
        signed_at=NOW, signed_by=case.people.clinician, signed_name="Dr Maren Oduya"
    )
    return NextVisit.objects.select_related("record", "patient").get(pk=made.pk)


@pytest.fixture
def desk(case: Case) -> dict:
    return {"actor": case.actor("assistant"), "now": NOW}


def move(plan: NextVisit, desk: dict, **more) -> None:
    facts = {"on": MONDAY, "at": time(11, 0), "why": "Dr Oduya is ill", "tell": True}
    actions.move_next_visit(next_visit=plan, **(facts | more), **desk)


def send(message: Message, now: datetime = NOW) -> str:
    return mail.send(message_id=message.pk, now=now)


def calendar_of(message: EmailMessage):
    (file,) = [each for each in message.iter_attachments() if each.get_content_type() == "text/calendar"]
    (event,) = Calendar.from_ical(file.get_payload(decode=True)).walk("VEVENT")
    return event


# --- What arrives -------------------------------------------------------------------------------------------


def test_the_letter_s_mail_carries_the_next_visit_as_a_calendar_file(peer: Peer, case, plan) -> None:
    """RFC 5545, opened as the owner gets it."""
    letter = case.freeze()
    keep_file(letter=letter, name=keep(b"%PDF-1.7 a test", ".pdf"), size=15, pages=1, now=NOW)
    assert send(letter.messages.get()) == "sent"
    arrived = peer.opened()
    assert [each.get_content_type() for each in arrived.iter_attachments()] == [
        "application/pdf",
        "text/calendar",
    ]
    event = calendar_of(arrived)
    assert (event["sequence"], str(event["status"])) == (0, "CONFIRMED")
    assert event["uid"].startswith(str(plan.uid))
    assert event["dtstart"].dt == datetime.combine(FRIDAY, time(9, 30), UTC)


def test_moved_the_owner_gets_the_new_day_for_the_same_entry(peer: Peer, case, plan, desk) -> None:
    letter = case.freeze()
    keep_file(letter=letter, name=keep(b"%PDF-1.7 a test", ".pdf"), size=15, pages=1, now=NOW)
    send(letter.messages.get())
    move(plan, desk)
    assert send(Message.objects.get(purpose="service")) == "sent"
    before, after = calendar_of(peer.opened()), calendar_of(peer.opened(1))
    assert before["uid"] == after["uid"]
    assert (before["sequence"], after["sequence"]) == (0, 1)
    assert str(after["status"]) == "CONFIRMED"
    assert after["dtstart"].dt == datetime.combine(MONDAY, time(11, 0), UTC)
    told = peer.opened(1)
    assert str(told["Subject"]).strip() == "Pomfret’s visit has another day: Monday 16 March 2026, 11:00 am"
    text = told.get_body(("plain",)).get_content()
    assert "Before: Friday 13 March 2026, 9:30 am" in text
    assert "Now: Monday 16 March 2026, 11:00 am" in text
    assert "What for: left ear again" in text
    assert "555-0100" in text
    assert told["To"] == "henrike@example.com"


def test_why_it_was_moved_stays_in_the_house(peer: Peer, plan, desk) -> None:
    move(plan, desk)
    send(Message.objects.get())
    text = peer.opened().get_body(("plain",)).get_content()
    assert "Now: Monday" in text
    assert "is ill" not in text
    assert "is ill" not in str(calendar_of(peer.opened()))


def test_called_off_it_is_cancelled_in_the_calendar(peer: Peer, plan, desk) -> None:
    move(plan, desk, tell=False)
    actions.call_off_next_visit(next_visit=plan, why="asked", tell=True, **desk)
    send(Message.objects.get())
    event = calendar_of(peer.opened())
    assert (event["sequence"], str(event["status"])) == (2, "CANCELLED")
    assert event["uid"].startswith(str(plan.uid))
    text = peer.opened().get_body(("plain",)).get_content()
    assert "does not take place" in text
    assert "It was on: Monday 16 March 2026, 11:00 am" in text


def test_when_the_plan_has_become_a_booking_its_entry_follows(peer: Peer, plan, desk) -> None:
    later = {**desk, "now": NOW + timedelta(days=2)}
    actions.expect_today(now=later["now"])
    plan.refresh_from_db()
    actions.move_booking(visit=plan.became, on=MONDAY, at=time(8, 0), why="snow", tell=True, **later)
    send(Message.objects.get(), later["now"])
    event = calendar_of(peer.opened())
    assert (event["sequence"], event["dtstart"].dt) == (1, datetime.combine(MONDAY, time(8, 0), UTC))
    actions.call_off_booking(visit=plan.became, why="moved away", tell=True, **later)
    send(Message.objects.get(state="waiting"), later["now"])
    assert (calendar_of(peer.opened(1))["sequence"]) == 2


def test_a_booking_that_no_letter_named_comes_without_a_file_and_without_the_desk_s_words(
    peer: Peer,
    desk: dict,
) -> None:
    owner = people.owner("Ada Lunt", email="ada@example.com")
    at = datetime.combine(FRIDAY, time(9, 40), UTC)
    patient = people.patient("Grit", of=owner)
    visit = actions.book(patient=patient, expected_at=at, booked_for="nails, bites", **desk)
    actions.move_booking(visit=visit, on=MONDAY, why="asked", tell=True, **desk)
    send(Message.objects.get())
    assert list(peer.opened().iter_attachments()) == []
    assert "Now: Monday 16 March 2026\n" in peer.opened().get_body(("plain",)).get_content().replace("\r", "")
    assert b"bites" not in peer.taken[0].content


def test_a_week_is_told_as_a_week(plan: NextVisit, desk: dict) -> None:
    move(plan, desk, week_of=True)
    assert "Now: any day in the week of Monday 16 March 2026" in Message.objects.get().body
    move(plan, desk, on=FRIDAY, at=None)
    told = Message.objects.order_by("booking_change").last().body
    assert "Before: any day in the week of Monday 16 March 2026" in told


# --- When it is not told ------------------------------------------------------------------------------------


def test_not_ticked_nothing_leaves(plan: NextVisit, desk: dict) -> None:
    move(plan, desk, tell=False)
    actions.call_off_next_visit(next_visit=plan, why="asked", **desk)
    assert not Message.objects.exists()


def test_the_mail_is_queued_with_the_change_or_neither_is(plan: NextVisit, desk: dict) -> None:
    with transaction.atomic():
        move(plan, desk)
        assert ProcrastinateJob.objects.filter(queue_name="mail").count() == 1
        transaction.set_rollback(True)
    assert not ProcrastinateJob.objects.exists()
    assert not Message.objects.exists()
    assert not BookingChange.objects.exists()


@pytest.mark.parametrize("fields", [{"letters_by": "paper"}, {"email": "", "email_state": "none"}])
def test_whoever_wants_no_mail_or_has_none_is_not_written_to(plan, desk, fields: dict) -> None:
    Owner.objects.update(**fields)
    with pytest.raises(NeedsWords, match="tell them by telephone") as refused, transaction.atomic():
        move(plan, desk)
    assert refused.value.field == "tell"
    assert not BookingChange.objects.exists()


def test_of_a_dead_patient_nothing_is_told(plan: NextVisit, desk: dict) -> None:
    Patient.objects.update(deceased_on=TODAY)
    plan.patient.refresh_from_db()
    with pytest.raises(NeedsWords, match="has died"), transaction.atomic():
        move(plan, desk)
    assert not Message.objects.exists()


def test_before_its_letter_went_out_the_letter_itself_tells_it(case: Case, desk: dict) -> None:
    made = actions.plan_next_visit(
        patient=case.patient, record=case.record, on=FRIDAY, kind="focused", reason="ear", **case.me
    )
    with pytest.raises(NeedsWords, match="has not gone out yet"), transaction.atomic():
        move(made, desk)


def test_a_death_in_between_stops_what_waits(peer: Peer, case, plan, desk) -> None:
    move(plan, desk)
    die(case.patient, **desk)
    assert send(Message.objects.get()) == "cancelled"
    assert not peer.taken


def test_a_death_noted_at_the_very_moment_is_seen_when_sending(peer: Peer, plan, desk) -> None:
    move(plan, desk)
    Patient.objects.update(deceased_on=TODAY)
    assert send(Message.objects.get()) == "cancelled"
    assert not peer.taken


def test_who_says_stop_in_between_gets_none(peer: Peer, plan, desk) -> None:
    move(plan, desk)
    Owner.objects.update(letters_by="paper")
    assert send(Message.objects.get()) == "cancelled"
    assert "telephone" in Message.objects.get().state_why
    assert not peer.taken


def test_what_was_changed_again_is_told_by_the_later_mail_alone(peer: Peer, plan, desk) -> None:
    move(plan, desk)
    move(plan, desk, on=MONDAY + timedelta(days=1))
    first, second = Message.objects.order_by("booking_change")
    assert (send(first), send(second)) == ("cancelled", "sent")
    assert len(peer.taken) == 1
    assert calendar_of(peer.opened())["sequence"] == 2


def test_a_moved_booking_makes_the_mail_of_its_moved_plan_untrue(plan: NextVisit, desk: dict) -> None:
    move(plan, desk, on=TODAY + timedelta(days=1))
    first = Message.objects.get()
    actions.expect_today(now=NOW + timedelta(days=1))
    plan.refresh_from_db()
    actions.call_off_booking(visit=plan.became, why="asked", **desk)
    assert send(first) == "cancelled"


# --- On the page --------------------------------------------------------------------------------------------


@pytest.fixture
def client(case: Case) -> Client:
    client = Client()
    client.force_login(case.people.assistant)
    return client


@pytest.fixture
def near(case: Case) -> NextVisit:
    """In the days to come by the real clock."""
    return actions.plan_next_visit(
        patient=case.patient, record=None, on=timezone.localdate() + timedelta(days=2), kind="focused",
        reason="ear", actor=case.actor("assistant"), now=timezone.now(),
    )  # fmt: skip


def sent(**more: object) -> dict:
    on = timezone.localdate() + timedelta(days=4)
    return {"once": uuid4(), "seen": "0", "on": on.isoformat(), "why": "asked", "move": "1"} | more


def test_the_tick_is_set_from_the_start_and_says_to_whom(client: Client, near: NextVisit) -> None:
    text = client.get(reverse("next-visit-change", args=[near.pk])).content.decode()
    assert text.count('name="tell"') == text.count("checked") == 2
    assert "To Henrike Dovale, henrike@example.com." in text


def test_for_who_wants_paper_there_is_no_tick_but_a_sentence(client: Client, near: NextVisit) -> None:
    Owner.objects.update(letters_by="paper")
    text = client.get(reverse("next-visit-change", args=[near.pk])).content.decode()
    assert 'name="tell"' not in text
    assert "Henrike Dovale wants no mail: tell them by telephone." in text
    client.post(reverse("next-visit-change", args=[near.pk]), sent(tell="on"))
    assert BookingChange.objects.count() == 1
    assert not Message.objects.exists()


@pytest.mark.parametrize(("ticked", "mails"), [({"tell": "on"}, 1), ({}, 0)])
def test_the_tick_decides(client: Client, near: NextVisit, ticked: dict, mails: int) -> None:
    answer = client.post(reverse("next-visit-change", args=[near.pk]), sent(**ticked), follow=True)
    assert Message.objects.count() == mails
    assert ("The owner is told by mail." in answer.content.decode()) is bool(mails)


def test_a_double_tap_tells_it_once(client: Client, near: NextVisit) -> None:
    asked = sent(tell="on")
    for _tap in range(2):
        client.post(reverse("next-visit-change", args=[near.pk]), asked)
    assert Message.objects.count() == 1


def test_what_a_letter_named_is_not_taken_back_in_silence(client: Client, case: Case, plan) -> None:
    for name, args in (("next-visit-cancel", [plan.pk]), ("plan-next-back", [case.visit.pk, plan.pk])):
        answer = client.post(reverse(name, args=args))
        assert answer.headers["Location"] == reverse("next-visit-change", args=[plan.pk])
    plan.refresh_from_db()
    assert plan.state == NextVisit.State.PLANNED


def test_a_kept_mail_s_calendar_file_opens_as_one(client: Client, settings, tmp_path, plan, desk) -> None:
    settings.EMAIL_BACKEND = "clinic.platform.outbox.OutboxBackend"
    settings.OUTBOX_DIR = tmp_path
    move(plan, desk)
    send(Message.objects.get())
    (kept,) = tmp_path.glob("*.eml")
    answer = client.get(reverse("outbox-file", args=[kept.name, 0]))
    assert answer["Content-Type"].startswith("text/calendar")
    assert b"BEGIN:VCALENDAR" in answer.content


def test_a_visit_called_off_in_its_booking_page_is_told(client: Client, case: Case) -> None:
    at = timezone.now() + timedelta(days=3)
    visit = actions.book(
        patient=case.patient, expected_at=at, booked_for="nails", actor=case.actor("assistant"),
        now=timezone.now(),
    )  # fmt: skip
    Visit.objects.filter(pk=case.visit.pk).update(place="gone-home")
    asked = {"once": uuid4(), "seen": at.isoformat(), "why": "asked", "off": "1", "tell": "on"}
    client.post(reverse("booking", args=[visit.pk]), asked)
    assert "is called off" in Message.objects.get().subject
