"""A death and what ends with it; what the database itself refuses."""

from dataclasses import replace
from datetime import timedelta

import pytest
from django.db import DatabaseError, IntegrityError, transaction

from clinic.death import actions
from clinic.death.errors import DiedBefore, PromisesOpen, Unfit
from clinic.models import (
    BodyDecision,
    BookingChange,
    CallBack,
    Death,
    MedicineStop,
    NextVisit,
    Patient,
    Problem,
    PromiseStep,
    Visit,
)
from clinic.people.actor import NotAllowed
from clinic.platform.registries import endings
from clinic.promises.queries import find_promise, open_promises
from clinic.visits import actions as visits
from clinic.visits.errors import DeathHasFacts, SentBefore
from tests import death, letters, people

pytestmark = pytest.mark.django_db


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def pomfret(house: people.People) -> Patient:
    return people.patient()


def fresh(patient: Patient) -> Patient:
    return Patient.objects.get(pk=patient.pk)


def answers(patient: Patient, to=None) -> dict:
    return {each.name: to for each in open_promises(patient=patient)}


def test_what_ends_with_a_life_is_registered():
    assert endings.names() == ["bookings", "call-backs", "reminders", "messages", "medicines", "problems"]


# --- The facts ------------------------------------------------------------------------------------------


def test_a_euthanasia_with_its_facts(house, pomfret):
    visit = people.visit_here(pomfret, clinician=house.clinician)
    people.weigh(visit, "22.4", by=house.technician)
    facts = death.asleep(house.clinician, no_weight_reason="", identity="staff")
    made = death.die(pomfret, facts=facts, actor=house.actor("clinician"))
    assert (fresh(pomfret).deceased_on, fresh(pomfret).deceased_how) == (people.TODAY, "euthanised")
    visit.refresh_from_db()
    assert (visit.place, visit.outcome, made.visit_id) == ("gone-home", "euthanised", visit.pk)
    assert (str(made.weight.typed), made.no_weight_reason) == ("22.400", "")
    assert made.body_decisions.get().what == "private"
    assert made.consent_at < made.died_at < made.entered_at  # Texas 22 TAC 573.52


CASES = [
    ("consent_by", {"consent": None}),
    ("at", {"at": None}),
    ("certified_by", {"certified_by": None}),
    ("identity", {"identity": "not-seen"}),
    ("identity", {"identity": "chip"}),
    ("no_weight_reason", {"no_weight_reason": " "}),
    ("on", {"on": people.TODAY + timedelta(days=1)}),
    ("on", {"on": people.TODAY.replace(year=2001)}),
]


@pytest.mark.parametrize(("field", "other"), CASES)
def test_what_a_euthanasia_needs(house, pomfret, field, other):
    """Consent: AVMA, Owner Consent. The rest: common practice."""
    with pytest.raises(Unfit) as refused:
        death.die(pomfret, facts=death.asleep(house.clinician, **other), actor=house.actor("clinician"))
    assert refused.value.field == field
    assert fresh(pomfret).deceased_on is None


GIVEN = [
    ("consent_by", {"given_by": " "}),
    ("consent_as", {"given_as": ""}),
    ("consent_how", {"how": ""}),
    ("consent_at", {"at": None}),
    ("consent_at", {"at": people.NOW}),
    ("consent_taken_by", {"taken_by": None}),
    ("consent_witness", {"how": "person"}),
    ("consent_second", {"how": "telephone"}),
]


@pytest.mark.parametrize(("field", "other"), GIVEN)
def test_what_a_consent_needs(house, pomfret, field, other):
    given = death.consent(house.clinician, **other)
    facts = death.asleep(house.clinician, consent=given)
    with pytest.raises(Unfit) as refused:
        death.die(pomfret, facts=facts, actor=house.actor("clinician"))
    assert refused.value.field == field


def test_one_person_alone_hears_no_consent_by_telephone(house, pomfret):
    given = death.consent(house.clinician, how="telephone", second=house.clinician)
    with pytest.raises(Unfit, match="name the other one"):
        death.die(pomfret, facts=death.asleep(house.clinician, consent=given), actor=house.actor("clinician"))


def test_only_a_clinician_certifies(house, pomfret):
    with pytest.raises(NotAllowed):
        death.die(pomfret, facts=death.asleep(house.clinician), actor=house.actor("technician"))
    facts = death.asleep(house.clinician, certified_by=house.technician)
    with pytest.raises(Unfit, match="Name the clinician"):
        death.die(pomfret, facts=facts, actor=house.actor("clinician"))


def test_what_the_owner_tells_may_be_noted_at_the_desk(house, pomfret):
    """Reminders stop at once: common practice."""
    made = death.die(pomfret, actor=house.actor("assistant"))
    assert (made.told_by, made.no_weight_reason) == ("Henrike Dovale", "not seen by us")
    with pytest.raises(Unfit, match="who told us"):
        death.die(people.patient("Ludo"), facts=death.told(told_by=""), actor=house.actor("assistant"))


def test_a_death_is_recorded_once(house, pomfret):
    death.die(pomfret, actor=house.actor("clinician"))
    with pytest.raises(DiedBefore):
        death.die(pomfret, actor=house.actor("colleague"))
    assert Death.objects.count() == 1


def test_a_double_tap_records_once(house, pomfret):
    from uuid import uuid4

    once = uuid4()
    death.die(pomfret, actor=house.actor("clinician"), once=once)
    with pytest.raises(SentBefore):
        death.die(pomfret, actor=house.actor("clinician"), once=once)


def test_going_home_is_no_way_to_die(house, pomfret):
    visit = people.visit_here(pomfret)
    with pytest.raises(DeathHasFacts):
        visits.go_home(visit=visit, outcome="died", actor=house.actor("clinician"), now=people.NOW)


# --- The database ---------------------------------------------------------------------------------------


def row(house, pomfret, **other):
    by = house.clinician
    facts = {
        "patient": pomfret, "how": "euthanised", "died_on": people.TODAY,
        "died_at": people.NOW, "certified_by": by, "consent_by": "Henrike Dovale", "consent_as": "owner",
        "consent_how": "paper", "consent_at": people.NOW, "consent_taken_by": by, "identity": "owner",
        "no_weight_reason": "none", "owner_knows": True, "by": by, "entered_at": people.NOW,
    }  # fmt: skip
    return Death.objects.create(**(facts | other))


REFUSED = [
    ("no_euthanasia_without_consent", {"consent_by": ""}),
    ("no_euthanasia_without_consent", {"consent_as": ""}),
    ("no_euthanasia_without_consent", {"consent_how": ""}),
    ("no_euthanasia_without_consent", {"consent_at": None}),
    ("no_euthanasia_without_consent", {"consent_taken_by": None}),
    ("no_euthanasia_without_consent", {"died_at": None}),
    ("consent_is_for_a_euthanasia", {"how": "died-here"}),
    ("a_consent_in_person_has_a_witness", {"consent_how": "person"}),
    ("a_consent_by_telephone_is_heard_by_two", {"consent_how": "telephone"}),
    ("consent_comes_before_the_death", {"consent_at": people.NOW + timedelta(seconds=1)}),
    ("a_death_happened_before_it_was_entered", {"died_at": people.NOW + timedelta(seconds=1)}),
    ("a_death_is_certified_or_told", {"certified_by": None}),
    ("who_died_here_was_looked_at", {"identity": "not-seen"}),
    ("a_weight_or_why_none", {"no_weight_reason": ""}),
    ("a_death_is_taken_back_with_a_reason", {"struck_at": people.NOW}),
]


@pytest.mark.parametrize(("name", "other"), REFUSED)
def test_the_database_refuses(house, pomfret, name, other):
    with pytest.raises(IntegrityError, match=name):
        row(house, pomfret, **other)


def test_the_same_colleague_twice_is_no_second_one(house, pomfret):
    with pytest.raises(IntegrityError, match="heard_by_two"):
        row(house, pomfret, consent_how="telephone", consent_second=house.clinician)


def test_a_patient_dies_once_in_the_database_too(house, pomfret):
    row(house, pomfret)
    with pytest.raises(IntegrityError, match="a_patient_dies_once"):
        row(house, pomfret)


def test_a_death_is_frozen_but_for_being_struck_out(house, pomfret):
    made = death.die(pomfret, actor=house.actor("clinician"))
    for change in (
        lambda: Death.objects.update(told_by="somebody else"),
        lambda: BodyDecision.objects.update(what="burial"),
        lambda: BodyDecision.objects.all().delete(),
        lambda: Death.objects.filter(pk=made.pk)._raw_delete("default"),
    ):
        with pytest.raises(DatabaseError, match="is refused"), transaction.atomic():
            change()
    actions.take_back(death=made, why="the other dog", actor=house.actor("clinician"), now=people.NOW)
    assert Death.objects.get().struck_reason == "the other dog"


# --- What ends ------------------------------------------------------------------------------------------


def test_everything_planned_ends_in_words():
    case = letters.sore_ear()
    me = case.me
    CallBack.objects.create(
        patient=case.patient,
        source="dues",
        key="x",
        label="Rabies",
        due_on=people.TODAY,
        refreshed_at=people.NOW,
    )
    booked = visits.book(patient=case.patient, expected_at=people.NOW, booked_for="nails", **me)
    made = death.die(case.patient, promised=answers(case.patient), actor=case.actor())
    booked.refresh_from_db()
    assert booked.place == "cancelled"
    assert NextVisit.objects.get().state == "cancelled"
    assert set(BookingChange.objects.values_list("why", flat=True)) == {"Ludo died on 11 March 2026"}
    assert not CallBack.objects.exists()
    assert MedicineStop.objects.get().why == "Ludo died on 11 March 2026"
    assert {each.closed_reason for each in Problem.objects.all()} == {"Ludo died on 11 March 2026"}
    told = {each["title"]: each["lines"] for each in made.ended}
    assert told["Medicines in use"] == ["Millrace ear drops"]
    assert told["Dues and call-backs"] == ["Rabies, 11 March 2026"]
    assert told["Open problems"] == ["Left ear", "Overweight"]


def test_each_promise_is_closed_by_the_death_or_goes_to_a_clinician():
    case = letters.sore_ear()
    standing = open_promises(patient=case.patient)
    assert len(standing) >= 2
    with pytest.raises(PromisesOpen) as refused:
        death.die(case.patient, actor=case.actor())
    assert refused.value.names == [each.what for each in standing]
    assert fresh(case.patient).deceased_on is None
    first, *others = standing
    promised = {first.name: case.people.clinician} | dict.fromkeys(each.name for each in others)
    death.die(case.patient, promised=promised, actor=case.actor())
    (kept,) = open_promises(patient=case.patient)
    assert (kept.what, kept.who) == (first.what, case.people.clinician.full_name)
    closed = PromiseStep.objects.filter(what="closed")
    assert {(each.source, each.key) for each in closed} == {each.name for each in others}
    assert {each.words for each in closed} == {"Ludo died on 11 March 2026"}


def test_a_promise_for_the_dead_without_an_event_is_still_there(house, pomfret):
    line = people.visit_here(pomfret).record.plan_lines.create(
        kind="call",
        text="call",
        answerable=house.clinician,
        due_on=people.TODAY,
        by=house.clinician,
        at=people.NOW,
    )
    Patient.objects.filter(pk=pomfret.pk).update(deceased_on=people.TODAY, deceased_how="died")
    assert [each.key for each in open_promises(patient=pomfret)] == [str(line.pk)]


def test_an_undecided_body_and_an_owner_who_does_not_know_are_promises(house, pomfret):
    facts = replace(death.asleep(house.clinician, body="undecided"), owner_knows=False)
    made = death.die(pomfret, facts=facts, actor=house.actor("clinician"))
    assert [(each.key, each.who) for each in open_promises(patient=pomfret)] == [
        (f"owner-{made.pk}", "Dr Maren Oduya"),
        (f"body-{made.pk}", "Dr Maren Oduya"),
    ]
    actions.decide_body(
        death=made, what="communal", said_by="Henrike Dovale", actor=house.actor("assistant"), now=people.NOW
    )
    assert [each.key for each in open_promises(patient=pomfret)] == [f"owner-{made.pk}"]
    closed = PromiseStep.objects.get()
    assert (closed.outcome, closed.words) == ("done", "cremation with others, said Henrike Dovale")


def test_after_an_examination_it_is_asked_again(house, pomfret):
    facts = death.asleep(house.clinician, body="examine")
    made = death.die(pomfret, facts=facts, actor=house.actor("clinician"))
    found = find_promise("death", f"body-{made.pk}", actor=house.actor("clinician"))
    assert found
    assert found.what == "ask what is to be done with Pomfret’s body after the examination"


def test_nothing_is_booked_or_planned_after_it(house, pomfret):
    stale = Patient.objects.get(pk=pomfret.pk)  # a page that was opened before
    death.die(pomfret, actor=house.actor("clinician"))
    from clinic.visits.errors import HasDied

    with pytest.raises(HasDied):
        visits.book(
            patient=stale,
            expected_at=people.NOW,
            booked_for="x",
            actor=house.actor("clinician"),
            now=people.NOW,
        )


# --- Taken back -----------------------------------------------------------------------------------------


def test_a_death_taken_back_brings_nothing_back_by_itself():
    case = letters.sore_ear()
    case.freeze()
    made = death.die(case.patient, promised=answers(case.patient), actor=case.actor())
    actions.take_back(death=made, why="wrong dog", actor=case.actor("colleague"), now=people.NOW)
    patient = fresh(case.patient)
    assert (patient.deceased_on, patient.deceased_how) == (None, "")
    assert Visit.objects.get().outcome == ""
    assert NextVisit.objects.get().state == "cancelled"
    assert not Problem.objects.filter(closed_at=None).exists()
    assert case.record.letters.get().messages.get().state == "held"
    death.die(case.patient, actor=case.actor())  # and can be recorded again


def test_a_death_taken_back_closes_what_it_promised(house, pomfret):
    made = death.die(pomfret, facts=death.told(body="undecided"), actor=house.actor("clinician"))
    actions.take_back(death=made, why="wrong dog", actor=house.actor("clinician"), now=people.NOW)
    assert open_promises(patient=pomfret) == []
    assert PromiseStep.objects.get().words == "the death was entered wrongly: wrong dog"


def test_only_a_clinician_takes_it_back_and_says_why(house, pomfret):
    made = death.die(pomfret, actor=house.actor("assistant"))
    with pytest.raises(NotAllowed):
        actions.take_back(death=made, why="x", actor=house.actor("assistant"), now=people.NOW)
    with pytest.raises(Unfit):
        actions.take_back(death=made, why=" ", actor=house.actor("clinician"), now=people.NOW)
