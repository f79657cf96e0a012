"""What a record holds, who may write in it and how it is put right: each rule by its published source."""

from datetime import timedelta

import pytest
from django.db import models

from clinic.care import actions as care
from clinic.letters.composition import compose
from clinic.letters.document import sentences
from clinic.models import (
    Addendum,
    Assessment,
    Contact,
    HistoryAnswer,
    LetterFile,
    Medicine,
    Owner,
    Patient,
    PlanLine,
    Problem,
    Record,
    TestResult,
    Visit,
)
from clinic.people.actor import NotAllowed
from clinic.people.rights import TABLE, Right, Role
from clinic.visits.actions import add_addendum, sign
from exams.models import Finding
from tests import people

A, T, C = Role.ASSISTANT, Role.TECHNICIAN, Role.CLINICIAN

# what a record must hold, by the rule that asks for it: where this house keeps it
CONTENT = [
    (
        "client name, address",
        Owner,
        ("family_name", "street", "city"),
        "Texas 22 TAC 573.52; 16 CCR 2032.3(b)",
    ),
    ("patient", Patient, ("name", "species", "breed", "sex", "birth_date"), "Texas 22 TAC 573.52"),
    ("dates of visits, complaint", Visit, ("arrived_at", "owners_words"), "Texas; Virginia 18VAC150-20-195"),
    ("history", HistoryAnswer, ("topic", "answer", "words"), "Virginia 18VAC150-20-195"),
    ("findings", Finding, ("status", "findings", "person"), "Virginia 18VAC150-20-195; 16 CCR 2032.3(b)"),
    (
        "tests and results",
        TestResult,
        ("value", "unit", "interval", "resulted_at"),
        "RCVS 13.1",
    ),
    ("assessment", Assessment, ("text", "certainty", "by", "at"), "RCVS 13.1; Texas 22 TAC 573.52"),
    (
        "treatments, drug details",
        Medicine,
        ("name", "ingredients", "strength", "dose", "route", "times", "quantity", "refills", "prescriber"),
        "RCVS 13.1; Texas 22 TAC 573.52",
    ),
    (
        "advice, phone notes, estimates, consents",
        Contact,
        ("kind", "with_whom", "text", "happened_at"),
        "RCVS 13.1",
    ),
    ("consents given or withheld", PlanLine, ("consent_by", "consent_how", "declined_why"), "RCVS 13.1"),
    ("veterinarian who did or supervised", Record, ("signed_by", "signed_name"), "Texas 22 TAC 573.52"),
]


@pytest.mark.parametrize(("what", "model", "fields", "source"), CONTENT, ids=[row[0] for row in CONTENT])
def test_a_record_holds(what: str, model: type[models.Model], fields: tuple[str, ...], source: str) -> None:
    assert source
    assert set(fields) <= {field.name for field in model._meta.get_fields()}, what


# Maryland COMAR 15.14.13.13, Maine 32 MRS 4866, AVMA technology policy; the rest is common practice
@pytest.mark.parametrize(
    ("task", "right", "who"),
    [
        ("weight, temperature, pulse, respiration", Right.MEASURE, {A, T, C}),
        ("history, owner reports", Right.TAKE_HISTORY, {A, T, C}),
        ("visible findings as observation", Right.OBSERVE, {T, C}),
        ("severity or grade that implies a diagnosis", Right.GRADE, {C}),
        ("diagnosis, prognosis", Right.ASSESS, {C}),
        ("prescription", Right.PRESCRIBE, {C}),
        ("sign exam, release letter", Right.SIGN, {C}),
        ("amend any entry, with a reason", Right.AMEND_ANY, {C}),
    ],
)
def test_who_may(task: str, right: Right, who: set[Role]) -> None:
    assert TABLE[right] & {A, T, C} == who, task


@pytest.fixture
def house(db) -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def me(house) -> dict:
    return {"actor": house.actor("clinician"), "now": people.NOW}


@pytest.fixture
def record(house) -> Record:
    visit = people.visit_here(clinician=house.clinician, kind="telephone")
    record = visit.record
    record.no_weight_reason = record.no_bcs_reason = "by telephone"
    record.save()
    return record


def test_an_entry_keeps_its_author_and_both_times(record, house, me) -> None:
    """Texas 22 TAC 573.52: a change not made at the time notes the time and date of the change."""
    record = sign(record=record, **me)
    later = people.NOW + timedelta(days=1)
    added = add_addendum(
        record=record, text="Ate again by noon.", happened_at=people.NOW, actor=me["actor"], now=later
    )
    assert (added.by, added.happened_at, added.entered_at) == (house.clinician, people.NOW, later)


def test_finding_problem_and_diagnosis_are_three_tables(record, house, me) -> None:
    """Problem-oriented record after Weed, as in McCurnin's Clinical Textbook for Veterinary Technicians."""
    assert len({Finding._meta.db_table, Problem._meta.db_table, Assessment._meta.db_table}) == 3
    with pytest.raises(NotAllowed):
        care.open_problem(
            patient=record.visit.patient,
            visit=record.visit,
            title="Red ear",
            actor=house.actor("technician"),
            now=people.NOW,
        )
    problem = care.open_problem(patient=record.visit.patient, visit=record.visit, title="Red ear", **me)
    assert not problem.assessments.exists(), "a problem is no diagnosis"


def test_a_decline_keeps_everything_that_is_asked_of_it(record, house, me) -> None:
    """AVMA, Owner Consent: what, why, risks, who explained, their words, date, signature, alternative."""
    problem = care.open_problem(patient=record.visit.patient, visit=record.visit, title="Lump", **me)
    line = care.add_plan_line(
        record=record,
        problem=problem,
        kind="test",
        text="Needle sample of the lump",
        standing="declined",
        declined_why="“I would rather wait a month.”",
        risks_explained="a malignant lump is found later",
        explained_by=house.clinician,
        alternative="measure it every two weeks",
        come_back="at once when it grows",
        signed_by_owner=True,
        offer_again_on=people.TODAY + timedelta(days=30),
        **me,
    )
    kept = PlanLine.objects.get(pk=line.pk)
    assert (kept.text, kept.declined_why, kept.risks_explained, kept.explained_by, kept.at) == (
        "Needle sample of the lump",
        "“I would rather wait a month.”",
        "a malignant lump is found later",
        house.clinician,
        people.NOW,
    )
    told = " ".join(each.text for each in sentences(compose(record, today=people.TODAY)))
    for words in (
        "declined today",
        "measure it every two weeks",
        "at once when it grows",
        "a malignant lump",
    ):
        assert words in told


def test_nothing_is_copied_from_the_last_visit_as_a_value(record, house, me) -> None:
    """AHRQ PSNet 2023, ACP Hospitalist 2017: copied text carries wrong history for years."""
    problem = care.open_problem(patient=record.visit.patient, visit=record.visit, title="Cough", **me)
    care.assess(problem=problem, record=record, text="bronchitis", for_owner="The airways are sore.", **me)
    sign(record=record, **me)
    record.visit.place, record.visit.gone_at = "home", people.NOW
    record.visit.save()
    again = people.visit_here(record.visit.patient, clinician=house.clinician).record
    assert not Assessment.objects.filter(record=again).exists()
    told = " ".join(each.text for each in sentences(compose(again, today=people.TODAY)))
    assert "airways are sore" not in told


def test_the_letter_is_made_of_recorded_things_only(record, me) -> None:
    """Common practice (a letter must not say more than the record): every sentence names its origin."""
    problem = care.open_problem(patient=record.visit.patient, visit=record.visit, title="Cough", **me)
    care.assess(problem=problem, record=record, text="bronchitis", for_owner="The airways are sore.", **me)
    assert all(each.origin for each in sentences(compose(record, today=people.TODAY)))


def test_nothing_signed_can_be_erased() -> None:
    """Maryland COMAR 15.14.01.10: a record is amended, not replaced. No cascade reaches a signed row."""
    signed = (Addendum, Assessment, Contact, LetterFile, Medicine, PlanLine, Record, TestResult)
    cascades = [
        f"{model.__name__}.{field.name}"
        for model in signed
        for field in model._meta.get_fields()
        if isinstance(field, models.ForeignKey) and field.remote_field.on_delete is not models.PROTECT
    ]
    assert cascades == []
