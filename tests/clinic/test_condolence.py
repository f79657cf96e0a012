"""A letter of condolence: a clinician's own words, let go by the same clinician, and by nobody else."""

import pytest
from django.db import IntegrityError, connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from clinic.death.actions import take_back
from clinic.death.condolence import send_condolence
from clinic.death.errors import CannotWrite, NotDead
from clinic.letters.actions import keep_file
from clinic.letters.document import from_json
from clinic.letters.pdf import render
from clinic.letters.queries import to_print
from clinic.letters.tasks import render_letter
from clinic.mail import actions as mail
from clinic.models import Letter, Message, Patient
from clinic.people.actor import NotAllowed
from clinic.platform.files import keep
from tests import death, people

pytestmark = pytest.mark.django_db
WORDS = "We will miss him at our door.\r\n\r\nHe was a good dog,\r\nand you were good to him."


@pytest.fixture(autouse=True)
def kept_here(settings) -> None:
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def gone(house: people.People) -> Patient:
    patient = people.patient()
    death.die(patient, actor=house.actor("clinician"))
    return Patient.objects.get(pk=patient.pk)


def write(patient: Patient, house: people.People, role: str = "clinician", **other) -> Letter:
    said = {"greets": "Dear Henrike Dovale,", "text": WORDS, "way": "mail", "now": people.NOW}
    return send_condolence(
        patient=patient, owner=patient.owners.get(), actor=house.actor(role), **(said | other)
    )


def with_file(letter: Letter) -> Message:
    keep_file(letter=letter, name=keep(b"%PDF-1.7 a test", ".pdf"), size=15, pages=1, now=people.NOW)
    return letter.messages.get()


def test_it_holds_the_words_and_nothing_of_the_program_s(gone, house):
    document = from_json(write(gone, house).content)
    said = [
        each.text for section in document.sections for block in section.blocks for each in block.sentences
    ]
    assert said == ["We will miss him at our door.", "He was a good dog,\nand you were good to him."]
    assert document.headline.text == "Dear Henrike Dovale,"
    assert [each.text for each in document.signed.lines] == ["Dr Maren Oduya"]
    assert (document.points, document.call_now, document.next_things) == ((), (), ())


def test_it_leaves_by_mail_with_its_own_words_as_the_text(gone, house, mailoutbox):
    message = with_file(write(gone, house))
    assert mail.send(message_id=message.pk, now=people.NOW) == "sent"
    (sent,) = mailoutbox
    assert sent.subject == "Pomfret, Quillwater Animal Clinic"
    assert "He was a good dog,\nand you were good to him." in sent.body
    assert "attached" not in sent.body
    assert "Auto-Submitted" not in sent.extra_headers
    assert [each[0] for each in sent.attachments] == ["Pomfret 2026-03-11.pdf"]


def test_on_paper_no_mail_is_queued(gone, house):
    assert not write(gone, house, way="paper").messages.exists()


@pytest.mark.parametrize("role", ["technician", "assistant", "manager"])
def test_only_a_clinician_lets_it_go(gone, house, role):
    """Maryland COMAR 15.14.13.13: releasing a letter is the veterinarian's."""
    with pytest.raises(NotAllowed):
        write(gone, house, role)
    assert not Letter.objects.exists()


def test_only_its_author_sends_it_again(gone, house):
    message = with_file(write(gone, house))
    mail.send(message_id=message.pk, now=people.NOW)
    with pytest.raises(NotAllowed):
        mail.send_again(actor=house.actor("colleague"), now=people.NOW, message=message)


def test_none_for_an_animal_that_lives(house):
    with pytest.raises(NotDead):
        write(people.patient(), house)


@pytest.mark.parametrize(("field", "other"), [("text", {"text": " \n"}), ("greets", {"greets": " "})])
def test_an_empty_one_is_refused(gone, house, field, other):
    with pytest.raises(CannotWrite) as refused:
        write(gone, house, **other)
    assert refused.value.field == field


def test_no_mail_to_somebody_who_wants_paper(gone, house):
    gone.owners.update(letters_by="paper")
    with pytest.raises(CannotWrite, match="on paper"):
        write(gone, house)


def test_a_death_taken_back_holds_it(gone, house, mailoutbox):
    message = with_file(write(gone, house))
    take_back(death=gone.deaths.get(), why="wrong dog", actor=house.actor("clinician"), now=people.NOW)
    assert Message.objects.get(pk=message.pk).state == "held"
    Message.objects.filter(pk=message.pk).update(state="waiting")  # a worker that had it in hand
    assert mail.send(message_id=message.pk, now=people.NOW) == "held"
    assert not mailoutbox


def test_it_is_not_held_by_the_death_it_is_about(gone, house):
    """Letters about the patient that waited are held; what is written after stays the clinician's."""
    assert with_file(write(gone, house)).state == "waiting"
    assert to_print() == ()


def test_the_database_wants_a_record_behind_every_other_letter(gone, house):
    with pytest.raises(IntegrityError, match="a_letter_has_its_record"):
        Letter.objects.create(
            patient=gone, owner=gone.owners.get(), kind="visit", language="en", content={},
            content_sha256="0" * 64, by=house.clinician, at=people.NOW,
        )  # fmt: skip


def test_its_pdf_is_made_like_every_letter_s(gone, house):
    letter = write(gone, house)
    rendered = render(from_json(letter.content))
    assert rendered.pages == 1
    render_letter.func(letter.pk)
    letter.refresh_from_db()
    assert letter.file.pages == 1


# --- The page ---------------------------------------------------------------------------------------------


@pytest.fixture
def page(client: Client, house: people.People) -> Client:
    client.force_login(house.clinician)
    return client


def test_nothing_is_proposed_but_the_greeting(page, gone):
    form = page.get(f"/patients/{gone.pk}/condolence/").context["form"]
    assert (form["greets"].value(), form["text"].value()) == ("Dear Henrike Dovale,", None)


def test_it_is_looked_at_then_let_go(page, gone, house):
    url = f"/patients/{gone.pk}/condolence/"
    once = str(page.get(url).context["form"]["once"].value())
    said = {"once": once, "owner": str(gone.owners.get().pk), "greets": "Dear Henrike,", "text": WORDS}
    look = page.post(url, said | {"do": "look"})
    assert look.status_code == 200
    assert "Nothing has left yet" in look.text
    assert not Letter.objects.exists()
    back = page.post(url, said | {"do": "write"})
    assert back.context["form"]["text"].value() == WORDS
    assert back.status_code == 200
    sent = page.post(url, said | {"do": "mail"})
    letter = Letter.objects.get()
    assert sent.headers["Location"] == f"/letters/{letter.pk}/"
    page.post(url, said | {"do": "mail"})  # a double tap
    assert Letter.objects.count() == 1
    text = page.get(f"/letters/{letter.pk}/").text
    assert "Letter of condolence to Henrike Dovale" in text
    assert "euthanised" not in text
    assert letter.by == house.clinician


def test_a_letter_without_words_is_refused_beside_the_field(page, gone):
    url = f"/patients/{gone.pk}/condolence/"
    once = str(page.get(url).context["form"]["once"].value())
    said = {"once": once, "owner": str(gone.owners.get().pk), "greets": "Dear Henrike,", "text": ""}
    answer = page.post(url, said | {"do": "mail"})
    assert answer.status_code == 422
    assert answer.context["form"].errors["text"] == ["Write the letter first."]


def test_the_number_of_questions_does_not_grow(page, gone, house):
    def asked() -> int:
        with CaptureQueriesContext(connection) as told:
            assert page.get(f"/patients/{gone.pk}/condolence/").status_code == 200
            assert page.get(f"/patients/{gone.pk}/death/").status_code == 200
        return len(told)

    for _ in range(2):
        write(gone, house, way="paper")
    page.get("/")
    few = asked()
    for _ in range(18):
        write(gone, house, way="paper")
    assert asked() == few
