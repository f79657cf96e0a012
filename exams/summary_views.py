"""The exam in short: a page, and the same as a fragment for the exam page's script."""

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.visits.frame import visit_frame
from clinic.visits.queries import access_visit_here
from exams.summary import summary


@require_GET
@needs(Right.SEE)
def exam_summary(request: StaffRequest, visit_id: int) -> HttpResponse:
    """`?part=1`: without the frame."""
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.SEE)
    today = timezone.localdate()
    context = {"visit": visit, "told": summary(visit.record, today=today)}
    if request.GET.get("part"):
        return render(request, "exams/summary_part.html", context)
    return render(
        request,
        "exams/summary.html",
        context | {"frame": visit_frame(visit, current="exam", today=today, actor=request.actor)},
    )
