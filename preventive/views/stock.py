"""The refrigerator: lots that came in, counts, what is thrown away, recalls and who had them."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from clinic.people.rights import Right
from clinic.platform.forms import OnceForm
from clinic.platform.http import StaffRequest, needs
from clinic.visits.errors import SentBefore, VisitError
from preventive import actions, stock_forms
from preventive.actions.stock import may_keep_stock, require_stock
from preventive.models import Lot, Product
from preventive.queries import access_lot_on_shelf, access_taken_from
from preventive.recall_page import letters_page
from preventive.stock_page import lot_page, shelf
from preventive.views.attempt import WRONG, attempt, first_error


@require_safe
@needs(Right.SEE)
def stock(request: StaffRequest) -> HttpResponse:
    every = request.GET.get("all") == "1"
    context = {
        "products": shelf(today=timezone.localdate(), all_lots=every),
        "every": every,
        "may_keep": may_keep_stock(request.actor),
        "may_list": request.actor.may(Right.KEEP_MEDICINES),
    }
    return render(request, "preventive/stock.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@needs(Right.SEE)
def lot_new(request: StaffRequest) -> HttpResponse:
    """A lot that came in, or more of one that is here."""
    require_stock(request.actor)
    products = Product.objects.filter(retired_on=None)
    form = stock_forms.LotForm(
        request.POST if request.method == "POST" else None,
        products=products,
        initial={"received_on": timezone.localdate(), "product": request.GET.get("product", "")},
    )
    if request.method == "POST" and form.is_valid():
        try:
            lot = actions.receive_lot(actor=request.actor, now=timezone.now(), **form.cleaned_data)
        except SentBefore:
            return redirect("stock")
        except VisitError as error:
            field = getattr(error, "field", None)
            form.add_error(field if field in form.fields else None, str(error))
        else:
            messages.success(request, f"Lot {lot.number} of {lot.product.name} is on the shelf.")
            return redirect("stock")
    status = WRONG if form.errors else 200
    return render(request, "preventive/lot_new.html", {"form": form}, status=status)


@require_safe
@needs(Right.SEE)
def lot(request: StaffRequest, lot_id: int) -> HttpResponse:
    return _whole(request, lot_id)


def _whole(request: StaffRequest, lot_id: int, wrong: str = "", do: str = "") -> HttpResponse:
    row = access_lot_on_shelf(lot_id, actor=request.actor)
    context = {
        "page": lot_page(row, today=timezone.localdate()),
        "wrong": wrong,
        "do": do,
        "typed": request.POST,
        "once": OnceForm()["once"].value(),
        "may_keep": may_keep_stock(request.actor),
        "may_lift": request.actor.may(Right.ASSESS),
        "may_write": request.actor.may(Right.ASSESS),
    }
    return render(request, "preventive/lot.html", context, status=WRONG if wrong else 200)


def _do(
    request: StaffRequest, lot_id: int, do: str, form: OnceForm, act: Callable[[], object]
) -> HttpResponse:
    wrong = attempt(form, act)
    return _whole(request, lot_id, wrong, do) if wrong else redirect("lot", lot_id)


@require_POST
@needs(Right.SEE)
def lot_count(request: StaffRequest, lot_id: int) -> HttpResponse:
    require_stock(request.actor)
    row, form = access_lot_on_shelf(lot_id, actor=request.actor), stock_forms.CountForm(request.POST)
    common: dict[str, Any] = {"actor": request.actor, "now": timezone.now(), "lot": row}
    return _do(request, lot_id, "count", form, lambda: actions.count_lot(**common, **form.cleaned_data))


@require_POST
@needs(Right.SEE)
def lot_throw(request: StaffRequest, lot_id: int) -> HttpResponse:
    require_stock(request.actor)
    row, form = access_lot_on_shelf(lot_id, actor=request.actor), stock_forms.ThrowForm(request.POST)
    common: dict[str, Any] = {"actor": request.actor, "now": timezone.now(), "lot": row}
    return _do(request, lot_id, "throw", form, lambda: actions.throw_away(**common, **form.cleaned_data))


@require_POST
@needs(Right.SEE)
def lot_recall(request: StaffRequest, lot_id: int) -> HttpResponse:
    require_stock(request.actor)
    row, form = access_lot_on_shelf(lot_id, actor=request.actor), stock_forms.ReasonForm(request.POST)
    common: dict[str, Any] = {"actor": request.actor, "now": timezone.now(), "lot": row}
    return _do(request, lot_id, "recall", form, lambda: actions.recall_lot(**common, **form.cleaned_data))


@require_POST
@needs(Right.ASSESS)
def lot_lift(request: StaffRequest, lot_id: int) -> HttpResponse:
    row, form = access_lot_on_shelf(lot_id, actor=request.actor), stock_forms.ReasonForm(request.POST)
    common: dict[str, Any] = {"actor": request.actor, "now": timezone.now(), "lot": row}
    return _do(request, lot_id, "lift", form, lambda: actions.lift_recall(**common, **form.cleaned_data))


@require_POST
@needs(Right.NOTE_CONTACT)
def lot_told(request: StaffRequest, lot_id: int) -> HttpResponse:
    """The owner of one animal that had it was told."""
    given = access_taken_from(lot_id, request.POST.get("given", ""), actor=request.actor)
    form = stock_forms.ToldForm(request.POST)
    common: dict[str, Any] = {"actor": request.actor, "now": timezone.now(), "given": given}
    key = request.POST.get("given", "")
    return _do(
        request, lot_id, f"told-{key}", form, lambda: actions.owner_told(**common, **form.cleaned_data)
    )


@require_http_methods(["GET", "HEAD", "POST"])
@needs(Right.SEE)
def lot_letters(request: StaffRequest, lot_id: int) -> HttpResponse:
    """Who is told of a recall and how; the letters as they would leave, looked at before they do."""
    row = access_lot_on_shelf(lot_id, actor=request.actor)
    if request.method == "POST":
        request.actor.require(Right.ASSESS)
    if row.recalled_on is None:
        return redirect("lot", row.pk)
    if request.method != "POST":
        return _letters(request, row)
    form = stock_forms.LettersForm(request.POST)
    if not form.is_valid():
        return _letters(request, row, wrong=first_error(form))
    if request.POST.get("do") != "send":
        return _letters(request, row, words=form.cleaned_data["words"])
    try:
        sent = actions.send_recall_letters(
            actor=request.actor, now=timezone.now(), lot=row, **form.cleaned_data
        )
    except SentBefore:
        return redirect("lot-letters", row.pk)
    except VisitError as error:
        return _letters(request, row, wrong=str(error))
    count = f"{len(sent)} letters wait" if len(sent) != 1 else "One letter waits"
    messages.success(request, f"{count} to leave. Who cannot be reached by e-mail stands below.")
    return redirect("lot-letters", row.pk)


def _letters(request: StaffRequest, row: Lot, *, words: str = "", wrong: str = "") -> HttpResponse:
    page = letters_page(row, words=words)
    context = {
        "page": page,
        "words": request.POST.get("words", page.words),
        "looked": bool(words),
        "wrong": wrong,
        "once": OnceForm()["once"].value(),
        "may_write": request.actor.may(Right.ASSESS),
    }
    return render(request, "preventive/lot_letters.html", context, status=WRONG if wrong else 200)
