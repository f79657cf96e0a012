"""Today, and the panel for somebody who came in."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.visits import actions
from clinic.visits.day import fingerprint
from clinic.visits.errors import SentBefore, VisitError
from clinic.visits.forms import CheckInForm
from clinic.visits.households import access_household, find_households
from clinic.visits.today import today_page

NOTHING_NEW = 204


@require_GET
@needs(Right.SEE)
def today(request: StaffRequest) -> HttpResponse:
    """The page; for a poll with `seen`, its moving part, or nothing when it would look the same."""
    now = timezone.now()
    if request.htmx and request.GET.get("seen") == fingerprint(now):
        return HttpResponse(status=NOTHING_NEW)
    page = today_page(actor=request.actor, now=now, today=timezone.localdate(now))
    name = "clinic/visits/day.html" if request.htmx else "clinic/visits/today.html"
    answer = render(request, name, {"page": page})
    answer["Vary"] = "HX-Request"
    answer["Cache-Control"] = "no-store"
    return answer


@require_http_methods(["GET", "POST"])
@needs(Right.MOVE_VISIT)
def check_in(request: StaffRequest) -> HttpResponse:
    """Search a household, choose who of it came, one arrival."""
    if request.method == "POST":
        return _checked_in(request)
    return _panel(request, request.GET.get("q", ""))


def _panel(request: StaffRequest, query: str, error: str = "", status: int = 200) -> HttpResponse:
    today = timezone.localdate()
    found = find_households(query, today=today)
    part = request.htmx and request.htmx.target == "found"
    name = "clinic/visits/found.html" if part else "clinic/visits/check_in.html"
    context = {"query": query, "households": found, "error": error, "panel": bool(request.htmx)}
    answer = render(request, name, context, status=status)
    answer["Vary"] = "HX-Request"
    return answer


def _checked_in(request: StaffRequest) -> HttpResponse:
    form = CheckInForm(request.POST)
    if not form.is_valid():
        return _panel(request, request.POST.get("q", ""), "Choose at least one animal that came in.", 422)
    asked = form.cleaned_data
    owner, patients = access_household(asked["owner"], asked["patients"], actor=request.actor)
    try:
        actions.check_in(
            owner=owner,
            patients=patients,
            see_now=bool(asked["see_now"]),
            once=asked["once"],
            actor=request.actor,
            now=timezone.now(),
        )
    except SentBefore:
        return redirect("today")
    except VisitError as error:
        return _panel(request, asked["q"], str(error), 409)
    names = " and ".join(patient.name for patient in patients)
    messages.success(request, f"{names}: checked in{', to be seen now' if asked['see_now'] else ''}.")
    return redirect("today")
