"""What is stored of the dues: the same as the core says, written anew on every change, and only then."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection, transaction
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from procrastinate.contrib.django.models import ProcrastinateJob

from clinic.callbacks import tasks as clinic_tasks
from clinic.callbacks.models import CallBack, CallBackWas
from clinic.callbacks.refreshing import refresh_batch, refresh_patient
from clinic.care import actions as care
from clinic.models import Patient
from clinic.patients.actions import animals, lasting
from clinic.visits.actions import places
from preventive import actions, tasks
from preventive.actions.dues import refresh_many, refresh_stale
from preventive.call_backs import SOURCE, differences, holds_until, rows_of, stale
from preventive.facts import NO_PRODUCT, DoseSource, History
from preventive.item_page import item_page
from preventive.models import Dose, LifeFact, Reckoning, Supply, TreatmentGiven
from preventive.schedule import due_items
from preventive.versions import protocol_in_force
from tests import people
from tests.examples import examples
from tests.people import NOW, TODAY
from tests.preventive.build import dog, history, rabies, under
from tests.preventive.histories import ON, lives
from tests.preventive.room import room

pytestmark = pytest.mark.django_db


@pytest.fixture
def puppy():
    return room()


def stored(patient):
    return list(
        CallBack.objects.filter(patient=patient, source=SOURCE)
        .order_by("key")
        .values_list("key", "label", "due_on", "latest_on")
    )


def same(patient, on=TODAY):
    return differences([Patient.objects.get(pk=patient.pk)], today=on) == []


def work():
    """Run what waits of this patient's reckoning, as a worker would."""
    done = ProcrastinateJob.objects.filter(task_name=clinic_tasks.TASK, status="todo")
    ids = {job.args["patient_id"] for job in done}
    for patient_id in ids:
        refresh_patient(patient_id=patient_id, today=TODAY, now=NOW)
    return ids


# --- The cache equals the core -----------------------------------------------------------------------------


@given(lives())
def test_rows_stand_as_they_are_until_the_day_that_is_named(life):
    """What a night leaves out would have been written the same."""
    who, what = life
    dues = due_items(who, what, under(), ON)
    ends = holds_until(dues, ON) or ON + timedelta(days=400)
    last = ends - timedelta(days=1)
    assert rows_of(due_items(who, what, under(), last), last) == rows_of(dues, ON)


def test_what_was_reckoned_before_is_kept_with_the_change_itself(puppy):
    """Old answers are kept, and nobody changes them (a house rule)."""
    refresh_many(ids=[puppy.patient.pk], today=TODAY, now=NOW)
    first = {each: due_on for each, _, due_on, _ in stored(puppy.patient)}
    key = next(each for each in first if "rabies" in each)
    kept = CallBackWas.objects.count()
    refresh_many(ids=[puppy.patient.pk], today=TODAY, now=NOW)
    assert CallBackWas.objects.count() == kept  # the same answer is no other one
    later = NOW + timedelta(days=1)
    CallBack.objects.filter(patient=puppy.patient, key=key).update(
        due_on=TODAY + timedelta(days=3), refreshed_at=later
    )
    was = CallBackWas.objects.get(key=key, until=later)
    assert (was.due_on, was.written_at) == (first[key], NOW)
    CallBack.objects.filter(patient=puppy.patient).delete()
    assert CallBackWas.objects.filter(key=key).first().due_on == TODAY + timedelta(days=3)
    shown = item_page(puppy.patient, key, today=TODAY, on=TODAY)
    assert len(shown.earlier) == CallBackWas.objects.filter(key=key).count()
    with pytest.raises(DatabaseError), transaction.atomic():
        CallBackWas.objects.update(due_on=TODAY)


SOURCES = {DoseSource.HERE: "outside", DoseSource.OUTSIDE: "outside", DoseSource.OWNER: "owner"}


def lay(life, owner, staff):
    """The rows of a random life, as entered from elsewhere."""
    animal, what = life
    birth = animal.birth.day if animal.birth else None
    patient = people.patient(
        "Random",
        of=owner,
        species=animal.species.value,
        birth_date=birth.value if birth else None,
        birth_precision=birth.precision.value if birth else "",
    )
    entered = {"patient": patient, "entered_by": staff, "entered_at": NOW}
    for dose in what.doses:
        Dose.objects.create(
            antigens=list(dose.antigens), given_on=dose.given.value, precision=dose.given.precision.value,
            route=dose.route.value, source=SOURCES[dose.source], proof=dose.proof, lot=dose.lot, **entered,
        )  # fmt: skip
    for each in what.supplies:
        Supply.objects.create(
            product_name=each.product, form="chew", protects=sorted(each.protects), count=each.count,
            first_on=each.first_on, interval=str(each.interval), **entered,
        )  # fmt: skip
    told = [
        ("stage", animal.stage),
        ("lifespan", animal.lifespan_years and str(int(animal.lifespan_years))),
        ("acquired", animal.acquired_on and animal.acquired_on.isoformat()),
        ("exposure", animal.last_exposure_on and animal.last_exposure_on.isoformat()),
        ("weaned", animal.weaned_on and animal.weaned_on.isoformat()),
    ]
    for code, value in told:
        if value:
            LifeFact.objects.create(code=code, value=value, **entered)
    for each in what.treatments:
        TreatmentGiven.objects.create(kind=each.kind, on=each.on, **entered)
    for code in sorted(animal.conditions):
        patient.conditions.create(
            code=code, since=ON - timedelta(days=9), until=ON, entered_by=staff, entered_at=NOW
        )
    return patient


# each life is rolled back
@settings(max_examples=examples(15), suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(lives(), st.integers(1, 120))
def test_for_random_histories_what_is_stored_equals_the_core_on_every_night(puppy, life, ahead):
    """Reckoned once, then only on the nights that the answer itself names: and never is it another."""
    with transaction.atomic():
        _nights(lay(life, puppy.patient.owners.get(), puppy.people.clinician), life, ahead)
        transaction.set_rollback(True)


def _nights(patient, life, ahead):
    who, what = as_laid(life)
    for on in (ON, ON + timedelta(days=ahead)):
        if stale(protocol_in_force(), today=on).filter(pk=patient.pk).exists():
            refresh_many(ids=[patient.pk], today=on, now=NOW)
        now = replace(who, conditions=who.conditions if on == ON else frozenset())
        expected = rows_of(due_items(now, what, protocol_in_force(), on), on)
        assert stored(patient) == sorted((row.key, row.label, row.due_on, row.latest_on) for row in expected)
        assert differences([patient], today=on) == []


def as_laid(life):
    """What of the random life stands in rows: no label of a product, no dose given here."""
    animal, what = life
    doses = tuple(
        replace(
            dose,
            product=NO_PRODUCT,
            source=DoseSource.OWNER if dose.source is DoseSource.OWNER else DoseSource.OUTSIDE,
        )
        for dose in what.doses
    )
    who = replace(animal, lifestyle=(), size="", chipped_on=None)
    return who, History(doses=doses, supplies=what.supplies, treatments=what.treatments)


# --- Written anew on every change ---------------------------------------------------------------------------


def changed(puppy, change):
    """The change, what the worker then does, and whether stored and core agree afterwards."""
    actions.refresh_call_backs(patient=puppy.patient, today=TODAY, now=NOW)
    before = stored(puppy.patient)
    change()
    assert work() == {puppy.patient.pk}
    assert same(puppy.patient)
    return before != stored(puppy.patient)


def by(puppy, role="clinician"):
    return {"actor": puppy.actor(role), "now": NOW, "patient": puppy.patient}


def test_a_birth_date_put_right(puppy):
    earlier = TODAY - timedelta(weeks=30)
    assert changed(puppy, lambda: animals.change_patient(birth_date=earlier, **by(puppy)))


def test_another_species(puppy):
    assert changed(puppy, lambda: animals.change_patient(species="cat", **by(puppy)))


def test_the_size_it_will_have(puppy):
    assert changed(puppy, lambda: animals.change_patient(expected_adult_kg=Decimal(40), **by(puppy)))


def test_a_new_colour_is_nothing_to_reckon(puppy):
    animals.change_patient(colour="red", **by(puppy))
    assert work() == set()


def test_an_answer_about_the_way_of_life(puppy):
    assert changed(
        puppy,
        lambda: lasting.answer_lifestyle(code="boarding", answer="yes", review_on=TODAY, **by(puppy)),
    )


def test_a_condition_that_begins_and_the_day_after_it_ended(puppy):
    animals.change_patient(species="cat", **by(puppy))
    work()
    assert changed(puppy, lambda: lasting.set_condition(code="felv_positive", **by(puppy)))
    held = stored(puppy.patient)
    lasting.end_condition(code="felv_positive", **by(puppy))
    work()
    assert stored(puppy.patient) == held  # it holds to the end of today
    tomorrow = TODAY + timedelta(days=1)
    assert Reckoning.objects.get(patient=puppy.patient).holds_until == tomorrow
    refresh_stale(today=tomorrow, now=NOW, size=10)
    assert stored(puppy.patient) != held
    assert same(puppy.patient, tomorrow)


def test_a_result_and_its_being_struck_out(puppy):
    animals.change_patient(birth_date=date(2020, 3, 1), **by(puppy))
    work()
    test = care.order_test(
        actor=puppy.actor(), now=NOW, record=puppy.visit.record, kind="faecal", title="Faecal test"
    )
    made = []
    told = {"actor": puppy.actor(), "now": NOW, "test": test, "value": "negative", "meaning": "negative"}
    assert changed(puppy, lambda: made.append(care.enter_result(**told)))
    assert changed(
        puppy,
        lambda: care.strike_result(actor=puppy.actor(), now=NOW, result=made[0], reason="another dog's"),
    )


def test_an_examination_that_ends_with_going_home(puppy):
    assert changed(puppy, lambda: places.go_home(visit=puppy.visit, actor=puppy.actor(), now=NOW))


def test_a_microchip(puppy):
    changed(puppy, lambda: animals.add_microchip(number="985112345678903", **by(puppy)))


def test_a_dose_a_supply_and_a_word_of_the_owner_are_reckoned_at_once(puppy):
    actions.refresh_call_backs(patient=puppy.patient, today=TODAY, now=NOW)
    for change in (
        puppy.give,
        puppy.hand_out,
        lambda: actions.decline(visit=puppy.visit, code="dog_leptospira", reason="cost", **by(puppy)),
        lambda: actions.hold(code="rabies", reason="swelling", **by(puppy)),
    ):
        before = stored(puppy.patient)
        change()
        assert stored(puppy.patient) != before
        assert same(puppy.patient)


# --- A night and a change of the protocol -------------------------------------------------------------------


def test_only_who_is_not_reckoned_or_no_longer_holds_is_reckoned_anew(puppy):
    other = people.patient("Sorrel", of=puppy.patient.owners.first(), birth_date=date(2020, 3, 1))
    assert set(refresh_stale(today=TODAY, now=NOW, size=10)) == {puppy.patient.pk, other.pk}
    assert refresh_stale(today=TODAY, now=NOW, size=10) == []
    first = min(row.holds_until for row in Reckoning.objects.exclude(holds_until=None))
    assert refresh_stale(today=first - timedelta(days=1), now=NOW, size=10) == []
    assert refresh_stale(today=first, now=NOW, size=10)


def test_after_another_protocol_everybody_is_reckoned_and_a_chain_goes_on_where_it_was_left(
    puppy, monkeypatch
):
    queued = []
    monkeypatch.setattr(tasks, "queue_all_dues", lambda after=0: queued.append(after))
    monkeypatch.setattr(tasks, "AT_ONCE", 2)
    owner = puppy.patient.owners.first()
    for number in range(3):
        people.patient(f"N{number}", of=owner, birth_date=date(2020, 3, 1))
    refresh_stale(today=people.TODAY, now=NOW, size=10)
    Reckoning.objects.update(protocol="0" * 64)
    tasks.refresh_dues(after=0)
    assert len(queued) == 1
    tasks.refresh_dues(after=0)  # as after a crash: what is done is not done again
    tasks.refresh_dues(after=queued[-1])
    assert not Reckoning.objects.filter(protocol="0" * 64).exists()


def test_one_broken_record_is_named_and_stands_in_nobodys_way(puppy, monkeypatch):
    other = people.patient("Sorrel", of=puppy.patient.owners.first(), birth_date=date(2020, 3, 1))
    whole = tasks.refresh_many

    def breaks(*, ids, **facts):
        if puppy.patient.pk in ids:
            raise ValueError(ids)
        return whole(ids=ids, **facts)

    monkeypatch.setattr(tasks, "refresh_many", breaks)
    monkeypatch.setattr("preventive.actions.dues.refresh_many", breaks)
    with pytest.raises(tasks.NotReckoned, match=str(puppy.patient.pk)):
        tasks.refresh_dues(after=0)
    assert set(Reckoning.objects.values_list("patient", flat=True)) == {other.pk}


def test_the_clinics_own_night_leaves_to_the_room_what_the_room_keeps(puppy):
    refresh_batch(after=0, today=TODAY, now=NOW)
    assert not CallBack.objects.filter(source=SOURCE).exists()


def test_many_are_reckoned_with_as_many_queries_as_one(puppy):
    owner = puppy.patient.owners.first()
    ids = [
        people.patient(f"N{number}", of=owner, birth_date=TODAY - timedelta(days=400 + number)).pk
        for number in range(20)
    ]
    protocol_in_force()

    def queries(some):
        with CaptureQueriesContext(connection) as asked:
            refresh_many(ids=some, today=TODAY, now=NOW)
        return len(asked)

    assert queries(ids) == queries([puppy.patient.pk])


# --- The check ----------------------------------------------------------------------------------------------


def test_the_check_names_what_differs_and_mends_it_only_when_told(puppy, monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)
    actions.refresh_call_backs(patient=puppy.patient, today=TODAY, now=NOW)
    said = StringIO()
    call_command("check_dues", stdout=said)
    assert "1 animals, 0 rows that differ." in said.getvalue()
    row = CallBack.objects.filter(source=SOURCE).first()
    CallBack.objects.filter(pk=row.pk).update(due_on=row.due_on + timedelta(days=1))
    CallBack.objects.create(
        patient=puppy.patient, source=SOURCE, key="nothing", label="Nothing", due_on=TODAY, refreshed_at=NOW
    )
    said = StringIO()
    with pytest.raises(CommandError, match="2 rows that differ"):
        call_command("check_dues", stdout=said)
    assert f"patient {puppy.patient.pk}, nothing: stored {TODAY.isoformat()}" in said.getvalue()
    call_command("check_dues", mend=True, stdout=StringIO())
    assert same(puppy.patient)


def test_what_is_long_due_by_age_alone_is_never_recorded_rather_than_overdue():
    """Ours: after a year without any record nobody knows. A puppy that is late is simply late."""
    old = rows_of(due_items(dog("2010-01-05"), history(), under(), ON), ON)
    assert any(row.never for row in old)
    assert all(row.never == (row.due_on <= ON - timedelta(days=365)) for row in old)
    puppy = rows_of(due_items(dog("2025-10-20"), history(), under(), ON), ON)
    assert puppy
    assert not any(row.never for row in puppy)
    given = rows_of(due_items(dog("2010-01-05"), history(rabies("2012-05-01")), under(), ON), ON)
    assert not next(row for row in given if row.key == "rabies").never
