"""A problem through the years: where it came from, in which order of likelihood, which conditions it set."""

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.care import actions
from clinic.models import Condition, PlanLine, PlanProgress, Problem, ProblemTurn
from clinic.visits.actions import pin_heads_up, sign
from clinic.visits.errors import NotOpen
from tests import people
from tests.people import NOW

pytestmark = pytest.mark.django_db


@pytest.fixture
def staff():
    people.clinic_details()
    return people.people()


@pytest.fixture
def me(staff):
    return {"actor": staff.actor("clinician"), "now": NOW}


@pytest.fixture
def visit(staff):
    visit = people.visit_here(clinician=staff.clinician, kind="telephone")
    record = visit.record
    record.no_weight_reason = record.no_bcs_reason = "by telephone"
    record.save()
    return visit


@pytest.fixture
def problem(visit, me) -> Problem:
    return actions.open_problem(patient=visit.patient, visit=visit, title="Drinks more", **me)


@pytest.fixture
def clinician(client, staff):
    client.force_login(staff.clinician)
    return client


def order_of(problem) -> list[str]:
    return list(problem.assessments.order_by("rank", "pk").values_list("text", flat=True))


def test_assessments_stand_in_the_order_a_clinician_gave_them(problem, visit, me):
    made = [
        actions.assess(problem=problem, record=visit.record, text=text, **me)
        for text in ("kidney disease", "diabetes", "pyometra")
    ]
    assert order_of(problem) == ["kidney disease", "diabetes", "pyometra"]
    assert actions.more_likely(assessment=made[2], **me)
    assert actions.more_likely(assessment=made[2], **me)
    assert not actions.more_likely(assessment=made[2], **me)
    assert order_of(problem) == ["pyometra", "kidney disease", "diabetes"]
    actions.withdraw_assessment(assessment=made[0], **me)
    assert actions.more_likely(assessment=made[1], **me)
    assert order_of(problem) == ["diabetes", "pyometra"]
    sign(record=visit.record, **me)
    with pytest.raises(NotOpen):
        actions.more_likely(assessment=made[2], **me)


def test_what_had_been_recorded_stays_with_the_problem(clinician, visit, staff):
    pinned = pin_heads_up(
        record=visit.record,
        station="",
        words="Scratches the left ear",
        actor=staff.actor("technician"),
        now=NOW,
    )
    once = "6f0f3a52-2f4e-4a3c-9d0a-0f6f3a522f4e"
    clinician.post(
        reverse("plan-problem", args=[visit.pk]),
        {"matters": f"heads-up:{pinned.pk}", "title": "Itchy ear", "once": once},
    )
    kept = Problem.objects.get()
    assert kept.opened_from == "Scratches the left ear (heads-up, Inés Varga)"
    page = clinician.get(reverse("patient-problem", args=[visit.patient_id, kept.pk])).content.decode()
    assert "Scratches the left ear (heads-up, Inés Varga)" in page


def test_closing_asks_whether_the_conditions_it_set_are_over(clinician, problem, visit, me):
    for code in ("kidney_disease", "not_eating"):
        actions.problem_sets_condition(problem=problem, code=code, **me)
    form = clinician.get(f"{reverse('visit-plan', args=[visit.pk])}?do=close&problem={problem.pk}")
    assert "which of them are over with it" in form.content.decode()
    clinician.post(
        reverse("plan-close", args=[visit.pk, problem.pk]), {"reason": "eats again", "ends": "not_eating"}
    )
    over = Condition.objects.get(code="not_eating")
    assert (over.ended_why, over.ended_by.full_name) == ("eats again", "Dr Maren Oduya")
    assert Condition.objects.get(code="kidney_disease").until is None


def test_a_condition_of_another_problem_does_not_end_with_this_one(problem, visit, me):
    other = actions.open_problem(patient=visit.patient, visit=visit, title="Fits", **me)
    actions.problem_sets_condition(problem=other, code="seizures", **me)
    actions.close_problem(problem=problem, reason="healed", ends=["seizures"], **me)
    assert Condition.objects.get(code="seizures").until is None


def test_a_condition_is_one_of_the_list_and_of_an_open_problem(problem, me):
    with pytest.raises(actions.TextMissing):
        actions.problem_sets_condition(problem=problem, code="cheerful", **me)
    actions.close_problem(problem=problem, reason="healed", **me)
    problem.refresh_from_db()
    with pytest.raises(actions.ProblemClosed):
        actions.problem_sets_condition(problem=problem, code="seizures", **me)


def test_a_problem_does_not_open_again_beside_another_of_the_same_line(visit, me):
    first = actions.open_problem(
        patient=visit.patient, visit=visit, title="Ear", lines=["EAR.canal|left"], **me
    )
    actions.close_problem(problem=first, reason="healed", **me)
    second = actions.open_problem(
        patient=visit.patient, visit=visit, title="Ear", lines=["EAR.canal|left"], **me
    )
    with pytest.raises(actions.AlreadyOpen) as refused:
        actions.reopen_problem(problem=first, reason="came back", **me)
    assert refused.value.problem == second


def test_turns_are_only_added(problem, me):
    actions.close_problem(problem=problem, reason="healed", **me)
    with pytest.raises(IntegrityError, match="only added"), transaction.atomic():
        ProblemTurn.objects.update(reason="something else")


@pytest.mark.parametrize(
    "wrong",
    [
        {"kind": "home"},
        {"standing": "perhaps"},
        {"standing": "consented", "consent_by": "Henrike Dovale"},
        {"standing": "declined", "declined_why": "x"},
    ],
)
def test_the_database_refuses_half_a_plan_line(wrong, visit, staff):
    whole = {"record": visit.record, "kind": "call", "text": "Call", "by": staff.clinician, "at": NOW}
    with pytest.raises(IntegrityError), transaction.atomic():
        PlanLine.objects.create(**(whole | wrong))


def test_the_database_refuses_a_later_decline_without_why(problem, visit, staff, me):
    line = actions.add_plan_line(record=visit.record, problem=problem, kind="test", text="X-ray", **me)
    with pytest.raises(IntegrityError), transaction.atomic():
        PlanProgress.objects.create(line=line, standing="declined", by=staff.clinician, at=NOW)


def test_the_page_of_a_problem_asks_equally_often_however_long_it_is(clinician, problem, visit, me):
    counted = []
    for many in (1, 8):
        for number in range(many):
            actions.assess(problem=problem, record=visit.record, text=f"x{number}", course="worse", **me)
            line = actions.add_plan_line(record=visit.record, problem=problem, kind="call", text="Call", **me)
            actions.progress(line=line, standing="done", **me)
            actions.send_out(record=visit.record, problem=problem, title="Blood", **me)
            actions.close_problem(problem=problem, reason="healed", **me)
            actions.reopen_problem(problem=problem, reason="came back", **me)
        with CaptureQueriesContext(connection) as asked:
            page = clinician.get(reverse("patient-problem", args=[visit.patient_id, problem.pk]))
        counted.append(len(asked))
    assert counted[0] == counted[1]
    assert "came back" in page.content.decode()
