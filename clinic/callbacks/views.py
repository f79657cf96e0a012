"""The due list, and the page of one household: what they have to come for, and what was done about it."""

from datetime import date, timedelta
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpResponse, QueryDict, StreamingHttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from clinic.callbacks import actions, answer_lists, export, kept_views, pages, posting, queries
from clinic.callbacks.asked_today import reminder_settings
from clinic.callbacks.beside import beside
from clinic.callbacks.by_hand import steps_in_force
from clinic.callbacks.errors import CallBackError
from clinic.callbacks.forms import AskingForm, KeepForm, NameForm, WhichForm, read_after
from clinic.callbacks.helped import NARROW, WIDE, plot
from clinic.callbacks.helped_queries import CHOICES, WITHIN, helped, lately
from clinic.callbacks.models import Asking
from clinic.people.models import Owner
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.platform.registries import lifestyle_words
from clinic.visits.errors import SentBefore

WRONG = 422
EVERYTHING = "all"
# how a page is called on which the consequence is confirmed, and what it is told there
CONSEQUENCES = {
    "moved": ("patient-left", "Confirm here that {name} has left; until then nothing else changes."),
    "died": ("patient-death", "Confirm here that {name} has died; until then nothing else changes."),
}
PAPER_OUTCOMES = ("not-reached", "wrong-number", "will-come", "booked", "elsewhere", "moved", "died")


@require_GET
@needs(Right.SEE)
def due_list(request: StaffRequest) -> HttpResponse:
    """Who is overdue for what, by household; the filters stand in the address."""
    today = timezone.localdate()
    form = _which(request, today)
    found = pages.due_list(form.wanted(), after=read_after(request.GET.get("after", "")), today=today)
    chosen = _chosen(request, form)
    query = urlencode(chosen)
    views = kept_views.kept_views(request.actor)
    plans = steps_in_force()
    context = {
        "page": found,
        "form": form,
        "settings": reminder_settings(),
        "may_pause": request.actor.may(Right.MANAGE_CLINIC),
        "views": views,
        "view": next((each for each in views if each.asked_for == query and query), None),
        "keep": KeepForm(initial={"asked_for": query}),
        "beside": beside(today),
        "lately": lately(),
        "answers": answer_lists.how_many(),
        "by_post": posting.how_many(plans=plans, today=today),
        "post_full": posting.AT_MOST,
        "calls_url": f"{reverse('due-calls')}?{query}",
        "by_call": pages.how_many_calls(plans=plans, today=today),
        "calls_full": pages.CALLS,
        "from_here": urlencode({"list": urlencode(chosen | _page_of(request))}),
        "first_url": f"?{query}",
        "next_url": f"?{urlencode({**chosen, 'after': found.next})}" if found.next else "",
        "filtered": bool(chosen),
        "may": request.actor.may(Right.NOTE_CONTACT),
        "file_url": f"{reverse('due-file')}?{query}" if request.actor.may(Right.EXPORT) else "",
    }
    return render(request, "clinic/callbacks/due_list.html", context)


def _which(request: StaffRequest, today: date) -> WhichForm:
    lives: dict[str, str] = {}
    for each in lifestyle_words:
        lives |= each.words()
    return WhichForm(
        request.GET, labels=queries.labels(today=today), people=queries.clinicians(), lives=lives
    )


def _chosen(request: StaffRequest, form: WhichForm) -> dict[str, str]:
    """The filters in hand, in the order of the form, so that the same ones make the same address."""
    return {name: request.GET[name] for name in form.fields if request.GET.get(name)}


def _page_of(request: StaffRequest) -> dict[str, str]:
    return {"after": request.GET["after"]} if request.GET.get("after") else {}


def _came_from(request: StaffRequest) -> str:
    """The list, or the calls to make, as it was filtered when somebody opened a household there."""
    for name, page in (("list", "due-list"), ("calls", "due-calls")):
        if name in request.GET:
            given = QueryDict(request.GET[name][:800])
            kept = {each: given[each] for each in (*WhichForm.base_fields, "after", "of") if given.get(each)}
            return f"{reverse(page)}?{urlencode(kept)}"
    return ""


@require_GET
@needs(Right.SEE)
def calls(request: StaffRequest) -> HttpResponse:
    """The list on paper, to telephone from: a household a block, with room to write. `of=plans`: whom the
    plans of asking have somebody call now."""
    today = timezone.localdate()
    form = _which(request, today)
    of_plans = request.GET.get("of") == "plans"
    found = pages.calls_of_plans(today=today) if of_plans else pages.call_list(form.wanted(), today=today)
    houses, more = found
    here = {"of": "plans"} if of_plans else _chosen(request, form)
    context = {
        "houses": houses,
        "more": more,
        "today": today,
        "back_url": f"{reverse('due-list')}?{urlencode(_chosen(request, form))}",
        "from_here": urlencode({"calls": urlencode(here)}),
        "of_plans": of_plans,
        "outcomes": [Asking.Outcome(each).label for each in PAPER_OUTCOMES],
    }
    return render(request, "clinic/callbacks/calls.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@needs(Right.SEE)
def views(request: StaffRequest) -> HttpResponse:
    """The kept views; a POST keeps one."""
    form = KeepForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            view = kept_views.keep_view(**given, actor=request.actor, now=timezone.now())
        except CallBackError as wrong:
            form.add_error(wrong.field, str(wrong))
        else:
            messages.success(request, f"{view.name}: kept.")
            return redirect(f"{reverse('due-list')}?{view.asked_for}")
    return _views(request, keep=form if request.method == "POST" else None)


@require_POST
@needs(Right.SEE)
def rename_view(request: StaffRequest, view_id: int) -> HttpResponse:
    view = kept_views.access_view(view_id, actor=request.actor)
    form = NameForm(request.POST)
    if form.is_valid():
        try:
            kept_views.rename_view(view=view, name=form.cleaned_data["name"], actor=request.actor)
        except CallBackError as wrong:
            form.add_error(wrong.field, str(wrong))
        else:
            return redirect("due-views")
    return _views(request, rename=(view_id, form))


@require_POST
@needs(Right.SEE)
def drop_view(request: StaffRequest, view_id: int) -> HttpResponse:
    view = kept_views.access_view(view_id, actor=request.actor)
    kept_views.drop_view(view=view, actor=request.actor)
    messages.success(request, f"{view.name}: no longer kept.")
    return redirect("due-views")


def _views(
    request: StaffRequest, *, keep: KeepForm | None = None, rename: tuple[int, NameForm] | None = None
) -> HttpResponse:
    rows = [
        (
            row,
            rename[1]
            if rename and rename[0] == row.id
            else NameForm(initial={"name": row.name}, auto_id=f"id_{row.id}_%s"),
        )
        for row in kept_views.kept_views(request.actor)
    ]
    context = {"rows": rows, "keep": keep, "may_share": request.actor.may(Right.MANAGE_CLINIC)}
    return render(request, "clinic/callbacks/views.html", context, status=WRONG if keep or rename else 200)


@require_GET
@needs(Right.EXPORT)
def due_file(request: StaffRequest) -> StreamingHttpResponse:
    """The same rows as the list's, all of them, as a file."""
    today = timezone.localdate()
    form = _which(request, today)
    answer = StreamingHttpResponse(
        export.lines(pages.file_rows(form.wanted(), today=today)), content_type="text/csv; charset=utf-8"
    )
    answer["Content-Disposition"] = f'attachment; filename="overdue {today.isoformat()}.csv"'
    return answer


@require_GET
@needs(Right.SEE)
def did_it_help(request: StaffRequest) -> HttpResponse:
    """Who came after they were asked, by way, step and text; beside those who were due and not asked."""
    given = request.GET.get("days", "")
    days = int(given) if given in map(str, CHOICES) else WITHIN.days
    found = helped(now=timezone.now(), within=timedelta(days=days))
    context = {
        "found": found,
        "groups": [
            ("Asked, by way and step", "Asked", found.asked),
            ("Asked by e-mail, by the words", "Asked", found.texts),
            ("Due, and not asked", "", found.unasked),
        ],
        "days": days,
        "choices": CHOICES,
        "plots": [plot([*found.asked, *found.unasked], sheet) for sheet in (WIDE, NARROW)],
    }
    return render(request, "clinic/callbacks/helped.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@needs(Right.SEE)
def household(request: StaffRequest, owner_id: int) -> HttpResponse:
    """One household; a POST notes that they were asked, and leads back to the list they were called from."""
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
                number=given.get("number", ""),
                once=given["once"],
                actor=request.actor,
                now=timezone.now(),
            )
        except SentBefore:
            return redirect("due-household", owner.pk)
        except CallBackError as error:
            form.add_error(error.field, str(error))
        else:
            return _noted(request, owner, given["outcome"], given["items"])
    return _household(request, owner, house, form)


def _noted(request: StaffRequest, owner: Owner, outcome: str, items: list[int]) -> HttpResponse:
    """What was said has a consequence of its own: a death, or a move, is asked about on its page."""
    messages.success(request, f"{owner.name}: noted.")
    if outcome in CONSEQUENCES:
        name, sentence = CONSEQUENCES[outcome]
        patients = list(queries.patients_of(items))
        if len(patients) > 1:
            names = ", ".join(each.name for each in patients[1:])
            messages.warning(request, f"Then say the same for {names}.")
        if patients:
            messages.info(request, sentence.format(name=patients[0].name))
            return redirect(name, patients[0].pk)
    return redirect(_came_from(request) or reverse("due-household", args=[owner.pk]))


@require_POST
@needs(Right.NOTE_CONTACT)
def take_back(request: StaffRequest, owner_id: int, asking_id: int) -> HttpResponse:
    """What was noted was a mistake."""
    owner = queries.access_household(owner_id, actor=request.actor, right=Right.NOTE_CONTACT)
    asking = queries.access_asking(asking_id, owner=owner, actor=request.actor)
    if actions.take_back(asking=asking, actor=request.actor, now=timezone.now()):
        messages.success(request, f"{owner.name}: taken back. It counts for nothing any more.")
    return redirect("due-household", owner.pk)


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
    numbers = [each.number for each in house.phones]
    return AskingForm(data, offered=offered, numbers=numbers, initial={"items": asked})


def _household(request: StaffRequest, owner: Owner, house: pages.Household, form: AskingForm) -> HttpResponse:
    today = timezone.localdate()
    context = {
        "house": house,
        "form": form,
        "back_url": _came_from(request) or reverse("due-list"),
        "askings": pages.asking_rows(queries.askings_of(owner), today=today),
        "animals": queries.animals_of(owner),
        "stops": pages.stop_rows(queries.stops_of(owner), today=today),
        "may": request.actor.may(Right.NOTE_CONTACT),
    }
    return render(request, "clinic/callbacks/household.html", context, status=WRONG if form.errors else 200)
