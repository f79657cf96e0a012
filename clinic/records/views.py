"""The Records pages of the house itself: staff, invitations, the clinic's details."""

from datetime import datetime
from http import HTTPStatus

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from clinic.patients.queries import access_patient
from clinic.people.actions import PeopleError
from clinic.people.models import Staff
from clinic.people.rights import Right, Role
from clinic.platform.http import StaffRequest, needs
from clinic.records.actions import (
    InvitedAlready,
    WorksHereAlready,
    change_details,
    change_staff,
    invite,
    let_go,
    withdraw_invitation,
)
from clinic.records.export import files_of, zipped
from clinic.records.forms import DetailsForm, InviteForm, LeftForm, StaffForm
from clinic.records.queries import (
    access_open_invitation,
    access_staff,
    details_or_none,
    invitation_rows,
    records_links,
    staff_rows,
)

EITHER = ["GET", "HEAD", "POST"]


def _sent(request: HttpRequest) -> QueryDict | None:
    """What a form is bound to: an empty POST is a sending too, and is told what it lacks."""
    return request.POST if request.method == "POST" else None


def _status(*forms: object) -> HTTPStatus:
    wrong = any(getattr(form, "errors", None) for form in forms)
    return HTTPStatus.UNPROCESSABLE_ENTITY if wrong else HTTPStatus.OK


@require_safe
@needs(Right.SEE_RECORDS)
def records(request: StaffRequest) -> HttpResponse:
    return render(request, "clinic/records/records.html", {"links": records_links(request.actor)})


@require_safe
@needs(Right.MANAGE_STAFF)
def staff(request: StaffRequest) -> HttpResponse:
    context = {"staff": staff_rows(), "invitations": invitation_rows(now=timezone.now())}
    return render(request, "clinic/records/staff.html", context)


@require_http_methods(EITHER)
@never_cache
@needs(Right.MANAGE_STAFF)
def invitation(request: StaffRequest) -> HttpResponse:
    """Invite somebody. The link is mailed and shown this once, to be handed over where mail is slow."""
    form = InviteForm(_sent(request))
    if request.method == "POST" and form.is_valid():
        try:
            invited, link = invite(
                **form.facts(),
                link_for=lambda token: request.build_absolute_uri(reverse("invitation", args=[token])),
                actor=request.actor,
                now=timezone.now(),
            )
        except (WorksHereAlready, InvitedAlready) as error:
            form.add_error("email", str(error))
        except PeopleError as error:
            form.add_error("roles", str(error))
        else:
            until = invited.expires_at
            context = {"link": link, "name": invited.full_name, "email": invited.email, "until": until}
            return render(request, "clinic/records/invited.html", context)
    return render(request, "clinic/records/invite.html", {"form": form}, status=_status(form))


@require_POST
@needs(Right.MANAGE_STAFF)
def withdraw(request: StaffRequest, invitation_id: int) -> HttpResponse:
    invited = access_open_invitation(invitation_id)
    withdraw_invitation(invitation=invited, actor=request.actor, now=timezone.now())
    messages.success(request, f"The invitation of {invited.full_name} is withdrawn. Its link opens nothing.")
    return redirect("staff")


def _facts_of(staff: Staff) -> dict[str, object]:
    return {
        "full_name": staff.full_name,
        "printed_name": staff.printed_name,
        "roles": staff.roles,
        "licence_number": staff.licence_number,
        "licence_place": staff.licence_place,
    }


def _person_page(
    request: StaffRequest, staff: Staff, form: StaffForm | None = None, left: LeftForm | None = None
) -> HttpResponse:
    shown = form or StaffForm(initial=_facts_of(staff))
    leaving = left or LeftForm(initial={"on": timezone.localdate()})
    context = {
        "form": shown,
        "left_form": leaving,
        "person": {
            "id": staff.pk,
            "name": staff.full_name,
            "email": staff.email,
            "is_active": staff.is_active,
            "left_on": staff.left_on,
            "is_manager": Role.MANAGER in staff.role_set,
        },
    }
    return render(request, "clinic/records/person.html", context, status=_status(form, left))


@require_http_methods(EITHER)
@never_cache
@needs(Right.MANAGE_STAFF)
def person(request: StaffRequest, staff_id: int) -> HttpResponse:
    staff = access_staff(staff_id)
    if request.method != "POST":
        return _person_page(request, staff)
    form = StaffForm(request.POST)
    if not form.is_valid():
        return _person_page(request, staff, form)
    try:
        change_staff(staff=staff, **form.facts(), actor=request.actor, now=timezone.now())
    except PeopleError as error:
        form.add_error("roles", str(error))
        return _person_page(request, access_staff(staff_id), form)
    messages.success(request, f"{staff.full_name} is changed. Signed letters keep what they say.")
    return redirect("staff")


@require_POST
@needs(Right.MANAGE_STAFF)
def left(request: StaffRequest, staff_id: int) -> HttpResponse:
    staff = access_staff(staff_id)
    form = LeftForm(request.POST)
    if form.is_valid():
        try:
            let_go(staff=staff, on=form.cleaned_data["on"], actor=request.actor, now=timezone.now())
        except PeopleError as error:
            form.add_error("on", str(error))
        else:
            messages.success(
                request, f"{staff.full_name} can no longer sign in. The name stays in all records."
            )
            return redirect("staff")
    return _person_page(request, staff, left=form)


@require_http_methods(EITHER)
@never_cache
@needs(Right.MANAGE_CLINIC)
def details(request: StaffRequest) -> HttpResponse:
    form = DetailsForm(_sent(request), instance=details_or_none())
    if request.method == "POST" and form.is_valid():
        now: datetime = timezone.now()
        change_details(details=form.cleaned_data, actor=request.actor, now=now)
        messages.success(request, "Saved. Letters signed from now on carry it.")
        return redirect("clinic-details")
    return render(request, "clinic/records/details.html", {"form": form}, status=_status(form))


@require_safe
@never_cache
@needs(Right.EXPORT)
def patient_export(request: StaffRequest, patient_id: int) -> HttpResponse:
    """All that was recorded for a patient, as a ZIP file."""
    patient = access_patient(patient_id, actor=request.actor)
    files = files_of(patient, actor=request.actor, now=timezone.now())
    answer = HttpResponse(zipped(files), content_type="application/zip")
    answer["Content-Disposition"] = f'attachment; filename="patient {patient.pk}.zip"'
    return answer
