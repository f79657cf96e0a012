"""Plan lines, and what became of them."""

from django.contrib import messages
from django.http import HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_POST

from clinic.care import actions, queries
from clinic.care.line_forms import LineForm, ProgressForm
from clinic.care.views.page import Editor, back_to, carried_out
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.visits.errors import VisitError
from clinic.visits.queries import access_visit_here


@require_POST
@needs(Right.PLAN)
def add(request: StaffRequest, visit_id: int, problem_id: int) -> HttpResponse:
    """One thing to be done about a problem."""
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.PLAN)
    problem = queries.access_problem(problem_id, visit=visit, actor=request.actor, right=Right.PLAN)
    form = LineForm(request.POST, people=queries.staff_at_work())

    def put_down() -> None:
        asked = dict(form.cleaned_data)
        if asked["again_of"]:
            asked["again_of"] = queries.access_line(asked["again_of"], visit=visit, actor=request.actor)
        for person in ("answerable", "explained_by"):
            asked[person] = queries.access_person(asked[person], actor=request.actor)
        actions.add_plan_line(
            record=visit.record, problem=problem, actor=request.actor, now=timezone.now(), **asked
        )

    editor = Editor("line", form, problem=problem.pk)
    return carried_out(request, visit, editor, put_down, to=back_to(visit, problem))


@require_POST
@needs(Right.PLAN)
def take_back(request: StaffRequest, visit_id: int, line_id: int) -> HttpResponse:
    """A plan line that is not signed."""
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.PLAN)
    line = queries.access_line(line_id, visit=visit, actor=request.actor, right=Right.PLAN)
    try:
        actions.withdraw_plan_line(line=line, actor=request.actor, now=timezone.now())
    except VisitError as error:
        messages.error(request, str(error))
    return back_to(visit, line.problem)


@require_POST
@needs(Right.MOVE_VISIT)
def progress(request: StaffRequest, visit_id: int, line_id: int) -> HttpResponse:
    """What became of it: also after signing, also of an earlier visit."""
    visit = access_visit_here(visit_id, actor=request.actor)
    line = queries.access_line(line_id, visit=visit, actor=request.actor)
    form = ProgressForm(request.POST, people=queries.staff_at_work())

    def note() -> None:
        asked = dict(form.cleaned_data)
        asked["answerable"] = queries.access_person(asked["answerable"], actor=request.actor)
        actions.progress(line=line, actor=request.actor, now=timezone.now(), **asked)

    editor = Editor("progress", form, problem=line.problem_id, at=line.pk)
    return carried_out(request, visit, editor, note, to=back_to(visit, line.problem))
