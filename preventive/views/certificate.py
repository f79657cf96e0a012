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
from clinic.platform import rates
from clinic.platform.files import read
from clinic.platform.forms import OnceForm
from clinic.platform.http import StaffRequest, needs
from clinic.visits.errors import SentBefore, VisitError
from preventive import actions
from preventive.actions.certificates import is_current
from preventive.certificate_code import as_typed
from preventive.certificate_sheet import sheet_of
from preventive.forms import CertificateForm
from preventive.models import Certificate
from preventive.queries import dose_sent
from preventive.reaction_forms import WhyForm
from preventive.views.attempt import WRONG, first_error
from preventive.views.patient import whole
from preventive.wording import day

MAKING = 202
LIMIT = rates.Limit(
    "certificate", most=30
)  # ours: a kennel checks a few a minute; who tries codes needs millions
TOO_OFTEN = ("abnormal", "is-look", "Too many codes were tried from here. Wait a while, or call the clinic.")


def _access(certificate_id: int, request: StaffRequest, right: Right = Right.SEE) -> Certificate:
    request.actor.require(right)
    rows = Certificate.objects.select_related(
        "patient__merged_into",
        "protocol",
        "entered_by",
        "struck_by",
        "replaces",
        "dose__patient__merged_into",
        "dose__supervising",
        "dose__given_by",
    )
    return get_object_or_404(rows, pk=certificate_id)


@require_POST
@needs(Right.SIGN)
def issue(request: StaffRequest, patient_id: int) -> HttpResponse:
    patient = access_patient(patient_id, actor=request.actor, right=Right.SIGN)
    dose, form = dose_sent(request.POST.get("dose", ""), patient=patient), CertificateForm(request.POST)
    if dose is None or not form.is_valid():
        return whole(request, patient, first_error(form) or "Choose the rabies dose.")
    try:
        made = actions.issue_certificate(
            actor=request.actor, now=timezone.now(), dose=dose, **form.cleaned_data
        )
    except SentBefore:
        return redirect("patient-prevention", patient.pk)
    except VisitError as error:
        return whole(request, patient, str(error), f"certify-{dose.pk}")
    return redirect("certificate", made.pk)


@require_POST
@needs(Right.SIGN)
def issue_all(request: StaffRequest, patient_id: int) -> HttpResponse:
    """Of all vaccines."""
    patient = access_patient(patient_id, actor=request.actor, right=Right.SIGN)
    form = OnceForm(request.POST)
    if not form.is_valid():
        return whole(request, patient, first_error(form))
    try:
        made = actions.issue_vaccination_certificate(
            actor=request.actor, now=timezone.now(), patient=patient, once=form.cleaned_data["once"]
        )
    except SentBefore:
        return redirect("patient-prevention", patient.pk)
    except VisitError as error:
        return whole(request, patient, str(error), "certificates")
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
    """Whether a certificate stands, for anybody who has its code; names nobody. Looking changes nothing.

    Whoever asks too often waits: 60 bits are not found by trying, and the page is not to be worn out by it.
    """
    typed = request.GET.get("code", "")[:40]
    code = as_typed(typed)
    now = timezone.now()
    if typed.strip() and not rates.may_ask(LIMIT, rates.who_of(request, now), now):
        context = {"typed": typed, "asked": True, "says": TOO_OFTEN, "frame": frame_of(request)}
        return render(request, "preventive/certificate_check.html", context, status=429)
    row = Certificate.objects.filter(code=code).first() if code else None
    context = {
        "typed": typed,
        "asked": bool(typed.strip()),
        "says": _says(row, timezone.localdate(now)),
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
    if row.kind == Certificate.Kind.ALL:
        return _says_of_all(row, today)
    if today < row.valid_from or row.due_by is None:
        return "abnormal", "is-look", f"Certificate {row} stands. It is valid from {day(row.valid_from)}."
    if today > row.due_by:
        return "abnormal", "is-look", f"Certificate {row} stands. It was valid until {day(row.due_by)}."
    return "normal", "is-normal", f"Certificate {row} stands. It is valid until {day(row.due_by)}."


def _says_of_all(row: Certificate, today: date) -> tuple[str, str, str]:
    if row.due_by is None:
        return "normal", "is-normal", f"Certificate {row} stands, as issued on {day(row.valid_from)}."
    if today > row.due_by:
        words = f"Certificate {row} stands. A vaccine on it was due again by {day(row.due_by)}."
        return "abnormal", "is-look", words
    words = f"Certificate {row} stands. The first of its vaccines is due again by {day(row.due_by)}."
    return "normal", "is-normal", words
