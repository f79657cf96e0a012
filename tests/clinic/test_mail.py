"""A message leaves once, and whatever happens to it is told by its state. A real SMTP server answers."""

from collections.abc import Iterator
from datetime import timedelta

import pytest

from clinic.mail import actions
from clinic.models import Message, Owner
from tests import people
from tests.smtp import Peer, serving

pytestmark = pytest.mark.django_db


@pytest.fixture
def peer(settings) -> Iterator[Peer]:
    with serving(settings) as peer:
        yield peer


@pytest.fixture
def message() -> Message:
    people.clinic_details()
    owner = people.owner()
    return Message.objects.create(
        purpose="medical", owner=owner, to_address=owner.email, subject="Pomfret’s visit", body="All well.\n",
        state_since=people.NOW, made_at=people.NOW, once="letter:1",
    )  # fmt: skip


def send(message: Message, at=people.NOW) -> str:
    return actions.send(message_id=message.pk, now=at)


def test_a_message_is_sent_once_however_often_the_job_runs(peer: Peer, message: Message) -> None:
    assert [send(message), send(message)] == ["sent", "sent"]
    assert len(peer.taken) == 1
    assert [step.state for step in message.steps.all()] == ["sending", "sent"]


def test_an_address_that_took_a_mail_is_known_to_work(peer: Peer, message: Message) -> None:
    send(message)
    assert Owner.objects.get().email_state == "works"


def test_a_refused_address_fails_for_good_and_is_marked_on_the_owner(peer: Peer, message: Message) -> None:
    peer.to_recipient = "550 no such mailbox"
    assert send(message) == "failed"
    message.refresh_from_db()
    assert "no such mailbox" in message.state_why
    assert Owner.objects.get().email_state == "bounced"


def test_a_passing_fault_is_tried_again_later_and_not_before(peer: Peer, message: Message) -> None:
    peer.answer = "451 try later"
    assert send(message) == "waiting"
    peer.answer = "250 OK"
    assert send(message) == "waiting"
    assert send(message, people.NOW + timedelta(minutes=2)) == "sent"


def test_without_a_server_it_waits_and_at_last_fails(settings, message: Message) -> None:
    settings.EMAIL_BACKEND = "clinic.mail.smtp.Backend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", 9
    at, states = people.NOW, []
    for _ in range(len(actions.WAITS) + 1):
        states.append(send(message, at))
        at += timedelta(days=1)
    assert states == ["waiting"] * len(actions.WAITS) + ["failed"]


def test_a_worker_that_died_in_mid_send_leaves_it_unknown_and_not_sent_again(
    peer: Peer, message: Message
) -> None:
    Message.objects.update(state="sending", state_since=people.NOW)
    actions.rescue(now=people.NOW + timedelta(minutes=6))
    message.refresh_from_db()
    assert message.state == "unknown"
    assert send(message) == "unknown"
    assert not peer.taken


def test_a_person_may_send_what_is_unknown_again(peer: Peer, message: Message) -> None:
    Message.objects.update(state="unknown")
    technician = people.staff("Inés Varga", "technician")
    actions.send_again(actor=people.Actor.of(technician), now=people.NOW, message=message)
    assert send(message) == "sent"


def test_what_is_on_its_way_cannot_be_sent_again(message: Message) -> None:
    technician = people.staff("Inés Varga", "technician")
    with pytest.raises(actions.CannotSendAgain):
        actions.send_again(actor=people.Actor.of(technician), now=people.NOW, message=message)


def test_the_message_id_is_the_same_at_every_attempt(peer: Peer, message: Message) -> None:
    send(message)
    assert f"Message-ID: <{message.pk}@".encode() in peer.taken[0].content
