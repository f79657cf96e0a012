"""At the moment of sending, what was right when the message was queued is looked at once more."""

from datetime import timedelta

import pytest

from clinic.letters.queries import messages_of
from clinic.mail import actions
from clinic.models import Letter, Message, Owner, Patient
from tests import letters, people
from tests.letters import NOW, TODAY, Case

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def kept_here(settings) -> None:
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"


@pytest.fixture
def case() -> Case:
    return letters.weighed(letters.arrived(), "27.4", 5)


@pytest.fixture
def letter(case: Case) -> Letter:
    return case.freeze()


def message(letter: Letter, **facts) -> Message:
    """One that needs no file."""
    fields = {
        "purpose": "service", "owner": letter.owner, "letter": letter, "to_address": letter.owner.email,
        "subject": "s", "body": "b", "state_since": NOW, "made_at": NOW, "once": "one",
    }  # fmt: skip
    return Message.objects.create(**(fields | facts))


def file_made(letter: Letter) -> None:
    from clinic.letters.actions import keep_file
    from clinic.platform.files import keep

    keep_file(letter=letter, name=keep(b"%PDF-1.7 a test", ".pdf"), size=15, pages=1, now=NOW)


def send(sent: Message, now=NOW) -> str:
    return actions.send(message_id=sent.pk, now=now)


def test_a_letter_waits_for_its_pdf(letter, mailoutbox):
    assert send(letter.messages.get()) == "waiting"
    file_made(letter)
    assert send(letter.messages.get()) == "sent"
    assert [each[0] for each in mailoutbox[0].attachments] == ["Pomfret 2026-03-11.pdf"]


def test_what_is_not_medical_does_not_follow_a_death(letter, mailoutbox):
    file_made(letter)
    reminder = message(letter)
    Patient.objects.update(deceased_on=TODAY, deceased_how="died")
    assert send(reminder) == "cancelled"
    assert not mailoutbox


def test_a_medical_letter_still_leaves_after_a_death(letter, mailoutbox):
    file_made(letter)
    Patient.objects.update(deceased_on=TODAY, deceased_how="died")
    assert send(letter.messages.get()) == "sent"


def test_an_owner_who_wants_paper_since_gets_no_mail_unless_a_person_sends_it(letter, mailoutbox):
    file_made(letter)
    Owner.objects.update(letters_by="paper")
    own = letter.messages.get()
    assert send(own) == "held"
    assert "print it" in Message.objects.get(pk=own.pk).state_why
    again = actions.send_again(actor=people.Actor.of(letter.by), now=NOW, message=letter.messages.get())
    assert send(again) == "sent"


def test_an_address_changed_since_is_shown_and_used_when_sent_again(letter, mailoutbox):
    file_made(letter)
    Owner.objects.update(email="new@example.com")
    (going,) = messages_of(letter)
    assert (going.address, going.address_now) == ("henrike@example.com", "new@example.com")
    send(letter.messages.get())
    assert mailoutbox[0].to == ["henrike@example.com"]
    again = actions.send_again(actor=people.Actor.of(letter.by), now=NOW, message=letter.messages.get())
    assert again.to_address == "new@example.com"
    assert "instead of henrike@example.com" in again.steps.last().why


def test_a_second_tap_on_send_again_does_nothing_even_when_the_first_has_left(letter, mailoutbox):
    file_made(letter)
    send(letter.messages.get())
    seen = letter.messages.get().state_since
    doctor, later = people.Actor.of(letter.by), NOW + timedelta(seconds=1)
    first = actions.send_again(actor=doctor, now=later, message=letter.messages.get(), seen=seen)
    assert send(first, later) == "sent"
    with pytest.raises(actions.CannotSendAgain):
        actions.send_again(actor=doctor, now=later, message=letter.messages.get(), seen=seen)
    assert len(mailoutbox) == 2


def test_a_letter_whose_pdf_cannot_be_made_is_held_with_the_reason(letter, monkeypatch):
    from clinic.letters import pdf, tasks

    def unfit(_):
        raise pdf.UnfitForPaper("a picture without text")

    monkeypatch.setattr(pdf, "render", unfit)
    with pytest.raises(pdf.UnfitForPaper):
        tasks.render_letter.func(letter.pk)
    assert letter.messages.get().state == "held"
    assert "a picture without text" in letter.messages.get().state_why
