"""The feeding page; the catalogue of foods."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.cache import patch_vary_headers
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.platform.measures import units_of
from clinic.platform.queries import details_for
from clinic.visits.frame import visit_frame
from clinic.visits.models import Record
from nutrition import actions, queries
from nutrition.calculator import CalculatorForm, answer
from nutrition.choices import FAMILIES
from nutrition.compare_page import compare_page
from nutrition.foods import food_from
from nutrition.foods_page import food_rows, food_versions
from nutrition.forms import Asked, FoodForm, again, as_typed, read
from nutrition.letter import known_endings
from nutrition.models import Plan
from nutrition.pages import feeding_page
from nutrition.plan import PlanRefused
from nutrition.versions import composed

WRONG = 422


@require_http_methods(["GET", "POST"])
@needs(Right.SEE)
def feeding(request: StaffRequest, visit_id: int) -> HttpResponse:
    """GET recounts what was chosen so far and changes nothing; POST keeps it."""
    record = queries.access_record(request.actor, visit_id)
    if request.method == "GET":
        kept = queries.plan_of(record)
        details = details_for(request)
        unit = units_of(request.actor, details).weight
        asked = read(again(kept) if kept and not request.GET else request.GET, unit)
        return _page(request, record, asked, kept)
    request.actor.require(Right.FEED)
    return _keep(request, record, read(request.POST, units_of(request.actor, details_for(request)).weight))


def _keep(request: StaffRequest, record: Record, asked: Asked) -> HttpResponse:
    now, do = timezone.now(), request.POST.get("do", "")
    extra: dict[str, str] = {}
    only = asked.errors if do == "plan" else {k: v for k, v in asked.errors.items() if k == "weigh_in_on"}
    if do != "back" and only:
        return _page(request, record, asked, queries.plan_of(record), status=WRONG)
    try:
        if do == "back":
            actions.take_back(actor=request.actor, now=now, record=record)
        elif do == "keep":
            actions.keep_feeding(
                actor=request.actor,
                now=now,
                record=record,
                until=asked.until,
                reason=asked.choices.reason,
                weigh_in_on=asked.weigh_in_on,
                own_words=asked.own_words,
            )
        else:
            actions.make_plan(
                actor=request.actor,
                now=now,
                record=record,
                choices=asked.choices,
                weigh_in_on=asked.weigh_in_on,
                own_words=asked.own_words,
            )
    except PlanRefused:
        return _page(request, record, asked, queries.plan_of(record), status=WRONG)
    except actions.UntilMissing:
        extra["until"] = "Say until when, or until what: “until we call with the result”."
    except actions.WeighInPast:
        extra["weigh_in_on"] = "The next weigh-in lies after today."
    except actions.RecordSigned:
        messages.warning(request, "The record was signed meanwhile; food advice does not change any more.")
    if extra:
        return _page(request, record, asked, queries.plan_of(record), status=WRONG, extra=extra)
    return redirect("visit-feeding", record.visit_id)


def _page(
    request: StaffRequest,
    record: Record,
    asked: Asked,
    kept: Plan | None,
    status: int = 200,
    extra: dict[str, str] | None = None,
) -> HttpResponse:
    """The whole page; where htmx only recounts, without the visit's frame, which it would throw away."""
    today = timezone.localdate()
    recount = bool(request.htmx) and not request.htmx.boosted
    context = {
        "outer": "nutrition/recount.html" if recount else "clinic/visit.html",
        "frame": None
        if recount
        else visit_frame(record.visit, current="feeding", today=today, actor=request.actor),
        "patient_name": record.visit.patient.name,
        "page": feeding_page(
            record, asked, kept, actor=request.actor, today=today, details=details_for(request)
        ),
        "visit_id": record.visit_id,
        "also_wrong": extra or {},
        "until_known": tuple(known_endings().values()),
        "wrong": status == WRONG,
        "signed": record.is_signed,
    }
    response = render(request, "nutrition/feeding.html", context, status=status)
    patch_vary_headers(response, ["HX-Request"])
    return response


@require_GET
@needs(Right.SEE)
def foods(request: StaffRequest) -> HttpResponse:
    """The clinic's foods."""
    context = {"foods": food_rows(), "may": request.actor.may(Right.MANAGE_CLINIC)}
    return render(request, "nutrition/foods.html", context)


@require_GET
@needs(Right.SEE)
def calculator(request: StaffRequest) -> HttpResponse:
    """A quick answer without a patient; keeps nothing."""
    stock, details = queries.catalogue(), details_for(request)
    units = units_of(request.actor, details)
    form = CalculatorForm(request.GET or None, foods=stock, initial={"unit": units.weight})
    family = FAMILIES.get(details.energy_rule, "multiples")
    asked = form.is_bound and form.is_valid()
    found = answer(form, stock, composed(), family=family, food_unit=units.food) if asked else None
    return render(request, "nutrition/calculator.html", {"form": form, "answer": found})


@require_GET
@needs(Right.SEE)
def compare(request: StaffRequest) -> HttpResponse:
    """The ticked foods side by side."""
    stock = queries.catalogue()
    chosen = [stock[code] for code in dict.fromkeys(request.GET.getlist("food")) if code in stock]
    return render(request, "nutrition/compare.html", {"page": compare_page(chosen, composed())})


@require_http_methods(["GET", "POST"])
@needs(Right.MANAGE_CLINIC)
def food(request: StaffRequest, code: str = "") -> HttpResponse:
    """One food: a new one, or one of the catalogue."""
    row = queries.access_food(request.actor, code) if code else None
    before = food_from(row.body) if row else None
    form = FoodForm(
        request.POST if request.method == "POST" else None, initial=as_typed(before) if before else {}
    )
    if request.method == "POST" and form.is_valid():
        try:
            made = actions.keep_food(
                actor=request.actor, now=timezone.now(), food=form.food(before), is_new=before is None
            )
        except actions.FoodStands:
            form.add_error("name", "A food of this name stands in the list already.")
        else:
            messages.success(request, f"{made.name} is kept. Plans made before keep what they say.")
            return redirect("foods")
    context = {
        "form": form,
        "title": before.name if before else "A new food",
        "code": code,
        "versions": food_versions(code),
    }
    return render(request, "nutrition/food.html", context, status=WRONG if form.errors else 200)


@require_POST
@needs(Right.MANAGE_CLINIC)
def food_out(request: StaffRequest, code: str) -> HttpResponse:
    """A food is not offered any more."""
    actions.retire_food(actor=request.actor, now=timezone.now(), row=queries.access_food(request.actor, code))
    messages.success(request, "It is not offered any more. Plans that name it keep their own copy.")
    return redirect("foods")
