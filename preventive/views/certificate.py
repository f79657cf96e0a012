"""Certificates: issued, shown, voided, replaced; and the page on which anybody checks one."""

from datetime import date

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from clinic.owner_page.middleware import frame_of
from clinic.patients.queries import access_patient
from clinic.people.rights import Right
from clinic.platform.files import read
from clinic.platform.forms import OnceForm
from clinic.platform.http import StaffRequest, needs
from clinic.visits.errors import SentBefore, VisitError
from preventive import actions
from preventive.actions.certificates import is_current
from preventive.certificate_code import as_typed
from preventive.certificate_sheet import sheet_of
from preventive.models import Certificate, Dose
from preventive.patient_page import mine
from preventive.reaction_forms import WhyForm
from preventive.views.page import WRONG, first_error
from preventive.views.patient import whole
from preventive.wording import day

MAKING = 202


def _access(certificate_id: int, request: StaffRequest, right: Right = Right.SEE) -> Certificate:
    request.actor.require(right)
    rows = Certificate.objects.select_related(
        "patient", "protocol", "entered_by", "struck_by", "replaces", "dose__patient__merged_into"
    )
    return get_object_or_404(rows, pk=certificate_id)


@require_POST
@needs(Right.SIGN)
def issue(request: StaffRequest, patient_id: int) -> HttpResponse:
    patient = access_patient(patient_id, actor=request.actor, right=Right.SIGN)
    number = request.POST.get("dose", "")
    dose = (
        Dose.objects.filter(mine(patient), pk=int(number) if number.isdigit() else 0)
        .select_related("patient__merged_into", "supervising")
        .first()
    )
    form = OnceForm(request.POST)
    if dose is None or not form.is_valid():
        return whole(request, patient, "Choose the rabies dose.")
    try:
        made = actions.issue_certificate(
            actor=request.actor, now=timezone.now(), dose=dose, once=form.cleaned_data["once"]
        )
    except SentBefore:
        return redirect("patient-prevention", patient.pk)
    except VisitError as error:
        return whole(request, patient, str(error))
    return redirect("certificate", made.pk)


@require_safe
@needs(Right.SEE)
def certificate(request: StaffRequest, certificate_id: int) -> HttpResponse:
    return _page(request, _access(certificate_id, request))


def _page(request: StaffRequest, row: Certificate, wrong: str = "") -> HttpResponse:
    context = {
        "row": row,
        "sheet": sheet_of(row),
        "wrong": wrong,
        "current": is_current(row, timezone.localdate()),
        "may_sign": request.actor.may(Right.SIGN),
        "once": OnceForm()["once"].value(),
        "replaced_by": Certificate.objects.filter(replaces=row).first(),
    }
    return render(request, "preventive/certificate.html", context, status=WRONG if wrong else 200)


@require_safe
@needs(Right.SEE)
def pdf(request: StaffRequest, certificate_id: int) -> HttpResponse:
    """The stored bytes; while the worker still makes them, a page that says so."""
    row = _access(certificate_id, request)
    if not hasattr(row, "file"):
        return render(request, "preventive/certificate_making.html", {"row": row}, status=MAKING)
    sha = row.file.sha256
    answer = HttpResponse(read(f"{sha[:2]}/{sha}.pdf"), content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="certificate-{row}.pdf"'
    return answer


@require_POST
@needs(Right.SIGN)
def void(request: StaffRequest, certificate_id: int) -> HttpResponse:
    """Void it; `do` replace: and issue the next from the record as it is now."""
    row, form = _access(certificate_id, request, Right.SIGN), WhyForm(request.POST)
    if not form.is_valid():
        return _page(request, row, first_error(form))
    again = request.POST.get("do") == "replace"
    act = actions.replace_certificate if again else actions.void_certificate
    try:
        made = act(actor=request.actor, now=timezone.now(), certificate=row, **form.cleaned_data)
    except SentBefore:
        return redirect("certificate", row.pk)
    except VisitError as error:
        return _page(request, row, str(error))
    return redirect("certificate", made.pk if made else row.pk)


@login_not_required
@require_safe
@never_cache
def check(request: HttpRequest) -> HttpResponse:
    """Whether a certificate stands, for anybody who has its code; names nobody. Looking changes nothing."""
    typed = request.GET.get("code", "")[:40]
    code = as_typed(typed)
    row = Certificate.objects.filter(code=code).first() if code else None
    context = {
        "typed": typed,
        "asked": bool(typed.strip()),
        "says": _says(row, timezone.localdate()),
        "frame": frame_of(request),
    }
    return render(request, "preventive/certificate_check.html", context)


def _says(row: Certificate | None, today: date) -> tuple[str, str, str]:
    """Shape, tone and sentence: validity alone."""
    if row is None:
        return (
            "danger",
            "is-danger",
            "No certificate has this code. Compare it with the paper.",
        )
    if row.struck_at is not None:
        return "danger", "is-danger", f"Certificate {row} was voided. It proves nothing."
    if today < row.valid_from:
        return "abnormal", "is-look", f"Certificate {row} stands. It is valid from {day(row.valid_from)}."
    if today > row.due_by:
        return "abnormal", "is-look", f"Certificate {row} stands. It was valid until {day(row.due_by)}."
    return "normal", "is-normal", f"Certificate {row} stands. It is valid until {day(row.due_by)}."
