"""The due list's totals: sums that are kept say what the rows say, at any moment, and are quick."""

from datetime import timedelta
from random import Random
from uuid import uuid4

import pytest
from django.db import connection

from clinic.callbacks import actions, listing, queries
from clinic.callbacks.manager_models import DueChange, HouseholdDue, OverdueTally
from clinic.callbacks.queries import Wanted
from clinic.callbacks.tasks import fold_due_totals
from clinic.callbacks.totals import MUCH, fold, tally, totals
from clinic.mail.models import Message
from clinic.models import Answer, CallBack, Owner, Ownership, Patient, Phone, Staff, Visit
from tests import people

TODAY, NOW = people.TODAY, people.NOW


def thing(patient: Patient, *, days: int = 9, key: str = "exam", **fields: object) -> CallBack:
    return CallBack.objects.create(
        patient=patient, source="dues", key=key, label=key, due_on=TODAY - timedelta(days=days),
        refreshed_at=NOW, **fields,
    )  # fmt: skip


def of_rows() -> queries.Counts:
    return queries.counts(queries.overdue(Wanted(), today=TODAY))


def died(n: int) -> None:
    Patient.objects.filter(name=f"P{n}").update(deceased_on=TODAY, deceased_how="died")


def bounced(n: int) -> None:
    Owner.objects.filter(email=f"o{n}@example.com").update(email_state="bounced")


def handed_over(n: int) -> None:
    """The animal gets another household's owner first; both sums change."""
    held = Ownership.objects.get(patient__name=f"P{n}", until=None)
    Ownership.objects.filter(pk=held.pk).update(until=TODAY, is_first=False)
    other = Owner.objects.exclude(pk=held.owner_id).earliest("pk")
    Ownership.objects.create(patient=held.patient, owner=other, is_first=True, since=TODAY)


def more(n: int) -> None:
    thing(Patient.objects.get(name=f"P{n}"), key=f"k{uuid4()}")


def fewer(n: int) -> None:
    CallBack.objects.filter(patient__name=f"P{n}").delete()


def here(n: int) -> None:
    people.visit_here(Patient.objects.get(name=f"P{n}"))


def asked(n: int) -> None:
    row = CallBack.objects.filter(patient__name=f"P{n}").select_related("patient").first()
    if row and not row.patient.deceased_on:
        owner = Ownership.objects.get(patient=row.patient, until=None, is_first=True).owner
        actor = people.Actor.of(Staff.objects.get(roles=["manager"]))
        actions.note_asking(owner=owner, rows=[row], how="call", outcome="asked", actor=actor, now=NOW)


def stopped(n: int) -> None:
    owner = Ownership.objects.get(patient__name=f"P{n}", until=None, is_first=True).owner
    actor = people.Actor.of(Staff.objects.get(roles=["manager"]))
    actions.stop_reminders(owner=owner, actor=actor, now=NOW)


def answered(n: int) -> None:
    """By a reminder's link, or that is taken back."""
    held = Ownership.objects.get(patient__name=f"P{n}", until=None, is_first=True)
    by = Staff.objects.get(roles=["manager"])
    if Answer.objects.filter(patient=held.patient, undone_at=None).update(undone_at=NOW, undone_by=by):
        return
    message = Message.objects.create(
        purpose="service", to_address="o@example.com", subject="s", body="b", state_since=NOW, made_at=NOW,
        once=str(uuid4()),
    )  # fmt: skip
    Answer.objects.create(owner=held.owner, message=message, patient=held.patient, kind="moved", at=NOW)


def folded(n: int) -> None:
    fold(now=NOW)


HAPPENS = (died, bounced, handed_over, more, fewer, here, asked, stopped, answered, folded)


@pytest.mark.django_db
@pytest.mark.parametrize("seed", [1, 2])
def test_kept_sums_say_what_the_rows_say_whatever_happened(seed: int) -> None:
    """Two random days of twelve things each, the sums folded now and then."""
    random = Random(seed)
    people.people()
    for n in range(3):
        thing(people.patient(f"P{n}", of=people.owner(f"Ada Lunt{n}", f"o{n}@example.com")))
    fold(now=NOW)
    for _each in range(12):
        happens, n = random.choice(HAPPENS), random.randrange(3)
        happens(n)
        assert totals(Wanted(), today=TODAY) == of_rows(), happens.__name__
        for wanted in (Wanted(), Wanted(why="any"), Wanted(reach="mail")):
            rows = queries.shown(queries.overdue(wanted, today=TODAY), wanted.why)
            looked = queries.households(rows, until=TODAY)
            assert listing.page(wanted, today=TODAY) == looked, (happens.__name__, wanted)
    fold(now=NOW)
    assert not DueChange.objects.exists()
    assert totals(Wanted(), today=TODAY) == of_rows()


@pytest.mark.django_db
def test_without_the_triggers_the_sums_would_go_wrong() -> None:
    """What the guard is for: the same day with it switched off."""
    people.people()
    thing(people.patient())
    fold(now=NOW)
    with connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        cursor.execute("ALTER TABLE clinic_callback DISABLE TRIGGER tailward_due_changed")
    thing(Patient.objects.get(), key="another")
    assert totals(Wanted(), today=TODAY) != of_rows()


@pytest.mark.django_db
def test_a_new_number_is_a_way_to_reach_them() -> None:
    owner = people.owner("Ada Lunt", "")
    owner.phones.all().delete()
    thing(people.patient(of=owner))
    fold(now=NOW)
    assert totals(Wanted(), today=TODAY).reach == {"paper" if owner.street else "nothing": 1}
    Owner.objects.update(street="")
    Phone.objects.create(owner=owner, number="555-0177", digits="5550177")
    assert totals(Wanted(), today=TODAY).reach == {"telephone": 1}


@pytest.mark.django_db
def test_yesterday_s_sums_are_not_today_s() -> None:
    """What fell due overnight is in the totals before anybody made the new sums."""
    row = thing(people.patient(), days=0)
    fold(now=NOW)
    tomorrow = TODAY + timedelta(days=1)
    assert totals(Wanted(), today=TODAY).things == 0
    assert totals(Wanted(), today=tomorrow).things == 1
    fold(now=NOW + timedelta(days=1))
    assert HouseholdDue.objects.get().owner_id == row.patient.ownerships.get().owner_id


@pytest.mark.django_db
@pytest.mark.parametrize(("minute", "noted", "left"), [(1, 2, 2), (5, 2, 0), (1, MUCH, 0)])
def test_where_much_was_touched_the_sums_do_not_wait(monkeypatch, minute: int, noted: int, left: int) -> None:
    DueChange.objects.all().delete()
    DueChange.objects.bulk_create(DueChange(owner_id=n) for n in range(noted))
    monkeypatch.setattr("clinic.callbacks.tasks.timezone.now", lambda: people.NOW.replace(minute=minute))
    fold_due_totals(timestamp=0)
    assert DueChange.objects.count() == left


@pytest.mark.django_db
def test_totals_read_sums_and_no_call_backs(django_assert_num_queries) -> None:
    """One query; its plan touches neither the call-backs nor the visits."""
    people.people()
    for n in range(5):
        thing(people.patient(f"P{n}", of=people.owner(f"Ada Lunt{n}", f"o{n}@example.com")))
    fold(now=NOW)
    with django_assert_num_queries(1) as taken:
        assert totals(Wanted(), today=TODAY).things == 5
    with connection.cursor() as cursor:
        cursor.execute(f"EXPLAIN {taken.captured_queries[0]['sql']}")
        plan = "\n".join(line for (line,) in cursor.fetchall())
    assert "clinic_householddue" in plan
    assert not any(table in plan for table in ("clinic_callback", "clinic_visit", "clinic_askeditem"))


@pytest.mark.django_db
@pytest.mark.parametrize("wanted", [Wanted(), Wanted(reach="mail"), Wanted(why="any"), Wanted(why="died")])
def test_a_page_is_read_off_the_sums_by_index(wanted: Wanted, django_assert_num_queries) -> None:
    """Two queries, the second in the index's own order; neither reads the call-backs."""
    people.people()
    for n in range(5):
        thing(people.patient(f"P{n}", of=people.owner(f"Ada Lunt{n}", f"o{n}@example.com")))
    died(3)
    fold(now=NOW)
    with django_assert_num_queries(2) as taken:
        ids, _ = listing.page(wanted, today=TODAY)
    assert len(ids) == (1 if wanted.why else 4)
    with connection.cursor() as cursor:
        cursor.execute("SET LOCAL enable_seqscan = off")
        cursor.execute("SET LOCAL enable_bitmapscan = off")
        cursor.execute("SET LOCAL enable_sort = off")
        cursor.execute(f"EXPLAIN {taken.captured_queries[1]['sql']}")
        plan = "\n".join(line for (line,) in cursor.fetchall())
    assert "using household_due_" in plan
    assert "Sort" not in plan
    assert "clinic_callback" not in plan


@pytest.mark.django_db
def test_what_is_overdue_is_tallied_once_a_day() -> None:
    thing(people.patient(), key="Missed visit: nails")
    tally(now=NOW)
    thing(Patient.objects.get(), key="Missed visit: ears")
    tally(now=NOW)
    assert OverdueTally.objects.values_list("what", "things").get() == ("Missed visit", 2)
    assert not Visit.objects.exists()
