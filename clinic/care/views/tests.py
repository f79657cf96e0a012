"""Tests: taken here in one tap, resulted in a second; sent out; read by a clinician."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_POST

from clinic.care import actions, queries
from clinic.care.forms import OutsideTestForm, ReadForm, ResultForm, TestForm
from clinic.care.in_house import in_house, outcomes_of
from clinic.care.models import Test
from clinic.care.views.page import Editor, back_to, blame, whole
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.visits.errors import SentBefore, VisitError
from clinic.visits.models import Visit
from clinic.visits.queries import access_visit_here


@require_POST
@needs(Right.PLAN)
def take(request: StaffRequest, visit_id: int, problem_id: int) -> HttpResponse:
    """First tap of a test that is done here."""
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.PLAN)
    problem = queries.access_problem(problem_id, visit=visit, actor=request.actor, right=Right.PLAN)
    form = TestForm(request.POST)
    test = in_house(form.cleaned_data["code"]) if form.is_valid() else None
    if test is None:
        messages.error(request, "This test is not on the list; nothing was recorded.")
        return back_to(visit, problem)
    try:
        actions.take_in_house(
            record=visit.record,
            problem=problem,
            test=test,
            once=form.cleaned_data["once"],
            actor=request.actor,
            now=timezone.now(),
        )
    except SentBefore:
        return back_to(visit, problem)
    except VisitError as error:
        messages.error(request, str(error))
    return back_to(visit, problem)


@require_POST
@needs(Right.PLAN)
def send_out(request: StaffRequest, visit_id: int, problem_id: int) -> HttpResponse:
    """A laboratory's test, with who tells the owner by when."""
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.PLAN)
    problem = queries.access_problem(problem_id, visit=visit, actor=request.actor, right=Right.PLAN)
    form = OutsideTestForm(request.POST, people=queries.staff_at_work())
    if form.is_valid():
        asked = dict(form.cleaned_data)
        asked["answerable"] = queries.access_person(asked["answerable"], actor=request.actor)
        try:
            actions.send_out(
                record=visit.record, problem=problem, actor=request.actor, now=timezone.now(), **asked
            )
        except SentBefore:
            return back_to(visit, problem)
        except VisitError as error:
            blame(form, error)
        else:
            return back_to(visit, problem)
    return whole(request, visit, Editor("test", form, problem=problem.pk))


@require_POST
@needs(Right.PLAN)
def take_back(request: StaffRequest, visit_id: int, test_id: int) -> HttpResponse:
    """A test without a result, before signing."""
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.PLAN)
    test = queries.access_test(test_id, visit=visit, actor=request.actor, right=Right.PLAN)
    try:
        actions.withdraw_test(test=test, actor=request.actor, now=timezone.now())
    except VisitError as error:
        messages.error(request, str(error))
    return back_to(visit, test.plan_line.problem if test.plan_line else None)


@require_POST
@needs(Right.OBSERVE)
def result(request: StaffRequest, visit_id: int, test_id: int) -> HttpResponse:
    """Second tap, or a value as the laboratory reported it; also after signing."""
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.OBSERVE)
    test = queries.access_test(test_id, visit=visit, actor=request.actor)
    problem = test.plan_line.problem if test.plan_line else None
    form = ResultForm(request.POST)
    if form.is_valid():
        asked = _result(form, test)
        try:
            if not asked["meaning"]:
                raise actions.TextMissing("meaning", "Say whether it is as usual.")
            actions.enter_result(test=test, actor=request.actor, now=timezone.now(), **asked)
        except SentBefore:
            return back_to(visit, problem)
        except VisitError as error:
            blame(form, error)
        else:
            return back_to(visit, problem)
    return _again(request, visit, "result", form, test)


def _result(form: ResultForm, test: Test) -> dict[str, Any]:
    """One tap stands for value, meaning and the owner's sentence; a typed sentence goes first."""
    asked = dict(form.cleaned_data)
    code = asked.pop("outcome")
    tapped = next((one for one in outcomes_of(test.kind) if one.code == code), None)
    if tapped:
        asked |= {
            "value": tapped.value,
            "meaning": tapped.meaning,
            "for_owner": asked["for_owner"] or tapped.for_owner,
        }
    return asked


@require_POST
@needs(Right.ASSESS)
def read(request: StaffRequest, visit_id: int, result_id: int) -> HttpResponse:
    """A clinician has read it."""
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.ASSESS)
    result = queries.access_result(result_id, visit=visit, actor=request.actor)
    form = ReadForm(request.POST)
    test = result.test
    if form.is_valid():
        actions.read_result(result=result, actor=request.actor, now=timezone.now(), **form.cleaned_data)
        return back_to(visit, test.plan_line.problem if test.plan_line else None)
    return _again(request, visit, "read", form, test, at=result.pk)


def _again(
    request: StaffRequest,
    visit: Visit,
    do: str,
    form: ResultForm | ReadForm,
    test: Test,
    at: int | None = None,
) -> HttpResponse:
    problem = test.plan_line.problem_id if test.plan_line else None
    return whole(request, visit, Editor(do, form, problem=problem, at=at or test.pk))
