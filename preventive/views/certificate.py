"""Certificates: issued, shown, voided, replaced; and the page on which anybody checks one."""

from datetime import date

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from clinic.letters.texts import Texts
from clinic.letters.wording import long_day, words
from clinic.owner_page.middleware import frame_of
from clinic.owner_page.texts import every, preferred, wanted_languages
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
from preventive.letter import ROOM
from preventive.models import Certificate
from preventive.queries import dose_sent
from preventive.reaction_forms import WhyForm
from preventive.views.attempt import WRONG, first_error
from preventive.views.patient import whole

MAKING = 202
LIMIT = rates.Limit(
    "certificate", most=30
)  # ours: a kennel checks a few a minute; who tries codes needs millions


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

    In the language that was chosen on the page, else one that the browser asks for. Whoever asks too often
    waits: 60 bits are not found by trying, and the page is not to be worn out by it.
    """
    wanted = wanted_languages(request.headers.get("Accept-Language", ""))
    chosen = preferred((request.GET.get("language", "")[:8], *wanted))
    t = ROOM(chosen.language)
    typed = request.GET.get("code", "")[:40]
    asked, code, now = bool(typed.strip()), as_typed(typed), timezone.now()
    waits = asked and not rates.may_ask(LIMIT, rates.who_of(request, now), now)
    row = Certificate.objects.filter(code=code).first() if code and not waits else None
    context = {
        "typed": typed,
        "asked": asked,
        "says": _look("too_often", t) if waits else _says(row, timezone.localdate(now), t),
        "said": {name: t(f"check.{name}") for name in ("title", "intro", "code", "button")},
        "language": chosen.language,
        "others": [
            (each.language, each.page["other_language"].format(language=each.name))
            for each in every().values()
            if each is not chosen
        ],
        "frame": frame_of(request),
    }
    return render(request, "preventive/certificate_check.html", context, status=429 if waits else 200)


def _says(row: Certificate | None, today: date, t: Texts) -> tuple[str, str]:
    """Shape and sentence: validity alone."""
    if row is None:
        return "danger", t("check.none")
    if row.struck_at is not None:
        return "danger", t("check.voided", number=row)
    if row.kind == Certificate.Kind.ALL:
        return _says_of_all(row, today, t)
    if today < row.valid_from or row.due_by is None:
        return _look("from", t, row, row.valid_from)
    if today > row.due_by:
        return _look("was", t, row, row.due_by)
    return "normal", t("check.until", number=row, day=_day(row.due_by, t))


def _says_of_all(row: Certificate, today: date, t: Texts) -> tuple[str, str]:
    if row.due_by is None:
        return "normal", t("check.all", number=row, day=_day(row.valid_from, t))
    if today > row.due_by:
        return _look("all_was", t, row, row.due_by)
    return "normal", t("check.all_until", number=row, day=_day(row.due_by, t))


def _look(key: str, t: Texts, row: Certificate | None = None, on: date | None = None) -> tuple[str, str]:
    return "abnormal", t(f"check.{key}", number=row, day=_day(on, t) if on else "")


def _day(on: date, t: Texts) -> str:
    return long_day(on, words(t.language))
