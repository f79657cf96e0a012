"""When they come again, planned on the plan page."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from clinic.care import queries
from clinic.care.views.page import back, blame, whole
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.visits import actions
from clinic.visits.bookings import LETTER_NAMED_IT
from clinic.visits.errors import SentBefore, VisitError
from clinic.visits.forms import NextVisitForm
from clinic.visits.queries import access_visit_here


@require_POST
@needs(Right.BOOK)
def add(request: StaffRequest, visit_id: int) -> HttpResponse:
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.BOOK)
    problems = queries.open_problems(visit.patient)
    form = NextVisitForm(
        request.POST, problems=[(each.pk, each.title) for each in problems], auto_id="next_%s"
    )
    if form.is_valid():
        asked = dict(form.cleaned_data)
        asked["problem"] = next((each for each in problems if each.pk == asked["problem"]), None)
        try:
            actions.plan_next_visit(
                patient=visit.patient, record=visit.record, actor=request.actor, now=timezone.now(), **asked
            )
        except SentBefore:
            return back(visit, "next")
        except VisitError as error:
            blame(form, error)
        else:
            return back(visit, "next")
    return whole(request, visit, next_form=form)


@require_POST
@needs(Right.BOOK)
def take_back(request: StaffRequest, visit_id: int, next_visit_id: int) -> HttpResponse:
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.BOOK)
    planned = queries.access_next(next_visit_id, visit=visit, actor=request.actor)
    if planned.record and planned.record.is_signed:
        messages.info(request, LETTER_NAMED_IT)
        return redirect("next-visit-change", planned.pk)
    if not actions.cancel_next_visit(next_visit=planned, actor=request.actor, now=timezone.now()):
        messages.error(request, "It has become a visit, or was cancelled before.")
    return back(visit, "next")
