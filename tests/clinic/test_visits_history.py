"""What the owner says, what caught an eye, why something was not measured: open until signed."""

from uuid import uuid4

import pytest

from clinic.models import Record
from clinic.people.actor import NotAllowed
from clinic.visits import actions
from clinic.visits.errors import NeedsWords, NotOpen, SentBefore
from tests import people

pytestmark = pytest.mark.django_db


@pytest.fixture
def house() -> people.People:
    return people.people()


@pytest.fixture
def record(house: people.People) -> Record:
    return people.visit_here(clinician=house.clinician).record


@pytest.fixture
def tech(house: people.People) -> dict:
    return {"actor": house.actor("technician"), "now": people.NOW}


@pytest.fixture
def vet(house: people.People) -> dict:
    return {"actor": house.actor("clinician"), "now": people.NOW}


def test_a_long_story_is_kept_whole(record: Record, tech: dict) -> None:
    story = "He scratches. " * 400
    actions.say_why(record=record, owners_words=story, **tech)
    record.visit.refresh_from_db()
    assert record.visit.owners_words == story.strip()


def test_a_topic_answered_again_replaces_the_first(record: Record, tech: dict) -> None:
    for answer in ("as-before", "more"):
        actions.answer_history(record=record, topic="thirst", answer=answer, words="two bowls", **tech)
    only = record.history_answers.get()
    assert (only.answer, only.words) == ("more", "two bowls")


@pytest.mark.parametrize(("topic", "answer"), [("hair", "more"), ("thirst", "very much")])
def test_topics_and_answers_are_closed_lists(record: Record, tech: dict, topic: str, answer: str) -> None:
    with pytest.raises(NeedsWords):
        actions.answer_history(record=record, topic=topic, answer=answer, **tech)


def test_what_stands_already_is_not_written_again(record: Record, tech: dict) -> None:
    answers = [("thirst", "more", ""), ("cough", "as-before", "")]
    assert len(actions.answer_topics(record=record, answers=answers, **tech)) == 2
    assert actions.answer_topics(record=record, answers=answers, **tech) == []


def test_an_entry_sent_twice_stands_once(record: Record, tech: dict) -> None:
    once = uuid4()
    actions.add_given_at_home(record=record, name="fish oil", once=once, **tech)
    with pytest.raises(SentBefore):
        actions.add_given_at_home(record=record, name="fish oil", once=once, **tech)
    assert record.given_at_home.count() == 1


def test_an_entry_can_be_taken_out_again(record: Record, tech: dict) -> None:
    given = actions.add_given_at_home(record=record, name="fish oil", **tech)
    actions.remove_given_at_home(given=given, **tech)
    assert not record.given_at_home.exists()


def test_a_heads_up_needs_a_sentence(record: Record, tech: dict) -> None:
    with pytest.raises(NeedsWords) as refused:
        actions.pin_heads_up(record=record, station="", words=" ", **tech)
    assert refused.value.field == "words"


def test_a_heads_up_is_not_pinned_to_an_unknown_station(record: Record, tech: dict) -> None:
    with pytest.raises(NeedsWords) as refused:
        actions.pin_heads_up(record=record, station="ZZZ", words="smells", **tech)
    assert refused.value.field == "station"


def test_only_a_clinician_answers_a_heads_up(record: Record, tech: dict, vet: dict) -> None:
    heads_up = actions.pin_heads_up(record=record, station="", words="sits oddly", **tech)
    with pytest.raises(NotAllowed):
        actions.answer_heads_up(heads_up=heads_up, answer="looked", **tech)
    assert (
        actions.answer_heads_up(heads_up=heads_up, answer="looked", **vet).answered_by == vet["actor"].staff
    )


def test_not_today_says_why(record: Record, tech: dict, vet: dict) -> None:
    heads_up = actions.pin_heads_up(record=record, station="", words="sits oddly", **tech)
    with pytest.raises(NeedsWords, match="why"):
        actions.answer_heads_up(heads_up=heads_up, answer="not-today", **vet)
    answered = actions.answer_heads_up(heads_up=heads_up, answer="not-today", reason="too painful", **vet)
    assert answered.answer_reason == "too painful"


def test_an_excuse_has_words(record: Record, tech: dict) -> None:
    with pytest.raises(NeedsWords):
        actions.excuse_weight(record=record, reason="", **tech)
    assert actions.excuse_bcs(record=record, reason="bandaged", **tech).no_bcs_reason == "bandaged"


def test_leaving_the_full_walk_is_a_clinicians_reasoned_choice(record: Record, tech: dict, vet: dict) -> None:
    with pytest.raises(NotAllowed):
        actions.set_kind(visit=record.visit, kind="focused", reason="recheck", **tech)
    with pytest.raises(NeedsWords):
        actions.set_kind(visit=record.visit, kind="focused", reason=" ", **vet)
    assert actions.set_kind(visit=record.visit, kind="focused", reason="recheck", **vet).kind == "focused"


def test_nothing_is_entered_into_a_signed_record(record: Record, tech: dict, vet: dict) -> None:
    heads_up = actions.pin_heads_up(record=record, station="", words="sits oddly", **tech)
    signed = {"signed_at": people.NOW, "signed_by": vet["actor"].staff, "signed_name": "Dr Maren Oduya"}
    Record.objects.filter(pk=record.pk).update(**signed)
    attempts = [
        lambda: actions.say_why(record=record, owners_words="more", **tech),
        lambda: actions.answer_history(record=record, topic="cough", answer="more", **tech),
        lambda: actions.add_given_at_home(record=record, name="oil", **tech),
        lambda: actions.pin_heads_up(record=record, station="", words="late", **tech),
        lambda: actions.answer_heads_up(heads_up=heads_up, answer="looked", **vet),
        lambda: actions.excuse_weight(record=record, reason="late", **tech),
        lambda: actions.set_kind(visit=record.visit, kind="focused", reason="late", **vet),
    ]
    for attempt in attempts:
        with pytest.raises(NotOpen):
            attempt()
