"""What stays with a patient, one small form each on one page: alerts, conditions, chips, parts, owners."""

from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from clinic.patients import actions, pages, search
from clinic.patients.errors import PatientError
from clinic.patients.forms import AlertForm, ChipForm, ConditionForm, CoOwnerForm, LastingForm
from clinic.patients.models import Patient
from clinic.patients.queries import (
    access_alert,
    access_condition,
    access_lasting_fact,
    access_owner,
    access_owner_of,
    access_patient,
)
from clinic.patients.views.common import WRONG, carry_out
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs

FORMS: dict[str, type[forms.Form]] = {
    "alert": AlertForm,
    "condition": ConditionForm,
    "chip": ChipForm,
    "gone": LastingForm,
    "owner": CoOwnerForm,
}


@require_safe
@needs(Right.EDIT_PEOPLE)
def page(request: StaffRequest, patient_id: int) -> HttpResponse:
    patient = access_patient(patient_id, actor=request.actor, right=Right.EDIT_PEOPLE)
    return _page(request, patient)


def _page(
    request: StaffRequest, patient: Patient, sent: dict[str, forms.Form] | None = None, **more: Any
) -> HttpResponse:
    """The page, with a form as it was sent in place of a fresh one."""
    blank = {name: form(prefix=name) for name, form in FORMS.items()}
    context = {
        "page": pages.patient_page(patient, actor=request.actor, today=timezone.localdate(), panels=False),
        "forms": blank | (sent or {}),
        "may_history": request.actor.may(Right.TAKE_HISTORY),
        "may_assess": request.actor.may(Right.ASSESS),
    }
    status = WRONG if sent else 200
    return render(request, "clinic/patients/facts.html", context | more, status=status)


def _add(
    request: StaffRequest,
    patient_id: int,
    name: str,
    right: Right,
    act: Callable[[Patient, dict[str, Any]], object],
    said: str,
) -> HttpResponse:
    patient = access_patient(patient_id, actor=request.actor, right=right)
    form = FORMS[name](request.POST, prefix=name)
    if form.is_valid() and carry_out(request, form, lambda: act(patient, form.cleaned_data), said):
        return redirect("patient-facts", patient.pk)
    return _page(request, patient, {name: form})


@require_POST
@needs(Right.EDIT_PEOPLE)
def alert(request: StaffRequest, patient_id: int) -> HttpResponse:
    return _add(
        request,
        patient_id,
        "alert",
        Right.EDIT_PEOPLE,
        lambda patient, data: actions.add_alert(
            patient=patient, **data, actor=request.actor, now=timezone.now()
        ),
        "Everybody sees it first now.",
    )


@require_POST
@needs(Right.TAKE_HISTORY)
def condition(request: StaffRequest, patient_id: int) -> HttpResponse:
    return _add(
        request,
        patient_id,
        "condition",
        Right.TAKE_HISTORY,
        lambda patient, data: actions.set_condition(
            patient=patient, **data, actor=request.actor, now=timezone.now()
        ),
        "Kept. Feeding and prevention reckon with it.",
    )


@require_POST
@needs(Right.EDIT_PEOPLE)
def chip(request: StaffRequest, patient_id: int) -> HttpResponse:
    def act(patient: Patient, data: dict[str, Any]) -> object:
        return actions.add_microchip(
            patient=patient,
            number=data["microchip"],
            implanted_on=data["implanted_on"],
            place=data["place"],
            once=data["once"],
            actor=request.actor,
            now=timezone.now(),
        )

    return _add(request, patient_id, "chip", Right.EDIT_PEOPLE, act, "The chip is kept.")


@require_POST
@needs(Right.ASSESS)
def gone(request: StaffRequest, patient_id: int) -> HttpResponse:
    return _add(
        request,
        patient_id,
        "gone",
        Right.ASSESS,
        lambda patient, data: actions.add_lasting_fact(
            patient=patient, **data, actor=request.actor, now=timezone.now()
        ),
        "Kept. Its lines are not applicable from now on.",
    )


@require_POST
@needs(Right.ASSESS)
def gone_back(request: StaffRequest, patient_id: int) -> HttpResponse:
    """It was noted by mistake: the part is there."""
    patient = access_patient(patient_id, actor=request.actor, right=Right.ASSESS)
    fact = access_lasting_fact(patient, _id(request), actor=request.actor)
    try:
        actions.strike_lasting_fact(
            fact=fact, reason=request.POST.get("reason", ""), actor=request.actor, now=timezone.now()
        )
        messages.success(request, "Struck out. Its lines are asked for again, also in an exam that is open.")
    except PatientError as error:
        messages.error(request, f"{error} Nothing was changed.")
    return redirect(f"{reverse('patient-facts', args=[patient.pk])}#gone")


@require_POST
@needs(Right.EDIT_PEOPLE)
def owner_add(request: StaffRequest, patient_id: int) -> HttpResponse:
    """First whom the words find, then the one who was chosen."""
    patient = access_patient(patient_id, actor=request.actor, right=Right.EDIT_PEOPLE)
    chosen = request.POST.get("chosen", "")
    now = timezone.now()
    if chosen.isdigit():
        owner = access_owner(int(chosen), actor=request.actor, right=Right.EDIT_PEOPLE)
        actions.add_co_owner(patient=patient, owner=owner, actor=request.actor, now=now)
        return redirect("patient-facts", patient.pk)
    form = CoOwnerForm(request.POST, prefix="owner")
    found = search.owners(form.cleaned_data["q"]) if form.is_valid() else ()
    if form.is_valid() and not found:
        form.add_error("q", "Nobody of that name or number is an owner here yet.")
    return _page(request, patient, {"owner": form}, found=found)


@require_POST
@needs(Right.EDIT_PEOPLE)
def owner_first(request: StaffRequest, patient_id: int) -> HttpResponse:
    patient = access_patient(patient_id, actor=request.actor, right=Right.EDIT_PEOPLE)
    owner = access_owner_of(patient, _id(request), actor=request.actor)
    actions.make_first_owner(patient=patient, owner=owner, actor=request.actor, now=timezone.now())
    return redirect("patient-facts", patient.pk)


@require_POST
@needs(Right.EDIT_PEOPLE)
def owner_end(request: StaffRequest, patient_id: int) -> HttpResponse:
    patient = access_patient(patient_id, actor=request.actor, right=Right.EDIT_PEOPLE)
    owner = access_owner_of(patient, _id(request), actor=request.actor)
    try:
        actions.end_ownership(patient=patient, owner=owner, actor=request.actor, now=timezone.now())
        messages.success(request, f"{owner.name} is {patient.name}’s owner no more.")
    except PatientError as error:
        messages.error(request, str(error))
    return redirect("patient-facts", patient.pk)


@require_POST
@needs(Right.EDIT_PEOPLE)
def alert_end(request: StaffRequest, patient_id: int) -> HttpResponse:
    patient = access_patient(patient_id, actor=request.actor, right=Right.EDIT_PEOPLE)
    ended = access_alert(patient, _id(request), actor=request.actor)
    actions.end_alert(alert=ended, actor=request.actor, now=timezone.now())
    return redirect("patient-facts", patient.pk)


@require_POST
@needs(Right.TAKE_HISTORY)
def condition_end(request: StaffRequest, patient_id: int) -> HttpResponse:
    patient = access_patient(patient_id, actor=request.actor, right=Right.TAKE_HISTORY)
    ended = access_condition(patient, _id(request), actor=request.actor)
    actions.end_condition(patient=patient, code=ended.code, actor=request.actor, now=timezone.now())
    return redirect("patient-facts", patient.pk)


def _id(request: StaffRequest) -> int:
    """Which row the button stands in; 0, which is nobody's, where it was left out."""
    sent = request.POST.get("id", "")
    return int(sent) if sent.isdigit() else 0
