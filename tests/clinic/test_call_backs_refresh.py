"""Every night call-backs are written anew: bounded, idempotent, and stopped by nobody's broken record."""

from datetime import timedelta

import pytest
from django.utils import timezone
from procrastinate.contrib.django.models import ProcrastinateJob

from clinic.callbacks import refreshing, tasks
from clinic.callbacks.refreshing import forget_gone, refresh_batch, refresh_patient
from clinic.models import CallBack, Patient
from clinic.platform.registries import CallBackRow, call_back_sources
from tests import people

pytestmark = pytest.mark.django_db
TODAY, NOW = people.TODAY, people.NOW


class Nails:
    """A room that wants everybody back four weeks after their name's day."""

    name, order = "nails", 900

    def __init__(self) -> None:
        self.rows_of: dict[str, list[CallBackRow]] = {}
        self.broken: set[str] = set()

    def rows(self, patient: Patient, *, today) -> list[CallBackRow]:
        if patient.name in self.broken:
            raise ValueError(patient.name)
        return self.rows_of.get(patient.name, [CallBackRow("nails", "Nails", today)])


@pytest.fixture
def nails(monkeypatch: pytest.MonkeyPatch) -> Nails:
    room = Nails()
    monkeypatch.setattr(refreshing, "call_back_sources", [room])
    return room


@pytest.fixture
def three() -> list[Patient]:
    owner = people.owner()
    return [people.patient(name, of=owner) for name in ("Ash", "Birch", "Cedar")]


def stored() -> set[tuple[str, str, object]]:
    return set(CallBack.objects.values_list("patient__name", "key", "due_on"))


def test_the_rooms_are_asked_and_the_same_night_twice_writes_the_same(
    nails: Nails, three: list[Patient]
) -> None:
    refresh_batch(after=0, today=TODAY, now=NOW)
    first = dict(CallBack.objects.values_list("patient__name", "pk"))
    refresh_batch(after=0, today=TODAY, now=NOW + timedelta(hours=3))
    assert dict(CallBack.objects.values_list("patient__name", "pk")) == first
    assert stored() == {(name, "nails", TODAY) for name in ("Ash", "Birch", "Cedar")}


def test_a_day_later_the_date_is_another_and_what_is_no_more_goes(nails: Nails, three: list[Patient]) -> None:
    refresh_batch(after=0, today=TODAY, now=NOW)
    nails.rows_of["Birch"] = []
    later = TODAY + timedelta(days=1)
    refresh_batch(after=0, today=later, now=NOW + timedelta(days=1))
    assert stored() == {("Ash", "nails", later), ("Cedar", "nails", later)}


def test_other_sources_keep_their_rows(nails: Nails, three: list[Patient]) -> None:
    CallBack.objects.create(
        patient=three[0], source="missed", key="visit:1", label="Missed visit", due_on=TODAY, refreshed_at=NOW
    )
    nails.rows_of["Ash"] = []
    refresh_patient(patient_id=three[0].pk, today=TODAY, now=NOW)
    assert stored() == {("Ash", "visit:1", TODAY)}


def test_a_batch_is_bounded_and_the_next_goes_on_behind_it(nails: Nails, three: list[Patient]) -> None:
    batch = refresh_batch(after=0, today=TODAY, now=NOW, size=2)
    assert (batch.done, batch.last) == (2, three[1].pk)
    batch = refresh_batch(after=three[1].pk, today=TODAY, now=NOW, size=2)
    assert (batch.done, batch.last) == (1, three[2].pk)
    assert refresh_batch(after=three[2].pk, today=TODAY, now=NOW, size=2).last is None


def test_one_broken_record_stands_in_nobodys_way_and_is_named(nails: Nails, three: list[Patient]) -> None:
    refresh_batch(after=0, today=TODAY, now=NOW)
    nails.broken.add("Birch")
    later = TODAY + timedelta(days=1)
    batch = refresh_batch(after=0, today=later, now=NOW)
    assert [(key, str(error)) for key, error in batch.failed] == [(three[1].pk, "Birch")]
    assert batch.done == 2
    assert stored() == {("Ash", "nails", later), ("Birch", "nails", TODAY), ("Cedar", "nails", later)}


@pytest.mark.parametrize(
    "fields", [{"deceased_on": TODAY, "deceased_how": "died"}, {"left_practice_on": TODAY}]
)
def test_nobody_is_called_back_for_one_that_died_or_left(
    nails: Nails, three: list[Patient], fields: dict
) -> None:
    """Common practice."""
    refresh_batch(after=0, today=TODAY, now=NOW)
    Patient.objects.filter(pk=three[0].pk).update(**fields)
    refresh_patient(patient_id=three[0].pk, today=TODAY, now=NOW)
    assert {name for name, _, _ in stored()} == {"Birch", "Cedar"}
    Patient.objects.filter(pk=three[1].pk).update(**fields)
    assert forget_gone() == 1
    assert {name for name, _, _ in stored()} == {"Cedar"}


# --- The chain of jobs --------------------------------------------------------------------------------------


def waiting() -> list[dict]:
    rows = ProcrastinateJob.objects.filter(task_name__endswith="refresh_call_backs_after", status="todo")
    return list(rows.order_by("id").values_list("args", flat=True))


def test_a_night_begins_at_the_first_patient_and_waits_once(nails: Nails) -> None:
    tasks.refresh_call_backs(timestamp=0)
    tasks.refresh_call_backs(timestamp=0)
    assert waiting() == [{"after": 0, "day": timezone.localdate().isoformat()}]


def test_each_batch_calls_the_next_until_nobody_is_left(
    nails: Nails, three: list[Patient], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(refreshing.refresh_batch, "__kwdefaults__", {"size": 2})
    day = timezone.localdate().isoformat()
    after, jobs = 0, 0
    while True:
        tasks.refresh_call_backs_after(after=after, day=day)
        jobs += 1
        if len(waiting()) < jobs:
            break
        after = waiting()[-1]["after"]
    assert [each["after"] for each in waiting()] == [three[1].pk, three[2].pk]
    assert CallBack.objects.count() == 3


def test_yesterdays_chain_ends(nails: Nails, three: list[Patient]) -> None:
    tasks.refresh_call_backs_after(after=0, day="2020-01-01")
    assert not CallBack.objects.exists()
    assert waiting() == []


def test_a_broken_record_fails_its_job_after_the_next_was_called(nails: Nails, three: list[Patient]) -> None:
    nails.broken.add("Birch")
    with pytest.raises(tasks.NotReckoned):
        tasks.refresh_call_backs_after(after=0, day=timezone.localdate().isoformat())
    assert [each["after"] for each in waiting()] == [three[2].pk]
    assert CallBack.objects.count() == 2


def test_the_rooms_that_fill_it_are_registered() -> None:
    assert "dues" in {source.name for source in call_back_sources}
