"""What owners answer by a reminder's link, and what staff make of it."""

import re
from dataclasses import replace
from datetime import timedelta
from uuid import uuid4

import pytest
from django.core import mail as outgoing
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from clinic.callbacks import actions, answering, asked_today, queries, reminding
from clinic.callbacks.answer_models import Answer
from clinic.callbacks.reminder_models import HouseholdReminder, ReminderSettings
from clinic.callbacks.reminder_words import thing_in
from clinic.mail import actions as mail
from clinic.mail.models import Message
from clinic.models import CallBack, NextVisit, Owner, OwnerLink, Patient, ReminderStop, Visit
from clinic.owner_page import views as owner_views
from clinic.owner_page.actions import address_of
from clinic.platform.pictures import MOST_BYTES
from preventive.models import Dose, Source
from tests import death, people
from tests.clinic.test_reminders import house  # noqa: F401 - a fixture, found by its name
from tests.house import PICTURE
from tests.owners import PUBLIC_URL, at_own_address, browser
from tests.rows import rows_of_all_tables

pytestmark = pytest.mark.django_db
COUNTED = "clinic_knock"
TODAY, NOW = people.TODAY, people.NOW
FIVE = NOW.replace(hour=17)
CLOCK = [FIVE]


@pytest.fixture(autouse=True)
def _at(house: people.People, settings, monkeypatch) -> None:  # noqa: F811
    at_own_address(settings)
    CLOCK[:] = [FIVE]
    monkeypatch.setattr(timezone, "now", lambda: CLOCK[0])


def due(patient: Patient, key: str = "rabies", label: str = "Rabies", days: int = 0) -> CallBack:
    return CallBack.objects.create(
        patient=patient, source="dues", key=key, label=label, due_on=TODAY - timedelta(days=days),
        refreshed_at=NOW,
    )  # fmt: skip


@pytest.fixture
def pomfret() -> Patient:
    return people.patient()


@pytest.fixture
def path(pomfret: Patient) -> str:
    """Pomfret and Grit, one message that left; where its owner answers."""
    due(pomfret)
    due(people.patient("Grit", of=pomfret.ownerships.get().owner), key="stool", label="Faecal test")
    return written()


def written() -> str:
    reminding.plan_batch(after=0, today=TODAY, now=NOW)
    made = Message.objects.get(state="waiting")
    assert mail.send(message_id=made.pk, now=FIVE) == "sent"
    return address_of(made.links.get()).removeprefix(PUBLIC_URL)


def things(page: str) -> list[int]:
    return sorted({int(each) for each in re.findall(r'name="thing" value="(\d+)"', page)})


def say(path: str, kind: str, **also):
    return browser().post(f"{path}/answer", {"kind": kind, "form": kind, **also})


def items(path: str) -> dict[str, int]:
    return {each.patient.name: each.pk for each in answering.things_of(Message.objects.get(state="sent"))}


def waiting_about(patient: Patient) -> Message:
    """The next step's message waits: it is thirty days later."""
    later = CLOCK[0] = NOW + timedelta(days=30)
    reminding.plan_batch(after=0, today=later.date(), now=later)
    return Message.objects.get(state="waiting")


# --- The page -----------------------------------------------------------------------------------------------


def test_the_mail_carries_the_address_and_the_page_asks_what_it_was_about(path: str) -> None:
    message = Message.objects.get(state="sent")
    assert f"{PUBLIC_URL}{path}" in message.body
    page = browser().get(path).content.decode()
    assert "Pomfret: Rabies" in page
    assert "Grit: Fecal test" in page
    assert len(things(page)) == 2


def test_in_another_language_the_things_are_named_in_it_too(pomfret: Patient) -> None:
    Owner.objects.update(language="es")
    due(pomfret, key="stool", label="Faecal test")
    page = browser().get(written()).content.decode()
    assert thing_in("Faecal test", "es", "US") != "Faecal test"
    assert thing_in("Faecal test", "es", "US") in page
    assert "Faecal test" not in page


def test_a_scanner_that_gets_every_address_changes_nothing(path: str) -> None:
    before = rows_of_all_tables()
    page = browser().get(path)
    for address in {
        path,
        f"{path}/answer",
        *re.findall(r'(?:href|action)="(/[^"]+)"', page.content.decode()),
    }:
        browser().get(address)
        browser().head(address)
    after = rows_of_all_tables()
    before.pop(COUNTED, None), after.pop(COUNTED, None)
    assert after == before


def test_an_address_is_not_guessed_and_opens_nothing_of_another_household(path: str) -> None:
    theirs = items(path)
    other = people.patient("Esk", of=people.owner("Else Where", "e@example.com"))
    due(other)
    second = written()
    assert second != path
    assert say(second, "book", thing=[theirs["Pomfret"]]).status_code == 422
    assert say(second, "died", animal=[Patient.objects.get(name="Pomfret").pk]).status_code == 422
    assert not Answer.objects.exists()
    for wrong in (path[:-1] + ("A" if path[-1] != "A" else "B"), "/l/" + "A" * 32):
        assert say(wrong, "stop").status_code == 404
    assert not ReminderStop.objects.exists()


def test_an_animal_that_lives_with_others_since_is_not_shown(path: str, pomfret: Patient) -> None:
    pomfret.ownerships.update(until=TODAY)
    page = browser().get(path).content.decode()
    assert "Pomfret" not in page
    assert say(path, "died", animal=[pomfret.pk]).status_code == 422


def test_after_a_death_the_page_does_not_name_it(path: str, pomfret: Patient, house) -> None:  # noqa: F811
    death.die(pomfret, actor=house.actor("clinician"))
    assert "Pomfret" not in browser().get(path).content.decode()


def test_a_revoked_or_old_address_opens_nothing(path: str) -> None:
    CLOCK[0] = OwnerLink.objects.get().expires_at
    assert browser().get(path).status_code == 404
    assert say(path, "stop").status_code == 404


def test_many_posts_are_refused(path: str, monkeypatch) -> None:
    monkeypatch.setattr(owner_views, "LIMIT", replace(owner_views.LIMIT, most=2))
    codes = [say(path, "nothing").status_code for _ in range(3)]
    assert codes == [422, 422, 429]


# --- Answers ------------------------------------------------------------------------------------------------

WHY = {"unwanted": "said stop to this", "stop": "said stop"}
TOLD = {
    "book": {"words": "Friday afternoon"},
    "elsewhere": {"done_on": (TODAY - timedelta(days=9)).isoformat()},
    "unwanted": {},
    "died": {},
    "moved": {},
    "given-away": {},
    "stop": {},
}


@pytest.mark.parametrize("kind", TOLD)
def test_each_answer_calls_off_what_is_queued_at_once_and_counts_once(kind: str, path: str, pomfret) -> None:
    message = waiting_about(pomfret)
    about = {"thing": list(items(path).values()), "animal": [pomfret.pk, Patient.objects.get(name="Grit").pk]}
    for _ in range(2):  # a double tap
        assert say(path, kind, **about, **TOLD[kind]).status_code == 303
    message.refresh_from_db()
    assert message.state == "cancelled", kind
    assert f"Pomfret: {WHY.get(kind, 'they answered us')}" in message.state_why
    assert Answer.objects.count() == (0 if kind in ("unwanted", "stop") else 2)
    assert ReminderStop.objects.count() == {"unwanted": 2, "stop": 1}.get(kind, 0)
    assert reminding.plan_batch(after=0, today=CLOCK[0].date(), now=CLOCK[0]).asked == 0
    page = browser().get(f"{path}?thanks=1").content.decode()
    assert not things(page)


@pytest.mark.parametrize("kind", ["book", "elsewhere", "died", "moved", "given-away"])
def test_staff_take_an_answer_back(kind: str, path: str, house, pomfret) -> None:  # noqa: F811
    say(path, kind, thing=[items(path)["Pomfret"]], animal=[pomfret.pk], **TOLD[kind])
    row = Answer.objects.get()
    assert answering.undo_answer(answer=row, actor=house.actor("assistant"), now=FIVE)
    assert not answering.undo_answer(answer=row, actor=house.actor("assistant"), now=FIVE)
    assert waiting_about(pomfret).state == "waiting"
    say(path, kind, thing=[items(path)["Pomfret"]], animal=[pomfret.pk], **TOLD[kind])
    assert Answer.objects.filter(undone_at=None).count() == 1


def test_one_answer_leaves_the_other_animal_alone(path: str, pomfret: Patient) -> None:
    message = waiting_about(pomfret)
    say(path, "died", animal=[pomfret.pk])
    message.refresh_from_db()
    assert message.state == "waiting"
    assert mail.send(message_id=message.pk, now=FIVE + timedelta(days=30)) == "sent"
    message.refresh_from_db()
    assert "Pomfret" not in message.body
    assert "Grit" in message.body


def test_the_database_keeps_one_answer_of_a_thing(path: str) -> None:
    say(path, "book", thing=[items(path)["Pomfret"]])
    row = Answer.objects.get()
    row.pk = None
    with pytest.raises(IntegrityError, match="a_thing_is_answered_once"), transaction.atomic():
        row.save(force_insert=True)


@pytest.mark.parametrize(
    ("kind", "typed", "said"),
    [
        ("book", {}, "Choose at least one."),
        ("elsewhere", {"done_on": (TODAY + timedelta(days=1)).isoformat()}, "It cannot lie after today."),
        ("elsewhere", {"done_on": "yesterday"}, "Give the day."),
        ("died", {"animal": []}, "Choose the animal."),
        ("nothing", {}, ""),
    ],
)
def test_what_is_wrong_comes_back_with_what_was_typed(kind, typed, said, path: str) -> None:
    about = {} if not typed and kind == "book" else {"thing": [items(path)["Pomfret"]]}
    answer = say(path, kind, **about, words="Kerrin, at the lake", **typed)
    assert answer.status_code == 422
    page = answer.content.decode()
    assert said in page
    assert kind in ("died", "nothing") or "Kerrin, at the lake" in page
    assert not Answer.objects.exists()


def elsewhere(path: str, proof: bytes | None = PICTURE) -> Answer:
    sent = {"proof": SimpleUploadedFile("card.jpg", proof, "image/jpeg")} if proof else {}
    assert (
        say(path, "elsewhere", thing=[items(path)["Pomfret"]], **TOLD["elsewhere"], **sent).status_code == 303
    )
    return Answer.objects.get()


@pytest.mark.parametrize("content", [b"<html><script>alert(1)</script>", b"x" * (MOST_BYTES + 1), b"GIF89a"])
def test_a_file_that_is_no_proof_is_refused(content: bytes, path: str) -> None:
    sent = SimpleUploadedFile("card.jpg", content, "image/jpeg")
    answer = say(path, "elsewhere", thing=[items(path)["Pomfret"]], proof=sent, **TOLD["elsewhere"])
    assert answer.status_code == 422
    assert "We cannot read this file" in answer.content.decode()
    assert not Answer.objects.exists()


def test_the_picture_is_written_anew_and_only_staff_see_it(path: str, house) -> None:  # noqa: F811
    row = elsewhere(path, PICTURE + b"<?php hidden ?>")
    where = reverse("due-answer-proof", args=[row.pk])
    assert browser().get(where).status_code == 404
    client = Client()
    client.force_login(house.assistant)
    answer = client.get(where)
    assert answer["Content-Type"] == "image/jpeg"
    assert b"hidden" not in b"".join(answer)
    assert "sandbox" in answer["Content-Security-Policy"] or "none" in answer["Content-Security-Policy"]


# --- What staff make of it ----------------------------------------------------------------------------------


def test_accepted_it_is_an_outside_dose_with_its_proof(path: str, house, pomfret) -> None:  # noqa: F811
    row = elsewhere(path)
    read = answering.Outside(words="card, page 2", product="Hollowbrook R", lot="L-7")
    actor = house.actor("technician")
    assert answering.accept_elsewhere(answer=row, read=read, actor=actor, now=FIVE)
    assert not answering.accept_elsewhere(answer=row, read=read, actor=actor, now=FIVE)
    dose = Dose.objects.get(patient=pomfret)
    assert (dose.source, dose.given_on, dose.lot) == (Source.OUTSIDE, row.done_on, "L-7")
    assert dose.proof_file.sha256 in row.proof
    assert not CallBack.objects.filter(patient=pomfret, key="rabies", due_on=TODAY).exists()


def test_without_a_proof_it_counts_as_the_owner_s_word(path: str, house, pomfret) -> None:  # noqa: F811
    row = elsewhere(path, None)
    answering.accept_elsewhere(
        answer=row, read=answering.Outside(), actor=house.actor("technician"), now=FIVE
    )
    assert Dose.objects.get(patient=pomfret).source == Source.OWNER


def test_what_is_no_vaccine_is_noted_as_done_elsewhere(path: str, house) -> None:  # noqa: F811
    say(path, "elsewhere", thing=[items(path)["Grit"]], **TOLD["elsewhere"])
    row = Answer.objects.get()
    answering.accept_elsewhere(
        answer=row, read=answering.Outside(), actor=house.actor("technician"), now=FIVE
    )
    assert not Dose.objects.exists()
    (left,) = [each.why for each in queries.call_backs(today=TODAY, until=TODAY).filter(patient=row.patient)]
    assert left == "elsewhere"


def test_staff_turn_a_request_into_a_booking(path: str, house, pomfret) -> None:  # noqa: F811
    say(path, "book", thing=list(items(path).values()), words="Friday, after five")
    client = Client()
    client.force_login(house.assistant)
    page = client.get(reverse("due-answers")).content.decode()
    assert "Friday, after five" in page
    row = Answer.objects.get(patient=pomfret)
    where = reverse("due-answer-book", args=[row.pk])
    assert client.post(where, {f"{row.pk}-on": "someday"}).status_code == 422
    on = {f"{row.pk}-on": (TODAY + timedelta(days=3)).isoformat(), f"{row.pk}-at": "17:10"}
    for _ in range(2):
        assert client.post(where, on).status_code == 302
    visit = Visit.objects.get()
    assert (visit.place, visit.booked_for) == ("expected", "Rabies")
    row.refresh_from_db()
    assert row.settled_how == "booked"
    (left,) = [each.why for each in queries.call_backs(today=TODAY, until=TODAY).filter(patient=pomfret)]
    assert left == "booked"


def test_a_booking_made_anywhere_settles_the_request(path: str, house, pomfret) -> None:  # noqa: F811
    from clinic.visits.actions import booking

    NextVisit.objects.create(
        patient=pomfret, on=TODAY + timedelta(days=300), kind="full", reason="a year", by=house.clinician,
        made_at=NOW,
    )  # fmt: skip
    say(path, "book", thing=[items(path)["Pomfret"]])
    answering.Booked().changed([pomfret.pk], now=FIVE)
    assert Answer.objects.get().settled_how == ""  # planned before they asked: no answer to it
    booking.book(
        patient=pomfret, expected_at=FIVE + timedelta(days=2), booked_for="it",
        actor=house.actor("assistant"), now=FIVE,
    )  # fmt: skip
    assert Answer.objects.get().settled_how == "booked"


def test_that_it_died_waits_for_a_person_and_stays_said(path: str, house, pomfret) -> None:  # noqa: F811
    """The record does not change by what somebody tapped; and nobody is written to about it meanwhile."""
    say(path, "died", animal=[pomfret.pk])
    pomfret.refresh_from_db()
    assert pomfret.deceased_on is None
    assert answering.settle_answer(answer=Answer.objects.get(), actor=house.actor("assistant"), now=FIVE)
    (left,) = [each.why for each in queries.call_backs(today=TODAY, until=TODAY).filter(patient=pomfret)]
    assert left == "answered"


def test_staff_write_back_and_no_limit_of_reminders_keeps_it(path: str, house, pomfret) -> None:  # noqa: F811
    """Outside the day's one message, the hold-out, the pause, the quiet hours and every stop."""
    say(path, "book", thing=[items(path)["Pomfret"]], words="Is it safe beside her tablets?")
    owner, row = pomfret.ownerships.get().owner, Answer.objects.get()
    actions.stop_reminders(owner=owner, row=None, actor=house.actor("manager"), now=FIVE)
    ReminderSettings.objects.update_or_create(
        pk=1, defaults={"paused": True, "rehearsal": True, "hold_out": 50, "quiet_days": [0, 1, 2, 3, 4, 5]}
    )
    assert HouseholdReminder.objects.filter(owner=owner, day=TODAY).exists()  # written to today already
    client = Client()
    client.force_login(house.assistant)
    where = reverse("due-answer-reply", args=[row.pk])
    assert "Is it safe beside her tablets?" in client.get(where).content.decode()
    once = str(uuid4())
    assert client.post(where, {"words": " ", "once": once}).status_code == 422
    for _ in range(2):  # a double tap
        said = {"words": "Yes: nothing speaks against it.", "once": once}
        assert client.post(where, said).status_code == 302
    made = Message.objects.get(once__startswith="reply:")
    assert (made.purpose, made.state, made.owner, made.headers) == ("medical", "waiting", owner, {})
    night = FIVE.replace(hour=23)
    assert mail.send(message_id=made.pk, now=night) == "sent"
    sent = outgoing.outbox[-1]
    assert sent.to == [owner.email]
    assert "Yes: nothing speaks against it." in sent.body
    assert "List-Unsubscribe" not in sent.extra_headers
    contact = pomfret.contacts.get()
    assert (contact.kind, contact.text) == ("mail", "We wrote: Yes: nothing speaks against it.")
    row.refresh_from_db()
    assert row.settled_at is None
    assert "We wrote to them" in client.get(reverse("due-answers")).content.decode()


@pytest.mark.parametrize("how", ["bounced", "paper", "died"])
def test_no_reply_is_written_where_none_may_go(how: str, path: str, house, pomfret) -> None:  # noqa: F811
    say(path, "book", thing=[items(path)["Pomfret"]])
    row = Answer.objects.get()
    if how == "died":
        death.die(pomfret, actor=house.actor("clinician"))
    else:
        changed = {"email_state": "bounced"} if how == "bounced" else {"letters_by": "paper"}
        Owner.objects.filter(pk=row.owner_id).update(**changed)
    client = Client()
    client.force_login(house.assistant)
    where = reverse("due-answer-reply", args=[row.pk])
    assert 'name="words"' not in client.get(where).content.decode()
    assert client.post(where, {"words": "Good news", "once": str(uuid4())}).status_code == 422
    assert not Message.objects.filter(once__startswith="reply:").exists()
    assert not pomfret.contacts.filter(kind="mail").exists()


def test_as_many_queries_for_two_answers_as_for_twelve(house, path: str) -> None:  # noqa: F811
    say(path, "book", thing=list(items(path).values()))
    client = Client()
    client.force_login(house.assistant)
    first = asked(client)
    message = Message.objects.get(state="sent")
    for number in range(10):
        patient = people.patient(
            f"Sorrel{number}", of=people.owner(f"Nia Else{number}", f"n{number}@example.com")
        )
        Answer.objects.create(
            owner=patient.ownerships.get().owner, message=message, patient=patient, kind="died", at=NOW
        )
    assert asked(client) == first


def test_what_waits_stands_on_the_due_list_and_the_manager_s_morning(house, path: str) -> None:  # noqa: F811
    say(path, "book", thing=[items(path)["Pomfret"]], words="Tuesdays")
    client = Client()
    client.force_login(house.manager)
    assert "Answers: 1<" in client.get(reverse("due-list")).content.decode()
    morning = client.get(reverse("morning")).content.decode()
    row = Answer.objects.get()
    assert f"{reverse('due-answers')}#a{row.pk}" in morning
    assert "To look at: owners’ answers 1" in morning
    assert "Tuesdays" in morning
    assert f'id="a{row.pk}"' in client.get(reverse("due-answers")).content.decode()
    answering.settle_answer(answer=row, actor=house.actor("manager"), now=FIVE)
    assert "Tuesdays" not in client.get(reverse("morning")).content.decode()
    assert "Answers: 0<" in client.get(reverse("due-list")).content.decode()


def test_a_day_asked_for_about_several_things_is_one_request(house, pomfret) -> None:  # noqa: F811
    due(pomfret)
    due(pomfret, key="stool", label="Faecal test")
    path = written()
    things_asked = [each.pk for each in answering.things_of(Message.objects.get(state="sent"))]
    say(path, "book", thing=things_asked, words="Friday")
    client = Client()
    client.force_login(house.manager)
    page = client.get(reverse("due-answers")).content.decode()
    assert page.count('<li id="a') == page.count("Friday") == 1
    assert "Rabies, Faecal test" in page
    assert "Answers: 1<" in client.get(reverse("due-list")).content.decode()
    row = Answer.objects.first()
    actor = house.actor("manager")
    assert answering.settle_answer(answer=row, actor=actor, now=FIVE)
    assert not Answer.objects.filter(settled_at=None).exists()
    page = client.get(reverse("due-answers")).content.decode()
    assert "No answer waits." in page
    assert page.count("Rabies, Faecal test") == 1
    assert answering.undo_answer(answer=row, actor=actor, now=FIVE)
    assert not Answer.objects.filter(undone_at=None).exists()
    assert not answering.undo_answer(answer=row, actor=actor, now=FIVE)


def asked(client: Client) -> int:
    with CaptureQueriesContext(connection) as found:
        assert client.get(reverse("due-answers")).status_code == 200
    return len(found)


def test_stopping_by_the_page_is_what_stopping_by_the_mail_is(path: str) -> None:
    say(path, "stop")
    stop = ReminderStop.objects.get()
    assert (stop.patient, stop.by) == (None, None)
    assert asked_today.suppressed([stop.owner.email])
    assert "No more reminders" not in browser().get(path).content.decode()


def test_whoever_stops_by_the_mail_is_told_so_in_their_language(pomfret: Patient) -> None:
    Owner.objects.update(language="es")
    due(pomfret)
    written()
    body = Message.objects.get(state="sent").body
    stop = re.search(rf"{PUBLIC_URL}(/stop-reminders/\S+)", body).group(1)
    page = browser().get(stop).content.decode()
    assert '<html lang="es">' in page
    assert "No quiero más avisos" in page
    assert "Ya no recibe más avisos." in browser().post(stop).content.decode()
    other = browser().get("/stop-reminders/x", headers={"accept-language": "en-GB, es;q=0.5"})
    assert "No more reminders" in other.content.decode()


def test_a_stop_of_one_thing_is_lifted_by_staff(path: str, house, pomfret) -> None:  # noqa: F811
    say(path, "unwanted", thing=[items(path)["Pomfret"]])
    actions.lift_stop(stop=ReminderStop.objects.get(), actor=house.actor("assistant"), now=FIVE)
    assert "Pomfret" in waiting_about(pomfret).body
