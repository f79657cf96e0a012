"""Two workers at the same reminders, and workers that end in mid-send: none leaves twice, none is lost."""

import random
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
from django.db import connection

from clinic.callbacks import reminding, still_true
from clinic.mail import actions as mail
from clinic.models import CallBack, Message
from tests import people
from tests.clinic.test_reminders import house  # noqa: F401 - a fixture, found by its name
from tests.smtp import serving

pytestmark = [pytest.mark.faults, pytest.mark.django_db(transaction=True)]
TODAY, NOW = people.TODAY, people.NOW
FIVE = NOW.replace(hour=17)
MESSAGES, KILLS = 20, 10


class Killed(BaseException):
    """As a signal ends a process: nothing catches it."""


def laid() -> list:
    for number in range(MESSAGES):
        owner = people.owner(f"A Dovale{number}", f"o{number}@example.com")
        CallBack.objects.create(
            patient=people.patient(f"Pomfret{number}", of=owner),
            source="dues", key="rabies", label="Rabies", due_on=TODAY, refreshed_at=NOW,
        )  # fmt: skip
    reminding.plan_batch(after=0, today=TODAY, now=NOW)
    return list(Message.objects.order_by("pk").values_list("pk", flat=True))


def worker(keys: list) -> list[str]:
    try:
        return [mail.send(message_id=key, now=FIVE) for key in keys]
    finally:
        connection.close()


def test_two_workers_hand_over_each_message_once(house, settings) -> None:  # noqa: F811
    keys = laid()
    with serving(settings) as peer:
        with ThreadPoolExecutor(2) as hands:
            list(hands.map(worker, [keys, keys]))
        arrived = Counter(each.rcpt_tos[0] for each in peer.taken)
    assert len(arrived) == MESSAGES
    assert set(arrived.values()) == {1}
    assert set(Message.objects.values_list("state", flat=True)) == {"sent"}


def test_without_the_conditional_step_some_would_leave_twice(house, settings, monkeypatch) -> None:  # noqa: F811
    def anyhow(message_id, _old, new, now, why="", **also) -> bool:
        Message.objects.filter(pk=message_id).update(state=new, state_since=now, state_why=why, **also)
        return True

    monkeypatch.setattr(mail, "_step", anyhow)
    monkeypatch.setattr(still_true, "hold", lambda _reminder: None)
    key = laid()[0]
    met: list[str] = []
    hand_over = mail.send_now

    def meanwhile(message, link=None) -> None:
        """Another worker takes it up before this one has told."""
        hand_over(message, link)
        if not met:
            met.append("again")
            Message.objects.filter(pk=message.pk).update(state="waiting", next_try_at=None)
            mail.send(message_id=message.pk, now=FIVE)

    monkeypatch.setattr(mail, "send_now", meanwhile)
    with serving(settings) as peer:
        mail.send(message_id=key, now=FIVE)
        assert len(peer.taken) == 2


def test_workers_killed_in_mid_send_lose_none_and_double_none(house, settings, monkeypatch) -> None:  # noqa: F811
    keys, dice, hand_over = laid(), random.Random(8), mail.send_now
    fatal = set(dice.sample(keys, KILLS))

    def dies(message, link=None) -> None:
        at = dice.random()
        if message.pk in fatal and at < 0.5:
            raise Killed
        hand_over(message, link)
        if message.pk in fatal:
            raise Killed

    monkeypatch.setattr(mail, "send_now", dies)
    later = FIVE + timedelta(minutes=6)
    with serving(settings) as peer:
        for at in (FIVE, later):
            for key in keys:
                try:
                    mail.send(message_id=key, now=at)
                except Killed:
                    continue
            mail.rescue(now=at + timedelta(minutes=6))
        arrived = Counter(each.rcpt_tos[0] for each in peer.taken)
    states = Counter(Message.objects.values_list("state", flat=True))
    assert states == {"sent": MESSAGES - KILLS, "unknown": KILLS}
    assert not [to for to, times in arrived.items() if times > 1]
    for to in Message.objects.filter(state="sent").values_list("to_address", flat=True):
        assert arrived[to] == 1
