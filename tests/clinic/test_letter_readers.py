"""Who else reads a letter: another owner, a colleague with the owner's consent; and a mail that came back."""

import pytest
from django.db import IntegrityError, connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.mail import actions, further
from clinic.models import Contact, Letter, Message, Owner, OwnerLink, Ownership, Patient, Staff
from clinic.owner_page.actions import NotTheirs
from clinic.people.actor import Actor, NotAllowed
from clinic.summaries.consent import Consent
from clinic.visits.errors import NeedsWords
from tests import people
from tests.letters import NOW
from tests.owners import a_letter, at_own_address, link_to
from tests.people import TODAY

pytestmark = pytest.mark.django_db


@pytest.fixture
def letter() -> Letter:
    return a_letter()


@pytest.fixture
def second(letter: Letter) -> Owner:
    """Lives with the patient too."""
    owner = people.owner("Piet Vos", "piet@example.com")
    Ownership.objects.create(patient=letter.patient, owner=owner, is_first=False, since=TODAY)
    return owner


def by(role: str = "clinician") -> Actor:
    names = {"clinician": "Dr Maren Oduya", "assistant": "Jonas Brel", "technician": "Inés Varga"}
    return Actor.of(Staff.objects.get(full_name=names[role]))


def to_owner(letter: Letter, owner: Owner, role: str = "assistant") -> Message:
    return further.send_to_owner(letter=letter, owner=owner, actor=by(role), now=NOW)


def to_colleague(letter: Letter, role: str = "assistant", **how) -> Message:
    fields = {"to_whom": "Dr Ines Tarn, Harbour Referrals", "address": "tarn@referrals.example"}
    fields |= {"consent": Consent(who="Henrike Dovale", how="telephone")} | how
    return further.send_to_colleague(letter=letter, actor=by(role), now=NOW, **fields)


def send(message: Message) -> str:
    return actions.send(message_id=message.pk, now=NOW)


# --- a second owner ---------------------------------------------------------------------------------------


def test_a_second_owner_gets_the_letter_with_a_link_of_their_own(letter, second, mailoutbox, settings):
    at_own_address(settings)
    assert send(to_owner(letter, second)) == "sent"
    (mail,) = mailoutbox
    assert mail.to == ["piet@example.com"]
    assert OwnerLink.objects.get().owner == second


def test_it_goes_to_them_once(letter, second):
    to_owner(letter, second)
    with pytest.raises(further.GoesAlready):
        to_owner(letter, second)
    with pytest.raises(further.GoesAlready):
        to_owner(letter, letter.owner)


def test_nobody_else_is_written_to(letter, second):
    with pytest.raises(NotTheirs):
        to_owner(letter, people.owner("Ada Lunt", "ada@example.com"))
    Ownership.objects.filter(owner=second).update(until=TODAY)
    with pytest.raises(NotTheirs):
        to_owner(letter, second)


@pytest.mark.parametrize("facts", [{"email": "", "email_state": "none"}, {"letters_by": "paper"}])
def test_whoever_wants_no_mail_gets_none(letter, second, facts):
    Owner.objects.filter(pk=second.pk).update(**facts)
    second.refresh_from_db()
    with pytest.raises(further.NoMailTo):
        to_owner(letter, second)


def test_after_a_death_it_is_a_clinician_s_decision(letter, second, mailoutbox):
    Patient.objects.update(deceased_on=TODAY, deceased_how="died")
    with pytest.raises(NotAllowed):
        to_owner(letter, second)
    assert send(to_owner(letter, second, "clinician")) == "sent"


# --- a colleague ------------------------------------------------------------------------------------------


def test_a_colleague_gets_the_pdf_the_consent_and_no_link(letter, mailoutbox, settings):
    at_own_address(settings)
    assert send(to_colleague(letter)) == "sent"
    (mail,) = mailoutbox
    assert mail.to == ["tarn@referrals.example"]
    assert [name for name, _, _ in mail.attachments] == ["Ludo 2026-03-11.pdf"]
    assert "Henrike Dovale agreed by telephone" in mail.body
    assert "/l/" not in mail.body
    noted = Contact.objects.get(kind="consent")
    assert (
        "a letter about a visit goes to Dr Ines Tarn, Harbour Referrals, tarn@referrals.example" in noted.text
    )


@pytest.mark.parametrize(
    ("how", "field"),
    [
        ({"consent": Consent()}, "consent"),
        ({"consent": Consent(who="Henrike Dovale")}, "consent_how"),
        ({"consent": Consent(without="law", why="they ask")}, "consent"),
        ({"to_whom": " "}, "to_whom"),
        ({"address": "tarn"}, "address"),
    ],
)
def test_without_a_consent_or_an_address_nothing_goes(letter, how, field):
    with pytest.raises(NeedsWords) as said:
        to_colleague(letter, **how)
    assert said.value.field == field
    assert not Message.objects.filter(owner=None).exists()


def test_the_database_asks_for_the_consent_too(letter):
    message = to_colleague(letter)
    with pytest.raises(IntegrityError, match="a_colleague_is_written_to_with_consent"):
        Message.objects.filter(pk=message.pk).update(consent=None)


def test_a_letter_cannot_be_addressed_to_nobody(letter):
    with pytest.raises(IntegrityError, match="a_letter_goes_to_an_owner_or_with_consent"):
        letter.messages.update(owner=None)


# --- the pages --------------------------------------------------------------------------------------------


@pytest.fixture
def desk(letter: Letter, client: Client, settings) -> Client:
    at_own_address(settings)
    client.force_login(Staff.objects.get(full_name="Jonas Brel"))
    return client


def text_of(answer) -> str:
    return " ".join(answer.content.decode().split())


def test_the_letter_s_page_shows_who_reads_it_and_by_which_links(desk, letter, second):
    desk.post(reverse("letter-link", args=[letter.pk]), {"owner": second.pk})
    link = OwnerLink.objects.get()
    said = text_of(desk.get(reverse("letter", args=[letter.pk])))
    assert "Piet Vos, to hand over, by Jonas Brel" in said
    assert "https://letters.example/l/" in said
    desk.post(reverse("letter-link-revoke", args=[link.pk]))
    said = text_of(desk.get(reverse("letter", args=[letter.pk])))
    assert "revoked by Jonas Brel" in said
    assert "https://letters.example/l/" not in said
    assert "revoked already" in text_of(desk.post(reverse("letter-link-revoke", args=[link.pk]), follow=True))


def test_the_letter_goes_to_a_second_owner_with_one_tap_and_a_second_tap_says_so(desk, letter, second):
    address = reverse("letter-send", args=[letter.pk])
    assert "It goes to piet@example.com." in text_of(desk.post(address, {"owner": second.pk}, follow=True))
    assert "carries it already" in text_of(desk.post(address, {"owner": second.pk}, follow=True))
    assert desk.post(address, {"owner": people.owner("Ada Lunt", "a@example.com").pk}).status_code == 404


def test_the_form_to_a_colleague_says_what_is_missing_and_keeps_what_was_typed(desk, letter):
    address = reverse("letter-colleague", args=[letter.pk])
    token = desk.get(address).context["form"]["once"].value()
    sent = {"to_whom": "Dr Ines Tarn", "address": "tarn@referrals.example", "consent": "now", "once": token}
    answer = desk.post(address, sent)
    assert answer.status_code == 422
    assert "Dr Ines Tarn" in text_of(answer)
    sent |= {"consent_how": "in-person", "consent_by": "Henrike Dovale"}
    assert desk.post(address, sent).status_code == 302
    desk.post(address, sent)  # a double click
    assert Message.objects.filter(to_whom="Dr Ines Tarn").count() == 1


def test_staff_note_that_a_mail_came_back_and_it_is_shown_where_the_owner_is(desk, letter):
    message = letter.messages.get()
    Message.objects.update(state="sent")
    address = reverse("message-came-back", args=[message.pk])
    assert "does not work" in text_of(desk.post(address, {"why": "550 gone"}, follow=True))
    assert "Only what has left can come back" in text_of(desk.post(address, follow=True))
    assert "it came back: 550 gone" in text_of(desk.get(reverse("messages")))
    assert "came back" in text_of(desk.get(reverse("patient", args=[letter.patient_id])))
    assert "came back" in text_of(desk.get(reverse("owner", args=[letter.owner_id])))


def test_the_letter_s_page_asks_the_database_as_often_for_many_links(desk, letter):
    counts = []
    for _ in range(2):
        with CaptureQueriesContext(connection) as sql:
            desk.get(reverse("letter", args=[letter.pk]))
        counts.append(len(sql))
        for _ in range(20):
            link_to(letter)
    assert counts[0] == counts[1]
