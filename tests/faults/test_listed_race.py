"""Two people at the medicine list at the same moment: one is kept, the other is told, none vanishes.

The race is also run with the version left out of the write, to show that it would go wrong.
"""

import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace

import pytest

from clinic.care.actions import listed
from clinic.care.actions.listed import Facts, SaidKinds, change_listed, list_medicine
from clinic.care.listed_errors import KindsChanged, ListChanged, NameStands
from clinic.models import IngredientKinds, ListedMedicine
from tests import people
from tests.faults.test_exam_taps_race import at_once

pytestmark = [pytest.mark.faults, pytest.mark.django_db(transaction=True)]
CHEWS = Facts("Oakwhistle chews 50", ("carprofen",), "50 mg in a chew", "by mouth", "chews", ("dog",))


@pytest.fixture
def staff() -> people.People:
    return people.people()


@pytest.fixture(autouse=True)
def both_begin_together(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever comes to the write waits a while for the other to be there too."""
    met = threading.Barrier(2)
    columns = listed._columns

    def waits(facts: Facts) -> dict:
        told = columns(facts)
        if threading.current_thread() is not threading.main_thread():
            with suppress(threading.BrokenBarrierError):
                met.wait(0.7)
        return told

    monkeypatch.setattr(listed, "_columns", waits)


@pytest.fixture
def version_off(monkeypatch: pytest.MonkeyPatch) -> None:
    """The row is written whatever version was looked at."""
    step = listed._step

    def unguarded(row, seen, **columns):
        held = ListedMedicine.objects.select_for_update().get(pk=row.pk)
        return step(row, held.version, **columns)

    monkeypatch.setattr(listed, "_step", unguarded)


def raced(staff: people.People, work: Callable[..., object]) -> list[type | None]:
    """What the clinician's and the colleague's ended with: None, or the error's kind; in a fixed order."""
    acts = [{"actor": staff.actor(role), "now": people.NOW} for role in ("clinician", "colleague")]
    raised = at_once(*(lambda me=me: work(me) for me in acts))
    return sorted((type(each) if each else None for each in raised), key=str)


def changed(staff: people.People) -> list[type | None]:
    row = list_medicine(facts=CHEWS, actor=staff.actor("manager"), now=people.NOW)

    def work(me: dict) -> None:
        change_listed(row=row, seen=1, facts=replace(CHEWS, unit=f"by {me['actor'].staff.pk}"), **me)

    return raced(staff, work)


def test_of_two_changes_at_once_one_is_kept_and_the_other_is_told(staff) -> None:
    assert changed(staff) == sorted([None, ListChanged], key=str)
    row = ListedMedicine.objects.get()
    assert (row.version, row.unit) == (2, f"by {row.changed_by_id}")


def test_without_the_version_one_change_would_vanish_unseen(staff, version_off) -> None:
    assert changed(staff) == [None, None]
    assert ListedMedicine.objects.get().version == 3


def test_of_two_who_add_one_name_at_once_one_is_told_that_it_stands(staff) -> None:
    ended = raced(staff, lambda me: list_medicine(facts=CHEWS, **me))
    assert ended == sorted([None, NameStands], key=str)
    assert ListedMedicine.objects.count() == 1


def test_of_two_who_say_kinds_at_once_one_is_told_what_the_other_said(staff) -> None:
    kinds = {staff.clinician.pk: "steroid", staff.colleague.pk: "nsaid"}

    def work(me: dict) -> None:
        mine = me["actor"].staff.pk
        said = {"eyebright": SaidKinds(frozenset({kinds[mine]}))}
        list_medicine(facts=replace(CHEWS, name=f"Of {mine}"), kinds=said, **me)

    assert raced(staff, work) == sorted([None, KindsChanged], key=str)
    row = IngredientKinds.objects.get()
    assert row.kinds == [kinds[row.by_id]]
    assert ListedMedicine.objects.get().name == f"Of {row.by_id}"
