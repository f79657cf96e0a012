"""Dues in the owner's calendar: stable UIDs, SEQUENCE raised by a change, CANCELLED when done (RFC 5545)."""

from datetime import date, timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from icalendar import Calendar

from clinic.mail.transport import as_email
from clinic.models import Patient, Staff
from clinic.people.actor import Actor
from preventive import actions
from preventive.models import CalendarItem
from tests.owners import a_letter
from tests.people import NOW, TODAY
from tests.preventive.room import room

pytestmark = pytest.mark.django_db


@pytest.fixture
def puppy():
    return room()


def file(puppy, now=NOW):
    """The entries by UID: day, sequence, status, words."""
    content = actions.write_calendar(actor=puppy.actor("assistant"), now=now, patient=puppy.patient)
    return {
        str(each["uid"]): (
            each.decoded("dtstart"),
            int(each["sequence"]),
            str(each["status"]),
            str(each["summary"]),
        )
        for each in Calendar.from_ical(content).walk("VEVENT")
    }


def entry(entries, words):
    (found,) = [(uid, each) for uid, each in entries.items() if words in each[3]]
    return found


def test_every_due_stands_on_its_day_in_plain_words(puppy):
    entries = file(puppy)
    _, (on, sequence, status, words) = entry(entries, "Rabies")
    assert (sequence, status, words) == (0, "CONFIRMED", "Tarn: Rabies due")
    assert on == puppy.patient.birth_date + timedelta(weeks=12)  # prev-R01 (A): from 12 weeks of age
    assert len(entries) == len(set(entries)) == CalendarItem.objects.count() > 5


def test_asked_again_the_file_is_the_same(puppy):
    first = actions.write_calendar(actor=puppy.actor(), now=NOW, patient=puppy.patient)
    later = NOW + timedelta(hours=3)
    assert actions.write_calendar(actor=puppy.actor(), now=later, patient=puppy.patient) == first


def test_a_moved_due_keeps_its_uid_and_has_a_higher_sequence(puppy):
    uid, (on, _, _, _) = entry(file(puppy), "Leptospirosis")
    actions.defer(
        actor=puppy.actor(), now=NOW, patient=puppy.patient, visit=puppy.visit, code="dog_leptospira",
        reason="feverish", until=on + timedelta(days=40),
    )  # fmt: skip
    moved = file(puppy)[uid]
    assert moved[:3] == (on + timedelta(days=40), 1, "CONFIRMED")


def test_what_is_no_more_due_is_cancelled_once_and_comes_back_under_its_uid(puppy):
    uid, (on, _, _, _) = entry(file(puppy), "Rabies")
    held = actions.hold(actor=puppy.actor(), now=NOW, patient=puppy.patient, code="rabies", reason="swelling")
    assert file(puppy)[uid][:3] == (on, 1, "CANCELLED")
    assert file(puppy)[uid][:3] == (on, 1, "CANCELLED")
    actions.release_hold(actor=puppy.actor(), now=NOW, held=held, reason="it was a bite")
    assert file(puppy)[uid][:3] == (on, 2, "CONFIRMED")


def test_after_a_death_every_entry_is_cancelled(puppy):
    assert file(puppy)
    Patient.objects.filter(pk=puppy.patient.pk).update(deceased_on=TODAY, deceased_how="died")
    assert {status for _, _, status, _ in file(puppy).values()} == {"CANCELLED"}


def test_the_page_offers_it_and_a_look_alone_writes_nothing(puppy):
    client = Client()
    client.force_login(puppy.people.assistant)
    page = client.get(reverse("patient-prevention", args=[puppy.patient.pk])).content.decode()
    address = reverse("prevention-calendar", args=[puppy.patient.pk])
    assert address in page
    assert client.get(address).status_code == 405
    assert not CalendarItem.objects.exists()
    answer = client.post(address)
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    (first, *_) = Calendar.from_ical(answer.content).walk("VEVENT")
    assert isinstance(first.decoded("dtstart"), date)


def test_a_letter_brings_up_a_calendar_that_was_once_given_and_no_other():
    letter = a_letter()

    def attached():
        mail = as_email(letter.messages.get())
        return [content for name, content, _ in mail.attachments if name == "next visit.ics"]

    def uids(content):
        return {
            str(each["uid"]).partition("@")[0]: int(each["sequence"])
            for each in Calendar.from_ical(content).walk("VEVENT")
        }

    (before,) = attached()
    assert not CalendarItem.objects.exists()
    actor = Actor.of(Staff.objects.get(full_name="Dr Maren Oduya"))
    actions.write_calendar(actor=actor, now=timezone.now(), patient=letter.patient)
    (after,) = attached()
    items = {str(each.uid) for each in CalendarItem.objects.all()}
    assert items
    assert uids(after).keys() == uids(before).keys() | items
    due = CalendarItem.objects.get(key="rabies")
    actions.decline(
        actor=actor, now=timezone.now(), patient=letter.patient, visit=None, code=due.key, reason="later",
        until=timezone.localdate() + timedelta(days=60),
    )  # fmt: skip
    (later,) = attached()
    assert uids(later)[str(due.uid)] == 1
