"""Records, The protocol: law apart from guideline, questions on which the sources disagree, editions."""

from django import forms
from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from clinic.people.rights import Right
from clinic.platform.forms import OnceForm
from clinic.platform.http import StaffRequest, needs
from clinic.visits.errors import SentBefore, VisitError
from preventive import actions
from preventive.models import ProtocolEdition
from preventive.own_values import own_value
from preventive.proposals import asked_for
from preventive.protocol_page import HOW, access_proposal, protocol_page, trial_of, value_groups
from preventive.versions import protocol_in_force
from preventive.views.attempt import WRONG, first_error


class ProposeForm(OnceForm):
    setting = forms.CharField(max_length=60)
    option = forms.CharField(max_length=60, error_messages={"required": "Choose one of the answers."})
    why = forms.CharField(
        max_length=1000, error_messages={"required": "Say why: the clinician who approves reads it."}
    )


@require_safe
@needs(Right.SEE_RECORDS)
def protocol(request: StaffRequest) -> HttpResponse:
    return _whole(request)


def _whole(request: StaffRequest, wrong: str = "") -> HttpResponse:
    context = {
        "page": protocol_page(),
        "wrong": wrong,
        "typed": request.POST,
        "once": OnceForm()["once"].value(),
    }
    return render(request, "preventive/protocol.html", context, status=WRONG if wrong else 200)


@require_POST
@needs(Right.SEE_RECORDS)
def propose(request: StaffRequest) -> HttpResponse:
    form = ProposeForm(request.POST)
    if not form.is_valid():
        return _whole(request, first_error(form))
    try:
        made = actions.propose_setting(actor=request.actor, now=timezone.now(), **form.cleaned_data)
    except SentBefore:
        return redirect("protocol")
    except VisitError as error:
        return _whole(request, str(error))
    return redirect("protocol-proposal", made.pk)


UNITS = [("d", "days"), ("wk", "weeks"), ("mo", "months"), ("yr", "years")]


class ValueForm(OnceForm):
    path = forms.CharField(max_length=200)
    number = forms.CharField(max_length=6, required=False)
    unit = forms.ChoiceField(choices=UNITS, required=False)
    why = forms.CharField(
        max_length=1000, error_messages={"required": "Say why: the clinician who approves reads it."}
    )


@require_safe
@needs(Right.SEE_RECORDS)
def values(request: StaffRequest) -> HttpResponse:
    """Every single value that the clinic may set for itself."""
    groups = value_groups(protocol_in_force())
    return render(request, "preventive/protocol_values.html", {"groups": groups})


@require_http_methods(["GET", "HEAD", "POST"])
@needs(Right.SEE_RECORDS)
def value(request: StaffRequest) -> HttpResponse:
    """One value: what it changes, and asking for another."""
    sent = request.POST if request.method == "POST" else request.GET
    found = own_value(protocol_in_force(), sent.get("path", "")[:200])
    if found is None:
        raise Http404
    wrong = ""
    if request.method == "POST":
        form = ValueForm(request.POST)
        if form.is_valid():
            try:
                made = actions.propose_value(actor=request.actor, now=timezone.now(), **form.cleaned_data)
            except SentBefore:
                return redirect("protocol")
            except VisitError as error:
                wrong = str(error)
            else:
                return redirect("protocol-proposal", made.pk)
        else:
            wrong = first_error(form)
    number, _, unit = found.now.partition(" ")
    context = {
        "value": found,
        "wrong": wrong,
        "number": request.POST.get("number", number),
        "unit": request.POST.get("unit", unit),
        "units": UNITS,
        "why": request.POST.get("why", ""),
        "once": OnceForm()["once"].value(),
    }
    return render(request, "preventive/protocol_value.html", context, status=WRONG if wrong else 200)


class GiveUpForm(OnceForm):
    path = forms.CharField(max_length=200)


@require_POST
@needs(Right.SEE_RECORDS)
def give_up(request: StaffRequest) -> HttpResponse:
    """Ask that a value of our own which lost its place in the protocol be taken back."""
    form = GiveUpForm(request.POST)
    if not form.is_valid():
        return _whole(request, first_error(form))
    why = "The protocol has no place for it any more."
    sent = {**form.cleaned_data, "number": "", "unit": "", "why": why}
    try:
        made = actions.propose_value(actor=request.actor, now=timezone.now(), **sent)
    except SentBefore:
        return redirect("protocol")
    except VisitError as error:
        return _whole(request, str(error))
    return redirect("protocol-proposal", made.pk)


@require_safe
@needs(Right.SEE_RECORDS)
def proposal(request: StaffRequest, protocol_proposal_id: int) -> HttpResponse:
    """What is asked for, and what it would do to every animal of the practice."""
    row = access_proposal(protocol_proposal_id, actor=request.actor)
    asked = asked_for(row, protocol_in_force())
    open_still = row.state == row.State.OPEN and asked is not None
    context = {
        "row": row,
        "asked": asked,
        "trial": trial_of(row) if open_still else None,
        "how": HOW,
        "open_still": open_still,
        "mine": row.by_id == request.actor.staff.pk,
        "may_approve": request.actor.may(Right.APPROVE_PROTOCOL),
    }
    return render(request, "preventive/protocol_proposal.html", context)


@require_POST
@needs(Right.APPROVE_PROTOCOL)
def approve(request: StaffRequest, protocol_proposal_id: int) -> HttpResponse:
    row = access_proposal(protocol_proposal_id, actor=request.actor)
    try:
        edition = actions.approve_proposal(actor=request.actor, now=timezone.now(), proposal=row)
    except VisitError as error:
        messages.error(request, f"{error} Nothing was changed.")
        return redirect("protocol-proposal", row.pk)
    messages.success(request, f"Edition {edition.number} is in force. Every due is reckoned anew.")
    return redirect("protocol")


@require_POST
@needs(Right.SEE_RECORDS)
def try_again(request: StaffRequest, protocol_proposal_id: int) -> HttpResponse:
    """Tried anew on the animals of today."""
    row = access_proposal(protocol_proposal_id, actor=request.actor)
    try:
        actions.try_again(actor=request.actor, now=timezone.now(), proposal=row)
    except VisitError as error:
        messages.error(request, str(error))
    return redirect("protocol-proposal", row.pk)


@require_POST
@needs(Right.SEE_RECORDS)
def decline(request: StaffRequest, protocol_proposal_id: int) -> HttpResponse:
    row = access_proposal(protocol_proposal_id, actor=request.actor)
    try:
        actions.decline_proposal(
            actor=request.actor, now=timezone.now(), proposal=row, why=request.POST.get("why", "")
        )
    except VisitError as error:
        messages.error(request, f"{error} Nothing was changed.")
        return redirect("protocol-proposal", row.pk)
    messages.success(request, "The protocol stays as it is.")
    return redirect("protocol")


@require_safe
@needs(Right.SEE_RECORDS)
def editions(request: StaffRequest) -> HttpResponse:
    rows = list(ProtocolEdition.objects.select_related("by", "proposal__by"))
    return render(request, "preventive/protocol_editions.html", {"editions": rows})
