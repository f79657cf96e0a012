"""Records, The walk: what the clinic changed of it, what is asked for, and each person's own order."""

from __future__ import annotations

from http import HTTPStatus
from typing import Any
from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from exams import own_actions, own_pages
from exams.errors import ExamError
from exams.own_forms import AskedForm, FindingForm, WhyForm, finding_initial
from exams.own_order import NotAnOrder, moved
from exams.own_walk import CannotChange
from exams.versions import published

EITHER = ["GET", "HEAD", "POST"]
WRONG = HTTPStatus.UNPROCESSABLE_ENTITY


def _sent(request: HttpRequest) -> QueryDict | None:
    """What a form is bound to: an empty POST is a sending too, and is told what it lacks."""
    return request.POST if request.method == "POST" else None


@require_safe
@needs(Right.PROPOSE_WALK)
def walk(request: StaffRequest) -> HttpResponse:
    page = own_pages.walk_page(
        query=request.GET.get("q", "").strip(), at=request.GET.get("at", ""), actor=request.actor
    )
    return render(request, "exams/own/walk.html", {"page": page})


@require_safe
@needs(Right.PROPOSE_WALK)
def editions(request: StaffRequest) -> HttpResponse:
    return render(request, "exams/own/editions.html", {"editions": own_pages.edition_rows()})


def _propose(request: StaffRequest, form: forms.Form, change: dict[str, Any]) -> HttpResponse | None:
    """Keep the proposal and show it; None: the form was told what is wrong."""
    try:
        made = own_actions.propose(
            change=change,
            why=form.cleaned_data["why"],
            once=form.cleaned_data["once"],
            actor=request.actor,
            now=timezone.now(),
        )
    except CannotChange as error:
        form.add_error(error.where if error.where in form.fields else None, str(error))
        return None
    except ExamError as error:
        form.add_error(None, str(error))
        return None
    if made is None:
        return redirect("walk")
    if not request.actor.may(Right.APPROVE_WALK):
        messages.success(request, "Asked for. A clinician approves it, then new exams begin with it.")
    return redirect("walk-proposal", made.pk)


# ---- One line


@require_http_methods(EITHER)
@needs(Right.PROPOSE_WALK)
def line(request: StaffRequest, structure: str) -> HttpResponse:
    """When it is asked, and what comes first. A button of the order moves one finding and keeps nothing."""
    order = tuple(request.POST.getlist("order"))
    page = own_pages.line_page(structure)
    asked = AskedForm(prefix="asked", initial={"asked": page.asked})
    first = WhyForm(prefix="first")
    status = HTTPStatus.OK
    if request.method == "POST" and "move" in request.POST:
        code, _, way = request.POST["move"].partition(":")
        page = own_pages.line_page(structure, moved(order, code, way))
        first = WhyForm(prefix="first", initial=_typed(request, "first"))
    elif request.method == "POST":
        kind = request.POST.get("do", "")
        form: forms.Form
        if kind == "first":
            form = first = WhyForm(request.POST, prefix="first")
            page = own_pages.line_page(structure, order)
            change = {"kind": "first", "structure": structure, "order": list(order)}
        else:
            form = asked = AskedForm(request.POST, prefix="asked")
            change = {"kind": "asked", "structure": structure}
        if form.is_valid():
            if kind != "first":
                change["asked"] = form.cleaned_data["asked"]
            done = _propose(request, form, change)
            if done:
                return done
        status = WRONG
    context = {"page": page, "asked": asked, "first": first}
    return render(request, "exams/own/line.html", context, status=status)


def _typed(request: HttpRequest, prefix: str) -> dict[str, Any]:
    """What stood in a form that another button sent: words stay, so does its token."""
    typed = {"why": request.POST.get(f"{prefix}-why", "")}
    try:
        return {**typed, "once": UUID(request.POST.get(f"{prefix}-once", ""))}
    except ValueError:
        return typed


# ---- A finding of the clinic's own


@require_http_methods(EITHER)
@needs(Right.PROPOSE_WALK)
def finding_new(request: StaffRequest) -> HttpResponse:
    structure = request.GET.get("at", "EYE.globe")
    station, lines = own_pages.station_of(published(), structure)
    start = {"structures": [structure], "species": ["dog", "cat"], "side": "none"}
    form = FindingForm(_sent(request), lines=lines, initial=start)
    return _finding_page(request, form, station, "")


@require_http_methods(EITHER)
@needs(Right.PROPOSE_WALK)
def finding(request: StaffRequest, own_code: str) -> HttpResponse:
    """Change it, or offer it no longer; exams that have it keep it as it was."""
    force, found = own_pages.own_finding_of(own_code)
    station, lines = own_pages.station_of(force.walk, found.structures[0])
    retire = WhyForm(prefix="retire")
    form = FindingForm(lines=lines, initial=finding_initial(found))
    if request.method == "POST" and request.POST.get("do") == "retire":
        retire = WhyForm(request.POST, prefix="retire")
        if retire.is_valid():
            change = {"kind": "retire", "code": own_code, "retired": not found.retired}
            done = _propose(request, retire, change)
            if done:
                return done
        return _finding_page(request, form, station, own_code, retire=retire, retired=found.retired)
    if request.method == "POST":
        form = FindingForm(request.POST, lines=lines)
    return _finding_page(request, form, station, own_code, retire=retire, retired=found.retired)


def _finding_page(
    request: StaffRequest, form: FindingForm, station: str, code: str, **more: Any
) -> HttpResponse:
    if form.is_bound and form.is_valid():
        done = _propose(request, form, form.change(code))
        if done:
            return done
    wrong = form.errors or (more.get("retire") and more["retire"].errors)
    context = {"form": form, "station": station, "code": code, "lines": published(), **more}
    return render(request, "exams/own/finding.html", context, status=WRONG if wrong else HTTPStatus.OK)


# ---- Proposals


@require_http_methods(EITHER)
@needs(Right.PROPOSE_WALK)
def undo(request: StaffRequest) -> HttpResponse:
    """Everything back to the published walk."""
    form = WhyForm(_sent(request))
    if form.is_bound and form.is_valid():
        done = _propose(request, form, {"kind": "undo"})
        if done:
            return done
    page = own_pages.walk_page(query="", at="", actor=request.actor)
    context = {"form": form, "page": page}
    return render(request, "exams/own/undo.html", context, status=WRONG if form.errors else HTTPStatus.OK)


@require_safe
@needs(Right.PROPOSE_WALK)
def proposal(request: StaffRequest, proposal_id: int) -> HttpResponse:
    row = own_pages.access_proposal(proposal_id, actor=request.actor)
    page = own_pages.proposal_page(row, actor=request.actor)
    return render(request, "exams/own/proposal.html", {"page": page})


@require_POST
@needs(Right.APPROVE_WALK)
def approve(request: StaffRequest, proposal_id: int) -> HttpResponse:
    row = own_pages.access_proposal(proposal_id, actor=request.actor)
    try:
        edition = own_actions.approve(proposal=row, actor=request.actor, now=timezone.now())
    except (ExamError, CannotChange) as error:
        messages.error(request, f"{error} Nothing was changed.")
        return redirect("walk-proposal", row.pk)
    messages.success(
        request, f"Edition {edition.number}: exams begun from now on use it; those that are open keep theirs."
    )
    return redirect("walk")


@require_POST
@needs(Right.PROPOSE_WALK)
def decline(request: StaffRequest, proposal_id: int) -> HttpResponse:
    row = own_pages.access_proposal(proposal_id, actor=request.actor)
    try:
        own_actions.decline(
            proposal=row, why=request.POST.get("why", ""), actor=request.actor, now=timezone.now()
        )
    except ExamError as error:
        messages.error(request, f"{error} Nothing was changed.")
        return redirect("walk-proposal", row.pk)
    messages.success(request, "The walk stays as it is.")
    return redirect("walk")


# ---- One's own order


@require_http_methods(EITHER)
@needs(Right.MEASURE)
def my_order(request: StaffRequest) -> HttpResponse:
    """A button moves one station and keeps nothing; “Walk like this” keeps the order on every tablet."""
    back = _back(request)
    order = own_pages.own_order(request.actor)
    wrong = ""
    if request.method == "POST" and "move" in request.POST:
        code, _, way = request.POST["move"].partition(":")
        order = moved(request.POST.getlist("order"), code, way)
        wrong = _unfit(order)
    elif request.method == "POST":
        sent = request.POST.getlist("order")
        if request.POST.get("do") == "published":
            sent = [s.code for s in published().stations]
        try:
            own_actions.keep_order(order=sent, actor=request.actor, now=timezone.now())
        except NotAnOrder as error:
            wrong = str(error)
        else:
            messages.success(request, "Kept. Your exams are laid out like this on every tablet.")
            return redirect(back or "my-order")
    if wrong:
        order = own_pages.own_order(request.actor)
    context = {
        "rows": own_pages.order_rows(order),
        "own": bool(request.actor.staff.station_order),
        "next": back,
        "wrong": wrong,
        "name": request.actor.staff.full_name,
    }
    status = WRONG if wrong else HTTPStatus.OK
    return render(request, "exams/own/order.html", context, status=status)


def _unfit(order: tuple[str, ...]) -> str:
    codes = {s.code for s in published().stations}
    return "" if set(order) == codes and len(order) == len(codes) else "An order names every station once."


def _back(request: HttpRequest) -> str:
    """The exam that this page was opened from; nothing but a page of ours."""
    asked = request.POST.get("next") or request.GET.get("next") or ""
    safe = url_has_allowed_host_and_scheme(asked, {request.get_host()}, require_https=request.is_secure())
    return asked if safe else ""
