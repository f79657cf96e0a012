"""The worker is killed again and again while mails leave: none is lost, none is doubled, what nobody knows is
shown as unknown."""

import random
import signal
import warnings
from collections import Counter
from datetime import timedelta

import pytest
from asgiref.sync import async_to_sync
from django.db import transaction
from django.utils import timezone

from clinic.mail.actions import queue_sending, rescue
from clinic.models import Message
from clinic.platform import tasks
from tests import people
from tests.faults.test_letter_worker import (  # noqa: F401 - the fixtures are found by name
    forget_workers,
    mail,
    start_worker,
    until,
)

MESSAGES, KILLS = 300, 10
AT_ONCE = 2  # mails that one worker has in hand
SEED = 20

pytestmark = [pytest.mark.faults, pytest.mark.long, pytest.mark.django_db(transaction=True)]


def fill(number: int) -> None:
    people.clinic_details()
    owner, now = people.owner(), timezone.now()
    with transaction.atomic():
        for each in range(number):
            message = Message.objects.create(
                purpose="service", owner=owner, to_address=f"owner{each}@example.com", subject=f"Mail {each}",
                body="All well.\n", state_since=now, made_at=now, once=f"kill:{each}",
            )  # fmt: skip
            queue_sending(message.pk)


def states() -> Counter:
    return Counter(Message.objects.values_list("state", flat=True))


def half_minute_passes() -> None:
    """What the periodic rescues of jobs and of messages find after a worker died."""
    forget_workers()
    async_to_sync(tasks.rescue_stalled_jobs.func)(timestamp=0)
    Message.objects.filter(state="sending").update(state_since=timezone.now() - timedelta(minutes=6))
    rescue(now=timezone.now())


def test_ten_kills_among_three_hundred_mails_lose_none_and_double_none(mail, start_worker):  # noqa: F811
    dice = random.Random(SEED)
    mail.slow = 0.03
    mail.open()
    fill(MESSAGES)
    for _ in range(KILLS):
        worker, before = start_worker(), len(mail.taken)
        assert until(lambda before=before: len(mail.taken) >= before + 20, within=60)
        until(lambda: False, within=dice.random() * 0.05)  # somewhere within one sending
        worker.send_signal(signal.SIGKILL)
        worker.wait()
        half_minute_passes()
    start_worker()
    assert until(lambda: not {"waiting", "sending"} & set(states()), within=120)
    taken = Counter(envelope.rcpt_tos[0] for _, envelope in mail.taken)
    ended = dict(Message.objects.values_list("to_address", "state"))
    assert len(ended) == MESSAGES
    assert set(ended.values()) <= {"sent", "unknown"}
    assert [to for to, state in ended.items() if state == "sent" and taken[to] != 1] == []
    assert [to for to, times in taken.items() if times > 1] == []
    assert states()["unknown"] <= KILLS * AT_ONCE
    warnings.warn(f"{dict(states())}, {sum(taken.values())} taken", stacklevel=1)
