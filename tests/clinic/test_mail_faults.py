"""What a mail server does wrong, and the state in which the message ends: none lost, none doubled unseen."""

from collections.abc import Iterator
from datetime import timedelta

import pytest

from clinic.mail import actions, bounces
from clinic.models import Message, Owner
from clinic.people.actor import Actor
from tests import people
from tests.smtp import Peer, serving
from tests.smtp_breaking import breaking

pytestmark = pytest.mark.django_db
NOW = people.NOW


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
        state_since=NOW, made_at=NOW, once="letter:1",
    )  # fmt: skip


def send(message: Message, at=NOW) -> str:
    return actions.send(message_id=message.pk, now=at)


def actor() -> Actor:
    return Actor.of(people.staff("Inés Varga", "technician"))


def email_state() -> str:
    return Owner.objects.values_list("email_state", flat=True).get()


# --- refused, greylisted ----------------------------------------------------------------------------------


def test_a_refused_mail_fails_and_an_address_that_is_not_to_blame_stays_untried(peer: Peer, message: Message):
    peer.answer = "554 we take no such mail"
    assert send(message) == "failed"
    assert email_state() == "untried"


def test_greylisted_at_the_recipient_it_is_taken_later_and_the_address_works(peer: Peer, message: Message):
    peer.to_recipient = "450 4.2.0 greylisted, come again"
    assert send(message) == "waiting"
    message.refresh_from_db()
    assert "greylisted" in message.state_why
    assert email_state() == "untried"
    peer.to_recipient = "250 OK"
    assert send(message, message.next_try_at) == "sent"
    assert len(peer.taken) == 1
    assert email_state() == "works"


def test_a_mailbox_that_is_full_for_hours_fails_without_calling_the_address_wrong(
    peer: Peer, message: Message
):
    peer.to_recipient = "452 mailbox full"
    at = NOW
    for _ in range(len(actions.WAITS) + 1):
        state = send(message, at)
        at += timedelta(days=1)
    assert state == "failed"
    assert email_state() == "untried"


# --- dropped ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("at", ["connect", "greeting", "rcpt", "data"])
def test_dropped_before_the_content_it_waits_for_another_try(settings, message: Message, at: str):
    with breaking(settings, at) as other:
        assert send(message) == "waiting"
        assert not other.whole
    message.refresh_from_db()
    assert message.next_try_at == NOW + actions.WAITS[0]


@pytest.mark.parametrize(("at", "arrived"), [("content", 0), ("end", 1)])
def test_dropped_in_or_after_the_content_nobody_knows_and_nothing_is_doubled(
    settings, message: Message, at: str, arrived: int
):
    with breaking(settings, at) as other:
        assert send(message) == "unknown"
        assert len(other.whole) == arrived
        actions.rescue(now=NOW + timedelta(days=1))
        assert send(message, NOW + timedelta(days=1)) == "unknown"
        assert other.connections == 1
    message.refresh_from_db()
    assert "it may have arrived" in message.state_why


def test_a_server_that_hangs_up_after_taking_it_has_taken_it(settings, message: Message):
    with breaking(settings, "quit") as other:
        assert send(message) == "sent"
        assert len(other.whole) == 1


def test_without_the_backend_of_ours_a_doubt_would_be_sent_twice(settings, message: Message):
    """The guard off: the framework's own backend tells no doubt from a failure."""
    with breaking(settings, "end") as other:
        settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
        assert send(message) == "waiting"
        send(message, NOW + timedelta(hours=1))
        assert len(other.whole) == 2


# --- slow -------------------------------------------------------------------------------------------------


def test_one_that_answers_too_late_for_its_content_is_unknown(settings, peer: Peer, message: Message):
    settings.EMAIL_TIMEOUT = 0.3
    peer.pause = 1.0
    assert send(message) == "unknown"


def test_one_so_slow_that_it_was_given_up_is_sent_when_it_answers(peer: Peer, message: Message, monkeypatch):
    def slow(self, *args) -> None:
        actions.rescue(now=NOW + timedelta(minutes=10))  # while this worker still waits for the answer
        assert Message.objects.get().state == "unknown"

    monkeypatch.setattr(actions, "send_now", slow)
    assert send(message) == "sent"
    assert [step.state for step in message.steps.order_by("pk")] == ["sending", "unknown", "sent"]


# --- bounced ----------------------------------------------------------------------------------------------


def test_a_mail_that_came_back_has_failed_and_its_address_is_marked(peer: Peer, message: Message):
    send(message)
    assert email_state() == "works"
    back = bounces.note_came_back(message=message, why="550 mailbox closed", actor=actor(), now=NOW)
    assert (back.state, back.state_why) == ("failed", "it came back: 550 mailbox closed")
    assert email_state() == "bounced"
    assert message.steps.last().by is not None


def test_it_comes_back_once_and_only_what_left_comes_back(peer: Peer, message: Message):
    staff = actor()
    with pytest.raises(bounces.NotSent):
        bounces.note_came_back(message=message, actor=staff, now=NOW)
    send(message)
    bounces.note_came_back(message=message, actor=staff, now=NOW)
    with pytest.raises(bounces.NotSent):
        bounces.note_came_back(message=message, actor=staff, now=NOW)


def test_a_new_address_of_the_owner_is_not_marked_by_an_old_mail(peer: Peer, message: Message):
    send(message)
    Owner.objects.update(email="new@example.com", email_state="untried")
    bounces.note_came_back(message=message, actor=actor(), now=NOW)
    assert email_state() == "untried"


def test_what_came_back_goes_again_to_the_new_address(peer: Peer, message: Message):
    staff = actor()
    send(message)
    bounces.note_came_back(message=message, actor=staff, now=NOW)
    Owner.objects.update(email="new@example.com", email_state="untried")
    again = actions.send_again(actor=staff, now=NOW, message=Message.objects.get())
    assert send(again) == "sent"
    assert [envelope.rcpt_tos for envelope in peer.taken][-1] == ["new@example.com"]
