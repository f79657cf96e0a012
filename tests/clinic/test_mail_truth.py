"""At the moment of sending, what was right when the message was queued is looked at once more."""

from datetime import timedelta

import pytest

from clinic.letters.queries import messages_of
from clinic.mail import actions
from clinic.models import Letter, Message, Owner, Patient
from clinic.people.actor import NotAllowed
from tests import death, letters, people
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


def test_after_a_death_a_letter_leaves_only_where_a_clinician_says_so(letter, mailoutbox):
    file_made(letter)
    Patient.objects.update(deceased_on=TODAY, deceased_how="died")
    assert send(letter.messages.get()) == "held"
    assert not mailoutbox
    held = letter.messages.get()
    assert held.state_why == "Pomfret has died: a clinician decides whether this leaves"
    with pytest.raises(NotAllowed):
        actions.send_again(actor=people.Actor.of(people.staff("Jo Ash", "assistant")), now=NOW, message=held)
    again = actions.send_again(actor=people.Actor.of(letter.by), now=NOW, message=held)
    assert again.released_by == letter.by
    assert send(again) == "sent"


def test_what_a_clinician_let_go_is_held_again_by_another_death(letter):
    file_made(letter)
    Patient.objects.update(deceased_on=TODAY, deceased_how="died")
    send(letter.messages.get())
    actions.send_again(actor=people.Actor.of(letter.by), now=NOW, message=letter.messages.get())
    Patient.objects.update(deceased_on=None, deceased_how="")
    died = death.die(letter.patient, actor=people.Actor.of(letter.by))
    assert letter.messages.get().state == "held"
    assert letter.messages.get().released_by is None
    assert died.ended == [
        {"title": "Letters and messages", "lines": ["held: " + letter.messages.get().subject]}
    ]


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
    (going,) = messages_of(letter, clinic="Quillwater Animal Clinic", now=NOW)
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


def test_the_letter_of_the_last_visit_leaves_where_a_clinician_says_so(client, case, mailoutbox):
    death.die(case.patient, actor=case.actor())
    case.patient.refresh_from_db()
    case.visit.refresh_from_db()
    letter = case.freeze()
    assert not letter.messages.exists()
    url = f"/letters/{letter.pk}/"
    client.force_login(case.people.assistant)
    assert "a clinician’s decision" in client.get(url).text
    assert client.post(f"{url}let-go/").status_code == 403
    client.force_login(case.people.clinician)
    assert "Send it to henrike@example.com nonetheless" in client.get(url).text
    assert client.post(f"{url}let-go/").status_code == 302
    client.post(f"{url}let-go/")  # a double tap
    message = letter.messages.get()
    assert message.released_by == case.people.clinician
    file_made(letter)
    assert send(message) == "sent"
    assert len(mailoutbox) == 1


def test_a_letter_about_one_that_lives_is_not_let_go_twice(case):
    letter = case.freeze()
    assert actions.let_go(letter=letter, document=case.letter(), actor=case.actor(), now=NOW) is None
    assert letter.messages.count() == 1
