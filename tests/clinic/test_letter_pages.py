"""The letter's pages: who reads them, what they ask the database, what a wrong word meets."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from clinic.letters.actions import keep_file
from clinic.letters.queries import to_look_at
from clinic.models import Letter, Message
from clinic.platform.files import keep
from tests import letters, people
from tests.letters import NOW, Case

pytestmark = pytest.mark.django_db


@pytest.fixture
def case() -> Case:
    return letters.weighed(letters.arrived(words="limps"), "27.4", 5)


@pytest.fixture
def client(case: Case) -> Client:
    client = Client()
    client.force_login(case.people.clinician)
    return client


def address(name: str, *args: object) -> str:
    return reverse(name, args=args)


def file_made(letter: Letter) -> None:
    keep_file(letter=letter, name=keep(b"%PDF-1.7 a test", ".pdf"), size=15, pages=1, now=NOW)


def letters_and_mails(case: Case, first: int, last: int) -> None:
    """Letters to print, each with a mail, in every state."""
    states = ["failed", "sent", "unknown", "waiting", "held"]
    for each in range(first, last):
        owner = people.owner(f"Owner O{each}", f"o{each}@example.com")
        owner.letters_by = "both"
        owner.save(update_fields=["letters_by"])
        visit = people.visit_here(people.patient(f"Pet{each}", of=owner), clinician=case.people.clinician)
        letter = letters.freeze_letter(record=visit.record, actor=case.actor(), now=NOW)
        file_made(letter)
        Message.objects.filter(letter=letter).update(state=states[each % len(states)])


def queries(client: Client, url: str) -> int:
    with CaptureQueriesContext(connection) as asked:
        assert client.get(url).status_code == 200
    return len(asked)


def test_the_list_asks_as_much_for_two_mails_as_for_twenty(client, case):
    letters_and_mails(case, 0, 2)
    few = queries(client, address("messages"))
    letters_and_mails(case, 2, 20)
    assert queries(client, address("messages")) == few
    assert len(client.get(address("messages")).context["page"].rows) == 20


def test_a_letter_s_page_asks_as_much_for_two_versions_as_for_twenty(client, case):
    letter = case.freeze()
    case.freeze()
    client.get(address("letter", letter.pk))
    few = queries(client, address("letter", letter.pk))
    for _ in range(18):
        case.freeze()
    assert queries(client, address("letter", letter.pk)) == few


def test_an_older_version_says_that_there_is_a_newer_one(client, case):
    first, second = case.freeze(), case.freeze()
    old, new = (client.get(address("letter", each.pk)).content.decode() for each in (first, second))
    assert "This was corrected." in old
    assert f'<a href="{address("letter", second.pk)}">version 2</a>' in old
    assert "This was corrected." not in new


def test_the_list_goes_back_by_time_and_keeps_the_filter(client, case, monkeypatch):
    monkeypatch.setattr("clinic.letters.queries.PAGE", 3)
    letters_and_mails(case, 0, 5)
    for number, message in enumerate(Message.objects.order_by("pk")):
        Message.objects.filter(pk=message.pk).update(made_at=NOW + timedelta(minutes=number))
    first = client.get(address("messages")).context["page"]
    rest = client.get(address("messages"), {"before": first.older}).context["page"]
    assert (len(first.rows), len(rest.rows), rest.older) == (3, 2, "")
    assert not {each.message_id for each in first.rows} & {each.message_id for each in rest.rows}
    assert [each[1:] for each in to_look_at(NOW)] == [
        ("did not arrive", 1), ("may not have arrived", 1), ("held back", 1),
    ]  # fmt: skip
    held = client.get(address("messages"), {"state": "held"}).context["page"].rows
    assert {each.state for each in held} == {"held"}


def test_a_row_says_when_it_leaves_and_not_in_which_clinic_it_stands(client, case):
    at = timezone.localtime() + timedelta(days=1)
    message = case.freeze().messages.get()
    assert message.subject.endswith(", Quillwater Animal Clinic")
    Message.objects.update(next_try_at=at)
    row = client.get(address("messages")).context["page"].rows[0]
    assert (row.what, row.when) == ("Pomfret’s visit, 11 March 2026", f"leaves {at:%-d %b, %H:%M}")
    Message.objects.update(state="sent", state_since=at)
    assert client.get(address("messages")).context["page"].rows[0].when == f"{at:%-d %b, %H:%M}"


@pytest.mark.parametrize("before", ["x", "2026-99-99T00:00:00Z", "2026-03-11T10:00:00"])
def test_a_time_that_is_none_is_no_error(client, before):
    assert client.get(address("messages"), {"before": before}).status_code == 200


def test_an_empty_list_says_what_to_do_first(client):
    assert "when its record is signed" in client.get(address("messages")).content.decode()


def test_a_letter_s_page_shows_what_was_signed_and_every_step_of_its_mail(client, case):
    letter = case.freeze()
    page = client.get(address("letter", letter.pk)).content.decode()
    for words in ("Pomfret’s visit", "27.4 kg", "You came because: limps.", "henrike@example.com", "waiting"):
        assert words in page


def test_a_pdf_that_is_being_made_says_so_and_asks_again(client, case):
    letter = case.freeze()
    answer = client.get(address("letter-pdf", letter.pk))
    assert answer.status_code == 202
    assert "The letter is being made" in answer.content.decode()
    file_made(letter)
    answer = client.get(address("letter-pdf", letter.pk))
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
    assert answer["Content-Disposition"] == 'inline; filename="Pomfret 2026-03-11.pdf"'


def test_an_origin_says_what_was_recorded_and_by_whom(client, case):
    page = client.get(address("letter-sentence", case.visit.pk), {"key": "weight"}).content.decode()
    for words in ("the weight", "27.4", "Inés Varga", "Use these words"):
        assert words in page


def test_a_technician_reads_an_origin_and_is_offered_no_form(client, case):
    client.force_login(case.people.technician)
    page = client.get(address("letter-sentence", case.visit.pk), {"key": "weight"}).content.decode()
    assert "the weight" in page
    assert "<form" not in page


def test_words_are_taken_and_shown(client, case):
    taken = {"sentence": "weight", "words": "He weighs 27.4 kg."}
    assert client.post(address("letter-correct", case.visit.pk), taken).status_code == 302
    case.visit.record.refresh_from_db()
    assert "He weighs 27.4 kg." in str(case.letter().sections)


def test_an_empty_sentence_is_refused_beside_its_field(client, case):
    answer = client.post(address("letter-correct", case.visit.pk), {"sentence": "weight", "words": " "})
    assert answer.status_code == 422
    assert "A sentence cannot be empty" in answer.content.decode()


def test_send_it_again_tapped_twice_sends_once(client, case):
    letter = case.freeze()
    Message.objects.update(state="failed")
    message = letter.messages.get()
    for page in (address("messages"), address("letter", letter.pk)):  # where the right address is entered
        assert address("owner", letter.owner_id) in client.get(page).content.decode()
    tap = {"since": message.state_since.isoformat()}
    said = [
        client.post(address("message-again", message.pk), tap, follow=True).content.decode() for _ in range(2)
    ]
    assert "It goes again to henrike@example.com." in said[0]
    assert "It is on its way already." in said[1]
    assert [step.why for step in message.steps.all()].count("sent again") == 1
