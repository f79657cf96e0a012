"""The manager's morning."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from clinic.morning import actions, pages
from clinic.people.models import Owner
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.visits.errors import VisitError
from clinic.visits.models import Record


@require_GET
@needs(Right.MANAGE_CLINIC)
def morning(request: StaffRequest) -> HttpResponse:
    """What changed, what did not arrive, what waits for somebody, what leaves today."""
    page = pages.morning(actor=request.actor, now=timezone.now())
    context = {"page": page, "settings": page.settings, "may_pause": page.may_pause}
    return render(request, "clinic/morning/morning.html", context)


@require_POST
@needs(Right.EDIT_PEOPLE)
def paper(request: StaffRequest, owner_id: int) -> HttpResponse:
    """One tap: this owner gets paper from now on."""
    owner = get_object_or_404(Owner, pk=owner_id)
    try:
        actions.paper_from_now_on(owner=owner, actor=request.actor, now=timezone.now())
    except VisitError as wrong:
        messages.warning(request, str(wrong))
    else:
        messages.success(
            request, f"{owner.name} gets paper from now on. It can be changed on the owner’s page."
        )
    return redirect("morning")


@require_POST
@needs(Right.MANAGE_CLINIC)
def remind(request: StaffRequest, record_id: int) -> HttpResponse:
    """One tap: a mail to whoever should sign."""
    found = Record.objects.select_related("visit__patient", "visit__clinician")
    record = get_object_or_404(found, pk=record_id)
    try:
        sent = actions.remind_to_sign(record=record, actor=request.actor, now=timezone.now())
    except VisitError as wrong:
        messages.warning(request, str(wrong))
    else:
        who = record.visit.clinician
        said = "reminded by a mail" if sent else "reminded today already"
        messages.success(request, f"{who.full_name if who else ''}: {said}, {record.visit.patient.name}.")
    return redirect("morning")
