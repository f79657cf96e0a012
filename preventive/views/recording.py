"""What is recorded: doses, supplies, tests, what is put off; and what is struck out."""

from dataclasses import replace
from datetime import timedelta
from functools import partial
from typing import Any

from django.http import HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_POST

from clinic.care import actions as care
from clinic.care.queries import access_test
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.visits.errors import SentBefore, VisitError
from clinic.visits.queries import access_visit_here
from preventive import actions, forms, queries
from preventive.actions.doses import questions_of
from preventive.errors import Asked, ClinicianDecides, RowRefused
from preventive.in_house import by_kind
from preventive.models import Source
from preventive.outside_form import OutsideForm, read_rows, rows_of, vaccines_for
from preventive.versions import protocol_in_force
from preventive.views.attempt import acted, attempt, first_error
from preventive.views.page import Outside, back_to, whole

DEFER_DAYS = 14


@require_POST
@needs(Right.GIVE_DOSE)
def give(request: StaffRequest, visit_id: int) -> HttpResponse:
    """Every vial with a chosen lot, in one go: all of them or none."""
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.GIVE_DOSE)
    form, lots = forms.GiveForm(request.POST), forms.lots_of(request.POST)
    if not form.is_valid():
        return whole(request, visit, wrong={"give": first_error(form)})
    if not lots:
        return whole(request, visit, wrong={"give": "Choose the lot of what is given."})
    givings = {key: _giving(request, key, lot_id) for key, lot_id in lots.items()}
    told = form.cleaned_data
    well = told["well"] == "well"
    chosen = request.POST.get("supervising", "")
    vet = queries.access_veterinarian(int(chosen), actor=request.actor) if chosen.isdigit() else None
    present = False if chosen == forms.NOBODY else True if vet else None
    people: dict[str, Any] = {"supervising": vet, "present": present}
    try:
        actions.give_doses(
            actor=request.actor,
            now=timezone.now(),
            patient=visit.patient,
            visit=visit,
            givings=list(givings.values()),
            well=well,
            consent=told["consent"],
            once=told["once"],
            **people,
        )
    except SentBefore:
        return back_to(visit, "recorded")
    except Asked as refused:
        asked = questions_of(
            actor=request.actor,
            visit=visit,
            givings=givings,
            on=timezone.localdate(),
            well=well,
            **people,
        )
        return whole(request, visit, asked=asked, wrong={"give": _said(refused)})
    except VisitError as error:
        return whole(request, visit, wrong={"give": str(error)})
    return back_to(visit, "recorded")


def _giving(request: StaffRequest, key: str, lot_id: int) -> actions.Giving:
    lot = queries.access_lot(lot_id, actor=request.actor)
    return actions.Giving(
        product=lot.product,
        lot=lot,
        site=request.POST.get(f"site-{key}", ""),
        route=forms.route_of(request.POST, key),
        answers=forms.answers_of(request.POST, key),
        tag_number=request.POST.get(f"tag-{key}", "")[:40],
    )


def _said(refused: Asked) -> str:
    """The questions stand beside their vaccine; here only what is to be done."""
    if isinstance(refused, ClinicianDecides):
        return f"{refused.about}: only a clinician can go on here. Nothing was recorded."
    stop = any(each.level == "stop" for each in refused.questions)
    what = "this is not done here" if stop else "answer the questions first"
    return f"{refused.about}: {what}. Nothing was recorded."


@require_POST
@needs(Right.GIVE_DOSE)
def supply(request: StaffRequest, visit_id: int) -> HttpResponse:
    """A preventive goes home."""
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.GIVE_DOSE)
    form = forms.SupplyForm(request.POST)
    if not form.is_valid():
        return whole(request, visit, wrong={"supply": first_error(form)})
    told = dict(form.cleaned_data)
    product = queries.access_product(told.pop("product"), actor=request.actor, kind="preventive")
    # each product has its own list of sizes
    told["band"] = request.POST.get(f"band-{product.pk}", "")
    told["source"] = told["source"] or Source.HERE
    lot_id = request.POST.get(f"lot-of-{product.pk}", "") if told["source"] == Source.HERE else ""
    lot = queries.access_lot(int(lot_id), actor=request.actor) if lot_id.isdigit() else None
    try:
        actions.record_supply(
            actor=request.actor,
            now=timezone.now(),
            patient=visit.patient,
            visit=visit,
            product=product,
            lot=lot,
            answers=forms.answers_of(request.POST, "supply"),
            **told,
        )
    except SentBefore:
        return back_to(visit, "recorded")
    except Asked as refused:
        return whole(request, visit, asked={"supply": refused.questions}, wrong={"supply": _said(refused)})
    except VisitError as error:
        return whole(request, visit, wrong={"supply": str(error)})
    return back_to(visit, "recorded")


@require_POST
@needs(Right.GIVE_DOSE)
def put_off(request: StaffRequest, visit_id: int) -> HttpResponse:
    """Not today, or the owner says no."""
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.GIVE_DOSE)
    form, code = forms.PutOffForm(request.POST), request.POST.get("code", "")

    def put_it_off() -> None:
        told = form.cleaned_data
        common: dict[str, Any] = {
            "actor": request.actor,
            "now": timezone.now(),
            "patient": visit.patient,
            "visit": visit,
            "code": code,
            "reason": form.reason,
            "once": told["once"],
        }
        if told["how"] == "no":
            actions.decline(
                **common,
                until=told["until"],
                risks_explained=told["risks"],
                signed_by_owner=told["signed"],
            )
        else:
            until = told["until"] or timezone.localdate() + timedelta(DEFER_DAYS)
            actions.defer(**common, until=until)

    wrong = attempt(form, put_it_off)
    return whole(request, visit, wrong={f"put-off:{code}": wrong}) if wrong else back_to(visit, "due")


@require_POST
@needs(Right.GIVE_DOSE)
def treatment(request: StaffRequest, visit_id: int) -> HttpResponse:
    """A deworming or a dental cleaning done here."""
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.GIVE_DOSE)
    form = forms.TreatmentForm(request.POST)
    common: dict[str, Any] = {
        "actor": request.actor,
        "now": timezone.now(),
        "patient": visit.patient,
        "visit": visit,
    }

    def done() -> None:
        told = dict(form.cleaned_data)
        told["source"] = told["source"] or Source.HERE
        actions.record_treatment(**common, **told)

    wrong = attempt(form, done)
    return whole(request, visit, wrong={"treatment": wrong}) if wrong else back_to(visit, "recorded")


@require_POST
@needs(Right.TAKE_HISTORY)
def outside(request: StaffRequest, visit_id: int) -> HttpResponse:
    """Doses given elsewhere, from one paper or the owner's word."""
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.TAKE_HISTORY)
    form = OutsideForm(request.POST, request.FILES)
    vaccines = vaccines_for(visit.patient.species, protocol_in_force().rules)
    rows, doses = read_rows(rows_of(request.POST), vaccines)
    wrong = "" if form.is_valid() and not any(row.wrong for row in rows) else "Not recorded: see below."
    if not wrong:
        told = form.cleaned_data
        try:
            actions.record_outside_doses(
                actor=request.actor,
                now=timezone.now(),
                patient=visit.patient,
                visit=visit,
                doses=[dose for _, dose in doses],
                source=told["source"],
                proof_words=told["proof_words"],
                stored=form.stored,
                once=told["once"],
            )
        except SentBefore:
            return back_to(visit, "recorded")
        except RowRefused as error:
            at = doses[error.place][0]
            field = "what" if error.field == "antigens" else "on"
            rows = tuple(replace(row, wrong={field: str(error)}) if row.number == at else row for row in rows)
            wrong = "Not recorded: see below."
        except VisitError as error:
            wrong = str(error)
        else:
            return back_to(visit, "recorded")
    return whole(request, visit, outside=Outside(form, rows, form.kept_now), wrong={"outside": wrong})


@require_POST
@needs(Right.PLAN)
def take_test(request: StaffRequest, visit_id: int) -> HttpResponse:
    """First tap: the sample is taken here."""
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.PLAN)
    known = by_kind(request.POST.get("kind", ""))
    if known is None:
        return whole(request, visit, wrong={"tests": "This test is not on the list; nothing was recorded."})
    # a second tap meets the test that stands
    if not visit.record.is_signed and known.kind not in queries.kinds_taken(visit.record):
        now = timezone.now()
        care.order_test(
            actor=request.actor,
            now=now,
            record=visit.record,
            kind=known.kind,
            title=known.title,
            taken_at=now,
            in_house=True,
        )
    return back_to(visit, "tests")


@require_POST
@needs(Right.OBSERVE)
def result(request: StaffRequest, visit_id: int, test_id: int) -> HttpResponse:
    """Second tap: what was seen."""
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.OBSERVE)
    test = access_test(test_id, visit=visit, actor=request.actor)
    form, known = forms.ResultForm(request.POST), by_kind(test.kind)
    code = request.POST.get("outcome", "")
    seen = next((each for each in known.outcomes if each.code == code), None) if known else None
    if not form.is_valid() or seen is None:
        return whole(request, visit, wrong={"tests": "Choose what was seen."})
    try:
        care.enter_result(
            actor=request.actor,
            now=timezone.now(),
            test=test,
            value=seen.value,
            meaning=seen.meaning,
            for_owner=seen.for_owner,
            once=form.cleaned_data["once"],
        )
        actions.refresh_call_backs(patient=visit.patient, today=timezone.localdate(), now=timezone.now())
    except SentBefore:
        return back_to(visit, "tests")
    except VisitError as error:
        return whole(request, visit, wrong={"tests": str(error)})
    return back_to(visit, "tests")


@require_POST
@needs(Right.STRIKE_OWN)
def strike(request: StaffRequest, visit_id: int) -> HttpResponse:
    """Strike out something recorded at this visit. `row`: its sort and number."""
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.STRIKE_OWN)
    key = request.POST.get("row", "")
    row = queries.access_recorded(key, patient=visit.patient, actor=request.actor)
    form = forms.StrikeForm(request.POST)
    wrong = acted(request, form, partial(actions.strike_recorded, row=row))
    return whole(request, visit, wrong={key: wrong}) if wrong else back_to(visit, "recorded")
