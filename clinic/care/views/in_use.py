"""The medicines of a patient: in use now, stopped, and the label that goes on what is dispensed."""

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from clinic.care import actions, queries
from clinic.care.in_use import medicines_of
from clinic.care.label import label_of
from clinic.care.medicine_forms import StopForm
from clinic.care.take_home import take_home
from clinic.care.views.page import blame
from clinic.patients.models import Patient
from clinic.patients.queries import access_patient
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.platform.measures import units_of
from clinic.visits.errors import SentBefore, VisitError
from clinic.visits.queries import access_visit_here

WRONG = 422


@require_GET
@needs(Right.SEE)
def medicines(request: StaffRequest, patient_id: int) -> HttpResponse:
    """In use now, what the owner gives, what is over."""
    return _page(request, access_patient(patient_id, actor=request.actor))


@require_POST
@needs(Right.PRESCRIBE)
def stop(request: StaffRequest, patient_id: int, medicine_id: int) -> HttpResponse:
    patient = access_patient(patient_id, actor=request.actor, right=Right.PRESCRIBE)
    medicine = queries.access_medicine_of(medicine_id, patient=patient, actor=request.actor)
    form = StopForm(request.POST, auto_id=f"stop_{medicine_id}_%s")
    if form.is_valid():
        try:
            actions.stop_medicine(
                medicine=medicine, actor=request.actor, now=timezone.now(), **form.cleaned_data
            )
        except SentBefore:
            pass
        except VisitError as error:
            blame(form, error)
        if not form.errors:
            return redirect(reverse("patient-medicines", args=[patient.pk]))
    return _page(request, patient, wrong=(medicine_id, form))


def _page(
    request: StaffRequest, patient: Patient, *, wrong: tuple[int, StopForm] | None = None
) -> HttpResponse:
    today = timezone.localdate()
    told = medicines_of(patient, today=today, unit=units_of(request.actor).weight)
    may_stop = request.actor.may(Right.PRESCRIBE)
    forms = {
        row.id: wrong[1]
        if wrong and wrong[0] == row.id
        else StopForm(auto_id=f"stop_{row.id}_%s", initial={"on": today})
        for row in told.now
        if may_stop and not row.stopped
    }
    context = {
        "patient": patient,
        "told": told,
        "rows": [(row, forms.get(row.id)) for row in told.now],
        "late": wrong[1] if wrong and wrong[0] not in forms else None,
    }
    return render(request, "clinic/care/in_use.html", context, status=WRONG if wrong else 200)


@require_GET
@needs(Right.SEE)
def take_home_sheet(request: StaffRequest, visit_id: int) -> HttpResponse:
    """The directions of this visit on one sheet, for the printer; also before the signature."""
    visit = access_visit_here(visit_id, actor=request.actor)
    told = take_home(visit.record)
    return render(request, "clinic/care/take_home.html", {"told": told, "w": told.w, "visit": visit})


@require_GET
@needs(Right.SEE)
def label(request: StaffRequest, patient_id: int, medicine_id: int) -> HttpResponse:
    """What is stuck on a dispensed medicine, for the printer."""
    patient = access_patient(patient_id, actor=request.actor)
    medicine = queries.access_medicine_of(medicine_id, patient=patient, actor=request.actor, right=Right.SEE)
    return render(request, "clinic/care/label.html", {"label": label_of(medicine), "patient": patient})
