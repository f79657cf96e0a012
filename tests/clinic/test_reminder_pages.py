"""Write to these, what leaves today, plans of asking: as pages."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from clinic.callbacks import reminder_actions
from clinic.callbacks.asked_today import households_today, plans_in_force
from clinic.callbacks.reminder_models import AskingPlan, HouseholdReminder, ReminderSettings
from clinic.callbacks.reminding import plan_batch
from clinic.callbacks.still_true import Review
from clinic.mail.models import Message
from clinic.models import CallBack, Owner
from tests import people

pytestmark = pytest.mark.django_db


@pytest.fixture
def house(db: None) -> people.People:
    people.clinic_details()
    # any hour of any day, whenever the tests run
    ReminderSettings.objects.create(
        pk=1, rehearsal=False, quiet_days=[], quiet_from="03:00", quiet_until="03:00"
    )
    return people.people()


@pytest.fixture
def manager(house: people.People) -> Client:
    client = Client()
    client.force_login(house.manager)
    return client


def late(number: int = 0, *, days: int = 41) -> CallBack:
    owner = people.owner(f"Henrike Dovale{number}", f"h{number}@example.com")
    return CallBack.objects.create(
        patient=people.patient(f"Pomfret{number}", of=owner), source="dues", key="rabies",
        label="Rabies vaccine", due_on=timezone.localdate() - timedelta(days=days), refreshed_at=people.NOW,
    )  # fmt: skip


def test_from_the_list_to_sent_in_two_taps_and_one_reading(manager: Client) -> None:
    """The due list, the ticked ones, their messages, sent."""
    owner = late().patient.ownerships.get().owner
    page = manager.get(reverse("due-list")).content.decode()
    assert f'name="owner" value="{owner.pk}" checked' in page
    shown = manager.get(reverse("due-write"), {"owner": owner.pk})
    assert "Pomfret0: Rabies vaccine, was due on" in shown.content.decode()
    assert not Message.objects.exists()
    once = shown.context["form"]["once"].value()
    for _each in range(2):  # a second tap
        answer = manager.post(reverse("due-write"), {"owner": owner.pk, "once": once}, follow=True)
    assert answer.status_code == 200
    assert Message.objects.get().state == "waiting"
    page = manager.get(reverse("due-list")).content.decode()
    assert 'name="owner"' not in page
    assert "written to today" in page  # so nobody wonders why they cannot be ticked
    assert "Stop this one" in answer.content.decode()
    reminder = HouseholdReminder.objects.get()
    manager.post(reverse("due-stop-one", args=[reminder.pk]))
    assert Message.objects.get().state == "cancelled"


def test_words_are_read_as_they_are_typed_in_every_language_and_nothing_is_kept(manager: Client) -> None:
    typed = {"what": "", "way": "mail", "days": "0", "series_days": "-1", "words_after": "Ask for {clinic}."}
    shown = manager.post(reverse("due-plan-words"), {**typed, "after_es": "Pregunte por {animals}."})
    text = shown.content.decode()
    assert "Ask for Quillwater Animal Clinic." in text
    assert "Pregunte por Pomfret." in text
    for thing in ("Wellness exam, due on", "Heartworm test, was due on"):
        assert text.count(f"Pomfret: {thing}") == 1, "each of another thing: none is named twice"
    wrong = manager.post(reverse("due-plan-words"), {**typed, "words_after": "20 % off for {name}"})
    assert "{name} is nothing that can be put in" in wrong.content.decode()
    assert not AskingPlan.objects.filter(words_after__contains="Ask for").exists()


@pytest.mark.parametrize("what", ["paused", "rehearsal"])
def test_nothing_is_sent_while(manager: Client, what: str) -> None:
    owner = late().patient.ownerships.get().owner
    ReminderSettings.objects.update(**{what: True})
    shown = manager.get(reverse("due-write"), {"owner": owner.pk})
    assert "Send 1 message" not in shown.content.decode()
    once = shown.context["form"]["once"].value()
    assert manager.post(reverse("due-write"), {"owner": owner.pk, "once": once}).status_code == 422
    assert not Message.objects.exists()


def test_a_rehearsal_shows_what_would_leave(manager: Client, house: people.People) -> None:
    late(days=0)
    ReminderSettings.objects.update(rehearsal=True)
    plan = reminder_actions.lay_usual_plan(now=people.NOW)
    reminder_actions.approve_plan(plan=plan, actor=house.actor("manager"), now=people.NOW)
    page = manager.get(reverse("due-leaving")).content.decode()
    assert "Pomfret0: Rabies vaccine, due today" in page
    assert not Message.objects.exists()


def test_a_plan_is_seen_on_real_households_before_it_asks(manager: Client) -> None:
    late(days=30)
    facts = {
        "what": "Rabies vaccine",
        "way": "mail",
        "days": "30",
        "series_days": "-1",
        "words_after": "Still possible.",
    }
    once = manager.get(reverse("due-plans")).context["form"]["once"].value()
    shown = manager.post(reverse("due-plans"), {**facts, "once": once}, follow=True)
    page = shown.content.decode()
    assert "Pomfret0: Rabies vaccine" in page
    assert "Still possible." in page
    plan = AskingPlan.objects.get()
    assert plan.approved_at is None
    manager.post(reverse("due-plan-approve", args=[plan.pk]))
    plan.refresh_from_db()
    assert plan.approved_by is not None
    manager.post(reverse("due-plan-drop", args=[plan.pk]))
    plan.refresh_from_db()
    assert plan.ended_at is not None


def test_a_plan_that_asks_nobody_today_is_seen_on_the_next_day_on_which_it_does(
    manager: Client, house: people.People
) -> None:
    late(days=26)  # so in four days
    late(1, days=21)
    row = late(2, days=27)
    Owner.objects.filter(ownerships__patient=row.patient).update(
        email_state="bounced"
    )  # in three, not reached
    plan = reminder_actions.propose_plan(
        what="Rabies vaccine", days=[30], series_days=[-1], actor=house.actor("manager"),
        now=people.NOW,
    )  # fmt: skip
    shown = manager.get(reverse("due-plan", args=[plan.pk]))
    assert shown.context["day"] == timezone.localdate() + timedelta(days=4)
    assert [each.about for each in shown.context["letters"]] == [("Pomfret0: Rabies vaccine",)]


def test_what_is_only_shown_stops_nothing(manager: Client, settings) -> None:
    settings.PUBLIC_URL = "https://letters.example"
    owner = late().patient.ownerships.get().owner
    chosen = manager.get(reverse("due-write"), {"owner": owner.pk}).context["letters"][0].body
    planned = manager.get(reverse("due-plans")).context["shown"][0].body
    for body in (chosen, planned):
        assert "https://letters.example/stop-reminders/…" in body
        assert "https://letters.example/l/…" in body
        assert body.count("https://letters.example/") == 2


@pytest.mark.parametrize(
    ("days", "said"), [("1, 2, 3, 4", "At most 3"), ("soon", "as numbers"), ("", "required"), ("999", "365")]
)
def test_a_wrong_plan_says_so_beside_the_field_and_keeps_what_was_typed(
    manager: Client, days: str, said: str
) -> None:
    once = manager.get(reverse("due-plans")).context["form"]["once"].value()
    answer = manager.post(
        reverse("due-plans"),
        {"way": "mail", "days": days, "series_days": "-1", "words_after": "kept", "once": once},
    )
    assert answer.status_code == 422
    assert said in str(answer.context["form"].errors["days"])
    assert "kept" in answer.content.decode()
    assert not AskingPlan.objects.exists()


def test_the_switch_and_the_hours(manager: Client) -> None:
    facts = {
        "sends_at": "17:00", "quiet_from": "20:00", "quiet_until": "08:00", "quiet_days": ["6"],
        "hold_out": "10", "inactive_months": "36",
    }  # fmt: skip
    assert manager.post(reverse("due-settings"), {**facts, "rehearsal": "on"}).status_code == 302
    assert ReminderSettings.objects.get().rehearsal
    assert ReminderSettings.objects.get().hold_out == 10
    assert manager.post(reverse("due-settings"), {**facts, "hold_out": "51"}).status_code == 422
    for wrong in ({"sends_at": "21:00"}, {"quiet_days": list("0123456")}):
        assert manager.post(reverse("due-settings"), {**facts, **wrong}).status_code == 422


def test_one_switch_with_who_and_since_when_on_every_page(manager: Client, house: people.People) -> None:
    late()
    for _each in range(2):  # a second tap
        manager.post(reverse("due-pause"), {"to": "paused"})
    chosen = ReminderSettings.objects.get()
    assert (chosen.paused, chosen.paused_by) == (True, house.manager)
    for name in ("due-list", "due-leaving", "due-plans", "due-write", "morning"):
        text = manager.get(reverse(name)).content.decode()
        assert "Paused: no reminder leaves." in text, name
        assert f"by {house.manager.full_name}" in text, name
    manager.post(reverse("due-pause"), {"to": "going"})
    assert not ReminderSettings.objects.get().paused


def test_what_is_paused_is_asked_about_by_no_plan(manager: Client, house: people.People) -> None:
    """Not by the one for everything either; what waits of it does not leave."""
    actor, now = house.actor("manager"), timezone.now()
    reminder_actions.approve_plan(plan=reminder_actions.lay_usual_plan(now=now), actor=actor, now=now)
    own = reminder_actions.propose_plan(
        what="Rabies vaccine", days=[0], series_days=[-1], actor=actor, now=now
    )
    reminder_actions.approve_plan(plan=own, actor=actor, now=now)
    row, today = late(days=0), timezone.localdate()
    owner = row.patient.ownerships.get().owner_id
    assert [h.owner.pk for h in households_today(plans_in_force(), [owner], today=today)] == [owner]
    plan_batch(after=0, today=today, now=now)
    manager.post(reverse("due-plan-pause", args=[own.pk]), {"to": "paused"})
    assert households_today(plans_in_force(), [owner], today=today) == []
    page = manager.get(reverse("due-plans")).content.decode()
    assert f"paused by {house.manager.full_name}" in page
    Review().changed([row.patient_id], now=now)
    message = Message.objects.get()
    assert (message.state, "asking about this is paused" in message.state_why) == ("cancelled", True)


PAGES = {
    "due-list": 25, "due-write": 25, "due-leaving": 14, "due-post": 20, "due-calls": 22, "due-plans": 14,
}  # fmt: skip


@pytest.mark.parametrize("name", PAGES)
def test_as_many_queries_for_two_households_as_for_twenty(
    manager: Client, house: people.People, name: str
) -> None:
    counted = []
    for start, stop in ((0, 2), (2, 20)):
        owners = [late(number).patient.ownerships.get().owner.pk for number in range(start, stop)]
        if name == "due-post":
            Owner.objects.filter(pk__in=owners).update(letters_by="paper", street="3 Mill Row")
        if name == "due-plans":
            for number in range(start, stop):
                reminder_actions.propose_plan(
                    what=f"Kind {number}", days=[-7], series_days=[-1], actor=house.actor("manager"),
                    now=timezone.now(),
                )  # fmt: skip
        if name == "due-leaving":
            reminder_actions.write_to(owner_ids=owners, actor=house.actor("manager"), now=timezone.now())
        manager.get(reverse(name), {"owner": owners})
        with CaptureQueriesContext(connection) as sql:
            manager.get(reverse(name), {"owner": owners})
        counted.append(len(sql))
    assert counted[0] == counted[1] <= PAGES[name]
