"""Intake: each block is saved by its own address, with htmx or without, and loses nothing that was typed."""

import re
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.models import Record, Visit
from clinic.visits import actions
from tests import people

pytestmark = pytest.mark.django_db
HTMX = {"HX-Request": "true"}


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def visit(house: people.People) -> Visit:
    return people.visit_here(clinician=house.clinician)


@pytest.fixture
def record(visit: Visit) -> Record:
    return visit.record


@pytest.fixture
def page(client: Client, house: people.People) -> Client:
    client.force_login(house.technician)
    return client


def address(name: str, visit: Visit, *more: object) -> str:
    return reverse(name, args=[visit.pk, *more])


def seen(page: Client, visit: Visit) -> str:
    return page.get(address("visit-intake", visit)).content.decode()


def test_see_now_is_a_button_before_every_question(page: Client, visit: Visit) -> None:
    text = seen(page, visit)
    assert text.index(address("see-now", visit)) < text.index("Why did they come?")


def test_nothing_is_chosen_for_anybody(page: Client, visit: Visit) -> None:
    before, _, rest = seen(page, visit).partition('id="measured"')  # its units stand as the clinic's own
    _measured, flags, after = rest.partition('id="flags"')
    assert flags
    assert "checked" not in before + after


def test_what_is_measured_comes_before_the_questions_about_the_home(page: Client, visit: Visit) -> None:
    """The blocks in the order of the list beside them."""
    text = seen(page, visit)
    listed = re.findall(r'href="#([a-z]+)" data-state', text)
    assert listed == sorted(listed, key=lambda each: text.index(f'id="{each}"'))


def test_the_owners_words_are_saved_and_shown(page: Client, visit: Visit) -> None:
    answer = page.post(address("intake-why", visit), {"owners_words": "He scratches."})
    assert answer["Location"].endswith("#why")
    assert "He scratches." in seen(page, visit)


def test_with_htmx_only_the_word_saved_comes_back(page: Client, visit: Visit) -> None:
    answer = page.post(address("intake-why", visit), {"owners_words": "He scratches."}, headers=HTMX)
    text = answer.content.decode()
    assert text.strip().startswith("saved")
    assert "<textarea" not in text
    assert 'hx-swap-oob="true"' in text


def test_one_topic_is_saved_without_the_others(page: Client, visit: Visit, record: Record) -> None:
    sent = {"only": "thirst", "topic-thirst": "more", "words-thirst": "two bowls", "topic-cough": "more"}
    page.post(address("intake-changes", visit), sent, headers=HTMX)
    assert [(each.topic, each.answer, each.words) for each in record.history_answers.all()] == [
        ("thirst", "more", "two bowls")
    ]


def test_without_a_script_all_topics_are_saved_together(page: Client, visit: Visit, record: Record) -> None:
    page.post(address("intake-changes", visit), {"topic-thirst": "more", "topic-cough": "as-before"})
    assert record.history_answers.count() == 2


def test_an_answer_outside_the_list_is_refused_beside_the_block(page: Client, visit: Visit) -> None:
    answer = page.post(address("intake-changes", visit), {"topic-thirst": "a lot"})
    assert answer.status_code == 422
    assert "Choose one of the answers." in answer.content.decode()


def test_what_is_given_is_listed_and_taken_out(page: Client, visit: Visit, record: Record) -> None:
    page.post(address("intake-given", visit), {"once": uuid4(), "name": "Fish oil", "how_much": "5 ml"})
    assert "Fish oil" in seen(page, visit)
    page.post(address("intake-given-out", visit, record.given_at_home.get().pk))
    assert not record.given_at_home.exists()


def test_a_double_tap_lists_it_once(page: Client, visit: Visit, record: Record) -> None:
    sent = {"once": uuid4(), "name": "Fish oil"}
    for _tap in range(2):
        page.post(address("intake-given", visit), sent)
    assert record.given_at_home.count() == 1


@pytest.mark.parametrize("headers", [{}, HTMX])
def test_a_missing_name_is_said_beside_the_field_and_the_rest_kept(page, visit, headers) -> None:
    sent = {"once": uuid4(), "name": "", "how_much": "one and a half"}
    answer = page.post(address("intake-given", visit), sent, headers=headers)
    text = answer.content.decode()
    assert answer.status_code == 422
    assert 'value="one and a half"' in text
    assert 'id="id_name_error"' in text
    assert "This field is required." in text


def test_a_heads_up_is_pinned_with_its_sentence(page: Client, visit: Visit) -> None:
    page.post(address("intake-heads-up", visit), {"once": uuid4(), "words": "Sits to one side."})
    assert "Sits to one side." in seen(page, visit)


def test_a_heads_up_without_words_keeps_its_side(page: Client, visit: Visit) -> None:
    answer = page.post(address("intake-heads-up", visit), {"once": uuid4(), "words": "", "side": "left"})
    assert answer.status_code == 422


def test_a_signed_record_offers_no_field(page: Client, visit: Visit, house: people.People) -> None:
    Record.objects.filter(visit=visit).update(
        signed_at=people.NOW, signed_by=house.clinician, signed_name="Dr Maren Oduya"
    )
    text = seen(page, visit)
    assert "<textarea" not in text
    assert "addendum" in text


def test_a_block_sent_after_the_signature_is_refused(
    page: Client, visit: Visit, house: people.People
) -> None:
    Record.objects.filter(visit=visit).update(
        signed_at=people.NOW, signed_by=house.clinician, signed_name="Dr Maren Oduya"
    )
    answer = page.post(address("intake-why", visit), {"owners_words": "late"}, headers=HTMX)
    assert answer.status_code == 422
    assert "signed" in answer.content.decode()


def test_a_manager_reads_and_does_not_ask(client: Client, visit: Visit, house: people.People) -> None:
    client.force_login(house.manager)
    assert "<textarea" not in seen(client, visit)
    assert client.post(address("intake-why", visit), {"owners_words": "x"}).status_code == 403


def test_a_visit_that_has_not_arrived_has_no_intake(page: Client, house: people.People) -> None:
    booked = actions.book(
        patient=people.patient("Wren"), expected_at=people.NOW, booked_for="x",
        actor=house.actor("assistant"), now=people.NOW,
    )  # fmt: skip
    assert page.get(address("visit-intake", booked)).status_code == 404


def test_it_is_handed_on_to_the_clinician_who_was_chosen(
    page: Client, visit: Visit, house: people.People
) -> None:
    Visit.objects.filter(pk=visit.pk).update(place="with-technician", technician=house.technician)
    page.post(
        address("visit-move", visit),
        {"to": "arrived", "seen": "with-technician", "clinician": house.colleague.pk},
    )
    visit.refresh_from_db()
    assert (visit.place, visit.clinician) == ("arrived", house.colleague)


def test_twenty_of_everything_need_no_more_queries_than_two(
    page: Client, visit: Visit, record: Record, house: people.People, django_assert_num_queries
) -> None:
    tech = {"actor": house.actor("technician"), "now": people.NOW}

    def add(start: int, count: int) -> None:
        for number in range(start, start + count):
            actions.add_given_at_home(record=record, name=f"oil {number}", **tech)
            actions.pin_heads_up(record=record, station="", words=f"seen {number}", **tech)

    add(0, 2)
    with CaptureQueriesContext(connection) as two:
        seen(page, visit)
    add(2, 18)
    with django_assert_num_queries(len(two)):
        assert "seen 19" in seen(page, visit)
