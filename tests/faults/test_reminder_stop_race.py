"""Two tablets note the same “stop” at one moment: one stop stands, and neither tablet sees an error.

Also run with the guard out of the way (the constraint taken off), to show what would happen.
"""

import pytest
from django.db import connection

from clinic.callbacks import actions
from clinic.models import Owner, ReminderStop
from tests import people
from tests.faults.test_exam_taps_race import at_once

pytestmark = [pytest.mark.faults, pytest.mark.django_db(transaction=True)]
CONSTRAINT = next(each for each in ReminderStop._meta.constraints if each.name == "a_stop_stands_once")


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


def both_stop(owner: Owner, house: people.People) -> None:
    raised = at_once(
        *(
            lambda role=role: actions.stop_reminders(owner=owner, actor=house.actor(role), now=people.NOW)
            for role in ("assistant", "technician")
        )
    )
    assert raised == [None, None]


def test_one_stop_stands(house: people.People, long_run: bool) -> None:
    for number in range(200 if long_run else 20):
        owner = people.owner(f"Ada Lunt{number}", f"ada{number}@example.com")
        both_stop(owner, house)
        assert owner.reminder_stops.count() == 1


def test_without_the_constraint_two_would_stand(house: people.People) -> None:
    with connection.schema_editor() as editor:
        editor.remove_constraint(ReminderStop, CONSTRAINT)
    try:
        owner = people.owner()
        both_stop(owner, house)
        assert owner.reminder_stops.count() == 2
        ReminderStop.objects.all().delete()
    finally:
        with connection.schema_editor() as editor:
            editor.add_constraint(ReminderStop, CONSTRAINT)
