"""Forms for what is agreed for later: a booking, a next visit."""

from datetime import datetime, time

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.visits import actions, queries
from clinic.visits.bookings import LETTER_NAMED_IT
from clinic.visits.errors import NeedsWords, SentBefore, VisitError
from clinic.visits.forms import BookForm, NextVisitForm
from clinic.visits.frame import visit_frame
from clinic.visits.views.steps import back


@require_http_methods(["GET", "POST"])
@needs(Right.BOOK)
def book(request: StaffRequest, patient_id: int) -> HttpResponse:
    """An expected visit for a day."""
    patient = queries.access_patient(patient_id, actor=request.actor, right=Right.BOOK)
    form = BookForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        asked = dict(form.cleaned_data)
        day, at = asked.pop("on"), asked.pop("at")
        expected_at = timezone.make_aware(datetime.combine(day, at or time.min))
        try:
            actions.book(
                patient=patient, expected_at=expected_at, actor=request.actor, now=timezone.now(), **asked
            )
        except SentBefore:
            return redirect("patient", patient_id)
        except VisitError as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, f"{patient.name} is booked for {day:%A} {day.day} {day:%B}.")
            return redirect("patient", patient_id)
    status = 422 if request.method == "POST" else 200
    return render(request, "clinic/visits/book.html", {"patient": patient, "form": form}, status=status)


@require_http_methods(["GET", "POST"])
@needs(Right.BOOK)
def next_visit(request: StaffRequest, visit_id: int) -> HttpResponse:
    """When the patient comes again; what is planned already stands above."""
    visit = queries.access_visit_here(visit_id, actor=request.actor, right=Right.BOOK)
    problems = queries.open_problems(visit.patient)
    form = NextVisitForm(request.POST or None, problems=[(each.pk, each.title) for each in problems])
    if request.method == "POST" and form.is_valid():
        asked = dict(form.cleaned_data)
        asked["problem"] = next((each for each in problems if each.pk == asked["problem"]), None)
        try:
            actions.plan_next_visit(
                patient=visit.patient, record=visit.record, actor=request.actor, now=timezone.now(), **asked
            )
        except SentBefore:
            return redirect("next-visit", visit.pk)
        except NeedsWords as error:
            form.add_error(error.field, str(error))
        except VisitError as error:
            form.add_error(None, str(error))
        else:
            return redirect("next-visit", visit.pk)
    context = {
        "frame": visit_frame(visit, current="", today=timezone.localdate(), actor=request.actor),
        "planned": queries.planned_visits(visit.patient),
        "form": form,
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "clinic/visits/next_visit.html", context, status=status)


@require_POST
@needs(Right.BOOK)
def cancel_next_visit(request: StaffRequest, next_visit_id: int) -> HttpResponse:
    """Take a plan back."""
    plan = queries.access_next_visit(next_visit_id, actor=request.actor)
    if plan.record and plan.record.is_signed:
        messages.info(request, LETTER_NAMED_IT)
        return redirect("next-visit-change", plan.pk)
    if not actions.cancel_next_visit(next_visit=plan, actor=request.actor, now=timezone.now()):
        messages.error(request, "It had become a visit, or was taken back, before.")
    return back(request)
