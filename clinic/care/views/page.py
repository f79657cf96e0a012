"""The plan page of a visit. One form is open at a time: `?do=assess&problem=7` says which."""

from dataclasses import dataclass
from typing import Any

from django.forms import Form
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from clinic.care import queries
from clinic.care.catalogue import catalogue
from clinic.care.forms import (
    AssessForm,
    CloseForm,
    LineForm,
    MedicineForm,
    OpenForm,
    OutsideTestForm,
    ProgressForm,
    ReadForm,
    ResultForm,
)
from clinic.care.in_house import IN_HOUSE
from clinic.care.models import Problem
from clinic.care.pages import PlanPage, plan_page
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.visits.forms import NextVisitForm
from clinic.visits.frame import visit_frame
from clinic.visits.models import Visit
from clinic.visits.queries import access_visit_here

WRONG = 422


@dataclass(frozen=True)
class Editor:
    """The one form that is open, and where: at a problem, a line, a test or a result by its id."""

    do: str
    form: Form
    problem: int | None = None
    at: int | None = None

    @property
    def template(self) -> str:
        return f"clinic/care/do_{self.do.replace('-', '_')}.html"


NEEDS = {
    "assess": "assess",
    "close": "assess",
    "line": "plan",
    "test": "plan",
    "medicine": "prescribe",
    "progress": "progress",
    "result": "result",
    "read": "read",
}


@require_GET
@needs(Right.SEE)
def plan(request: StaffRequest, visit_id: int) -> HttpResponse:
    """Problems, what is done about each, and the next visit."""
    visit = access_visit_here(visit_id, actor=request.actor)
    return whole(request, visit)


def whole(request: StaffRequest, visit: Visit, editor: Editor | None = None, **instead: Any) -> HttpResponse:
    """The page. `editor`: a form as it was sent, with what is wrong in it; `instead`: others likewise."""
    today = timezone.localdate()
    record = visit.record
    page = plan_page(record, actor=request.actor, today=today)
    names = [(block.id, block.title) for block in page.problems]
    wrong = editor is not None or bool(instead)
    context = {
        "visit": visit,
        "frame": visit_frame(visit, current="plan", today=today),
        "page": page,
        "may": page.may,
        "editor": editor or _asked(request, page),
        "open_form": OpenForm(matters=[row.key for row in page.matters], problems=names),
        "next_form": NextVisitForm(problems=names, auto_id="next_%s"),
        "in_house": IN_HOUSE,
        "medicines": tuple(catalogue().medicines.values()),
    }
    return render(request, "clinic/care/plan.html", context | instead, status=WRONG if wrong else 200)


def _asked(request: StaffRequest, page: PlanPage) -> Editor | None:
    """The form that the address asks for, where whoever works may use it."""
    do = request.GET.get("do", "")
    if do not in NEEDS or not getattr(page.may, NEEDS[do]):
        return None
    form, at = fresh_form(request, do), _number(request, "at")
    if do == "read":
        # the sentence that came with the result, to be read and corrected
        form.initial["for_owner"] = page.sentence_of_result(at)
    return Editor(do, form, problem=_number(request, "problem"), at=at)


def _number(request: StaffRequest, name: str) -> int | None:
    given = request.GET.get(name, "")
    return int(given) if given.isascii() and given.isdigit() and len(given) < 18 else None


def fresh_form(request: StaffRequest, do: str) -> Form:
    """An empty form of that kind. Nothing that is a judgement is filled in."""
    me = request.actor.staff.pk
    match do:
        case "assess":
            return AssessForm()
        case "close":
            return CloseForm()
        case "line":
            initial = {"answerable": me, "explained_by": me}
            return LineForm(people=queries.staff_at_work(), initial=initial)
        case "medicine":
            return MedicineForm()
        case "test":
            return OutsideTestForm(people=queries.staff_at_work(), initial={"answerable": me})
        case "progress":
            return ProgressForm(people=queries.staff_at_work())
        case "read":
            return ReadForm()
    return ResultForm()


def back(visit: Visit, anchor: str = "", **query: object) -> HttpResponse:
    """To the page, at a place."""
    asked = "&".join(f"{key}={value}" for key, value in query.items())
    address = reverse("visit-plan", args=[visit.pk])
    return redirect(f"{address}{f'?{asked}' if asked else ''}{f'#{anchor}' if anchor else ''}")


def back_to(visit: Visit, problem: Problem | None) -> HttpResponse:
    return back(visit, f"problem-{problem.pk}" if problem else "other")


def blame(form: Form, error: Exception) -> None:
    """Put what an action refused beside its field, or on top of the form."""
    field = getattr(error, "field", None)
    form.add_error(field if field in form.fields else None, str(error))
