"""Measuring: one value at a time, judged while it is typed and again when it is kept; striking out."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal, InvalidOperation
from uuid import UUID, uuid4

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from clinic.patients import actions, gauges, verdicts
from clinic.patients.errors import AskOnce, Impossible, PatientError, SentBefore
from clinic.patients.forms import StrikeForm
from clinic.patients.gauges import Sent
from clinic.patients.judgement import Kind
from clinic.patients.models import Measurement, Patient
from clinic.patients.queries import access_measurement, access_patient
from clinic.patients.units import Unit, Units
from clinic.patients.verdicts import Verdict
from clinic.patients.views.common import WRONG, carry_out
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.platform.measures import units_of
from clinic.visits.frame import banner_facts, visit_frame
from clinic.visits.models import Visit
from clinic.visits.queries import access_visit_here

PLANNED = {"yes": True, "no": False}
SETTINGS = frozenset({"clinic", "home-awake", "home-asleep"})
METHOD = ("cuff", "site", "device", "readings", "seconds", "scale")


@dataclass(frozen=True)
class Typed:
    """One gauge as it was sent. `number` None with `text`: not a number."""

    kind: Kind
    text: str
    number: Decimal | None
    unit: str
    category: str
    setting: str
    details: dict[str, str]
    looked_twice: bool
    planned: bool | None
    once: UUID | None

    @property
    def empty(self) -> bool:
        return not self.text and not self.category

    def sent(self, verdict: Verdict | None) -> Sent:
        return Sent(self.kind.value, self.text, self.unit, self.category, self.details, verdict)


def _read(data: QueryDict) -> Typed | None:
    """What the form says; None for something that is no measurement at all."""
    sent = {name: str(value).strip() for name, value in data.items()}
    if sent.get("kind") not in set(Measurement.Kind.values):
        return None
    text, unit = sent.get("typed", ""), sent.get("unit", "")
    offered, _, number = sent.get("offer", "").partition(":")
    if offered:
        text, unit = number, offered
    word = "" if offered else sent.get("category", "")
    setting = sent.get("setting", "")
    return Typed(
        kind=Kind(sent["kind"]),
        text="" if word else text,
        number=None if word else _number(text),
        unit=unit if unit in set(Unit) else "",
        category=word,
        setting=setting if setting in SETTINGS else "clinic",
        details={name: sent[name][:60] for name in METHOD if sent.get(name)},
        looked_twice=bool(offered or sent.get("looked_twice")),
        planned=PLANNED.get(sent.get("planned", "")),
        once=_uuid(sent.get("once", "")),
    )


def _number(text: str) -> Decimal | None:
    try:
        number = Decimal(text.replace(",", "."))
    except InvalidOperation:
        return None
    return number if number.is_finite() else None


def _uuid(text: str) -> UUID | None:
    try:
        return UUID(text)
    except ValueError:
        return None


def _unreadable(typed: Typed) -> str:
    if typed.empty:
        return "Type a value first."
    return "" if typed.number is not None or typed.category else "That is not a number. Not kept."


# --- Judging while typing ---------------------------------------------------------------------------


@require_safe
@needs(Right.MEASURE)
def judge_patient(request: StaffRequest, patient_id: int) -> HttpResponse:
    patient = access_patient(patient_id, actor=request.actor, right=Right.MEASURE)
    return _judge(request, patient, None)


@require_safe
@needs(Right.MEASURE)
def judge_visit(request: StaffRequest, visit_id: int) -> HttpResponse:
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.MEASURE)
    return _judge(request, visit.patient, visit)


def _judge(request: StaffRequest, patient: Patient, visit: Visit | None) -> HttpResponse:
    """What would be said about a value; nothing is kept."""
    typed = _read(request.GET)
    verdict = None
    if typed is not None and not typed.empty:
        verdict = _judged(typed, patient, visit, units_of(request.actor))
    context = {"verdict": verdict, "visit_id": visit.pk if visit else None}
    return render(request, "clinic/patients/measure_verdict.html", context)


def _judged(typed: Typed, patient: Patient, visit: Visit | None, units: Units) -> Verdict:
    wrong = _unreadable(typed)
    if wrong:
        return verdicts.refused(wrong)
    try:
        judgement = actions.judged(
            patient=patient,
            visit=visit,
            kind=typed.kind,
            typed=typed.number,
            unit=typed.unit,
            category=typed.category,
            setting=typed.setting,
            state="",
            details=typed.details,
            now=timezone.now(),
            planned_change=typed.planned,
        )
    except PatientError as error:
        return verdicts.refused(str(error))
    return verdicts.verdict(judgement, units)


# --- Keeping ----------------------------------------------------------------------------------------


@require_http_methods(["GET", "HEAD", "POST"])
@needs(Right.MEASURE)
def of_patient(request: StaffRequest, patient_id: int) -> HttpResponse:
    """Measured without a visit."""
    patient = access_patient(patient_id, actor=request.actor, right=Right.MEASURE)
    return _measure(request, patient, None) if request.method == "POST" else _page(request, patient, None)


@require_http_methods(["GET", "HEAD", "POST"])
@needs(Right.MEASURE)
def of_visit(request: StaffRequest, visit_id: int) -> HttpResponse:
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.MEASURE)
    if request.method == "POST":
        return _measure(request, visit.patient, visit)
    return _page(request, visit.patient, visit)


def _page(
    request: StaffRequest, patient: Patient, visit: Visit | None, sent: Sent | None = None
) -> HttpResponse:
    """The form on a page of its own; the intake shows the same form."""
    today = timezone.localdate()
    panel = gauges.measure_panel(patient, visit, actor=request.actor, today=today, sent=sent)
    template, context = "clinic/patients/measure.html", dict[str, object](panel=panel)
    if visit is not None:
        frame = visit_frame(visit, current="intake", today=today, actor=request.actor)
        template, context = "clinic/patients/measure_visit.html", context | {"frame": frame}
    return render(request, template, context, status=WRONG if sent else 200)


def _measure(request: StaffRequest, patient: Patient, visit: Visit | None) -> HttpResponse:
    typed = _read(request.POST)
    if typed is None:
        return _page(request, patient, visit, Sent("", verdict=verdicts.refused("Choose what was measured.")))
    verdict, kept = _keep(request, typed, patient, visit)
    if request.htmx:
        return _fragment(request, typed, patient, visit, verdict, kept)
    if not kept:
        return _page(request, patient, visit, typed.sent(verdict))
    messages.success(request, verdict.words)
    return redirect(f"{_way_back(patient, visit)}#measured")


def _way_back(patient: Patient, visit: Visit | None) -> str:
    if visit is None:
        return reverse("patient-measure", args=[patient.pk])
    return reverse("visit-intake", args=[visit.pk])


def _keep(request: StaffRequest, typed: Typed, patient: Patient, visit: Visit | None) -> tuple[Verdict, bool]:
    wrong = _unreadable(typed)
    if wrong:
        return verdicts.refused(wrong), False
    try:
        row = actions.measure(
            patient=patient,
            visit=visit,
            kind=typed.kind,
            typed=typed.number,
            unit=typed.unit,
            category=typed.category,
            setting=typed.setting,
            details=typed.details,
            looked_twice=typed.looked_twice,
            planned_change=typed.planned,
            once=typed.once,
            actor=request.actor,
            now=timezone.now(),
        )
    except (Impossible, AskOnce) as error:
        return verdicts.verdict(error.judgement, units_of(request.actor)), False
    except SentBefore as error:
        return Verdict("kept", str(error)), True
    except PatientError as error:
        return verdicts.refused(str(error)), False
    return verdicts.of_row(row, units_of(request.actor)), True


def _fragment(
    request: StaffRequest,
    typed: Typed,
    patient: Patient,
    visit: Visit | None,
    verdict: Verdict,
    kept: bool,
) -> HttpResponse:
    """The verdict's slot, and once kept the values of today and a fresh token; never the field itself."""
    today = timezone.localdate()
    weighed = kept and visit is not None and typed.kind == Kind.WEIGHT
    context: Mapping[str, object] = {
        "facts": banner_facts(visit, actor=request.actor, today=today) if weighed and visit else "",
        "verdict": replace(verdict, offers=()) if kept else verdict,
        "visit_id": visit.pk if visit else None,
        "gauge": gauges.one_gauge(typed.kind, patient, visit, actor=request.actor, today=today)
        if kept
        else None,
        "once": uuid4(),
    }
    return render(request, "clinic/patients/measure_kept.html", context, status=200 if kept else WRONG)


# --- Striking out -----------------------------------------------------------------------------------


@require_http_methods(["GET", "HEAD", "POST"])
@needs(Right.STRIKE_OWN)
def strike(request: StaffRequest, patient_id: int, measurement_id: int) -> HttpResponse:
    """With a reason; the value stays readable."""
    row = access_measurement(
        measurement_id, patient_id=patient_id, actor=request.actor, right=Right.STRIKE_OWN
    )
    form = StrikeForm(request.POST or None)
    done = (
        request.method == "POST"
        and form.is_valid()
        and carry_out(
            request,
            form,
            lambda: actions.strike_measurement(
                measurement=row,
                reason=form.cleaned_data["reason"],
                actor=request.actor,
                now=timezone.now(),
            ),
            "Struck out; it stays readable with its reason.",
        )
    )
    if done:
        return redirect(_after_strike(row))
    context = {
        "form": form,
        "row": gauges.kept_row(row, request.actor, units_of(request.actor)),
        "kind": row.get_kind_display(),
    }
    context |= {"name": row.patient.name, "back": _after_strike(row)}
    if row.visit_id:
        context["elsewhere"] = f"{reverse('wrong-patient', args=[row.visit_id])}?key={row.pk}"
    return render(
        request, "clinic/patients/strike.html", context, status=WRONG if request.method == "POST" else 200
    )


def _after_strike(row: Measurement) -> str:
    here = row.visit is not None and hasattr(row.visit, "record") and not row.visit.record.is_signed
    if here and row.visit is not None:
        return reverse("visit-intake", args=[row.visit.pk])
    return reverse("patient", args=[row.patient_id])
