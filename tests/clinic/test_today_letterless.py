"""Today shows who went home without a letter, until it is mailed, given on paper, or nobody waits for it."""

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from clinic.letters.actions import in_their_time
from clinic.mail.telling import MARKS
from clinic.models import Letter, LetterHanded, Owner, Patient, Record, Staff, Visit
from clinic.morning.plugs import DidNotArrive, NotDelivered
from clinic.visits.day import fingerprint, gone_without_letter
from tests import letters, people

pytestmark = pytest.mark.django_db
HEADING = "Gone home without a letter"


@pytest.fixture
def case() -> letters.Case:
    """At home since an hour, nothing signed."""
    made = letters.sore_ear()
    gone(made)
    return made


def gone(case: letters.Case, *, hours: float = 0.01, **facts: object) -> None:
    at = timezone.now() - timedelta(hours=hours)
    Visit.objects.filter(pk=case.visit.pk).update(place="gone-home", gone_at=at, outcome="home", **facts)


def signed(case: letters.Case, **how: object) -> Letter:
    letter = case.freeze(**how)
    Record.objects.filter(pk=case.record.pk).update(
        signed_at=timezone.now(), signed_by=case.people.clinician, signed_name="Dr Maren Oduya"
    )
    return letter


def shown(client: Client) -> str:
    client.force_login(Staff.objects.get(full_name="Jonas Brel"))
    text = client.get(reverse("today")).content.decode()
    if HEADING not in text:
        return ""
    return " ".join(text.split(HEADING)[1].split("</section>")[0].split())


def test_a_record_not_signed_when_the_animal_left_is_shown(case, client):
    assert "not signed yet" in shown(client)
    assert "One animal went home without a letter." in client.get(reverse("today")).content.decode()


def test_a_letter_on_its_way_or_sent_is_a_letter(case, client):
    signed(case)
    assert shown(client) == ""
    Letter.objects.get().messages.update(state="sent")
    assert shown(client) == ""


@pytest.mark.parametrize("state", ["failed", "held", "unknown"])
def test_a_mail_that_did_not_arrive_is_shown_with_the_owner_s_telephone(case, client, state):
    letter = signed(case)
    letter.messages.update(state=state, state_since=timezone.now())
    row = shown(client)
    assert MARKS[state][2] in row
    assert reverse("letter", args=[letter.pk]) in row
    assert "tel:555-0142" in row
    # on the manager's morning it stands once: with what went wrong, not with those that no mail carries
    facts = {"actor": case.people.actor("manager"), "today": timezone.localdate()}
    assert (len(DidNotArrive().rows(**facts)), NotDelivered().rows(**facts)) == (1, [])


def test_a_letter_that_no_mail_carries_is_shown_until_it_is_given_on_paper(case, client):
    Owner.objects.update(letters_by="paper")
    letter = signed(case)
    assert "no mail: give it on paper" in shown(client)
    before = fingerprint(timezone.now())
    for _ in range(2):
        assert client.post(reverse("letter-handed", args=[letter.pk])).status_code == 302
    assert shown(client) == ""
    assert LetterHanded.objects.count() == 1
    assert fingerprint(timezone.now()) != before
    assert "letter given on paper" in client.get(reverse("today")).content.decode()
    assert "given on paper" in client.get(reverse("letter", args=[letter.pk])).content.decode()


def test_nobody_waits_for_one_after_a_death(case, client):
    Patient.objects.update(deceased_on=people.TODAY, deceased_how="died")
    assert shown(client) == ""


def test_what_was_brought_in_as_history_was_given_in_its_time(case, client):
    Owner.objects.update(letters_by="paper")
    with in_their_time():
        signed(case)
    assert shown(client) == ""


def test_after_two_weeks_it_stands_elsewhere(case, client):
    letter = signed(case)
    letter.messages.update(state="failed")
    gone(case, hours=24 * 16)
    assert shown(client) == ""


def test_one_not_signed_on_an_earlier_day_stands_with_the_records_not_signed(case, client):
    gone(case, hours=30)
    assert shown(client) == ""


def test_it_asks_as_often_for_many(case, django_assert_num_queries):
    signed(case).messages.update(state="failed")
    today = timezone.localdate()
    with django_assert_num_queries(3):
        assert len(gone_without_letter(today)) == 1
    for number in range(5):
        patient = people.patient(f"Pet {number}", of=people.owner(f"O {number}", f"o{number}@example.com"))
        other = letters.Case(
            case.people, patient, people.visit_here(patient, clinician=case.people.clinician)
        )
        gone(other)
    with django_assert_num_queries(3):
        assert len(gone_without_letter(today)) == 6
