"""Where each tablet is in an exam: said by a small POST, told with every look at how the exam stands."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict
from functools import wraps
from http import HTTPStatus
from typing import Any
from urllib.parse import quote

from django.http import HttpResponse, HttpResponseBase, JsonResponse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from clinic.people.middleware import LOCKED
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest
from clinic.visits.queries import access_visit_here
from exams import presence
from exams.versions import composed
from exams.views import for_script

HEADER = "Tailward-Here"
TOLD = (HTTPStatus.OK, HTTPStatus.NOT_MODIFIED)


def told_who_is_here(view: Callable[..., HttpResponseBase]) -> Callable[..., HttpResponseBase]:
    """Others in the exam, as percent-encoded JSON in a header: also where nothing else changed (304)."""

    @wraps(view)
    def through(request: StaffRequest, visit_id: int) -> HttpResponseBase:
        answer = view(request, visit_id)
        if answer.status_code in TOLD:
            answer.headers[HEADER] = quote(json.dumps(_others(request, visit_id)))
        return answer

    return through


@for_script
@never_cache
@require_POST
def here(request: StaffRequest, visit_id: int) -> HttpResponse:
    """station: a code of the walk or nothing; `leave`: the page is closed. Answers who else is here."""
    if request.locked:
        return JsonResponse({"reason": "locked"}, status=HTTPStatus.UNAUTHORIZED, headers={LOCKED: "1"})
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.SEE)
    station = request.POST.get("station", "")
    if request.POST.get("leave"):
        presence.leave(visit=visit, actor=request.actor)
    elif station and station not in composed().station:
        return JsonResponse({"reason": "no-such-station"}, status=HTTPStatus.BAD_REQUEST)
    else:
        presence.be_at(visit=visit, station=station, actor=request.actor, now=timezone.now())
    return JsonResponse({"here": _others(request, visit_id)})


def _others(request: StaffRequest, visit_id: int) -> list[dict[str, Any]]:
    grant = request.actor.grant_id
    return [asdict(each) for each in presence.others_at(visit_id, grant=grant, now=timezone.now())]
