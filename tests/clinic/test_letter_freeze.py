"""The letter is frozen with the signature as it was shown; a later correction is a version of its own."""

from dataclasses import replace
from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from procrastinate.contrib.django.models import ProcrastinateJob

from clinic.letters import actions
from clinic.letters.composition import compose
from clinic.letters.document import from_json, sentences
from clinic.letters.sheet import letter_html
from clinic.models import Correction, Letter, Message, Owner, Record
from clinic.patients.actions import strike_measurement
from clinic.people.actor import NotAllowed
from clinic.platform.registries import sign_checks
from clinic.visits import actions as visits
from tests import letters
from tests.exams.house import exam_here
from tests.letters import NOW, Case

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(hours=3)


@pytest.fixture(autouse=True)
def nothing_else_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    """What a record needs before its signature is tested elsewhere."""
    monkeypatch.setattr(sign_checks, "_entries", {})


@pytest.fixture
def sore() -> Case:
    return letters.sore_ear()


def corrected(case: Case, key: str, words: str) -> Correction:
    return actions.correct_sentence(record=case.record, sentence=key, words=words, **case.me)


def content(letter: Letter) -> dict[str, str]:
    return {each.key: each.text for each in sentences(from_json(letter.content))}


def test_what_is_frozen_is_what_was_shown_but_for_the_signature(sore: Case):
    exam_here(sore.actor(), sore.visit).all_normal("S09")
    shown = compose(sore.record, today=letters.TODAY)
    frozen = from_json(sore.sign().content)
    assert "walk" in {each.name for each in shown.sections}
    assert frozen.signed != shown.signed
    assert replace(frozen, signed=shown.signed) == shown


def test_the_letter_says_who_signed_and_when(sore: Case):
    said = content(sore.sign())["signed:by"]
    assert said == "Dr Maren Oduya, license L-1001 Fenland, 11 March 2026, 10:00 am."


def test_a_corrected_sentence_is_kept_in_the_letter_with_its_first_wording_beside(sore: Case):
    kept = corrected(sore, "headline", "  His left ear is sore from  yeast. ")
    assert kept.first_wording == "His left ear has a yeast infection."
    assert content(sore.sign())["headline"] == "His left ear is sore from yeast."
    assert sore.record.assessments.get().for_owner == "His left ear has a yeast infection"


def test_a_second_correction_keeps_the_very_first_wording(sore: Case):
    corrected(sore, "headline", "One.")
    assert corrected(sore, "headline", "Two.").first_wording == "His left ear has a yeast infection."


def test_the_first_wording_can_be_taken_back(sore: Case):
    corrected(sore, "headline", "One.")
    actions.first_wording_again(record=sore.record, sentence="headline", **sore.me)
    assert sore.letter().headline.text == "His left ear has a yeast infection."


def test_what_the_letter_does_not_say_cannot_be_corrected(sore: Case):
    with pytest.raises(actions.NoSuchSentence):
        corrected(sore, "nothing-of-the-kind", "Words.")
    with pytest.raises(actions.EmptyWording):
        corrected(sore, "headline", " \n")


def test_a_technician_does_not_correct_the_letter(sore: Case):
    with pytest.raises(NotAllowed):
        actions.correct_sentence(record=sore.record, sentence="headline", words="Words.", **sore.technician)


def test_after_the_signature_the_database_takes_no_correction(sore: Case):
    sore.sign()
    with pytest.raises(IntegrityError), transaction.atomic():
        corrected(sore, "headline", "Too late.")


def test_the_database_keeps_a_letter_as_it_is(sore: Case):
    letter = sore.sign()
    for change in (
        lambda: Letter.objects.filter(pk=letter.pk).update(version=9),
        lambda: Letter.objects.filter(pk=letter.pk).delete(),
    ):
        with pytest.raises(IntegrityError), transaction.atomic():
            change()


def test_an_addendum_for_the_owner_makes_a_corrected_copy_and_keeps_the_first(sore: Case):
    first = sore.sign()
    visits.add_addendum(
        record=sore.record, text="The swab grew nothing.", corrects="ear culture", for_owner=True,
        actor=sore.actor(), now=LATER,
    )  # fmt: skip
    second = Letter.objects.latest("version")
    assert (first.version, second.version) == (1, 2)
    signed = from_json(second.content).signed
    assert signed.version_line == "Corrected copy, 11 March 2026: It corrects: ear culture."
    assert [each.text for each in signed.addenda] == ["The swab grew nothing."]
    paper = letter_html(from_json(second.content))
    assert paper.index("The swab grew nothing.") < paper.index("In short"), "read before what it puts right"
    assert Letter.objects.get(pk=first.pk).content == first.content
    assert Message.objects.filter(letter=second).count() == 1


def test_an_addendum_that_is_not_for_the_owner_makes_no_letter(sore: Case):
    sore.sign()
    visits.add_addendum(record=sore.record, text="Stored the slide.", actor=sore.actor(), now=LATER)
    assert Letter.objects.count() == 1


def test_a_corrected_copy_keeps_the_sentences_that_were_corrected(sore: Case):
    corrected(sore, "headline", "His left ear is sore from yeast.")
    sore.sign()
    second = actions.next_version(record=sore.record, why="It adds a result.", actor=sore.actor(), now=LATER)
    assert content(second)["headline"] == "His left ear is sore from yeast."


def test_striking_a_value_of_a_signed_letter_makes_an_addendum_and_the_next_version(sore: Case):
    assert content(sore.sign())["weight"] == "36.2 kg (79.8 lb)."
    strike_measurement(
        measurement=sore.visit.measurements.get(kind="weight"), reason="the other dog stood on the scale",
        actor=sore.actor(), now=LATER,
    )  # fmt: skip
    second = Letter.objects.latest("version")
    assert second.version == 2
    assert "weight" not in content(second)
    assert "36.2" not in from_json(second.content).head.patient_facts
    assert "the other dog stood on the scale" in from_json(second.content).signed.addenda[0].text


def test_the_signature_queues_pdf_and_mail_in_its_own_transaction(sore: Case):
    with transaction.atomic():
        sore.sign()
        transaction.set_rollback(True)
    assert not Letter.objects.exists()
    assert not Message.objects.exists()
    assert not ProcrastinateJob.objects.filter(task_name="clinic.letters.tasks.render_letter").exists()


def test_a_signature_queues_each_once(sore: Case):
    letter = sore.sign()
    assert Message.objects.get().to_address == "henrike@example.com"
    jobs = ProcrastinateJob.objects.filter(task_name="clinic.letters.tasks.render_letter")
    assert [each.args for each in jobs] == [{"letter_id": letter.pk}]


@pytest.mark.parametrize("owner", [{"letters_by": "paper"}, {"email": "", "email_state": "none"}])
def test_without_a_mail_wanted_or_possible_it_is_printed_only(sore: Case, owner):
    Owner.objects.update(**owner)
    letter = sore.sign()
    assert not Message.objects.exists()
    assert ProcrastinateJob.objects.filter(args__letter_id=letter.pk).exists()


def test_after_a_death_nothing_is_mailed_by_itself():
    case = letters.put_to_sleep()
    case.sign()
    assert not Message.objects.exists()
    assert Letter.objects.count() == 1


def test_letters_of_the_past_are_noted_as_sent_and_queue_nothing(sore: Case):
    with actions.in_their_time():
        letter = sore.sign()
    assert letter.messages.get().state == "sent"
    assert not ProcrastinateJob.objects.filter(args__letter_id=letter.pk).exists()


def test_a_letter_without_a_file_is_made_once_when_asked(sore: Case):
    with actions.in_their_time():
        letter = sore.sign()
    assert actions.make_file(letter=letter, **sore.me)
    actions.keep_file(letter=letter, name="ab/abc.pdf", size=3, pages=1, now=NOW)
    again = Letter.objects.get(pk=letter.pk)
    assert not actions.make_file(letter=again, **sore.me)
    actions.keep_file(letter=letter, name="cd/cde.pdf", size=4, pages=2, now=NOW)
    assert again.file.sha256 == "abc"


def test_a_record_has_one_letter_of_each_version(sore: Case):
    sore.sign()
    assert Record.objects.get(pk=sore.record.pk).letters.values_list("version").count() == 1
