"""Looking: search, a patient, an owner, what changed."""

from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from clinic.patients import changes, pages, search
from clinic.patients.queries import access_owner, access_patient
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs


@require_safe
@needs(Right.SEE)
def patients(request: StaffRequest) -> HttpResponse:
    """What the search box finds: a page, or what replaces its results while typing."""
    query = request.GET.get("q", "")[:200]
    results = search.find(query, today=timezone.localdate())
    template = "clinic/patients/found.html" if request.htmx else "clinic/patients/search.html"
    context = {"q": query, "results": results, "may_edit": request.actor.may(Right.EDIT_PEOPLE)}
    response = render(request, template, context)
    response.headers["Vary"] = "HX-Request"
    return response


@require_safe
@needs(Right.SEE)
def patient(request: StaffRequest, patient_id: int) -> HttpResponse | HttpResponseRedirect:
    found = access_patient(patient_id, actor=request.actor)
    if found.merged_into_id:
        return redirect("patient", found.merged_into_id)
    actor = request.actor
    page = pages.patient_page(found, actor=actor, today=timezone.localdate())
    may = {
        "edit": actor.may(Right.EDIT_PEOPLE),
        "measure": actor.may(Right.MEASURE),
        "export": actor.may(Right.EXPORT),
        "book": actor.may(Right.BOOK) and not found.deceased_on,
    }
    return render(request, "clinic/patients/patient.html", {"page": page, "may": may})


@require_safe
@needs(Right.SEE)
def patient_changes(request: StaffRequest, patient_id: int) -> HttpResponse:
    found = access_patient(patient_id, actor=request.actor)
    context = {
        "name": found.name,
        "back": reverse("patient", args=[found.pk]),
        "rows": changes.of_patient(found),
    }
    return render(request, "clinic/patients/changes.html", context)


@require_safe
@needs(Right.SEE)
def owner_changes(request: StaffRequest, owner_id: int) -> HttpResponse:
    found = access_owner(owner_id, actor=request.actor)
    context = {"name": found.name, "back": reverse("owner", args=[found.pk]), "rows": changes.of_owner(found)}
    return render(request, "clinic/patients/changes.html", context)


@require_safe
@needs(Right.SEE)
def owner(request: StaffRequest, owner_id: int) -> HttpResponse | HttpResponseRedirect:
    found = access_owner(owner_id, actor=request.actor)
    if found.merged_into_id:
        return redirect("owner", found.merged_into_id)
    page = pages.owner_page(found, actor=request.actor, today=timezone.localdate())
    context = {"page": page, "may_edit": request.actor.may(Right.EDIT_PEOPLE)}
    return render(request, "clinic/patients/owner.html", context)
