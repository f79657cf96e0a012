"""Where the animal goes: moving, going home, see now, the kind of the visit."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_http_methods, require_POST

from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.visits import actions, queries
from clinic.visits.actions.places import END_OF_LIFE
from clinic.visits.errors import NeedsWords, VisitError
from clinic.visits.forms import GoHomeForm, KindForm, MoveForm, SeeNowForm
from clinic.visits.frame import visit_frame
from clinic.visits.models import Visit
from clinic.visits.today_sight import step_url

HOW = {Visit.Outcome.DIED: "died-here", Visit.Outcome.EUTHANISED: "euthanised"}  # as its own page asks
STEP_OF = {Visit.Place.WITH_TECHNICIAN: "intake", Visit.Place.WITH_CLINICIAN: "exam"}


def back(request: HttpRequest, to: str = "today") -> HttpResponse:
    """To the page the form stood on, when that is ours; else to `to`."""
    asked = request.POST.get("next", "")
    own = url_has_allowed_host_and_scheme(asked, allowed_hosts=None) and asked.startswith("/")
    return redirect(asked if own else to)


@require_POST
@needs(Right.MOVE_VISIT)
def move(request: StaffRequest, visit_id: int) -> HttpResponse:
    """One step; whoever takes the animal goes on to its page."""
    visit = queries.access_visit(visit_id, actor=request.actor, right=Right.MOVE_VISIT)
    form = MoveForm(request.POST)
    if not form.is_valid():
        messages.error(request, "That place is not known; nothing was changed.")
        return redirect("today")
    asked = form.cleaned_data
    if asked["clinician"]:
        asked["clinician"] = queries.access_clinician(asked["clinician"], actor=request.actor)
    try:
        moved = actions.move(visit=visit, actor=request.actor, now=timezone.now(), **asked)
    except VisitError as error:
        messages.error(request, str(error))
        return back(request)
    step = STEP_OF.get(Visit.Place(moved.place)) if request.POST.get("take") else None
    return redirect(step_url(moved, step)) if step else back(request)


@require_http_methods(["GET", "POST"])
@needs(Right.MOVE_VISIT)
def go_home(request: StaffRequest, visit_id: int) -> HttpResponse:
    """How the visit ended for the animal."""
    visit = queries.access_visit_here(visit_id, actor=request.actor, right=Right.MOVE_VISIT)
    form = GoHomeForm(request.POST or None, initial={"outcome": "home", "seen": visit.place})
    if request.method == "POST" and form.is_valid():
        outcome = form.cleaned_data["outcome"]
        if outcome in END_OF_LIFE and not request.actor.may(Right.CERTIFY_DEATH):
            form.add_error("outcome", "A clinician says that. Hand the tablet over to one.")
            return _page(request, visit, "clinic/visits/go_home.html", form)
        if outcome in END_OF_LIFE:
            return redirect(f"{reverse('patient-death', args=[visit.patient_id])}?how={HOW[outcome]}")
        try:
            actions.go_home(visit=visit, actor=request.actor, now=timezone.now(), **form.cleaned_data)
        except VisitError as error:
            form.add_error(None, str(error))
        else:
            return redirect("today")
    return _page(request, visit, "clinic/visits/go_home.html", form)


@require_http_methods(["GET", "POST"])
@needs(Right.MOVE_VISIT)
def see_now(request: StaffRequest, visit_id: int) -> HttpResponse:
    """A POST marks, with or without a reason; the page asks for one and stands in nobody's way."""
    visit = queries.access_visit_here(visit_id, actor=request.actor, right=Right.MOVE_VISIT)
    form = SeeNowForm(request.POST or None, initial={"why": visit.see_now_why})
    if request.method == "POST":
        why = form.cleaned_data["why"] if form.is_valid() else request.POST.get("why", "")[:200]
        actions.mark_see_now(visit=visit, why=why, actor=request.actor, now=timezone.now())
        messages.success(request, f"{visit.patient.name}: to be seen now. Every clinician sees it on Today.")
        return back(request)
    return _page(request, visit, "clinic/visits/see_now.html", form)


@require_POST
@needs(Right.ASSESS)
def take_see_now(request: StaffRequest, visit_id: int) -> HttpResponse:
    """“I have it.”"""
    visit = queries.access_visit_here(visit_id, actor=request.actor, right=Right.ASSESS)
    try:
        actions.take_see_now(visit=visit, actor=request.actor, now=timezone.now())
    except VisitError as error:
        messages.error(request, str(error))
    return back(request)


@require_POST
@needs(Right.MOVE_VISIT)
def withdraw_see_now(request: StaffRequest, visit_id: int) -> HttpResponse:
    """Tapped by mistake."""
    visit = queries.access_visit_here(visit_id, actor=request.actor, right=Right.MOVE_VISIT)
    try:
        actions.withdraw_see_now(visit=visit, actor=request.actor, now=timezone.now())
    except VisitError as error:
        messages.error(request, str(error))
    return back(request)


@require_http_methods(["GET", "POST"])
@needs(Right.ASSESS)
def kind(request: StaffRequest, visit_id: int) -> HttpResponse:
    """A clinician chooses how much of the walk is walked."""
    visit = queries.access_visit_here(visit_id, actor=request.actor, right=Right.ASSESS)
    form = KindForm(
        request.POST or None, initial={"kind": visit.kind, "reason": visit.kind_reason or visit.booked_for}
    )
    if request.method == "POST" and form.is_valid():
        try:
            actions.set_kind(visit=visit, actor=request.actor, now=timezone.now(), **form.cleaned_data)
        except NeedsWords as error:
            form.add_error(error.field, str(error))
        except VisitError as error:
            form.add_error(None, str(error))
        else:
            return redirect(step_url(visit, "exam"))
    return _page(request, visit, "clinic/visits/kind.html", form)


def _page(request: StaffRequest, visit: Visit, name: str, form: object) -> HttpResponse:
    bound = request.method == "POST"
    frame = visit_frame(visit, current="", today=timezone.localdate(), actor=request.actor)
    return render(request, name, {"frame": frame, "form": form}, status=422 if bound else 200)
