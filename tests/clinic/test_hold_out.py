"""Who is held out from asking, to compare; who never is. The list of what never waits is ours."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clinic.callbacks import reminder_actions
from clinic.callbacks.holding_out import drawn, note_unreachable
from clinic.callbacks.manager_models import Unasked
from clinic.callbacks.reminder_models import ReminderItem, ReminderSettings
from clinic.callbacks.reminding import plan_batch
from clinic.models import CallBack, Owner, Problem
from preventive.call_backs import rows_of
from preventive.schedule import due_items
from tests import people
from tests.preventive.histories import ON, lives, under

TODAY, NOW = people.TODAY, people.NOW


@given(owner=st.integers(1, 10**9), year=st.integers(2020, 2040), share=st.integers(0, 50))
def test_the_lot_is_the_same_each_time_and_a_larger_share_holds_the_smaller(owner, year, share) -> None:
    assert drawn(owner, year, share) == drawn(owner, year, share)
    assert not drawn(owner, year, 0)
    assert not drawn(owner, year, share) or drawn(owner, year, share + 1)


def test_about_so_many_of_a_hundred_are_drawn() -> None:
    assert 850 <= sum(drawn(owner, 2026, 10) for owner in range(10_000)) <= 1150


@given(lives())
def test_no_legal_item_no_series_and_no_heartworm_may_wait(life) -> None:
    """Whatever the animal's life was; and something may, or nothing would be compared."""
    who, what = life
    dues = {due.code: due for due in due_items(who, what, under(), ON)}
    for row in rows_of(tuple(dues.values()), ON):
        due = dues[row.key]
        if row.may_wait:
            assert due.legal is None
            assert row.nature == ""
            assert not any(word in row.key for word in ("rabies", "heartworm", "felv", "fiv"))


@pytest.fixture
def house(db: None) -> people.People:
    people.clinic_details()
    made = people.people()
    ReminderSettings.objects.create(
        pk=1, rehearsal=False, quiet_days=[], quiet_from="03:00", quiet_until="03:00", hold_out=50
    )
    plan = reminder_actions.propose_plan(
        what="", days=[0], series_days=[0], actor=made.actor("manager"), now=NOW
    )
    reminder_actions.approve_plan(plan=plan, actor=made.actor("manager"), now=NOW)
    return made


def held(**fields: object) -> CallBack:
    """Something due today of an animal whose household is drawn, whatever the numbers of this database."""
    number = 0
    while True:
        owner = people.owner(f"Ada Lunt{number}", f"o{number}@example.com")
        if drawn(owner.pk, TODAY.year, 50):
            break
        number += 1
    facts = {"nature": "", "may_wait": True} | fields
    return CallBack.objects.create(
        patient=people.patient(f"Pet{number}", of=owner), source="dues", key="exam", label="Exam",
        due_on=TODAY, refreshed_at=NOW, **facts,
    )  # fmt: skip


def planned() -> tuple[int, int]:
    """How many things are asked about, and how many are held out."""
    for _each in range(2):  # planned again in the same day
        plan_batch(after=0, today=TODAY, now=NOW)
    return ReminderItem.objects.count(), Unasked.objects.filter(why="held-out").count()


def test_who_is_drawn_is_noted_once_and_not_asked(house: people.People) -> None:
    held()
    assert planned() == (0, 1)


def test_none_is_held_out_by_default(house: people.People) -> None:
    assert ReminderSettings._meta.get_field("hold_out").default == 0
    ReminderSettings.objects.update(hold_out=0)
    held()
    assert planned() == (1, 0)


@pytest.mark.parametrize("fields", [{"may_wait": False}, {"nature": "series"}])
def test_what_may_not_wait_is_asked_about(house: people.People, fields: dict) -> None:
    """Legal items, series, heartworm, rechecks, weigh-ins: their sources do not say that they may."""
    held(**fields)
    assert planned() == (1, 0)


@pytest.mark.parametrize("urgency", ["T", "E"])
def test_an_animal_with_an_urgent_problem_is_asked_about(house: people.People, urgency: str) -> None:
    row = held()
    problem = Problem.objects.create(
        patient=row.patient, title="Eye", urgency=urgency, opened_at=NOW, opened_by=house.clinician
    )
    assert planned() == (1, 0)
    assert not problem.closed_at


def test_an_animal_with_an_unsigned_record_is_asked_about(house: people.People) -> None:
    row = held()
    visit = people.visit_here(row.patient, clinician=house.clinician)
    visit.place = "gone-home"
    visit.save()
    assert planned() == (1, 0)


def test_whom_no_mail_reaches_is_noted_as_due_and_not_asked(house: people.People) -> None:
    row = held(may_wait=False)
    assert note_unreachable(today=TODAY, now=NOW) == 0
    Owner.objects.update(email="", email_state="none")
    for _each in range(2):
        note_unreachable(today=TODAY, now=NOW)
    assert Unasked.objects.get().patient == row.patient
