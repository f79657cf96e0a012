"""Reminders against a death, a stop and a second planner; each also with the guard taken out."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
from django.core import mail as outgoing
from django.db import IntegrityError, connection

from clinic.callbacks import actions, reminder_actions, reminding, still_true
from clinic.callbacks.reminder_models import HouseholdReminder, ReminderItem, ReminderSettings
from clinic.mail import actions as mail
from clinic.models import CallBack, Message
from tests import death, people

pytestmark = [pytest.mark.faults, pytest.mark.django_db(transaction=True)]
NOW, TODAY = people.NOW, people.TODAY
SHORT, LONG = 6, 1000


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    made = people.people()
    ReminderSettings.objects.create(pk=1, rehearsal=False)
    plan = reminder_actions.propose_plan(
        what="", days=[0], series_days=[-1], actor=made.actor("manager"), now=NOW
    )
    reminder_actions.approve_plan(plan=plan, actor=made.actor("manager"), now=NOW)
    return made


@pytest.fixture
def hands() -> Iterator[ThreadPoolExecutor]:
    """Two workers, each with its connection to the database."""
    with ThreadPoolExecutor(2) as pool:
        yield pool
        met = threading.Barrier(2)
        for each in [pool.submit(lambda: (met.wait(5), connection.close())) for _ in range(2)]:
            each.result(10)


def due(number: int = 0) -> CallBack:
    patient = people.patient(
        f"Pomfret{number}", of=people.owner(f"Henrike Dovale{number}", f"h{number}@example.com")
    )
    return CallBack.objects.create(
        patient=patient, source="dues", key="rabies", label="Rabies vaccine", due_on=TODAY, refreshed_at=NOW
    )


def queued(row: CallBack) -> Message:
    """As a planner that looked before the other side began."""
    owner = row.patient.ownerships.get().owner
    message = Message.objects.create(
        purpose="service", owner=owner, to_address=owner.email, subject="A reminder", body="b",
        state_since=NOW, made_at=NOW, once=f"reminder:{owner.pk}",
    )  # fmt: skip
    reminder = HouseholdReminder.objects.create(
        owner=owner, day=TODAY, message=message, rest_until=TODAY + timedelta(days=30), made_at=NOW
    )
    ReminderItem.objects.create(
        reminder=reminder, patient=row.patient, source="dues", key="rabies", label="Rabies vaccine",
        due_on=TODAY, step=0,
    )  # fmt: skip
    return message


def swept_then_sent(house, hands, monkeypatch, *, dies: bool) -> Message:
    """The other side has looked through what waits and is not over; now a message is queued and sent."""
    row = due()
    swept, over = threading.Event(), threading.Event()

    def waits(*_args, **_kwargs) -> None:
        swept.set()
        over.wait(0.7)  # the sender waits for the owner, or the animal

    if dies:
        monkeypatch.setattr(still_true.Review, "changed", waits)
        other = hands.submit(death.die, row.patient, actor=house.actor("clinician"))
    else:
        monkeypatch.setattr(actions, "review_owner", waits)
        owner = row.patient.ownerships.get().owner
        other = hands.submit(actions.stop_reminders, owner=owner, actor=house.actor("assistant"), now=NOW)

    def sends() -> Message:
        assert swept.wait(10)
        made = queued(row)
        mail.send(message_id=made.pk, now=NOW)
        over.set()
        return made

    sending = hands.submit(sends)
    other.result(20)
    made = sending.result(20)
    made.refresh_from_db()
    return made


@pytest.mark.parametrize("dies", [True, False], ids=["death", "stop"])
def test_what_is_queued_meanwhile_does_not_leave(house, hands, monkeypatch, dies) -> None:
    assert swept_then_sent(house, hands, monkeypatch, dies=dies).state == "cancelled"
    assert outgoing.outbox == []


@pytest.mark.parametrize("dies", [True, False], ids=["death", "stop"])
def test_without_the_hold_it_would_leave(house, hands, monkeypatch, dies) -> None:
    monkeypatch.setattr(still_true, "hold", lambda reminder: None)
    assert swept_then_sent(house, hands, monkeypatch, dies=dies).state == "sent"


def test_dying_while_the_sender_runs(house, hands, long_run) -> None:
    """Either it had left before the death was entered, or it does not leave."""
    met = threading.Barrier(2)
    for number in range(LONG if long_run else SHORT):
        row = due(number)
        message = queued(row)

        def sends(message=message) -> str:
            met.wait(10)
            return mail.send(message_id=message.pk, now=NOW)

        def dies(row=row) -> None:
            met.wait(10)
            death.die(row.patient, actor=house.actor("clinician"))

        sending, dying = hands.submit(sends), hands.submit(dies)
        dying.result(20)
        state = sending.result(20)
        assert state in ("sent", "cancelled")
        assert mail.send(message_id=message.pk, now=NOW + timedelta(hours=1)) == state
    assert len(outgoing.outbox) == Message.objects.filter(state="sent").count()


def two_planners(hands, monkeypatch) -> list[int | str]:
    due()
    met, real = threading.Barrier(2), reminding.queue

    def slowly(found, **about):
        pause.wait(0.3)
        return real(found, **about)

    def plans() -> int | str:
        met.wait(10)
        try:
            return reminding.plan_batch(after=0, today=TODAY, now=NOW).asked
        except IntegrityError as error:
            return type(error).__name__

    pause = threading.Event()
    monkeypatch.setattr(reminding, "queue", slowly)
    return [each.result(20) for each in [hands.submit(plans) for _ in range(2)]]


def test_two_planners_write_to_a_household_once(house, hands, monkeypatch) -> None:
    assert sorted(two_planners(hands, monkeypatch)) == [0, 1]
    assert Message.objects.count() == 1


def test_without_holding_the_owner_both_would_try(house, hands, monkeypatch) -> None:
    """Then only the database's own constraint stands between."""
    monkeypatch.setattr(reminding, "hold_owners", list)
    assert "IntegrityError" in two_planners(hands, monkeypatch)
    assert Message.objects.count() == 1
