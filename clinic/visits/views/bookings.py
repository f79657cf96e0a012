"""What is booked day by day; one booking moved or called off; its calendar file."""

from datetime import date, datetime
from typing import Any

from django.contrib import messages
from django.forms import Form
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from clinic.mail.bookings import Telling, telling
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.visits import actions, calendars, queries
from clinic.visits.bookings import changes_in_words, day_page
from clinic.visits.errors import NeedsWords, SentBefore, VisitError
from clinic.visits.forms import CallOffForm, RebookForm
from clinic.visits.models import NextVisit, Visit

WRONG = 422


@require_GET
@needs(Right.SEE)
def day(request: StaffRequest, day: date | None = None) -> HttpResponse:
    """The day's bookings; without a day, today's."""
    today = timezone.localdate()
    asked = request.GET.get("on", "")
    if asked:
        try:
            return redirect("day", date.fromisoformat(asked).isoformat())
        except ValueError:
            messages.error(request, "This is no day.")
    page = day_page(day or today, today=today)
    return render(request, "clinic/visits/day_list.html", {"page": page, "day": day or today})


@require_http_methods(["GET", "POST"])
@needs(Right.BOOK)
def planned(request: StaffRequest, next_visit_id: int) -> HttpResponse:
    """A next visit: moved, called off, and what was before."""
    plan = queries.access_next_visit(next_visit_id, actor=request.actor)
    seen = str(plan.sequence)
    if request.method == "POST" and request.POST.get("seen", "").isdigit():
        plan.sequence = min(int(request.POST["seen"]), 2**31 - 1)

    def move(asked: dict[str, Any]) -> None:
        actions.move_next_visit(next_visit=plan, actor=request.actor, now=timezone.now(), **asked)

    def off(asked: dict[str, Any]) -> None:
        actions.call_off_next_visit(next_visit=plan, actor=request.actor, now=timezone.now(), **asked)

    return _one(
        request,
        {
            "name": plan.patient.name,
            "what": plan.reason,
            "when": _said(plan.on, plan.at.strftime("%H:%M") if plan.at else "", week=plan.week_of),
            "stands": plan.state == NextVisit.State.PLANNED,
            "state": plan.get_state_display(),
            "patient_id": plan.patient_id,
            "plan_id": plan.pk,
            "changes": changes_in_words(plan.booking_changes.select_related("by")),
        },
        start={"seen": seen, "on": plan.on, "at": plan.at, "week_of": plan.week_of},
        told=telling(plan.patient, record=plan.record),
        ways={"move": move, "off": off},
        back=plan.on,
    )


@require_http_methods(["GET", "POST"])
@needs(Right.BOOK)
def booking(request: StaffRequest, booking_id: int) -> HttpResponse:
    """An expected visit: moved, called off, and what was before."""
    visit = queries.access_booking(booking_id, actor=request.actor)
    assert visit.expected_at
    at = timezone.localtime(visit.expected_at)
    clock = "" if (at.hour, at.minute) == (0, 0) else f"{at:%H:%M}"
    seen = visit.expected_at.isoformat()
    if request.method == "POST":
        visit.expected_at = _instant(request.POST.get("seen", "")) or visit.expected_at

    def move(asked: dict[str, Any]) -> None:
        del asked["week_of"]
        actions.move_booking(visit=visit, actor=request.actor, now=timezone.now(), **asked)

    def off(asked: dict[str, Any]) -> None:
        actions.call_off_booking(visit=visit, actor=request.actor, now=timezone.now(), **asked)

    return _one(
        request,
        {
            "name": visit.patient.name,
            "what": visit.booked_for,
            "when": _said(at.date(), clock),
            "stands": visit.place == Visit.Place.EXPECTED,
            "state": visit.get_place_display(),
            "patient_id": visit.patient_id,
            "changes": changes_in_words(visit.booking_changes.select_related("by")),
        },
        start={"seen": seen, "on": at.date(), "at": at.time() if clock else None},
        told=telling(visit.patient, record=queries.planned_at(visit)),
        ways={"move": move, "off": off},
        back=at.date(),
    )


@require_GET
@needs(Right.SEE)
def calendar(request: StaffRequest, next_visit_id: int) -> HttpResponse:
    """The next visit as a file for a calendar (RFC 5545)."""
    plan = queries.access_next_visit(next_visit_id, actor=request.actor, right=Right.SEE)
    answer = HttpResponse(calendars.of_plan(plan), content_type="text/calendar; charset=utf-8")
    answer["Content-Disposition"] = 'attachment; filename="next-visit.ics"'
    return answer


def _instant(given: str) -> datetime | None:
    try:
        seen = datetime.fromisoformat(given)
    except ValueError:
        return None
    return seen if seen.tzinfo else None


def _said(on: date, clock: str, *, week: bool = False) -> str:
    said = f"{on:%A} {on.day} {on:%B %Y}"
    return f"any day in the week of {said}" if week else f"{said}, {clock}" if clock else said


def _one(
    request: StaffRequest,
    context: dict[str, Any],
    *,
    start: dict[str, Any],
    told: Telling,
    ways: dict[str, Any],
    back: date,
) -> HttpResponse:
    """The page with both forms; the one that was sent goes its way, or comes back as it was typed."""
    sent = ("off" if "off" in request.POST else "move") if request.method == "POST" else ""
    start = start | {"tell": told.can}
    forms: dict[str, Form] = {
        "move": RebookForm(request.POST if sent == "move" else None, initial=start, auto_id="move_%s"),
        "off": CallOffForm(request.POST if sent == "off" else None, initial=start, auto_id="off_%s"),
    }
    for each in forms.values():
        if told.owner and told.can:
            each.fields["tell"].help_text = f"To {told.owner.name}, {told.owner.email}."
        else:
            del each.fields["tell"]
    if sent and forms[sent].is_valid():
        form = forms[sent]
        asked = dict(form.cleaned_data)
        del asked["seen"]
        try:
            ways[sent](asked)
        except SentBefore:
            return redirect("day", back.isoformat())
        except NeedsWords as error:
            form.add_error(error.field if error.field in form.fields else None, str(error))
        except VisitError as error:
            form.add_error(None, str(error))
            form.data = {**form.data.dict(), "seen": start["seen"]}  # type: ignore[attr-defined]
        else:
            done = f"{context['name']}: {'called off' if sent == 'off' else 'moved'}."
            told_too = " The owner is told by mail." if asked.get("tell") else ""
            messages.success(request, f"{done}{told_too}")
            return redirect("day", (asked["on"] if sent == "move" else back).isoformat())
    context |= {"forms": forms, "day": back, "not_told": told.why_not}
    return render(request, "clinic/visits/rebook.html", context, status=WRONG if sent else 200)
