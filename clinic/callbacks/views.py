"""The due list, and the page of one household: what they have to come for, and what was done about it."""

from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpResponse, StreamingHttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from clinic.callbacks import actions, export, pages, queries
from clinic.callbacks.errors import CallBackError
from clinic.callbacks.forms import AskingForm, WhichForm, read_after
from clinic.callbacks.helped_queries import WITHIN, helped
from clinic.people.models import Owner
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.visits.errors import SentBefore

WRONG = 422
EVERYTHING = "all"


@require_GET
@needs(Right.SEE)
def due_list(request: StaffRequest) -> HttpResponse:
    """Who is overdue for what, by household; the filters stand in the address."""
    today = timezone.localdate()
    form = WhichForm(request.GET, labels=queries.labels(today=today), people=queries.clinicians())
    found = pages.due_list(form.wanted(), after=read_after(request.GET.get("after", "")), today=today)
    chosen = {name: value for name, value in request.GET.items() if value and name in form.fields}
    context = {
        "page": found,
        "form": form,
        "first_url": f"?{urlencode(chosen)}",
        "next_url": f"?{urlencode({**chosen, 'after': found.next})}" if found.next else "",
        "filtered": bool(chosen),
        "may": request.actor.may(Right.NOTE_CONTACT),
        "file_url": f"{reverse('due-file')}?{urlencode(chosen)}" if request.actor.may(Right.EXPORT) else "",
    }
    return render(request, "clinic/callbacks/due_list.html", context)


@require_GET
@needs(Right.EXPORT)
def due_file(request: StaffRequest) -> StreamingHttpResponse:
    """The same rows as the list's, all of them, as a file."""
    today = timezone.localdate()
    form = WhichForm(request.GET, labels=queries.labels(today=today), people=queries.clinicians())
    answer = StreamingHttpResponse(
        export.lines(pages.file_rows(form.wanted(), today=today)), content_type="text/csv; charset=utf-8"
    )
    answer["Content-Disposition"] = f'attachment; filename="overdue {today.isoformat()}.csv"'
    return answer


@require_GET
@needs(Right.SEE)
def did_it_help(request: StaffRequest) -> HttpResponse:
    """Who came after they were asked, by way and step."""
    context = {"rows": helped(now=timezone.now()), "days": WITHIN.days}
    return render(request, "clinic/callbacks/helped.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@needs(Right.SEE)
def household(request: StaffRequest, owner_id: int) -> HttpResponse:
    """One household; a POST notes that they were asked."""
    owner = queries.access_household(owner_id, actor=request.actor)
    house = pages.household(owner, today=timezone.localdate())
    if request.method != "POST":
        return _household(request, owner, house, _asking_form(house))
    form = _asking_form(house, request.POST)
    if form.is_valid():
        given = form.cleaned_data
        try:
            actions.note_asking(
                owner=owner,
                rows=[
                    queries.access_call_back(each, owner=owner, actor=request.actor)
                    for each in given["items"]
                ],
                how=given["how"],
                outcome=given["outcome"],
                again=given["again_on"],
                words=given["words"],
                once=given["once"],
                actor=request.actor,
                now=timezone.now(),
            )
        except SentBefore:
            return redirect("due-household", owner.pk)
        except CallBackError as error:
            form.add_error(error.field, str(error))
        else:
            messages.success(request, f"{owner.name}: noted.")
            return redirect("due-household", owner.pk)
    return _household(request, owner, house, form)


@require_POST
@needs(Right.NOTE_CONTACT)
def stop(request: StaffRequest, owner_id: int) -> HttpResponse:
    """One tap: no reminders about the call-back named in `about`, or none at all where it says so."""
    owner = queries.access_household(owner_id, actor=request.actor, right=Right.NOTE_CONTACT)
    about = request.POST.get("about", "")
    if about != EVERYTHING and not about.isdecimal():
        return redirect("due-household", owner.pk)
    row = None
    if about != EVERYTHING:
        row = queries.access_call_back(int(about), owner=owner, actor=request.actor)
    actions.stop_reminders(owner=owner, row=row, actor=request.actor, now=timezone.now())
    what = f"about {row.label} for {row.patient.name}" if row else "at all"
    messages.success(request, f"{owner.name} gets no reminders {what}. Letters and results still go.")
    return redirect("due-household", owner.pk)


@require_POST
@needs(Right.NOTE_CONTACT)
def lift(request: StaffRequest, owner_id: int, stop_id: int) -> HttpResponse:
    owner = queries.access_household(owner_id, actor=request.actor, right=Right.NOTE_CONTACT)
    found = queries.access_stop(stop_id, owner=owner, actor=request.actor)
    if actions.lift_stop(stop=found, actor=request.actor, now=timezone.now()):
        messages.success(request, f"{owner.name} may be reminded again.")
    return redirect("due-household", owner.pk)


def _asking_form(house: pages.Household, data: object = None) -> AskingForm:
    offered = [(line.id, f"{line.patient}: {line.label}") for line in house.lines]
    asked = [line.id for line in house.lines if line.left_out is None]
    return AskingForm(data, offered=offered, initial={"items": asked})


def _household(request: StaffRequest, owner: Owner, house: pages.Household, form: AskingForm) -> HttpResponse:
    today = timezone.localdate()
    context = {
        "house": house,
        "form": form,
        "askings": pages.asking_rows(queries.askings_of(owner), today=today),
        "animals": queries.animals_of(owner),
        "stops": pages.stop_rows(queries.stops_of(owner), today=today),
        "may": request.actor.may(Right.NOTE_CONTACT),
    }
    return render(request, "clinic/callbacks/household.html", context, status=WRONG if form.errors else 200)
