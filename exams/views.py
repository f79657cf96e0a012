"""The exam page and what its script sends and asks. Saving never goes through a form or htmx."""

from __future__ import annotations

import json
from collections.abc import Callable
from functools import wraps
from http import HTTPStatus
from typing import Any, Concatenate, ParamSpec

from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.gzip import gzip_page
from django.views.decorators.http import require_GET, require_POST

from clinic.patients.errors import PatientError
from clinic.people.middleware import LOCKED, open_when_locked
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.platform.measures import units_of
from clinic.visits.errors import VisitError
from clinic.visits.frame import visit_frame
from clinic.visits.queries import access_patient, access_record
from clinic.visits.wrong_patient import put_right_rows
from exams import absence_actions, actions, history, pages, photo_pages, queries, teeth_pages
from exams.consciousness import spoken
from exams.credit import people_of
from exams.errors import ExamError
from exams.live import live_json
from exams.lump_pages import signed_lumps
from exams.photos import names_of as photo_names
from exams.photos import photos_of_record
from exams.talk_pages import said_lines

P = ParamSpec("P")
MOST = 500  # operations in one batch: more than a day without a network makes


def for_script(
    view: Callable[Concatenate[Any, P], HttpResponseBase],
) -> Callable[Concatenate[HttpRequest, P], HttpResponseBase]:
    """Nobody signed in: 401 in JSON and no redirect, so that the page stays and can ask."""

    @wraps(view)
    def through(request: HttpRequest, /, *args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
        if not request.user.is_authenticated:
            return JsonResponse({"reason": "signed-out"}, status=HTTPStatus.UNAUTHORIZED)
        return view(request, *args, **kwargs)

    return login_not_required(open_when_locked(through))


@require_GET
@needs(Right.SEE)
@gzip_page
def exam(request: StaffRequest, visit_id: int) -> HttpResponse:
    """The walk; of a signed record what was frozen, with its addenda."""
    visit = queries.access_exam_visit(visit_id, actor=request.actor)
    today = timezone.localdate()
    standing = queries.standing_for_page(visit.record, today=today)
    context: dict[str, Any] = {
        "visit": visit,
        "frame": visit_frame(visit, current="exam", today=today, actor=request.actor),
    }
    if visit.record.is_signed:
        names = queries.names_of(people_of(standing.state.answers.values()))
        stations, elsewhere = photo_pages.with_photos(
            pages.signed_page(standing, names, units_of(request.actor)),
            photos_of_record(visit.record),
            photo_names(visit.patient),
        )
        context |= {
            "stations": stations,
            "photos": elsewhere,
            "addenda": queries.addenda_of(visit.record),
            "lumps": signed_lumps(standing.exam),
            "put_right": put_right_rows(visit.record),
            "teeth": teeth_pages.signed_svg(standing),
            "teeth_legend": teeth_pages.legend(standing),
            "awake": spoken(standing.state.awake_log),
            "said": said_lines(standing.exam),
            "may_forget": request.actor.may(Right.ASSESS),
        }
        return render(request, "exams/signed.html", context)
    return render(
        request, "exams/exam.html", context | {"page": pages.exam_page(visit, standing, actor=request.actor)}
    )


@for_script
@never_cache
@require_POST
@gzip_page
def operations(request: StaffRequest, visit_id: int) -> HttpResponse:
    """Take a batch: {"operations": [...], "knows": pulse}; answer each, and say how the exam stands after it.

    To a page that knows how it stood before, only what is other now.
    """
    if not request.locked and not request.actor.may(Right.MEASURE):
        raise PermissionDenied(Right.MEASURE.value)
    body = _body(request)
    sent = _batch(body)
    if sent is None:
        return JsonResponse({"reason": "not-a-batch"}, status=HTTPStatus.BAD_REQUEST)
    now = timezone.now()
    grants = (str(o.get("grant", "")) for o in sent)
    by_grant = queries.actors_of(request.session, grants, at_work=request.at_work, now=now)
    if request.locked and not by_grant:  # nobody works here, and the taps are nobody's: nothing is shown
        return JsonResponse({"reason": "locked"}, status=HTTPStatus.UNAUTHORIZED, headers={LOCKED: "1"})
    next(iter(by_grant.values()), request.actor).require(Right.SEE)
    taken = actions.take_operations(visit_id=visit_id, operations=sent, by_grant=by_grant, now=now)
    since = taken.before if body.get("knows") == taken.pulse_before else None
    return JsonResponse({"answers": taken.answers, "state": live_json(taken.standing, since=since)})


def _body(request: HttpRequest) -> dict[str, Any]:
    try:
        body = json.loads(request.body)
    except ValueError:
        return {}
    return body if isinstance(body, dict) else {}


def _batch(body: dict[str, Any]) -> list[dict[str, Any]] | None:
    sent = body.get("operations")
    fits = isinstance(sent, list) and 0 < len(sent) <= MOST and all(isinstance(o, dict) for o in sent)
    return sent if fits else None


@for_script
@never_cache
@require_GET
def token(request: StaffRequest, visit_id: int) -> HttpResponse:
    """A fresh CSRF token for a page that has been open for long, and who works here now (none: locked)."""
    me = None if request.locked else pages.me_json(request.actor)
    return JsonResponse({"token": get_token(request), "me": me})


@for_script
@require_GET
@gzip_page
def state(request: StaffRequest, visit_id: int) -> HttpResponse:
    """How the exam stands; 304 while nothing changed. A locked tablet is told nothing."""
    if request.locked:
        return JsonResponse({"reason": "locked"}, status=HTTPStatus.UNAUTHORIZED, headers={LOCKED: "1"})
    request.actor.require(Right.SEE)
    now_stands = queries.pulse(visit_id)
    etag = f'"{now_stands}"'
    if now_stands and request.headers.get("If-None-Match", "").removeprefix("W/") == etag:
        return HttpResponse(status=HTTPStatus.NOT_MODIFIED, headers={"ETag": etag})
    visit = queries.access_exam_visit(visit_id, actor=request.actor)
    standing = queries.standing_of(visit.record, today=timezone.localdate())
    return JsonResponse(
        live_json(standing), headers={"ETag": f'"{standing.pulse}"', "Cache-Control": "private, no-cache"}
    )


@require_POST
@needs(Right.ASSESS)
def none_there(request: StaffRequest, visit_id: int) -> HttpResponse:
    """There is none of it, for good. Answers 422 with a sentence when that cannot be kept."""
    record = access_record(visit_id, actor=request.actor, right=Right.ASSESS)
    try:
        actions.note_absence(
            record=record,
            line=request.POST.get("line", ""),
            whole_limb=request.POST.get("whole") == "1",
            why=request.POST.get("why", ""),
            actor=request.actor,
            now=timezone.now(),
        )
    except (ExamError, VisitError, PatientError) as error:
        return HttpResponse(str(error), status=HTTPStatus.UNPROCESSABLE_ENTITY, content_type="text/plain")
    return redirect(reverse("visit-exam", args=[visit_id]))


@require_POST
@needs(Right.ASSESS)
def there_is_one(request: StaffRequest, visit_id: int) -> HttpResponse:
    """What was noted as gone is there. Answers 422 with a sentence when that cannot be kept."""
    record = access_record(visit_id, actor=request.actor, right=Right.ASSESS)
    line, reason = request.POST.get("line", ""), request.POST.get("reason", "")
    try:
        absence_actions.there_is_one(
            record=record, line=line, reason=reason, actor=request.actor, now=timezone.now()
        )
    except (ExamError, VisitError, PatientError) as error:
        return HttpResponse(str(error), status=HTTPStatus.UNPROCESSABLE_ENTITY, content_type="text/plain")
    return HttpResponse(status=HTTPStatus.NO_CONTENT)


@require_GET
@needs(Right.SEE)
def structure_history(request: StaffRequest, patient_id: int, structure: str) -> HttpResponse:
    """One structure over all signed visits."""
    patient = access_patient(patient_id, actor=request.actor)
    return render(
        request,
        "exams/history.html",
        {"page": history.structure_page(patient, structure, units_of(request.actor))},
    )
