"""Letter and signature: what is missing, what the owner will read, the PIN; and addenda afterwards."""

from uuid import UUID, uuid4

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from clinic.care.sources import all_matters
from clinic.letters.pages import preview_context
from clinic.people.actions import PeopleError, confirm_presence
from clinic.people.actor import NotAllowed
from clinic.people.rights import Right
from clinic.platform.asked import asked_once
from clinic.platform.http import StaffRequest, needs
from clinic.visits import actions, queries
from clinic.visits.addenda import addenda_rows
from clinic.visits.errors import AlreadySigned, NeedsWords, NotReady, SentBefore, VisitError
from clinic.visits.forms import AddendumForm, AnswerForm, ExcuseForm, SignForm
from clinic.visits.frame import visit_frame
from clinic.visits.models import Record, Visit
from clinic.visits.short import in_short
from clinic.visits.signature import WHY_NOT_TAKEN, WHY_NOT_TODAY, signature_page

CORRECTS = 120  # characters of the line that an addendum names

WRONG_PIN = "That is not your PIN. Nothing was signed."


@require_http_methods(["GET", "POST"])
@needs(Right.SEE)
def sign(request: StaffRequest, visit_id: int) -> HttpResponse:
    """The page; a POST by somebody who may sign, with the PIN, signs."""
    visit = queries.access_visit_here(visit_id, actor=request.actor)
    if request.method == "POST":
        return _signed(request, visit)
    return _page(request, visit, SignForm())


def _page(request: StaffRequest, visit: Visit, form: SignForm, status: int = 200) -> HttpResponse:
    with asked_once():  # what is missing, in short and the letter ask the same of the record
        return _shown(request, visit, form, status)


def _shown(request: StaffRequest, visit: Visit, form: SignForm, status: int) -> HttpResponse:
    today = timezone.localdate()
    record = visit.record
    context = {
        "frame": visit_frame(visit, current="sign", today=today, actor=request.actor),
        "visit": visit,
        "page": signature_page(record, actor=request.actor),
        "form": form,
        "may_sign": request.actor.may(Right.SIGN),
        "may_choose_kind": request.actor.may(Right.ASSESS),
        "may_answer": request.actor.may(Right.ANSWER_HEADS_UP),
        "may_measure": request.actor.may(Right.MEASURE),
        "why_not_taken": WHY_NOT_TAKEN,
        "why_not_today": WHY_NOT_TODAY,
        "addenda": addenda_rows(record),
        "letters": queries.letters_of(record),
        "in_short": in_short(record, actor=request.actor, today=today),
        **preview_context(
            record, today=today, can_correct=request.actor.may(Right.SIGN) and not record.is_signed
        ),
    }
    return render(request, "clinic/visits/sign.html", context, status=status)


def _signed(request: StaffRequest, visit: Visit) -> HttpResponse:
    """The PIN is looked at first and in a transaction of its own: a wrong try stays counted."""
    if not request.actor.may(Right.SIGN):
        raise PermissionDenied
    now = timezone.now()
    form = SignForm(request.POST)
    if not form.is_valid():
        return _page(request, visit, form, 422)
    try:
        if not confirm_presence(request.actor.staff, form.cleaned_data["secret"], now):
            form.add_error("secret", WRONG_PIN)
            return _page(request, visit, form, 422)
        signed = actions.sign(
            record=visit.record, once=form.cleaned_data["once"], actor=request.actor, now=now
        )
    except PeopleError as error:
        form.add_error("secret", str(error))
    except NotReady as error:
        form.add_error(None, f"Not signed: {len(error.missing)} to answer first.")
    except (AlreadySigned, SentBefore) as error:
        messages.success(request, str(error))
        return redirect("visit-sign", visit.pk)
    else:
        messages.success(request, f"Signed by {signed.signed_name}. The letter is on its way.")
        return redirect("visit-sign", visit.pk)
    fresh = queries.access_visit_here(visit.pk, actor=request.actor)
    return _page(request, fresh, SignForm(initial={"once": uuid4()}) if form.is_valid() else form, 409)


@require_POST
@needs(Right.MEASURE)
def excuse(request: StaffRequest, visit_id: int, what: str) -> HttpResponse:
    """Why there is no weight, or no body condition, today."""
    record = queries.access_record(visit_id, actor=request.actor, right=Right.MEASURE)
    form = ExcuseForm(request.POST)
    does = {"weight": actions.excuse_weight, "bcs": actions.excuse_bcs}[what]
    try:
        reason = form.cleaned_data["reason"] if form.is_valid() else ""
        does(record=record, reason=reason, actor=request.actor, now=timezone.now())
    except VisitError as error:
        messages.error(request, str(error))
    return _back(record, what)


@require_POST
@needs(Right.ANSWER_HEADS_UP)
def answer(request: StaffRequest, visit_id: int, heads_up_id: UUID) -> HttpResponse:
    """A clinician's answer to a heads-up, wherever it was asked."""
    heads_up = queries.access_heads_up(heads_up_id, visit_id=visit_id, actor=request.actor)
    form = AnswerForm(request.POST)
    if not form.is_valid():
        messages.error(request, "Choose an answer to the heads-up.")
        return _back(heads_up.record, f"heads-up-{heads_up_id}")
    try:
        actions.answer_heads_up(
            heads_up=heads_up, actor=request.actor, now=timezone.now(), **form.cleaned_data
        )
    except VisitError as error:
        messages.error(request, str(error))
    return _back(heads_up.record, f"heads-up-{heads_up_id}")


def _back(record: Record, anchor: str) -> HttpResponse:
    return redirect(f"{reverse('visit-sign', args=[record.visit_id])}#{anchor}")


@require_http_methods(["GET", "POST"])
@needs(Right.SEE)
def addenda(request: StaffRequest, visit_id: int) -> HttpResponse:
    """What was added after signing, and a form to add."""
    visit = queries.access_visit_here(visit_id, actor=request.actor)
    record = visit.record
    may_add = record.is_signed and request.actor.may(actions.amend_right(record, request.actor))
    form = AddendumForm(request.POST or None)
    if request.method == "POST":
        if not request.actor.may(actions.amend_right(record, request.actor)):
            raise PermissionDenied
        if form.is_valid() and _added(request, record, form):
            return redirect("visit-addenda", visit.pk)
    context = {
        "frame": visit_frame(visit, current="", today=timezone.localdate(), actor=request.actor),
        "visit": visit,
        "record": record,
        "rows": addenda_rows(record),
        "form": form,
        "may_add": may_add,
        "signed_lines": [each.words[:CORRECTS] for each in all_matters(record)] if may_add else [],
        "may_tell": request.actor.may(Right.SIGN),
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "clinic/visits/addenda.html", context, status=status)


def _added(request: StaffRequest, record: Record, form: AddendumForm) -> bool:
    try:
        actions.add_addendum(record=record, actor=request.actor, now=timezone.now(), **form.cleaned_data)
    except SentBefore:
        return True
    except NeedsWords as error:
        form.add_error(error.field, str(error))
    except NotAllowed:
        form.add_error("for_owner", "Only a clinician writes to the owner.")
    except VisitError as error:
        form.add_error(None, str(error))
    return not form.errors
