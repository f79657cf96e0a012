"""The manager's morning: what changed, what did not arrive, what waits for somebody, what leaves."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from clinic.callbacks import reminder_actions
from clinic.callbacks.manager_models import OverdueTally
from clinic.callbacks.reminder_models import ReminderSettings
from clinic.models import CallBack, Message, Owner, Record
from clinic.morning.compared import compared
from clinic.platform.registries import morning_parts
from tests import people

pytestmark = pytest.mark.django_db


def test_bars_marks_and_words_against_then() -> None:
    rows, total = compared({"Exam": 4, "Rabies": 8}, {"Exam": 6, "Rabies": 8, "Faecal": 1})
    assert [(row.what, row.now, row.then, row.words) for row in rows] == [
        ("Rabies", 8, 8, "as many"), ("Exam", 4, 6, "2 fewer"), ("Faecal", 0, 1, "1 fewer"),
    ]  # fmt: skip
    assert (rows[0].bar, rows[0].mark, rows[1].bar) == (160, 160, 80)
    assert (total.now, total.then, total.words) == (12, 15, "3 fewer")
    rows, total = compared({"Exam": 4}, None)
    assert (rows[0].words, total.then) == ("not counted then", None)
    rows, total = compared({f"T{n:02}": 40 - n for n in range(12)}, {})
    assert [row.what for row in rows][-1] == "Other things"
    assert sum(row.now for row in rows) == total.now


@pytest.fixture
def house(db: None) -> people.People:
    people.clinic_details()
    ReminderSettings.objects.create(
        pk=1, rehearsal=False, quiet_days=[], quiet_from="03:00", quiet_until="03:00"
    )
    return people.people()


@pytest.fixture
def manager(house: people.People) -> Client:
    client = Client()
    client.force_login(house.manager)
    return client


def late(n: int = 0, label: str = "Exam") -> CallBack:
    owner = people.owner(f"Ada Lunt{n}", f"o{n}@example.com")
    return CallBack.objects.create(
        patient=people.patient(f"Pet{n}", of=owner), source="dues", key="exam", label=label,
        due_on=timezone.localdate() - timedelta(days=9), refreshed_at=people.NOW,
    )  # fmt: skip


def failed(n: int, **fields: object) -> Message:
    owner = people.owner(f"Bo Tarn{n}", f"t{n}@example.com")
    facts = {"state": "failed", "state_why": "no such mailbox"} | fields
    return Message.objects.create(
        owner=owner, purpose="service", to_address=owner.email, subject=f"Dates {n}", body="b",
        once=f"m{n}", state_since=timezone.now() - timedelta(hours=3), made_at=timezone.now(), **facts,
    )  # fmt: skip


def unsigned(house: people.People, n: int = 0) -> Record:
    visit = people.visit_here(
        people.patient(f"Fen{n}", of=people.owner(f"Cy Ross{n}", f"r{n}@example.com")),
        clinician=house.clinician,
    )
    visit.place, visit.gone_at = "gone-home", timezone.now() - timedelta(days=2)
    visit.save()
    return visit.record


def test_overdue_is_told_against_a_month_ago(manager: Client) -> None:
    late()
    assert "nobody counted" in manager.get(reverse("morning")).content.decode()
    day = timezone.localdate() - timedelta(days=30)
    OverdueTally.objects.create(day=day, what="Exam", things=4)
    OverdueTally.objects.create(day=day + timedelta(days=20), what="Exam", things=9)  # too near
    text = manager.get(reverse("morning")).content.decode()
    assert f"1 thing is overdue, 3 fewer than on {day.day} {day:%B}" in text


def test_what_did_not_arrive_has_its_remedies(manager: Client, house: people.People) -> None:
    again = failed(0, state="unknown", state_why="")
    lost = failed(1, state_why="550 5.1.1 mailbox unknown")
    Owner.objects.filter(pk=lost.owner_id).update(email_state="bounced", street="4 Reed Row")
    failed(2, state="sent")
    text = manager.get(reverse("morning")).content.decode()
    assert "may not have arrived" in text
    assert "did not arrive: the address does not exist" in text
    assert "550 5.1.1" not in text
    assert "Dates 2" not in text
    url = reverse("message-again", args=[again.pk])
    assert url in text
    sent = {"since": again.state_since.isoformat(), "morning": "1"}
    assert manager.post(url, sent).headers["Location"] == reverse("morning")
    again.refresh_from_db()
    assert again.state == "waiting"
    manager.post(reverse("morning-paper", args=[lost.owner_id]))
    assert Owner.objects.get(pk=lost.owner_id).letters_by == "paper"
    assert "Dates 1" not in manager.get(reverse("morning")).content.decode()


def test_paper_needs_somewhere_to_go(manager: Client) -> None:
    message = failed(0)
    Owner.objects.filter(pk=message.owner_id).update(street="")
    answer = manager.post(reverse("morning-paper", args=[message.owner_id]), follow=True)
    assert "no postal address on record" in answer.content.decode()
    assert Owner.objects.get(pk=message.owner_id).letters_by == "email"


def test_who_has_not_signed_is_reminded_once_a_day(manager: Client, house: people.People) -> None:
    record = unsigned(house)
    assert f"Remind {house.clinician.full_name}" in manager.get(reverse("morning")).content.decode()
    for _each in range(2):  # a second tap
        manager.post(reverse("morning-remind", args=[record.pk]))
    message = Message.objects.get()
    assert (message.to_address, message.purpose) == (house.clinician.email, "staff")


def test_what_leaves_is_stopped_from_here(manager: Client, house: people.People) -> None:
    owner = late().patient.ownerships.get().owner_id
    (made,) = reminder_actions.write_to(owner_ids=[owner], actor=house.actor("manager"), now=timezone.now())
    assert "1 message leaves unless you stop them" in manager.get(reverse("morning")).content.decode()
    answer = manager.post(reverse("due-stop-one", args=[made.pk]), {"morning": "1"})
    assert answer.headers["Location"] == reverse("morning")
    assert Message.objects.get().state == "cancelled"


def test_an_empty_morning_says_so(manager: Client) -> None:
    text = manager.get(reverse("morning")).content.decode()
    assert "Nothing stands open" in text
    assert "Nothing is overdue" in text


def test_the_rooms_add_their_parts() -> None:
    assert morning_parts.names() == [
        "answers", "undelivered", "unsigned", "letterless", "promises", "results", "lots",
    ]  # fmt: skip


def test_a_manager_begins_here_and_everybody_else_with_today(client: Client, house: people.People) -> None:
    for who, first in ((house.manager, "morning"), (house.clinician, "today")):
        who.set_password("weir-lane-tests-7")
        who.save()
        answer = Client().post(
            reverse("account_login"), {"login": who.email, "password": "weir-lane-tests-7"}
        )
        assert answer.headers["Location"] == reverse(first)


def test_as_many_queries_for_two_of_each_as_for_nine(manager: Client, house: people.People) -> None:
    counted = []
    for start, stop in ((0, 2), (2, 9)):
        owners = []
        for n in range(start, stop):
            owners.append(late(n).patient.ownerships.get().owner_id)
            failed(n)
            unsigned(house, n)
        reminder_actions.write_to(owner_ids=owners, actor=house.actor("manager"), now=timezone.now())
        manager.get(reverse("morning"))
        with CaptureQueriesContext(connection) as sql:
            assert manager.get(reverse("morning")).status_code == 200
        counted.append(len(sql))
    assert counted[0] == counted[1] <= 40, counted
