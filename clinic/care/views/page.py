"""The plan page of a visit. One form is open at a time: `?do=assess&problem=7` says which."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.forms import Form
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from clinic.care import queries
from clinic.care.catalogue import offered
from clinic.care.in_house import OUTSIDE, offered_for
from clinic.care.line_forms import LineForm, ProgressForm
from clinic.care.medicine_forms import DoseForm, MedicineForm, ReasonForm, form_of
from clinic.care.models import Problem
from clinic.care.pages import PlanPage, plan_page
from clinic.care.problem_forms import AssessForm, CloseForm, ConditionForm, OpenForm, ReopenForm
from clinic.care.result_forms import OutsideTestForm, ReadForm, ResultForm
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.visits.errors import SentBefore, VisitError
from clinic.visits.forms import NextVisitForm
from clinic.visits.frame import visit_frame
from clinic.visits.models import Visit
from clinic.visits.queries import access_visit_here
from clinic.visits.short import in_short

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
    "reopen": "assess",
    "condition": "assess",
    "line": "plan",
    "test": "plan",
    "medicine": "prescribe",
    "dose": "give",
    "dose-strike": "give",
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
    editor = editor or _asked(request, visit, page)
    context = {
        "in_short": in_short(record, actor=request.actor, today=today),
        "visit": visit,
        "frame": visit_frame(visit, current="plan", today=today, actor=request.actor),
        "page": page,
        "may": page.may,
        "editor": editor,
        "open_form": OpenForm(matters=[row.key for row in page.matters], problems=names),
        "next_form": NextVisitForm(problems=names, auto_id="next_%s"),
        "tests_here": _tests_here(page, editor),
        "medicines": offered() if editor and editor.do == "medicine" else (),
    }
    return render(request, "clinic/care/plan.html", context | instead, status=WRONG if wrong else 200)


def _tests_here(page: PlanPage, editor: Editor | None) -> dict[str, object]:
    """What the form of a test offers, by what its problem is about."""
    if editor is None or editor.do != "test":
        return {}
    about = next((block.about for block in page.problems if block.id == editor.problem), ())
    fit, rest, outside = offered_for(about)
    return {"fit": fit, "rest": rest, "outside": outside}


def _asked(request: StaffRequest, visit: Visit, page: PlanPage) -> Editor | None:
    """The form that the address asks for, where whoever works may use it."""
    do = request.GET.get("do", "")
    if do not in NEEDS or not getattr(page.may, NEEDS[do]):
        return None
    problem, at = _number(request, "problem"), _number(request, "at")
    form = fresh_form(request, do, problem)
    if do == "medicine" and at and (changed := queries.in_use_here(at, visit=visit)):
        form.initial.update(form_of(changed))
        at = None
    if do == "line" and at and (declined := queries.declined_here(at, visit=visit)):
        form.initial.update(kind=declined.kind, text=declined.text, for_owner=declined.for_owner, again_of=at)
        at = None
    if do == "test" and (named := request.GET.get("named")):
        listed = next((each for each in OUTSIDE if each.title == named), None)
        if listed:
            form.initial.update(title=listed.title, for_owner=listed.for_owner)
    if do == "read":
        # the sentence that came with the result, to be read and corrected
        form.initial["for_owner"] = page.sentence_of_test(at)
    return Editor(do, form, problem=problem, at=at)


def _number(request: StaffRequest, name: str) -> int | None:
    given = request.GET.get(name, "")
    return int(given) if given.isascii() and given.isdigit() and len(given) < 18 else None


def fresh_form(request: StaffRequest, do: str, problem: int | None) -> Form:
    """An empty form of that kind. Nothing that is a judgement is filled in."""
    me = request.actor.staff.pk
    match do:
        case "assess":
            return AssessForm()
        case "close":
            return CloseForm(conditions=queries.conditions_of_problem(problem))
        case "reopen":
            return ReopenForm()
        case "condition":
            return ConditionForm()
        case "line":
            initial = {"answerable": me, "explained_by": me}
            return LineForm(people=queries.staff_at_work(), initial=initial)
        case "medicine":
            return MedicineForm()
        case "dose":
            return DoseForm()
        case "dose-strike":
            return ReasonForm()
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


def carried_out(
    request: StaffRequest, visit: Visit, editor: Editor, do: Callable[[], object], *, to: HttpResponse
) -> HttpResponse:
    """What every form of this page does: `do` it once and lead `to` its place, or show it again with what is
    wrong beside the field. A form that was sent before leads there too."""
    form = editor.form
    if form.is_valid():
        try:
            do()
        except SentBefore:
            return to
        except VisitError as error:
            blame(form, error)
        else:
            return to
    return whole(request, visit, editor)


def blame(form: Form, error: Exception) -> None:
    """Put what an action refused beside its field, or on top of the form."""
    field = getattr(error, "field", None)
    form.add_error(field if field in form.fields else None, str(error))
