"""What a letter's mail carries: the PDF, the link to the owner's page, or only the link; as it arrived."""

from collections.abc import Iterator
from datetime import timedelta

import pytest
from django.utils import timezone

from clinic.letters.document import from_json
from clinic.mail import actions
from clinic.models import ClinicDetails, Letter, Message, Staff
from clinic.owner_page.actions import address_of, revoke_link
from clinic.people.actor import Actor
from tests.letters import NOW
from tests.owners import HOST, a_letter, at_own_address, browser
from tests.smtp import Peer, serving

pytestmark = pytest.mark.django_db


@pytest.fixture
def peer(settings) -> Iterator[Peer]:
    at_own_address(settings)
    with serving(settings) as peer:
        yield peer


@pytest.fixture
def letter() -> Letter:
    return a_letter()


def me() -> Actor:
    return Actor.of(Staff.objects.get(full_name="Dr Maren Oduya"))


def send(message: Message, at=None) -> str:
    return actions.send(message_id=message.pk, now=at or timezone.now())


def parts(peer: Peer, number: int = -1) -> tuple[str, str, list[str]]:
    """Text, HTML, names of what is attached."""
    mail = peer.opened(number)
    text, html = mail.get_body(("plain",)), mail.get_body(("html",))
    return (
        text.get_content().replace("\r\n", "\n"),
        html.get_content(),
        [a.get_filename() for a in mail.iter_attachments()],
    )


def test_it_carries_the_pdf_the_calendar_and_the_link_that_opens_the_letter(peer, letter):
    assert send(letter.messages.get()) == "sent"
    text, html, attached = parts(peer)
    link = letter.links.get()
    address = address_of(link)
    assert attached == ["Ludo 2026-03-11.pdf", "next visit.ics"]
    assert "The whole letter is attached as a PDF." in text
    assert f"\n{address}\n" in text
    assert f'href="{address}"' in html
    assert text.rstrip().endswith("555-0199 emergencies, day and night")
    assert "yeast infection" in text_of(browser().get(address.removeprefix(f"https://{HOST}")))


def text_of(answer) -> str:
    assert answer.status_code == 200
    return answer.content.decode()


def test_a_letter_is_no_list_s(peer, letter):
    send(letter.messages.get())
    mail = peer.opened()
    assert not [name for name in mail if name.lower().startswith("list-")]
    assert mail["Auto-Submitted"] == "auto-generated"
    assert mail["Message-ID"] == f"<{letter.messages.get().pk}@tailward.example>"


def test_where_the_clinic_chose_it_only_the_link_goes(peer, letter):
    ClinicDetails.objects.update(letters_carry="link")
    send(letter.messages.get())
    text, _, attached = parts(peer)
    assert attached == ["next visit.ics"]
    assert "as a page for your phone and as a PDF to print" in text
    assert "attached as a PDF" not in text


def test_without_an_address_for_owners_the_pdf_goes_whatever_was_chosen(peer, letter, settings):
    settings.PUBLIC_URL = ""
    ClinicDetails.objects.update(letters_carry="link")
    send(letter.messages.get())
    text, html, attached = parts(peer)
    assert "Ludo 2026-03-11.pdf" in attached
    assert "http" not in text
    assert "<a " not in html
    assert not letter.links.exists()


def test_every_attempt_carries_the_same_address(peer, letter):
    peer.answer = "451 try later"
    assert send(letter.messages.get()) == "waiting"
    peer.answer = "250 OK"
    assert send(letter.messages.get(), timezone.now() + timedelta(minutes=2)) == "sent"
    assert letter.links.count() == 1
    assert address_of(letter.links.get()) in parts(peer)[0]


def test_a_revoked_link_does_not_leave_by_itself_but_a_new_one_does_when_somebody_sends_it_again(
    peer, letter
):
    peer.answer = "451 try later"
    send(letter.messages.get())
    revoke_link(link=letter.links.get(), actor=me(), now=timezone.now())
    peer.answer = "250 OK"
    ClinicDetails.objects.update(letters_carry="link")
    send(letter.messages.get(), timezone.now() + timedelta(minutes=2))
    text, _, attached = parts(peer)
    assert "https://" not in text
    assert "Ludo 2026-03-11.pdf" in attached  # with nothing to open, the letter itself goes
    again = timezone.now() + timedelta(minutes=3)
    message = actions.send_again(actor=me(), now=again, message=letter.messages.get())
    assert send(message, again) == "sent"
    assert letter.links.count() == 2
    assert address_of(letter.links.first()) in parts(peer)[0]


def test_an_expired_link_is_replaced_when_the_mail_goes_again(peer, letter):
    send(letter.messages.get())
    later = timezone.now() + timedelta(days=300)
    message = actions.send_again(actor=me(), now=later, message=letter.messages.get())
    send(message, later)
    assert letter.links.count() == 2
    assert address_of(letter.links.first()) in parts(peer)[0]


def test_a_condolence_carries_no_link(peer, letter):
    made = Letter.objects.create(
        patient=letter.patient, owner=letter.owner, kind="condolence", language="en", content=letter.content,
        content_sha256="0" * 64, by=letter.by, at=NOW,
    )  # fmt: skip
    document = from_json(letter.content)
    message = actions.queue_condolence(letter=made, document=document, actor=me(), now=NOW)
    from clinic.owner_page.actions import link_for_mail

    assert link_for_mail(message, now=NOW) is None


def test_the_text_alone_is_enough(peer, letter):
    """Whoever opens neither PDF nor page knows what was found, what to do, and whom to call."""
    send(letter.messages.get())
    text = parts(peer)[0]
    for needed in ("yeast infection", "morning and evening", "AT ONCE", "555-0199", "Ear check", "MEDICINE"):
        assert needed in text
    assert max(map(len, text.split("\n"))) < 998  # RFC 5322, 2.1.1
