"""The microchip scanned at intake."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from clinic.people.rights import Right
from clinic.platform.forms import OnceForm
from clinic.platform.http import StaffRequest, needs
from clinic.visits import actions, queries
from clinic.visits.errors import VisitError


@require_POST
@needs(Right.MEASURE)
def scan(request: StaffRequest, visit_id: int) -> HttpResponse:
    """A number as the scanner typed it, or the button that none was found."""
    visit = queries.access_visit_here(visit_id, actor=request.actor, right=Right.MEASURE)
    form = OnceForm(request.POST)
    once: UUID | None = form.cleaned_data["once"] if form.is_valid() else None
    try:
        actions.scan_chip(
            record=visit.record,
            number=request.POST.get("number", ""),
            none_found="none" in request.POST,
            once=once,
            actor=request.actor,
            now=timezone.now(),
        )
    except VisitError as error:
        messages.error(request, str(error))
    return redirect(f"{reverse('visit-intake', args=[visit.pk])}#panel-chip")
