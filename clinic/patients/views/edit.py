"""Making and changing owners and patients."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from clinic.patients import actions
from clinic.patients.errors import Likely, LikelyDouble, PatientError, SentBefore
from clinic.patients.forms import PHONES, LeaveForm, OwnerForm, PatientForm
from clinic.patients.models import Patient
from clinic.patients.queries import access_owner, access_patient
from clinic.patients.views.common import WRONG, carry_out, refused
from clinic.people.models import Owner
from clinic.people.phones import NotAPhone
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.platform.measures import units_of

BOTH = ["GET", "HEAD", "POST"]


def _status(request: StaffRequest) -> int:
    return WRONG if request.method == "POST" else 200


def _owner_page(
    request: StaffRequest, form: OwnerForm, owner: Owner | None, likely: tuple[Likely, ...] = ()
) -> HttpResponse:
    context = {"form": form, "owner": owner, "likely": likely}
    return render(request, "clinic/patients/owner_form.html", context, status=_status(request))


@require_http_methods(BOTH)
@needs(Right.EDIT_PEOPLE)
def owner_new(request: StaffRequest) -> HttpResponse:
    """A new owner; somebody who may be the same is shown first."""
    form = OwnerForm(request.POST or None, initial=_heard(request))
    if request.method != "POST" or not form.is_valid():
        return _owner_page(request, form, None)
    try:
        made = actions.register_owner(
            **form.details(),
            phones=form.phones(),
            look_for_doubles=not form.cleaned_data["anyway"],
            once=form.cleaned_data["once"],
            actor=request.actor,
            now=timezone.now(),
        )
    except LikelyDouble as error:
        return _owner_page(request, form, None, error.found)
    except SentBefore as error:
        messages.info(request, str(error))
        return redirect(f"{reverse('patients')}?q={form.cleaned_data['family_name']}")
    except (PatientError, NotAPhone) as error:
        refused(form, error)
        return _owner_page(request, form, None)
    messages.success(request, f"{made.name} is an owner here now. Which animal comes with them?")
    return redirect("patient-new", made.pk)


def _heard(request: StaffRequest) -> dict[str, str]:
    """What was searched for in vain begins the form."""
    heard = request.GET.get("q", "").strip()[:120]
    if any(character.isdigit() for character in heard):
        return {"phone_1": heard[:40]}
    given, _, family = heard.rpartition(" ")
    return {"given_name": given, "family_name": family}


@require_http_methods(BOTH)
@needs(Right.EDIT_PEOPLE)
def owner(request: StaffRequest, owner_id: int) -> HttpResponse:
    found = access_owner(owner_id, actor=request.actor, right=Right.EDIT_PEOPLE)
    form = OwnerForm(request.POST or None, initial=_owner_initial(found))
    done = (
        request.method == "POST"
        and form.is_valid()
        and carry_out(
            request,
            form,
            lambda: actions.change_owner(
                owner=found, phones=form.phones(), **form.details(), actor=request.actor, now=timezone.now()
            ),
            "Changed.",
        )
    )
    return redirect("owner", found.pk) if done else _owner_page(request, form, found)


def _owner_initial(owner: Owner) -> dict[str, Any]:
    initial: dict[str, Any] = {
        name: getattr(owner, name)
        for name in OwnerForm.base_fields
        if name not in ("once", "anyway") and not name.startswith("phone_")
    }
    for number, phone in enumerate(owner.phones.all()[:PHONES], start=1):
        initial |= {f"phone_{number}": phone.number, f"phone_label_{number}": phone.label}
    return initial


def _patient_page(
    request: StaffRequest,
    form: PatientForm,
    *,
    owner: Owner | None = None,
    patient: Patient | None = None,
    likely: tuple[Likely, ...] = (),
) -> HttpResponse:
    context = {"form": form, "owner": owner, "patient": patient, "likely": likely}
    return render(request, "clinic/patients/patient_form.html", context, status=_status(request))


@require_http_methods(BOTH)
@needs(Right.EDIT_PEOPLE)
def patient_new(request: StaffRequest, owner_id: int) -> HttpResponse:
    """A new animal of this owner; one that may be the same is shown first."""
    found = access_owner(owner_id, actor=request.actor, right=Right.EDIT_PEOPLE)
    form = PatientForm(request.POST or None, today=timezone.localdate(), unit=units_of(request.actor).weight)
    if request.method != "POST" or not form.is_valid():
        return _patient_page(request, form, owner=found)
    try:
        made = actions.register_patient(
            owner=found,
            **form.details(),
            look_for_doubles=not form.cleaned_data["anyway"],
            once=form.cleaned_data["once"],
            actor=request.actor,
            now=timezone.now(),
        )
    except LikelyDouble as error:
        return _patient_page(request, form, owner=found, likely=error.found)
    except SentBefore as error:
        messages.info(request, str(error))
        return redirect("owner", found.pk)
    except PatientError as error:
        refused(form, error)
        return _patient_page(request, form, owner=found)
    messages.success(request, f"{made.name} is a patient here now.")
    return redirect("patient", made.pk)


@require_http_methods(BOTH)
@needs(Right.EDIT_PEOPLE)
def patient(request: StaffRequest, patient_id: int) -> HttpResponse:
    found = access_patient(patient_id, actor=request.actor, right=Right.EDIT_PEOPLE)
    today = timezone.localdate()
    unit = units_of(request.actor).weight
    form = PatientForm(
        request.POST or None, today=today, new=False, unit=unit, initial=_patient_initial(found)
    )
    done = (
        request.method == "POST"
        and form.is_valid()
        and carry_out(
            request,
            form,
            lambda: actions.change_patient(
                patient=found, **_kept_birth(form, found), actor=request.actor, now=timezone.now()
            ),
            "Changed.",
        )
    )
    return redirect("patient", found.pk) if done else _patient_page(request, form, patient=found)


def _patient_initial(patient: Patient) -> dict[str, Any]:
    """Names of fields and attributes agree."""
    names = ("name", "species", "sex", "neutered", "breed", "colour", "birth_date", "expected_adult_kg")
    return {name: getattr(patient, name) for name in names}


def _kept_birth(form: PatientForm, patient: Patient) -> dict[str, Any]:
    """A birth date that was left as it stood stays as sure as it was."""
    details = form.details()
    if details["birth_date"] == patient.birth_date:
        details["birth_precision"] = patient.birth_precision
    return details


@require_http_methods(BOTH)
@needs(Right.EDIT_PEOPLE)
def left(request: StaffRequest, patient_id: int) -> HttpResponse:
    """Moved away, or seen elsewhere from now on."""
    found = access_patient(patient_id, actor=request.actor, right=Right.EDIT_PEOPLE)
    form = LeaveForm(request.POST or None, initial={"on": timezone.localdate()})
    done = (
        request.method == "POST"
        and form.is_valid()
        and carry_out(
            request,
            form,
            lambda: actions.leave_practice(
                patient=found, on=form.cleaned_data["on"], actor=request.actor, now=timezone.now()
            ),
            f"{found.name} is not called back any more.",
        )
    )
    if done:
        return redirect("patient", found.pk)
    context = {"form": form, "patient": found}
    return render(request, "clinic/patients/left.html", context, status=_status(request))
