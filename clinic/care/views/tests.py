"""Tests: taken here in one tap, sent out, taken back."""

from django.contrib import messages
from django.http import HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_POST

from clinic.care import actions, queries
from clinic.care.in_house import in_house
from clinic.care.result_forms import OutsideTestForm, TestForm
from clinic.care.views.page import Editor, back_to, carried_out
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.visits.errors import SentBefore, VisitError
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
    """A laboratory's test, or one of the house in its own words, with who tells the owner by when."""
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.PLAN)
    problem = queries.access_problem(problem_id, visit=visit, actor=request.actor, right=Right.PLAN)
    form = OutsideTestForm(request.POST, people=queries.staff_at_work())

    def send() -> None:
        asked = dict(form.cleaned_data)
        asked["answerable"] = queries.access_person(asked["answerable"], actor=request.actor)
        asked["here"] = "here" in request.POST
        actions.send_out(
            record=visit.record, problem=problem, actor=request.actor, now=timezone.now(), **asked
        )

    editor = Editor("test", form, problem=problem.pk)
    return carried_out(request, visit, editor, send, to=back_to(visit, problem))


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
