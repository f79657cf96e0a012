"""Hand-over of a tablet, coming in by invitation, one's own sign-in."""

from http import HTTPStatus
from uuid import uuid4

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from clinic.people.actions import (
    InvitationOver,
    PeopleError,
    accept_invitation,
    add_person,
    choose_units,
    confirm_password,
    end_grants,
    hand_over,
    lock_tablet,
    set_pin,
    touch_tablet,
)
from clinic.people.forms import AcceptForm, AddForm, ChangePinForm, PinForm, UnitsForm
from clinic.people.middleware import note_works, open_when_locked
from clinic.people.models import Grant, Staff
from clinic.people.queries import (
    TABLET,
    access_invitation,
    access_person_on_tablet,
    people_on_tablet,
    signed_in_places,
)
from clinic.people.rights import Right, Role
from clinic.people.sign_in import SignInRefused, check_full_sign_in
from clinic.platform.http import StaffRequest, needs
from clinic.platform.measures import FOODS, TEMPERATURES, WEIGHTS, units_of_clinic
from clinic.platform.queries import clinic_details, clinic_name
from clinic.platform.registries import personal_pages


def _sent(request: HttpRequest) -> QueryDict | None:
    """What a form is bound to: an empty POST is a sending too, and is told what it lacks."""
    return request.POST if request.method == "POST" else None


def _way_back(request: HttpRequest) -> str:
    """Where the full page returns to: one of our own pages, or Today."""
    asked = request.POST.get("next") or request.GET.get("next") or "/"
    safe = url_has_allowed_host_and_scheme(asked, {request.get_host()}, require_https=request.is_secure())
    return asked if safe else "/"


def _page(
    request: StaffRequest, template: str, status: HTTPStatus = HTTPStatus.OK, **context: object
) -> HttpResponse:
    """One template, as a page of its own or as what the dialog shows."""
    frame = "clinic/people/fragment.html" if request.htmx else "clinic/people/alone.html"
    work = request.at_work
    context |= {
        "frame": frame,
        "alone": not request.htmx,
        "next": _way_back(request),
        "working": None if request.locked or work.actor is None else work.actor.staff.full_name,
        "clinic_name": clinic_name(),
    }
    response = render(request, template, context, status=status)
    response.headers["Vary"] = "HX-Request"
    return response


def _who_page(
    request: StaffRequest, form: PinForm | None = None, wrong: str = "", **context: object
) -> HttpResponse:
    people = people_on_tablet(request.at_work.tablet_id, now=timezone.now())
    status = HTTPStatus.UNPROCESSABLE_ENTITY if wrong else HTTPStatus.OK
    chosen = str(form.data.get("who", "")) if form else ""
    return _page(
        request,
        "clinic/people/handover.html",
        status,
        people=people,
        pages=[page for page in personal_pages if request.actor and request.actor.may(page.right)],
        chosen=int(chosen) if chosen.isdigit() else None,
        wrong=wrong,
        **context,
    )


def _works_now(request: StaffRequest, grant: Grant) -> HttpResponse:
    """The dialog says who works now; the full page goes back to where it was opened."""
    note_works(request, grant.pk, at=timezone.now())
    if not request.htmx:
        messages.success(request, f"{grant.staff.full_name} is working here now.")
        return redirect(_way_back(request))
    context = {
        "grant": grant,
        "name": grant.staff.full_name,
        "manager_by_pin": grant.how == Grant.How.PIN and Role.MANAGER in grant.staff.role_set,
    }
    return render(request, "clinic/people/works_now.html", context)


@require_safe
@never_cache
@open_when_locked
def handover(request: StaffRequest) -> HttpResponse:
    return _who_page(request)


@require_POST
@never_cache
@sensitive_post_parameters("pin")
@open_when_locked
def pin(request: StaffRequest) -> HttpResponse:
    form = PinForm(request.POST)
    if not form.is_valid():
        return _who_page(request, form, " ".join(str(error[0]) for error in form.errors.values()))
    now = timezone.now()
    staff = access_person_on_tablet(request.at_work.tablet_id, form.cleaned_data["who"], now=now)
    assert request.at_work.tablet_id is not None  # somebody signed in on it
    try:
        grant = hand_over(
            tablet_id=request.at_work.tablet_id, staff=staff, pin=form.cleaned_data["pin"], now=now
        )
    except PeopleError as error:
        return _who_page(request, form, str(error))
    return _works_now(request, grant)


@require_http_methods(["GET", "HEAD", "POST"])
@never_cache
@sensitive_post_parameters("password", "code")
@open_when_locked
def add(request: StaffRequest) -> HttpResponse:
    form = AddForm(_sent(request))
    if request.method == "POST" and form.is_valid():
        try:
            staff = check_full_sign_in(request, **form.cleaned_data)
        except SignInRefused as refused:
            form.add_error(refused.field, str(refused))
        else:
            tablet_id = request.at_work.tablet_id or uuid4()
            grant = add_person(tablet_id=tablet_id, staff=staff, now=timezone.now())
            if request.session.get(TABLET) != str(tablet_id):
                request.session[TABLET] = str(tablet_id)
            return _works_now(request, grant)
    status = HTTPStatus.UNPROCESSABLE_ENTITY if form.errors else HTTPStatus.OK
    return _page(request, "clinic/people/add.html", status, form=form)


@require_POST
@never_cache
@open_when_locked
def lock(request: StaffRequest) -> HttpResponse:
    tablet_id = request.at_work.tablet_id
    if tablet_id:
        lock_tablet(tablet_id=tablet_id, now=timezone.now())
    note_works(request, None, at=timezone.now())
    if not request.htmx:
        return redirect(f"{reverse('handover')}?next={_way_back(request)}")
    request.locked = True
    return _who_page(request, said="Locked. The next person begins with a name and a PIN.")


@require_POST
def touched(request: StaffRequest) -> HttpResponse:
    """Somebody works on a page that needs no other request."""
    if request.at_work.tablet_id:
        touch_tablet(tablet_id=request.at_work.tablet_id, now=timezone.now())
    return HttpResponse(status=HTTPStatus.NO_CONTENT)


@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
@never_cache
@sensitive_post_parameters()
def accept(request: HttpRequest, token: str) -> HttpResponse:
    """Opened by whoever holds the link, also by a mail scanner: looking changes nothing."""
    now = timezone.now()
    invitation = access_invitation(token, now=now)
    if invitation is None:
        return render(request, "clinic/people/invitation_over.html", status=HTTPStatus.GONE)
    invited = Staff(email=invitation.email, full_name=invitation.full_name)
    form = AcceptForm(_sent(request), invited=invited)
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        try:
            accept_invitation(token=token, password=data["password"], pin=data["pin"], now=now)
        except InvitationOver:
            return render(request, "clinic/people/invitation_over.html", status=HTTPStatus.GONE)
        messages.success(request, "Your password and PIN are set. Sign in with your e-mail address.")
        return redirect("account_login")
    context = {
        "form": form,
        "name": invitation.full_name,
        "email": invitation.email,
        "roles": ", ".join(invitation.roles),
        "clinic": clinic_name(),
    }
    status = HTTPStatus.UNPROCESSABLE_ENTITY if form.errors else HTTPStatus.OK
    return render(request, "clinic/people/accept.html", context, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@never_cache
@sensitive_post_parameters()
@needs(Right.SEE)
def own(request: StaffRequest) -> HttpResponse:
    """A person's own page: their PIN, and the way to password and second step."""
    staff = request.actor.staff
    form = ChangePinForm(_sent(request))
    if request.method == "POST" and form.is_valid():
        now = timezone.now()
        try:
            if confirm_password(staff, form.cleaned_data["password"], now):
                set_pin(staff=staff, pin=form.cleaned_data["pin"], now=now)
                messages.success(request, "Your PIN is changed. It holds on every tablet from now on.")
                return redirect("own")
            form.add_error("password", "That is not your password. The PIN stays as it was.")
        except PeopleError as error:
            form.add_error("password", str(error))
    context = {
        "form": form,
        "name": staff.full_name,
        "email": staff.email,
        "printed_name": staff.printed_name,
        "roles": ", ".join(staff.roles),
        "has_pin": bool(staff.pin_hash),
        "places": signed_in_places(staff, here=request.at_work.tablet_id, now=timezone.now()),
        "own_session": staff == request.user and not request.actor.by_pin,
        "pages": [page for page in personal_pages if request.actor.may(page.right)],
    }
    status = HTTPStatus.UNPROCESSABLE_ENTITY if form.errors else HTTPStatus.OK
    return render(request, "clinic/people/own.html", context, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@needs(Right.SEE)
def units(request: StaffRequest) -> HttpResponse:
    """Kilograms or pounds, Celsius or Fahrenheit, grams or ounces: one's own, else the clinic's."""
    staff = request.actor.staff
    house = units_of_clinic(clinic_details())
    offered = {
        name: [("", f"as the clinic: {dict(choices)[getattr(house, name)]}"), *choices]
        for name, choices in (("weight", WEIGHTS), ("temperature", TEMPERATURES), ("food", FOODS))
    }
    mine = {"weight": staff.weight_unit, "temperature": staff.temperature_unit, "food": staff.food_unit}
    form = UnitsForm(_sent(request), offered=offered, initial=mine)
    if request.method == "POST" and form.is_valid():
        choose_units(staff=staff, **form.cleaned_data)
        messages.success(request, "Your units are kept. What was typed before stays as it was typed.")
        return redirect("own")
    status = HTTPStatus.UNPROCESSABLE_ENTITY if form.errors else HTTPStatus.OK
    return render(request, "clinic/people/units.html", {"form": form}, status=status)


@require_POST
@needs(Right.SEE)
def everywhere(request: StaffRequest) -> HttpResponse:
    """End one's own work on every tablet, this one too."""
    end_grants(staff=request.actor.staff, now=timezone.now())
    return redirect("handover")
