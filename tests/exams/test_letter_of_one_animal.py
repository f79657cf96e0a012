"""Whatever happened to two animals of one household, on one day and by the same people: nothing of the one
stands in the other's letter, neither in what is read nor in what is kept with it."""

import json
from collections.abc import Callable

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from clinic.care import actions as care
from clinic.care.directions import Directions
from clinic.letters.composition import compose
from clinic.letters.document import to_json
from clinic.letters.sheet import letter_html, mail_body
from clinic.models import HeadsUp, Microchip, Problem, Visit
from clinic.visits import actions as visits
from tests import letters, people
from tests.examples import examples
from tests.exams.house import exam_here
from tests.letters import TODAY, Case

pytestmark = pytest.mark.django_db

NAMES = ("Quendel", "Brimble")
CHIPS = ("900115000000017", "900115000000024")


def mark(name: str, what: str) -> str:
    """Words that only this animal's record has."""
    return f"{what} {name[::-1].lower()}"


def reason(case: Case, say: Callable[[str], str]) -> None:
    Visit.objects.filter(pk=case.visit.pk).update(owners_words=say("came for"))


def weight(case: Case, say: Callable[[str], str]) -> None:
    letters.weighed(case, "18.4" if case.patient.name == NAMES[0] else "27.9", 7, ((90, "17.3"),))


def found(case: Case, say: Callable[[str], str]) -> None:
    exam = exam_here(case.actor(), case.visit)
    exam.tap("EAR.canal|left", "set_abnormal", {"findings": [{"code": "EAR-03", "note": say("wax")}]})
    own = {"reason": "other", "reason_words": say("not seen")}
    exam.tap("EYE.conjunctiva|left", "set_not_examined", own)
    exam.all_normal("GEN")


def noticed(case: Case, say: Callable[[str], str]) -> None:
    staff = case.people.technician
    HeadsUp.objects.create(record=case.record, station="EAR", words=say("smells"), by=staff, at=people.NOW)


def opened(case: Case, title: str, *lines: str) -> Problem:
    return care.open_problem(patient=case.patient, visit=case.visit, title=title, lines=lines, **case.me)


def problem(case: Case, say: Callable[[str], str]) -> None:
    ear, me = opened(case, say("Ear"), "EAR.canal|left"), case.me
    care.assess(
        problem=ear, record=case.record, text=say("otitis"), certainty="differential",
        for_owner=say("It is sore"), **me,
    )  # fmt: skip
    care.add_plan_line(record=case.record, problem=ear, kind="home-care", text=say("Keep it dry"), **me)
    care.add_plan_line(
        record=case.record, problem=ear, kind="call", text=say("Ask"), answerable=case.people.colleague,
        due_on=TODAY, **me,
    )  # fmt: skip
    care.add_plan_line(
        record=case.record, problem=ear, kind="test", text=say("Swab"), standing="declined",
        declined_why=say("no"), risks_explained=say("risk"), explained_by=case.people.clinician, **me,
    )  # fmt: skip


def medicine(case: Case, say: Callable[[str], str]) -> None:
    drops = Directions(
        name=say("Millrace drops"), ingredients=("miconazole",), strength="10 mg in 1 ml",
        dose=say("5 drops"), route="into the ear", side="left", times="morning and evening",
        first_dose="this evening", last_dose="21 March 2026",
    )  # fmt: skip
    care.prescribe(
        record=case.record, problem=opened(case, say("Yeast")), directions=drops, how="dispensed",
        reason=say("yeast"), answers=[{"code": "ear-drum", "reason": "seen whole"}], **case.me,
    )  # fmt: skip


def sample(case: Case, say: Callable[[str], str]) -> None:
    care.send_out(
        record=case.record, problem=opened(case, say("Swab")), title=say("Culture"),
        for_owner=say("We took a swab"), answerable=case.people.colleague, due_on=TODAY, **case.me,
    )  # fmt: skip


def again(case: Case, say: Callable[[str], str]) -> None:
    visits.plan_next_visit(
        patient=case.patient, record=case.record, on=TODAY.replace(day=25), kind="full",
        reason=say("Recheck"), at=None, week_of=False, minutes=20, problem=None, **case.me,
    )  # fmt: skip


STEPS = (reason, weight, found, noticed, problem, medicine, sample, again)


def one(case: Case, name: str, steps: list) -> Case:
    for step in steps:
        step(case, lambda what: mark(name, what))
    case.visit.refresh_from_db()
    return case


def everything_of(case: Case) -> str:
    record = type(case.record).objects.select_related("visit__patient").get(pk=case.record.pk)
    told = compose(record, today=TODAY)
    kept = json.dumps(to_json(told), ensure_ascii=False)
    return "\n".join((kept, letter_html(told), mail_body(told)))


def trace_of(case: Case) -> tuple[str, ...]:
    """By what an animal is known in a text: its name, its number, the words of its record."""
    name = case.patient.name
    return name, CHIPS[NAMES.index(name)], name[::-1].lower()


happened = st.lists(st.sampled_from(STEPS), unique=True)


@settings(max_examples=examples(5), suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(happened, happened)
def test_nothing_of_another_animal_of_the_household_is_in_a_letter(first, second) -> None:
    with transaction.atomic():
        staff = people.people()
        people.clinic_details()
        owner = people.owner()
        cases = []
        for name, chip, steps in zip(NAMES, CHIPS, (first, second), strict=True):
            patient = people.patient(name, of=owner)
            Microchip.objects.create(
                patient=patient, number=chip, entered_by=staff.technician, entered_at=people.NOW
            )
            visit = people.visit_here(patient, clinician=staff.clinician)
            Visit.objects.filter(pk=visit.pk).update(technician=staff.technician)
            cases.append(one(Case(staff, patient, Visit.objects.get(pk=visit.pk)), name, steps))
        letters_of = [everything_of(case) for case in cases]
        for own, other in ((0, 1), (1, 0)):
            assert cases[own].patient.name in letters_of[own]
            assert not [each for each in trace_of(cases[other]) if each in letters_of[own]]
        if problem in first:  # that the words do come into a letter, or the search would find nothing
            assert trace_of(cases[0])[2] in letters_of[0]
        transaction.set_rollback(True)
