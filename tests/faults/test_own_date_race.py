"""Two clinicians set a due date of their own for the same thing at the same moment: one stands, one is told.

Also run with the database's constraint taken out, to show that both would stand.
"""

import threading
from contextlib import suppress
from datetime import timedelta

import pytest
from django.db import connection

from preventive import actions
from preventive.actions import own_dates
from preventive.errors import OwnDateStands
from preventive.models import OwnDate
from tests.faults.test_exam_taps_race import at_once
from tests.people import NOW
from tests.preventive.room import TODAY, Room, room

pytestmark = [pytest.mark.faults, pytest.mark.django_db(transaction=True)]
DAYS = {"clinician": TODAY + timedelta(days=30), "colleague": TODAY + timedelta(days=60)}


@pytest.fixture
def both_said_why(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever gave a reason waits for the other to have given one too, and both write then."""
    met = threading.Barrier(2)
    said = own_dates.said

    def waits(text: str, *, field: str, sentence: str) -> str:
        with suppress(threading.BrokenBarrierError):
            met.wait(5)
        return said(text, field=field, sentence=sentence)

    monkeypatch.setattr(own_dates, "said", waits)


def set_at_once(puppy: Room) -> list[Exception | None]:
    return at_once(
        *(
            lambda by=by, day=day: actions.set_own_date(
                actor=puppy.actor(by), now=NOW, patient=puppy.patient, code="dog_core", day=day, reason="So."
            )
            for by, day in DAYS.items()
        )
    )


def test_of_two_own_dates_one_stands_and_the_other_is_told(both_said_why) -> None:
    puppy = room()
    raised = set_at_once(puppy)
    (refused,) = (each for each in raised if each)
    assert isinstance(refused, OwnDateStands)
    (stands,) = OwnDate.objects.all()
    assert stands.entered_by.full_name in str(refused)
    assert stands.day == list(DAYS.values())[raised.index(None)]


def test_without_the_constraint_both_would_stand(both_said_why) -> None:
    puppy = room()
    (once,) = (each for each in OwnDate._meta.constraints if each.name == "an_own_date_stands_once")
    with connection.schema_editor() as editor:
        editor.remove_constraint(OwnDate, once)
    try:
        assert set_at_once(puppy) == [None, None]
        assert OwnDate.objects.filter(struck_at=None).count() == 2
    finally:
        with connection.schema_editor() as editor:
            editor.execute("TRUNCATE preventive_owndate")  # rows may only be struck out
            editor.add_constraint(OwnDate, once)
