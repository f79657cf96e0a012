"""Intake: each block is saved alone, by its own address, with or without htmx."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.visits import actions, intake, queries
from clinic.visits.errors import NeedsWords, SentBefore, VisitError
from clinic.visits.forms import GivenForm, HeadsUpForm, WhyForm
from clinic.visits.frame import visit_frame
from clinic.visits.models import Visit
from clinic.visits.topics import TOPICS

WRONG = 422


@require_GET
@needs(Right.SEE)
def page(request: StaffRequest, visit_id: int) -> HttpResponse:
    """The whole intake of a visit that has arrived."""
    visit = queries.access_visit_here(visit_id, actor=request.actor)
    return whole(request, visit)


def whole(request: StaffRequest, visit: Visit, status: int = 200, **instead: Any) -> HttpResponse:
    """The page; `instead` puts a form as it was sent in the place of a fresh one."""
    today = timezone.localdate()
    context = block_context(request, visit) | {
        "frame": visit_frame(visit, current="intake", today=today, actor=request.actor),
        "clinicians": intake.clinicians(),
        "panels": intake.panels(visit, actor=request.actor, today=today),
    }
    return render(request, "clinic/visits/intake.html", context | instead, status=status)


def block_context(request: StaffRequest, visit: Visit) -> dict[str, Any]:
    """What any of the blocks shows."""
    today = timezone.localdate()
    record = visit.record
    return {
        "visit": visit,
        "may_ask": request.actor.may(Right.TAKE_HISTORY) and not record.is_signed,
        "may_pin": request.actor.may(Right.PIN_HEADS_UP) and not record.is_signed,
        "parts": intake.parts(visit, today=today),
        "why_form": WhyForm(initial={"owners_words": visit.owners_words}),
        "topics": intake.topics(record),
        "given": intake.given_rows(record),
        "given_form": GivenForm(),
        "heads_ups": intake.heads_up_rows(record),
        "places": intake.places(),
        "heads_up_form": HeadsUpForm(),
        "groups": intake.food_groups(visit.patient, spare=_spare(request)),
        "units": intake.UNITS,
        "life": intake.lifestyle(visit.patient, today=today),
    }


def _spare(request: StaffRequest) -> int:
    more = "more" in request.GET or "more" in request.POST
    return intake.MORE_ROWS if more else intake.SPARE_ROWS


def saved(request: StaffRequest, visit: Visit, anchor: str, block: str = "") -> HttpResponse:
    """What answers a saved block: the block anew, or only the word "saved" beside what is being typed in."""
    if not request.htmx:
        return redirect(f"{reverse('visit-intake', args=[visit.pk])}#{anchor}")
    fresh = queries.access_visit_here(visit.pk, actor=request.actor)
    context = block_context(request, fresh) | {"block": block, "at": timezone.localtime(), "oob": True}
    answer = render(request, "clinic/visits/intake_saved.html", context)
    if block:
        answer["HX-Retarget"], answer["HX-Reswap"] = f"#{anchor}", "outerHTML"
    return answer


def refused(
    request: StaffRequest, visit: Visit, anchor: str, error: str, block: str = "", **instead: Any
) -> HttpResponse:
    """The same with what went wrong; everything typed stays."""
    if not request.htmx:
        return whole(request, visit, WRONG, wrong={anchor: error}, **instead)
    context = block_context(request, visit) | {"block": block, "wrong": {anchor: error}, "error": error}
    answer = render(request, "clinic/visits/intake_saved.html", context | instead, status=WRONG)
    if block:
        answer["HX-Retarget"], answer["HX-Reswap"] = f"#{anchor}", "outerHTML"
    return answer


@require_POST
@needs(Right.TAKE_HISTORY)
def why(request: StaffRequest, visit_id: int) -> HttpResponse:
    visit = queries.access_visit_here(visit_id, actor=request.actor, right=Right.TAKE_HISTORY)
    told = request.POST.get("owners_words", "")
    try:
        actions.say_why(record=visit.record, owners_words=told, actor=request.actor, now=timezone.now())
    except VisitError as error:
        return refused(request, visit, "why", str(error), why_form=WhyForm(request.POST))
    return saved(request, visit, "why")


@require_POST
@needs(Right.TAKE_HISTORY)
def changes(request: StaffRequest, visit_id: int) -> HttpResponse:
    """The topics that have an answer; `only` narrows it to the one just tapped."""
    visit = queries.access_visit_here(visit_id, actor=request.actor, right=Right.TAKE_HISTORY)
    only = request.POST.get("only")
    answers = [
        (topic.code, request.POST[f"topic-{topic.code}"], request.POST.get(f"words-{topic.code}", ""))
        for topic in TOPICS
        if request.POST.get(f"topic-{topic.code}") and only in (None, topic.code)
    ]
    try:
        actions.answer_topics(record=visit.record, answers=answers, actor=request.actor, now=timezone.now())
    except VisitError as error:
        return refused(request, visit, "changes", str(error))
    return saved(request, visit, "changes")


@require_POST
@needs(Right.TAKE_HISTORY)
def given(request: StaffRequest, visit_id: int) -> HttpResponse:
    """Put something that is given on the list."""
    visit = queries.access_visit_here(visit_id, actor=request.actor, right=Right.TAKE_HISTORY)
    form = GivenForm(request.POST)
    if not form.is_valid():
        return refused(request, visit, "given", "", "given", given_form=form)
    try:
        actions.add_given_at_home(
            record=visit.record, actor=request.actor, now=timezone.now(), **form.cleaned_data
        )
    except SentBefore:
        return saved(request, visit, "given", "given")
    except VisitError as error:
        return refused(request, visit, "given", str(error), "given", given_form=form)
    return saved(request, visit, "given", "given")


@require_POST
@needs(Right.TAKE_HISTORY)
def given_out(request: StaffRequest, visit_id: int, given_id: int) -> HttpResponse:
    """Take an entry out again."""
    visit = queries.access_visit_here(visit_id, actor=request.actor, right=Right.TAKE_HISTORY)
    entry = queries.access_given(given_id, visit_id=visit_id, actor=request.actor)
    try:
        actions.remove_given_at_home(given=entry, actor=request.actor, now=timezone.now())
    except VisitError as error:
        return refused(request, visit, "given", str(error), "given")
    return saved(request, visit, "given", "given")


@require_POST
@needs(Right.PIN_HEADS_UP)
def heads_up(request: StaffRequest, visit_id: int) -> HttpResponse:
    """Pin what caught the eye to a station."""
    visit = queries.access_visit_here(visit_id, actor=request.actor, right=Right.PIN_HEADS_UP)
    form = HeadsUpForm(request.POST)
    if not form.is_valid():
        return refused(request, visit, "flags", "", "flags", heads_up_form=form)
    try:
        actions.pin_heads_up(
            record=visit.record, actor=request.actor, now=timezone.now(), **form.cleaned_data
        )
    except SentBefore:
        return saved(request, visit, "flags", "flags")
    except NeedsWords as error:
        form.add_error(error.field, str(error))
        return refused(request, visit, "flags", "", "flags", heads_up_form=form)
    except VisitError as error:
        return refused(request, visit, "flags", str(error), "flags", heads_up_form=form)
    return saved(request, visit, "flags", "flags")
