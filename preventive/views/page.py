"""The prevention page of a visit: what is due and why, and everything that can be recorded there."""

from collections.abc import Mapping
from dataclasses import dataclass

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from clinic.letters.composition import first_owner
from clinic.people.models import Owner
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.visits.frame import visit_frame
from clinic.visits.models import Visit
from clinic.visits.queries import access_visit_here
from preventive import forms
from preventive.outside_form import MONTHS, OutsideForm, Row, blank_rows
from preventive.pages import COUNTS, DECLINE_WHY, DEFER_WHY, PreventionPage, prevention_page
from preventive.safety import SafetyQuestion
from preventive.views.attempt import WRONG

IN_SIGHT = 3  # most booklets bring no more


@dataclass(frozen=True)
class Outside:
    """The form of doses given elsewhere as it is shown; `kept`: a paper that need not be chosen again."""

    form: OutsideForm
    rows: tuple[Row, ...]
    kept: str

    @property
    def first(self) -> tuple[Row, ...]:
        return self.rows[:IN_SIGHT]

    @property
    def more(self) -> tuple[Row, ...]:
        return self.rows[IN_SIGHT:]

    @property
    def more_open(self) -> bool:
        return not all(row.is_empty for row in self.more)


@require_GET
@needs(Right.SEE)
def prevention(request: StaffRequest, visit_id: int) -> HttpResponse:
    """Everything that is due, and what was done today."""
    visit = access_visit_here(visit_id, actor=request.actor)
    return whole(request, visit)


def whole(
    request: StaffRequest,
    visit: Visit,
    *,
    asked: Mapping[str, tuple[SafetyQuestion, ...]] | None = None,
    wrong: Mapping[str, str] | None = None,
    outside: Outside | None = None,
) -> HttpResponse:
    """The page. After a refusal: `wrong` by block, the questions `asked`, and everything typed."""
    today = timezone.localdate()
    typed = {name: str(value) for name, value in request.POST.items()}
    page = prevention_page(visit, actor=request.actor, today=today, typed=typed, asked=asked)
    failed = bool(wrong or asked or outside)
    context = {
        "frame": visit_frame(visit, current="prevention", today=today, actor=request.actor),
        "visit": visit,
        "page": page,
        "typed": typed,
        "wrong": wrong or {},
        "may": _may(request, visit),
        "today": today,
        "counts": COUNTS,
        "count": typed.get("count", ""),
        "first_on": forms.day_or_none(typed.get("first_on", "")) or page.first_on,
        "consent": typed.get("consent") or _consent(visit),
        "defer_why": DEFER_WHY,
        "decline_why": DECLINE_WHY,
        "outside": outside or Outside(OutsideForm(), blank_rows(), ""),
        "months": MONTHS,
        "once": forms.GiveForm()["once"].value(),
        "opened": _opened(page, wrong or {}),
    }
    return render(request, "preventive/prevention.html", context, status=WRONG if failed else 200)


def _may(request: StaffRequest, visit: Visit) -> dict[str, bool]:
    open_still = not visit.record.is_signed and visit.patient.deceased_on is None
    return {
        "give": open_still and request.actor.may(Right.GIVE_DOSE),
        "history": open_still and request.actor.may(Right.TAKE_HISTORY),
        "test": open_still and request.actor.may(Right.PLAN),
        "result": request.actor.may(Right.OBSERVE),
    }


def _consent(visit: Visit) -> str:
    try:
        return f"{first_owner(visit.record).name}, in words"
    except Owner.DoesNotExist:
        return ""


def _opened(page: PreventionPage, wrong: Mapping[str, str]) -> frozenset[str]:
    """Folded parts that must stand open, because something in them is wrong or chosen."""
    return frozenset({*wrong, *(vial.key for vial in page.vials if vial.asked)})


def back_to(visit: Visit, anchor: str = "") -> HttpResponse:
    """The page anew, by a fresh request."""
    return redirect(f"{reverse('visit-prevention', args=[visit.pk])}{'#' + anchor if anchor else ''}")
