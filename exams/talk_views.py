"""What was said, for the exam page's script, and the page about it among the Records."""

from __future__ import annotations

from http import HTTPStatus
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST, require_safe

from clinic.people.middleware import LOCKED
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.visits.queries import access_record
from exams import queries, talk_actions, talk_pages
from exams.errors import ExamError
from exams.recogniser import listening
from exams.spoken_page import spoken_page
from exams.views import for_script

WRONG = HTTPStatus.UNPROCESSABLE_ENTITY


@for_script
@never_cache
@require_GET
def talk(request: StaffRequest, visit_id: int) -> HttpResponse:
    """Lines and what was heard, as the exam page knows them."""
    if request.locked:
        return JsonResponse({"reason": "locked"}, status=HTTPStatus.UNAUTHORIZED, headers={LOCKED: "1"})
    visit = queries.access_exam_visit(visit_id, actor=request.actor)
    standing = queries.standing_of(visit.record, today=timezone.localdate())
    return JsonResponse(talk_pages.talk_json(standing))


@for_script
@never_cache
@require_POST
def recording(request: StaffRequest, visit_id: int) -> HttpResponse:
    """One recording: `sound` (a file), key, language. 200 taken in, 422 refused with a sentence."""
    if request.locked:
        return JsonResponse({"reason": "locked"}, status=HTTPStatus.UNAUTHORIZED, headers={LOCKED: "1"})
    record = access_record(visit_id, actor=request.actor, right=Right.MEASURE)
    file = request.FILES.get("sound")
    try:
        key = UUID(request.POST.get("key", ""))
        listening.take_recording(
            record=record,
            key=key,
            content=file.read() if file else b"",
            kind=(file.content_type if file else "") or "",
            language=request.POST.get("language", "en"),
            actor=request.actor,
            now=timezone.now(),
        )
    except ValueError:
        return JsonResponse({"words": "That is no recording."}, status=WRONG)
    except ExamError as error:
        return JsonResponse({"words": str(error)}, status=WRONG)
    return JsonResponse({"key": str(key)})


@require_POST
@needs(Right.ASSESS)
def forget(request: StaffRequest, visit_id: int) -> HttpResponse:
    """Delete the words that are kept of an exam."""
    visit = queries.access_exam_visit(visit_id, actor=request.actor, right=Right.ASSESS)
    count = talk_actions.forget_talk(record=visit.record, actor=request.actor)
    messages.success(request, "What was said is deleted." if count else "No words were kept.")
    return redirect("visit-exam", visit_id)


# ---- Among the Records


@require_safe
@needs(Right.PROPOSE_WALK)
def spoken(request: StaffRequest) -> HttpResponse:
    return render(request, "exams/spoken.html", {"page": spoken_page(actor=request.actor)})


@require_POST
@needs(Right.APPROVE_WALK)
def accept(request: StaffRequest, form_id: int) -> HttpResponse:
    """Listen for a form, as it was put right; refused, nothing typed is lost."""
    typed = {name: request.POST.get(name, "") for name in ("kind", "words", "means")}
    try:
        talk_actions.accept_form(form_id=form_id, **typed, actor=request.actor, now=timezone.now())
    except talk_actions.FormRefused as error:
        page = spoken_page(actor=request.actor, wrong=(form_id, str(error)), typed=typed)
        return render(request, "exams/spoken.html", {"page": page}, status=WRONG)
    messages.success(request, "Listened for from now on.")
    return redirect("spoken")


@require_POST
@needs(Right.PROPOSE_WALK)
def decline(request: StaffRequest, form_id: int) -> HttpResponse:
    return _decided(request, talk_actions.decline_form, form_id, "Not taken.")


@require_POST
@needs(Right.PROPOSE_WALK)
def withdraw(request: StaffRequest, form_id: int) -> HttpResponse:
    return _decided(request, talk_actions.withdraw_form, form_id, "No longer listened for.")


@require_POST
@needs(Right.MANAGE_CLINIC)
def keeping(request: StaffRequest) -> HttpResponse:
    """Whether words are kept after the signature."""
    keeps = request.POST.get("keeps") == "1"
    talk_actions.choose_keeping(keeps=keeps, actor=request.actor, now=timezone.now())
    messages.success(
        request,
        "Words are kept where the owner agreed." if keeps else "Words are forgotten at the signature.",
    )
    return redirect("spoken")


def _decided(request: StaffRequest, action: object, form_id: int, words: str) -> HttpResponse:
    try:
        action(form_id=form_id, actor=request.actor, now=timezone.now())  # type: ignore[operator]
    except talk_actions.FormRefused as error:
        page = spoken_page(actor=request.actor, wrong=(form_id, str(error)))
        return render(request, "exams/spoken.html", {"page": page}, status=WRONG)
    messages.success(request, words)
    return redirect("spoken")
