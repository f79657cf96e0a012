"""What tests showed: entered, read, struck out, told by a letter; all of a patient's on one page."""

from typing import Any

from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from clinic.care import actions, queries
from clinic.care.in_house import outcomes_of
from clinic.care.models import Test
from clinic.care.result_forms import ReadForm, ResultForm, ResultLetterForm, StrikeResultForm
from clinic.care.result_letter import Telling, compose_result_letter
from clinic.care.results_page import results_page
from clinic.care.views.page import Editor, back_to, blame, carried_out
from clinic.letters.composition import NoEmergencyTelephone
from clinic.letters.sheet import sheet_context
from clinic.patients.queries import access_patient
from clinic.people.actions import PeopleError, confirm_presence
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.platform.pictures import MOST_BYTES
from clinic.platform.stored import stored_file
from clinic.visits.errors import SentBefore, VisitError
from clinic.visits.frame import visit_frame
from clinic.visits.models import Visit
from clinic.visits.queries import access_visit_here

WRONG = 422
WRONG_PIN = "That is not your PIN. Nothing left."
NO_PHONE = "The clinic’s emergency telephone is missing. No letter goes out without one."


@require_POST
@needs(Right.OBSERVE)
def result(request: StaffRequest, visit_id: int, test_id: int) -> HttpResponse:
    """Second tap, or values and the file as the laboratory reported them; also after signing."""
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.OBSERVE)
    test = queries.access_test(test_id, visit=visit, actor=request.actor)
    problem = test.plan_line.problem if test.plan_line else None
    form = ResultForm(request.POST, request.FILES)
    editor = Editor("result", form, problem=problem.pk if problem else None, at=test.pk)
    return carried_out(
        request, visit, editor, lambda: _enter(request, test, form), to=back_to(visit, problem)
    )


def _enter(request: StaffRequest, test: Test, form: ResultForm) -> None:
    now, asked = timezone.now(), form.cleaned_data
    tapped = next((one for one in outcomes_of(test.kind) if one.code == asked["outcome"]), None)
    values = form.values()
    sentence = asked["for_owner"]
    if tapped:
        values = [actions.Value(value=tapped.value, meaning=tapped.meaning)]
        sentence = sentence or tapped.for_owner
    day = asked["resulted_on"]
    with transaction.atomic():  # a report that cannot be kept leaves no values without it
        actions.enter_results(
            test=test,
            values=values,
            for_owner=sentence,
            resulted_at=actions.moment_of(day, now) if day else None,
            once=asked["once"],
            actor=request.actor,
            now=now,
        )
        report = form.report_file()
        if report is not None:
            content = report.read(MOST_BYTES + 1)
            actions.add_report(
                test=test, content=content, name=report.name or "", actor=request.actor, now=now
            )


@require_POST
@needs(Right.ASSESS)
def read(request: StaffRequest, visit_id: int, test_id: int) -> HttpResponse:
    """A clinician has read all of it."""
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.ASSESS)
    test = queries.access_test(test_id, visit=visit, actor=request.actor, right=Right.ASSESS)
    problem = test.plan_line.problem if test.plan_line else None
    form = ReadForm(request.POST)
    return carried_out(
        request,
        visit,
        Editor("read", form, problem=problem.pk if problem else None, at=test.pk),
        lambda: actions.read_results(test=test, actor=request.actor, now=timezone.now(), **form.cleaned_data),
        to=back_to(visit, problem),
    )


# --- The letter that tells results ------------------------------------------------------------------------


@require_http_methods(["GET", "POST"])
@needs(Right.SIGN)
def letter(request: StaffRequest, visit_id: int) -> HttpResponse:
    """What the owner will read of results that came after the signature; a POST with the PIN releases it."""
    visit = access_visit_here(visit_id, actor=request.actor)
    form = ResultLetterForm(request.POST if request.method == "POST" else None)
    look = "look" in request.POST
    if request.method == "POST" and not look and form.is_valid():
        released = _release(request, visit, form)
        if released is not None:
            return released
    results = queries.untold_results(visit.record)
    ready = [each for each in results if each.read_at]
    tests = queries.tests_with_results(sorted({each.test_id for each in ready}))
    words = form.data.get("next_words", "") if form.is_bound else ""
    context: dict[str, Any] = {
        "visit": visit,
        "frame": visit_frame(visit, current="plan", today=timezone.localdate(), actor=request.actor),
        "form": form,
        "tests": tests,
        "unread": [each for each in results if not each.read_at],
        "signed": visit.record.is_signed,
        "preview": False,
    }
    if tests and visit.record.is_signed:
        try:
            document = compose_result_letter(
                visit.record, Telling(tuple(tests), words.strip()), now=timezone.now()
            )
        except NoEmergencyTelephone:
            context["no_letter"] = NO_PHONE
        else:
            context |= sheet_context(document)
    status = WRONG if form.is_bound and not look else 200
    return render(request, "clinic/care/result_letter.html", context, status=status)


def _release(request: StaffRequest, visit: Visit, form: ResultLetterForm) -> HttpResponse | None:
    """The PIN first, in a transaction of its own: a wrong try stays counted."""
    now = timezone.now()
    try:
        if not confirm_presence(request.actor.staff, form.cleaned_data["secret"], now):
            form.add_error("secret", WRONG_PIN)
            return None
        made = actions.release_result_letter(
            record=visit.record,
            next_words=form.cleaned_data["next_words"],
            once=form.cleaned_data["once"],
            actor=request.actor,
            now=now,
        )
    except PeopleError as error:
        form.add_error("secret", str(error))
    except NoEmergencyTelephone:
        form.add_error(None, NO_PHONE)
    except SentBefore:
        return redirect("visit-plan", visit.pk)
    except VisitError as error:
        form.add_error(None, str(error))
    else:
        return redirect("letter", made.pk)
    return None


# --- All of a patient -------------------------------------------------------------------------------------


@require_GET
@needs(Right.SEE)
def results(request: StaffRequest, patient_id: int) -> HttpResponse:
    """Every test of the patient, and each value over time."""
    patient = access_patient(patient_id, actor=request.actor)
    context = {
        "patient": patient,
        "page": results_page(patient),
        "may_strike": request.actor.may(Right.STRIKE_OWN),
    }
    return render(request, "clinic/care/results.html", context)


@require_http_methods(["GET", "POST"])
@needs(Right.STRIKE_OWN)
def strike(request: StaffRequest, patient_id: int, result_id: int) -> HttpResponse:
    """Strike a result out, and write what it should have been."""
    patient = access_patient(patient_id, actor=request.actor)
    found = queries.access_result_of(result_id, patient=patient, actor=request.actor)
    form = StrikeResultForm(
        request.POST if request.method == "POST" else None,
        initial={"unit": found.unit, "interval": found.interval},
    )
    if request.method == "POST" and form.is_valid():
        asked = form.cleaned_data
        instead = None
        if asked["value"]:
            instead = actions.Value(
                value=asked["value"],
                analyte=found.analyte,
                unit=asked["unit"],
                interval=asked["interval"],
                meaning=asked["meaning"],
                for_owner=asked["for_owner"],
            )
        try:
            actions.strike_result(
                result=found,
                reason=asked["reason"],
                instead=instead,
                once=asked["once"],
                actor=request.actor,
                now=timezone.now(),
            )
        except SentBefore:
            return redirect("patient-results", patient.pk)
        except VisitError as error:
            blame(form, error)
        else:
            return redirect("patient-results", patient.pk)
    context = {"patient": patient, "result": found, "form": form}
    status = WRONG if request.method == "POST" else 200
    return render(request, "clinic/care/result_strike.html", context, status=status)


@require_GET
@needs(Right.SEE)
def report(request: StaffRequest, patient_id: int, file_id: int) -> HttpResponse:
    """The laboratory's file, byte for byte. A PDF is saved, never shown by this origin."""
    patient = access_patient(patient_id, actor=request.actor)
    found = queries.access_report(file_id, patient=patient, actor=request.actor)
    plain = found.name.encode("ascii", "replace").decode().replace("?", "_").replace('"', "_")
    return stored_file(f"{found.sha256[:2]}/{found.sha256}{found.suffix}", name=plain)


@require_http_methods(["GET", "POST"])
@needs(Right.STRIKE_OWN)
def strike_report(request: StaffRequest, patient_id: int, file_id: int) -> HttpResponse:
    """The wrong file: out of sight, with a reason."""
    patient = access_patient(patient_id, actor=request.actor)
    found = queries.access_report(file_id, patient=patient, actor=request.actor)
    form = StrikeResultForm(request.POST if request.method == "POST" else None)
    for name in ("value", "unit", "interval", "meaning", "for_owner"):
        del form.fields[name]
    if request.method == "POST" and form.is_valid():
        try:
            actions.strike_report(report=found, actor=request.actor, now=timezone.now(), **form.cleaned_data)
        except SentBefore:
            pass
        except VisitError as error:
            blame(form, error)
        if not form.errors:
            return redirect(reverse("patient-results", args=[patient.pk]))
    context = {"patient": patient, "report": found, "form": form}
    status = WRONG if request.method == "POST" else 200
    return render(request, "clinic/care/result_strike.html", context, status=status)
