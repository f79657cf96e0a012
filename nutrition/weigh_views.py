"""A patient's weigh-ins: looked at by everybody, added to by whoever stands at the scale."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from clinic.patients.actions import AskOnce, measure_several
from clinic.patients.errors import PatientError, SentBefore
from clinic.patients.models import Patient
from clinic.patients.queries import access_patient
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from nutrition import actions
from nutrition.running import programme_of, weights_until
from nutrition.weigh_forms import GrownWeightForm, WeighForm
from nutrition.weigh_in import weigh_in_page

WRONG = 422


@require_http_methods(["GET", "POST"])
@needs(Right.SEE)
def weigh_ins(request: StaffRequest, patient_id: int) -> HttpResponse:
    """Where the programme stands; a POST keeps one weight."""
    patient = access_patient(patient_id, actor=request.actor)
    if request.method == "GET":
        return _page(request, patient, None)
    request.actor.require(Right.MEASURE)
    form = WeighForm(request.POST)
    if form.is_valid() and _kept(request, patient, form):
        return redirect("weigh-ins", patient.pk)
    return _page(request, patient, form, WRONG)


def _kept(request: StaffRequest, patient: Patient, form: WeighForm) -> bool:
    """False: it was refused or asked about, and the form says why."""
    now = timezone.now()
    on_programme = programme_of(patient, weights_until(patient, timezone.localdate(now))) is not None
    try:
        measure_several(
            actor=request.actor,
            now=now,
            patient=patient,
            values=form.values(planned=True if on_programme else None),
            once=form.cleaned_data["once"],
        )
    except SentBefore as again:
        messages.info(request, str(again))
    except AskOnce as asked:
        form.add_error("typed", str(asked))
        form.asked = True
        return False
    except PatientError as refused:
        form.add_error("typed", str(refused))
        return False
    else:
        messages.success(request, "The weight is kept.")
    return True


@require_POST
@needs(Right.TAKE_HISTORY)
def grown_weight(request: StaffRequest, patient_id: int) -> HttpResponse:
    """What a growing animal will weigh."""
    patient = access_patient(patient_id, actor=request.actor)
    form = GrownWeightForm(request.POST)
    if not form.is_valid():
        return _page(request, patient, None, WRONG, grown=form)
    actions.expect_grown_weight(
        actor=request.actor, now=timezone.now(), patient=patient, weight=form.weight()
    )
    messages.success(request, "The expected grown weight is kept.")
    return redirect("weigh-ins", patient.pk)


def _page(
    request: StaffRequest,
    patient: Patient,
    form: WeighForm | None,
    status: int = 200,
    grown: GrownWeightForm | None = None,
) -> HttpResponse:
    page = weigh_in_page(patient, actor=request.actor, today=timezone.localdate())
    context = {
        "page": page,
        "form": form or WeighForm.blank(page.unit),
        "grown": grown or GrownWeightForm.blank(page.unit),
    }
    return render(request, "nutrition/weigh_ins.html", context, status=status)
