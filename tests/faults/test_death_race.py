"""A death against the sender: after it no message leaves, whichever of the two comes first.

A message leaves when a worker claims it. One that was claimed before is seen by the death, which names it;
so a message may only ever leave with as many attempts as the death saw under its hold of the patient. Each
race is also run with a part of the guard taken out, to show that it would go wrong.
"""

from __future__ import annotations

import random
import threading
import time
import uuid
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import timedelta

import pytest
from django.db import connection

from clinic.death import endings
from clinic.death.errors import DiedBefore
from clinic.mail import actions as mail
from clinic.models import Letter, LetterFile, Message, NextVisit, Patient
from clinic.visits.actions import booking
from tests import death, people
from tests.letters import NOW

pytestmark = [pytest.mark.faults, pytest.mark.django_db(transaction=True)]
SHORT, LONG = 40, 1000
LATER = NOW + timedelta(hours=1)


@dataclass
class Watch:
    """What left, at which attempt; what the death saw of it under its hold."""

    left: list[tuple[uuid.UUID, int]] = field(default_factory=list)
    seen: dict[uuid.UUID, int] = field(default_factory=dict)
    fails_first: bool = False
    after_sweep: Callable[[], None] = lambda: None

    def unseen(self) -> list[tuple[uuid.UUID, int]]:
        """What left after the death."""
        return [(pk, attempt) for pk, attempt in self.left if attempt > self.seen.get(pk, 0)]


@pytest.fixture
def watch(monkeypatch: pytest.MonkeyPatch) -> Watch:
    told = Watch()
    sweep = endings.stop_for_dead

    def leaves(message: Message, link=None) -> None:
        attempt = message.attempts + 1
        told.left.append((message.pk, attempt))
        if told.fails_first and attempt == 1:
            raise OSError("no connection")

    def seen(*, patient: Patient, now):
        rows = Message.objects.filter(letter__patient=patient).values_list("pk", "attempts")
        told.seen.update(dict(rows))
        stopped = sweep(patient=patient, now=now)
        told.after_sweep()
        return stopped

    monkeypatch.setattr(mail, "send_now", leaves)
    monkeypatch.setattr(endings, "stop_for_dead", seen)
    return told


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def hands() -> Iterator[ThreadPoolExecutor]:
    """Two workers, each with its connection to the database."""
    with ThreadPoolExecutor(2) as pool:
        yield pool
        met = threading.Barrier(2)
        for each in [pool.submit(lambda: (met.wait(5), connection.close())) for _ in range(2)]:
            each.result(10)


@pytest.fixture
def check_off(monkeypatch: pytest.MonkeyPatch) -> None:
    """The sender does not ask whether the patient lives."""
    monkeypatch.setattr(mail, "_stopped_by_death", lambda *_: "")


@pytest.fixture
def hold_off(monkeypatch: pytest.MonkeyPatch) -> None:
    """The sender asks, but holds nobody meanwhile."""
    monkeypatch.setattr(
        mail, "_held_patient", lambda message: Patient.objects.get(pk=message.letter.patient_id)
    )


def letter_of(house: people.People, number: int) -> Letter:
    owner = people.owner(f"Henrike Dovale{number}")
    visit = people.visit_here(people.patient(f"Pomfret{number}", of=owner))
    letter = Letter.objects.create(
        patient=visit.patient, record=visit.record, owner=owner, language="en", content={},
        content_sha256="0" * 64, by=house.clinician, at=NOW,
    )  # fmt: skip
    LetterFile.objects.create(letter=letter, sha256="0" * 64, size=1, pages=1, rendered_at=NOW)
    return letter


def queued(letter: Letter, purpose: str) -> Message:
    return Message.objects.create(
        purpose=purpose, owner=letter.owner, letter=letter, to_address=letter.owner.email, subject="s",
        body="b", state_since=NOW, made_at=NOW, once=f"letter:{letter.pk}",
    )  # fmt: skip


def race(house: people.People, hands: ThreadPoolExecutor, watch: Watch, rounds: int) -> None:
    """Queue, send, and send again later, while the patient dies."""
    chance = random.Random(7)
    actor = house.actor("clinician")
    met = threading.Barrier(2)
    for number in range(rounds):
        letter = letter_of(house, number)
        before = chance.random() < 0.5
        message = queued(letter, chance.choice(["medical", "service"])) if before else None
        watch.fails_first = chance.random() < 0.3
        ahead, purpose = chance.uniform(-0.015, 0.03), chance.choice(["medical", "service"])

        def sends(letter=letter, message=message, ahead=ahead, purpose=purpose) -> Message:
            met.wait(10)
            time.sleep(max(ahead, 0))
            made = message or queued(letter, purpose)
            mail.send(message_id=made.pk, now=NOW)
            return made

        def dies(letter=letter, ahead=ahead) -> None:
            met.wait(10)
            time.sleep(max(-ahead, 0))
            death.die(letter.patient, actor=actor)

        sending, dying = hands.submit(sends), hands.submit(dies)
        dying.result(20)
        made = sending.result(20)
        assert Patient.objects.get(pk=letter.patient_id).deceased_on
        mail.send(
            message_id=made.pk, now=LATER
        )  # a passing fault tries again; by then it is dead for certain


def test_after_a_death_no_message_leaves(house, hands, watch, long_run) -> None:
    rounds = LONG if long_run else SHORT
    race(house, hands, watch, rounds)
    assert watch.unseen() == []
    assert set(Message.objects.values_list("state", flat=True)) <= {"sent", "held", "cancelled"}
    assert Message.objects.filter(state="sent").exists()  # both sides won at times, or nothing was tried
    assert Message.objects.exclude(state="sent").exists()
    assert Message.objects.count() == rounds


def waited_for() -> bool:
    """Whether somebody waits for what this transaction holds."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT EXISTS (SELECT FROM pg_locks WHERE NOT granted"
            " AND pg_backend_pid() = ANY(pg_blocking_pids(pid)))"
        )
        return bool(cursor.fetchone()[0])


def until_waited_for(or_over: threading.Event | None = None) -> None:
    """The other one has come as far as it can: it waits for this transaction, or is over."""
    last = time.monotonic() + 30
    while not waited_for():
        if or_over is not None and or_over.wait(0.01):
            return
        assert time.monotonic() < last, "nobody came"


def swept_then_sent(house, hands, watch: Watch) -> Message:
    """The death has looked through the messages and is not over yet; now one is queued and sent."""
    swept, over = threading.Event(), threading.Event()

    def waits() -> None:
        swept.set()
        until_waited_for(or_over=over)

    watch.after_sweep = waits
    letter = letter_of(house, 1)

    def sends() -> Message:
        assert swept.wait(30)
        try:
            made = queued(letter, "medical")
            mail.send(message_id=made.pk, now=NOW)
        finally:
            over.set()
        return made

    dying = hands.submit(death.die, letter.patient, actor=house.actor("clinician"))
    sending = hands.submit(sends)
    dying.result(60)
    made = sending.result(60)
    made.refresh_from_db()
    return made


def test_what_is_queued_while_the_death_is_entered_is_held(house, hands, watch) -> None:
    assert swept_then_sent(house, hands, watch).state == "held"
    assert watch.left == []


def test_without_the_sender_s_question_it_would_leave(house, hands, watch, check_off) -> None:
    assert swept_then_sent(house, hands, watch).state == "sent"
    assert watch.unseen()


def test_without_the_hold_of_the_patient_it_would_leave(house, hands, watch, hold_off) -> None:
    assert swept_then_sent(house, hands, watch).state == "sent"
    assert watch.unseen()


def test_a_plan_that_becomes_a_visit_meanwhile_ends_too(house, hands, monkeypatch) -> None:
    patient = people.patient()
    NextVisit.objects.create(
        patient=patient, on=people.TODAY, kind="full", reason="yearly", by=house.clinician, made_at=NOW
    )
    became = threading.Event()
    real = booking.become_visit

    def slowly(plan: NextVisit, *, now):
        visit = real(plan, now=now)
        became.set()
        until_waited_for()  # the death waits for the plan
        return visit

    monkeypatch.setattr(booking, "become_visit", slowly)
    expecting = hands.submit(booking.expect_today, now=NOW)
    assert became.wait(30)
    dying = hands.submit(death.die, patient, actor=house.actor("clinician"))
    dying.result(60)
    assert expecting.result(60) == 1
    assert patient.visits.get().place == "cancelled"


def test_two_tablets_record_one_death(house, hands) -> None:
    patient = people.patient()
    met = threading.Barrier(2)

    def dies(role: str) -> str:
        met.wait(10)
        try:
            death.die(patient, actor=house.actor(role))
        except DiedBefore as refused:
            return type(refused).__name__
        return ""

    told = [each.result(20) for each in [hands.submit(dies, role) for role in ("clinician", "colleague")]]
    assert sorted(told) == ["", "DiedBefore"]
    assert patient.deaths.count() == 1
