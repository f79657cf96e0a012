"""Opening, assessing, closing and opening again."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_POST

from clinic.care import actions, queries
from clinic.care.forms import AssessForm, CloseForm, OpenForm
from clinic.care.pages import matters_by_key
from clinic.care.sources import Matter
from clinic.care.views.page import Editor, back, back_to, blame, whole
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
    """The line keys of all, and the most urgent class."""
    return {
        "lines": [line for each in chosen for line in each.line_keys],
        "urgency": max((each.urgency for each in chosen), key="MRTE".find, default=""),
    }


@require_POST
@needs(Right.ASSESS)
def assess(request: StaffRequest, visit_id: int, problem_id: int) -> HttpResponse:
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.ASSESS)
    problem = queries.access_problem(problem_id, visit=visit, actor=request.actor, right=Right.ASSESS)
    form = AssessForm(request.POST)
    if form.is_valid():
        try:
            actions.assess(
                problem=problem,
                record=visit.record,
                actor=request.actor,
                now=timezone.now(),
                **form.cleaned_data,
            )
        except SentBefore:
            return back_to(visit, problem)
        except VisitError as error:
            blame(form, error)
        else:
            return back_to(visit, problem)
    return whole(request, visit, Editor("assess", form, problem=problem.pk))


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
    form = CloseForm(request.POST)
    if form.is_valid():
        try:
            actions.close_problem(
                problem=problem, actor=request.actor, now=timezone.now(), **form.cleaned_data
            )
        except VisitError as error:
            blame(form, error)
        else:
            return back(visit, "closed")
    return whole(request, visit, Editor("close", form, problem=problem.pk))


@require_POST
@needs(Right.ASSESS)
def reopen(request: StaffRequest, visit_id: int, problem_id: int) -> HttpResponse:
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.ASSESS)
    problem = queries.access_problem(problem_id, visit=visit, actor=request.actor, right=Right.ASSESS)
    actions.reopen_problem(problem=problem, actor=request.actor, now=timezone.now())
    return back_to(visit, problem)
