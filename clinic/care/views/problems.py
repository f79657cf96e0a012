"""Opening, assessing, closing and opening again."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from clinic.care import actions, queries
from clinic.care.pages import matters_by_key
from clinic.care.problem_forms import AssessForm, CloseForm, ConditionForm, OpenForm, ReopenForm
from clinic.care.problem_page import problem_page
from clinic.care.sources import Matter
from clinic.care.views.page import Editor, back, back_to, blame, carried_out, whole
from clinic.patients.queries import access_patient
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.visits.errors import SentBefore, VisitError
from clinic.visits.queries import access_visit_here


@require_POST
@needs(Right.ASSESS)
def open_problem(request: StaffRequest, visit_id: int) -> HttpResponse:
    """From chosen matters, one's own words, or both; into a new problem or an open one."""
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.ASSESS)
    matters = matters_by_key(visit.record)
    problems = [(each.pk, each.title) for each in queries.open_problems(visit.patient)]
    form = OpenForm(request.POST, matters=list(matters), problems=problems)
    if not form.is_valid():
        return whole(request, visit, open_form=form)
    chosen = [matters[key] for key in form.cleaned_data["matters"]]
    try:
        if form.cleaned_data["into"]:
            problem = queries.access_problem(form.cleaned_data["into"], visit=visit, actor=request.actor)
            actions.add_lines(problem=problem, **_lines(chosen), actor=request.actor, now=timezone.now())
        else:
            problem = actions.open_problem(
                patient=visit.patient,
                visit=visit,
                title=form.cleaned_data["title"] or chosen[0].title,
                station=chosen[0].station if chosen else "",
                **_lines(chosen),
                once=form.cleaned_data["once"],
                actor=request.actor,
                now=timezone.now(),
            )
    except SentBefore:
        return back(visit)
    except actions.AlreadyOpen as error:
        messages.info(request, str(error))
        return back_to(visit, error.problem)
    except VisitError as error:
        blame(form, error)
        return whole(request, visit, open_form=form)
    return back(visit, "do", do="assess", problem=problem.pk)


def _lines(chosen: list[Matter]) -> dict[str, Any]:
    """The line keys of all, the most urgent class, and what had been recorded there."""
    return {
        "opened_from": "; ".join(f"{each.title} ({each.words})" for each in chosen),
        "lines": [line for each in chosen for line in each.line_keys],
        "urgency": max((each.urgency for each in chosen), key="MRTE".find, default=""),
    }


@require_POST
@needs(Right.ASSESS)
def assess(request: StaffRequest, visit_id: int, problem_id: int) -> HttpResponse:
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.ASSESS)
    problem = queries.access_problem(problem_id, visit=visit, actor=request.actor, right=Right.ASSESS)
    form = AssessForm(request.POST)
    return carried_out(
        request,
        visit,
        Editor("assess", form, problem=problem.pk),
        lambda: actions.assess(
            problem=problem,
            record=visit.record,
            actor=request.actor,
            now=timezone.now(),
            **form.cleaned_data,
        ),
        to=back_to(visit, problem),
    )


@require_POST
@needs(Right.ASSESS)
def take_back(request: StaffRequest, visit_id: int, assessment_id: int) -> HttpResponse:
    """An assessment that is not signed."""
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.ASSESS)
    assessment = queries.access_assessment(assessment_id, visit=visit, actor=request.actor)
    try:
        actions.withdraw_assessment(assessment=assessment, actor=request.actor, now=timezone.now())
    except VisitError as error:
        messages.error(request, str(error))
    return back(visit, f"problem-{assessment.problem_id}")


@require_POST
@needs(Right.ASSESS)
def close(request: StaffRequest, visit_id: int, problem_id: int) -> HttpResponse:
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.ASSESS)
    problem = queries.access_problem(problem_id, visit=visit, actor=request.actor, right=Right.ASSESS)
    form = CloseForm(request.POST, conditions=queries.conditions_of_problem(problem.pk))
    return carried_out(
        request,
        visit,
        Editor("close", form, problem=problem.pk),
        lambda: actions.close_problem(
            problem=problem,
            reason=form.cleaned_data["reason"],
            ends=form.cleaned_data.get("ends", ()),
            visit=visit,
            actor=request.actor,
            now=timezone.now(),
        ),
        to=back(visit, "closed"),
    )


@require_POST
@needs(Right.ASSESS)
def reopen(request: StaffRequest, visit_id: int, problem_id: int) -> HttpResponse:
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.ASSESS)
    problem = queries.access_problem(problem_id, visit=visit, actor=request.actor, right=Right.ASSESS)
    form = ReopenForm(request.POST)
    return carried_out(
        request,
        visit,
        Editor("reopen", form, problem=problem.pk),
        lambda: actions.reopen_problem(
            problem=problem, visit=visit, actor=request.actor, now=timezone.now(), **form.cleaned_data
        ),
        to=back_to(visit, problem),
    )


@require_POST
@needs(Right.ASSESS)
def condition(request: StaffRequest, visit_id: int, problem_id: int) -> HttpResponse:
    """The patient has a coded condition because of it."""
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.ASSESS)
    problem = queries.access_problem(problem_id, visit=visit, actor=request.actor, right=Right.ASSESS)
    form = ConditionForm(request.POST)
    return carried_out(
        request,
        visit,
        Editor("condition", form, problem=problem.pk),
        lambda: actions.problem_sets_condition(
            problem=problem, actor=request.actor, now=timezone.now(), **form.cleaned_data
        ),
        to=back_to(visit, problem),
    )


@require_POST
@needs(Right.ASSESS)
def more_likely(request: StaffRequest, visit_id: int, assessment_id: int) -> HttpResponse:
    """One of today's assessments before the one above it."""
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.ASSESS)
    assessment = queries.access_assessment(assessment_id, visit=visit, actor=request.actor)
    try:
        actions.more_likely(assessment=assessment, actor=request.actor, now=timezone.now())
    except VisitError as error:
        messages.error(request, str(error))
    return back(visit, f"problem-{assessment.problem_id}")


@require_GET
@needs(Right.SEE)
def problem(request: StaffRequest, patient_id: int, problem_id: int) -> HttpResponse:
    """One problem from its opening on."""
    patient = access_patient(patient_id, actor=request.actor)
    found = queries.access_problem_of(problem_id, patient=patient, actor=request.actor)
    context = {"patient": patient, "page": problem_page(found)}
    return render(request, "clinic/care/problem_page.html", context)
