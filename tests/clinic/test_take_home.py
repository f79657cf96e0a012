"""Medicine directions are printed before the record is signed, in the letter's own words."""

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.html import escape

from clinic.letters.document import said
from tests import letters

pytestmark = pytest.mark.django_db


def test_the_sheet_says_word_for_word_what_the_letter_will_say(client: Client):
    case = letters.sore_ear()
    client.force_login(case.people.assistant)
    text = client.get(reverse("visit-medicines", args=[case.visit.pk])).content.decode()
    assert not case.record.is_signed
    sentences = said(case.section("medicine"))
    assert len(sentences) >= 3
    bare = text.replace('<span class="keep">', "").replace("</span>", "")
    for sentence in sentences:
        assert escape(sentence.text) in bare
    assert "555-0199 emergencies" in text
    assert "The letter about the visit follows." in text


def test_it_says_where_nothing_was_directed(client: Client):
    case = letters.healthy()
    client.force_login(case.people.assistant)
    assert (
        b"No medicine was directed." in client.get(reverse("visit-medicines", args=[case.visit.pk])).content
    )


def test_it_asks_as_often_for_many_medicines(client: Client, django_assert_max_num_queries):
    case = letters.sore_ear()
    client.force_login(case.people.assistant)
    for number in range(20):
        medicine = case.record.medicines.first()
        medicine.pk, medicine.name = None, f"Drops {number}"
        medicine.save()
    client.get("/")
    with django_assert_max_num_queries(20):
        assert b"Drops 19" in client.get(reverse("visit-medicines", args=[case.visit.pk])).content
