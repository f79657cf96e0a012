"""Records, Vaccines and preventives: what the clinic uses, entered from the labels."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from clinic.people.rights import Right
from clinic.platform.forms import OnceForm
from clinic.platform.http import StaffRequest, needs
from clinic.platform.measures import units_of
from clinic.visits.errors import SentBefore, VisitError
from preventive import actions
from preventive.models import Product, ProductKind
from preventive.product_forms import FORM_OF, LabelForm, typed_of
from preventive.queries import access_listed
from preventive.versions import protocol_in_force
from preventive.views.attempt import WRONG, attempt

EITHER = ["GET", "HEAD", "POST"]


@require_http_methods(EITHER)
@needs(Right.KEEP_MEDICINES)
def new(request: StaffRequest, product_kind: str) -> HttpResponse:
    """One that the clinic uses from now on."""
    if product_kind not in ProductKind.values:
        raise Http404
    initial = {"weight_in": units_of(request.actor).weight, "species": ["dog"]}
    form = _form(request, product_kind, initial)
    if request.method == "POST" and (made := _kept(request, form, None)):
        messages.success(request, f"{made.name} is on the list. Now enter the lot that came in.")
        return redirect("stock")
    return _page(request, form, None)


@require_http_methods(EITHER)
@needs(Right.KEEP_MEDICINES)
def product(request: StaffRequest, product_id: int) -> HttpResponse:
    """What its label says, and changing it. What was given keeps the label of its day."""
    row = access_listed(product_id, actor=request.actor)
    form = _form(request, row.kind, typed_of(row))
    if request.method == "POST" and (made := _kept(request, form, row)):
        messages.success(request, f"{made.name} is changed. What was given before keeps its label.")
        return redirect("stock")
    return _page(request, form, row)


@require_POST
@needs(Right.KEEP_MEDICINES)
def use(request: StaffRequest, product_id: int) -> HttpResponse:
    """`used`: yes, or anything else for no longer."""
    row, form = access_listed(product_id, actor=request.actor), OnceForm(request.POST)
    used = request.POST.get("used") == "yes"
    common: dict[str, Any] = {"actor": request.actor, "now": timezone.now(), "product": row, "used": used}
    wrong = attempt(form, lambda: actions.use_product(**common, **form.cleaned_data))
    if wrong:
        messages.error(request, f"{wrong} Nothing was changed.")
    return redirect("product", row.pk)


def _form(request: StaffRequest, kind: str, initial: dict[str, Any]) -> LabelForm:
    sent = request.POST if request.method == "POST" else None
    return FORM_OF[kind](sent, rules=protocol_in_force().rules, initial=initial)


def _kept(request: StaffRequest, form: LabelForm, row: Product | None) -> Product | None:
    """The product as it stands now; None where something is wrong, which the form then says."""
    if not form.is_valid():
        return None
    told = form.cleaned_data
    try:
        return actions.keep_product(
            actor=request.actor,
            now=timezone.now(),
            product=row,
            kind=form.kind,
            name=told["name"],
            maker=told["maker"],
            species=told["species"],
            facts=form.facts(),
            sure=told.get("sure", True),
            once=told["once"],
        )
    except SentBefore:
        return row or Product.objects.filter(name=told["name"], maker=told["maker"]).first()
    except VisitError as error:
        field = getattr(error, "field", None)
        form.add_error(field if field in form.fields else None, str(error))
    return None


def _page(request: StaffRequest, form: LabelForm, row: Product | None) -> HttpResponse:
    context = {"form": form, "row": row, "of_vaccine": form.kind == ProductKind.VACCINE}
    return render(request, "preventive/product.html", context, status=WRONG if form.errors else 200)
