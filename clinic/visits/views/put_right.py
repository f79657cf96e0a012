"""Entered on the wrong patient: choose the right one, look at both, put it there."""

from http import HTTPStatus
from uuid import uuid4

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.visits import actions, queries
from clinic.visits import wrong_patient as wrong
from clinic.visits.errors import SentBefore, VisitError
from clinic.visits.forms import PutRightForm
from clinic.visits.frame import visit_frame
from clinic.visits.models import Visit


@require_http_methods(["GET", "POST"])
@needs(Right.MEASURE)
def wrong_patient(request: StaffRequest, visit_id: int) -> HttpResponse:
    """`?to=` names the right patient's visit, `?key=` what was just entered; a POST moves what is chosen."""
    visit = queries.access_visit_here(visit_id, actor=request.actor, right=Right.MEASURE)
    form = PutRightForm(request.POST or None, initial={"once": uuid4()})
    named = request.POST.get("to") or request.GET.get("to", "")
    to = None
    if named.isdigit() and not visit.record.is_signed:
        to = wrong.access_right_visit(int(named), record=visit.record, actor=request.actor)
    if request.method == "POST" and to is not None and form.is_valid():
        answer = _moved(request, visit, to, form)
        if answer is not None:
            return answer
    status = HTTPStatus.UNPROCESSABLE_ENTITY if request.method == "POST" else HTTPStatus.OK
    return _page(request, visit, to, form, status)


def _moved(request: StaffRequest, visit: Visit, to: Visit, form: PutRightForm) -> HttpResponse | None:
    try:
        moved = actions.put_on_right_patient(
            record=visit.record,
            to=to.record,
            tokens=form.cleaned_data["rows"],
            once=form.cleaned_data["once"],
            actor=request.actor,
            now=timezone.now(),
        )
    except SentBefore as error:
        messages.success(request, str(error))
        return redirect("wrong-patient", to.pk)
    except VisitError as error:
        form.add_error(None, str(error))
        return None
    many = "1 entry" if len(moved) == 1 else f"{len(moved)} entries"
    messages.success(
        request, f"{many} struck out of {visit.patient.name}’s record and put on {to.patient.name}."
    )
    return redirect("wrong-patient", to.pk)


def _page(
    request: StaffRequest, visit: Visit, to: Visit | None, form: PutRightForm, status: int
) -> HttpResponse:
    now = timezone.now()
    keys = request.GET.getlist("key")
    page = wrong.wrong_patient_page(visit.record, to.record if to else None, actor=request.actor, now=now)
    named = {row.token for group in page.groups for row in group.rows if row.key.partition("@")[0] in keys}
    context = {
        "frame": visit_frame(visit, current="", today=timezone.localdate(now), actor=request.actor),
        "visit": visit,
        "to": to,
        "form": form,
        "page": page,
        "chosen": request.POST.getlist("rows") or list(named),
        "keys": keys,
        "history": wrong.put_right_rows(visit.record),
        "signed": visit.record.is_signed,
        "addenda_url": reverse("visit-addenda", args=[visit.pk]),
    }
    return render(request, "clinic/visits/wrong_patient.html", context, status=status)
