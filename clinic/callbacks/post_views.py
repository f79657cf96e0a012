"""Reminders by post: which letters, their printing, and the PDF."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from clinic.callbacks.errors import CallBackError
from clinic.callbacks.post_models import PostRun
from clinic.callbacks.posting import letters_by_post, print_letters
from clinic.callbacks.reminder_forms import WriteForm
from clinic.people.rights import Right
from clinic.platform.files import read
from clinic.platform.http import StaffRequest, needs
from clinic.visits.errors import SentBefore

WRONG, MAKING, SHOWN = 422, 202, 12


@require_http_methods(["GET", "HEAD", "POST"])
@needs(Right.NOTE_CONTACT)
def post(request: StaffRequest) -> HttpResponse:
    """GET: the letters that may be printed. POST: those ticked become one PDF, and are noted as asked."""
    error = ""
    if request.method == "POST":
        ids = [int(each) for each in request.POST.getlist("owner") if each.isdecimal() and len(each) < 19]
        form = WriteForm(request.POST, offered=ids)
        try:
            if not form.is_valid() or not ids:
                raise CallBackError("Tick at least one household.")
            run = print_letters(
                owner_ids=ids, once=form.cleaned_data["once"], actor=request.actor, now=timezone.now()
            )
        except SentBefore:
            return redirect("due-post")
        except CallBackError as wrong:
            error = str(wrong)
        else:
            messages.success(request, f"{run.households} noted as written to.")
            return redirect("due-post-pdf", run.pk)
    context = {
        "letters": letters_by_post(today=timezone.localdate()),
        "runs": list(PostRun.objects.select_related("by").defer("content")[:SHOWN]),
        "form": WriteForm(offered=[]),
        "error": error,
    }
    return render(request, "clinic/callbacks/post.html", context, status=WRONG if error else 200)


@require_safe
@needs(Right.NOTE_CONTACT)
def post_pdf(request: StaffRequest, run_id: int) -> HttpResponse:
    """The stored bytes of one printing; while the worker makes them, a page that says so and asks again."""
    run = get_object_or_404(PostRun.objects.defer("content"), pk=run_id)
    if not run.sha256:
        return render(request, "clinic/callbacks/post_making.html", {"run_id": run.pk}, status=MAKING)
    response = HttpResponse(read(f"{run.sha256[:2]}/{run.sha256}.pdf"), content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="reminders-{timezone.localdate(run.at)}.pdf"'
    return response
