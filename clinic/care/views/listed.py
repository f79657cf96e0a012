"""Records, Medicines: what the plan page offers by name. No dose stands here, and none is proposed."""

from http import HTTPStatus

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from clinic.care import listed_pages as pages
from clinic.care.actions.listed import change_listed, list_medicine, put_back, take_off
from clinic.care.kinds import published
from clinic.care.listed_errors import KindsChanged, ListChanged, NameStands
from clinic.care.listed_forms import BackForm, ListedForm, OffForm, typed_of
from clinic.care.listed_models import ListedMedicine
from clinic.care.views.page import blame
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.visits.errors import SentBefore, VisitError

EITHER = ["GET", "HEAD", "POST"]
WRONG = HTTPStatus.UNPROCESSABLE_ENTITY


@require_safe
@needs(Right.SEE)
def medicines(request: StaffRequest) -> HttpResponse:
    page = pages.list_page(query=request.GET.get("q", "").strip(), actor=request.actor)
    return render(request, "clinic/care/listed.html", {"page": page})


@require_http_methods(EITHER)
@never_cache
@needs(Right.KEEP_MEDICINES)
def new(request: StaffRequest) -> HttpResponse:
    form = ListedForm(request.POST if request.method == "POST" else None, own=pages.own_kinds())
    stands: ListedMedicine | None = None
    if form.is_bound and form.is_valid():
        try:
            made = list_medicine(
                facts=form.facts(),
                kinds=form.kinds(),
                once=form.cleaned_data["once"],
                actor=request.actor,
                now=timezone.now(),
            )
        except SentBefore:
            return redirect("medicine-list")
        except KindsChanged as error:
            form.add_error(form.kinds_now(error.row.ingredient, error.row.version), _said_meanwhile(error))
        except VisitError as error:
            stands = error.row if isinstance(error, NameStands) else None
            blame(form, error)
        else:
            messages.success(request, f"{made.name} is on the list: the plan page offers it by name.")
            return redirect("medicine-list")
    context = {"form": form, "stands": stands.pk if stands else None}
    return render(
        request, "clinic/care/listed_new.html", context, status=WRONG if form.errors else HTTPStatus.OK
    )


@require_http_methods(EITHER)
@never_cache
@needs(Right.KEEP_MEDICINES)
def medicine(request: StaffRequest, listed_id: int) -> HttpResponse:
    """Change what the list says of it."""
    row = pages.access_listed(listed_id)
    if request.method != "POST":
        return _page(request, row)
    form = ListedForm(request.POST, own=pages.own_kinds())
    if not form.is_valid():
        return _page(request, row, form)
    seen = form.cleaned_data["version"] or 0
    try:
        made = change_listed(
            row=row,
            seen=seen,
            facts=form.facts(),
            kinds=form.kinds(),
            once=form.cleaned_data["once"],
            actor=request.actor,
            now=timezone.now(),
        )
    except SentBefore:
        return redirect("medicine-list")
    except ListChanged as error:
        typed = typed_of(form.facts())
        told = pages.meanwhile(error.row, seen=seen, typed=typed)
        form.go_on_from(error.row.version, pages.follow(error.row, seen=seen, typed=typed))
        return _page(request, error.row, form, meanwhile=told)
    except KindsChanged as error:
        form.add_error(form.kinds_now(error.row.ingredient, error.row.version), _said_meanwhile(error))
    except VisitError as error:
        blame(form, error)
    else:
        messages.success(request, f"{made.name} is changed. What was directed before keeps its own words.")
        return redirect("medicine-list")
    return _page(request, row, form)


@require_POST
@needs(Right.KEEP_MEDICINES)
def off(request: StaffRequest, listed_id: int) -> HttpResponse:
    """Not offered any more, with a reason."""
    row = pages.access_listed(listed_id)
    form = OffForm(request.POST, auto_id="off_%s")
    if not form.is_valid():
        return _page(request, row, off_form=form)
    seen = form.cleaned_data.pop("version")
    try:
        take_off(row=row, seen=seen, actor=request.actor, now=timezone.now(), **form.cleaned_data)
    except SentBefore:
        return redirect("medicine-list")
    except ListChanged as error:
        again = request.POST.copy()
        again["version"] = str(error.row.version)
        told = pages.meanwhile(error.row, seen=seen)
        return _page(request, error.row, off_form=OffForm(again, auto_id="off_%s"), meanwhile=told)
    except VisitError as error:
        blame(form, error)
        return _page(request, row, off_form=form)
    messages.success(request, f"{row.name} is taken off. What was directed of it stays as it was.")
    return redirect("medicine-list")


@require_POST
@needs(Right.KEEP_MEDICINES)
def back(request: StaffRequest, listed_id: int) -> HttpResponse:
    """Offered again."""
    row = pages.access_listed(listed_id)
    form = BackForm(request.POST)
    if not form.is_valid():
        return _page(request, row, back_form=form)
    seen = form.cleaned_data["version"]
    try:
        put_back(
            row=row,
            seen=seen,
            once=form.cleaned_data["once"],
            actor=request.actor,
            now=timezone.now(),
        )
    except SentBefore:
        pass
    except ListChanged as error:
        return _page(request, error.row, meanwhile=pages.meanwhile(error.row, seen=seen))
    else:
        messages.success(request, f"{row.name} is on the list again.")
    return redirect("medicine-list")


def _said_meanwhile(error: KindsChanged) -> str:
    said = ", ".join(published().titles(error.row.kinds)) or "none of these"
    return f"{error} They said: {said}. Choose again; what you send now counts."


def _page(
    request: StaffRequest,
    row: ListedMedicine,
    form: ListedForm | None = None,
    *,
    off_form: OffForm | None = None,
    back_form: BackForm | None = None,
    meanwhile: pages.Meanwhile | None = None,
) -> HttpResponse:
    start = {"version": row.version}
    wrong = meanwhile or any(each and each.errors for each in (form, off_form, back_form))
    context = {
        "id": row.pk,
        "name": row.name,
        "off": row.off_reason,
        "form": form or ListedForm(own=pages.own_kinds(), initial=start | typed_of(row)),
        "off_form": off_form or OffForm(initial=start, auto_id="off_%s"),
        "back_form": back_form if back_form and not back_form.errors else BackForm(initial=start),
        "back_errors": back_form.errors if back_form else None,
        "turns": pages.turns_of(row),
        "meanwhile": meanwhile,
    }
    return render(request, "clinic/care/listed_one.html", context, status=WRONG if wrong else HTTPStatus.OK)
