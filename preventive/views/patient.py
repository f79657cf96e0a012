"""A patient's prevention as a whole; reactions, what they hold, and the places of injections."""

from collections.abc import Callable
from datetime import date
from functools import partial
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from clinic.patients.facts import died_words
from clinic.patients.models import Patient
from clinic.patients.queries import access_patient
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.platform.papers import TYPES
from clinic.platform.stored import stored_file
from clinic.visits.errors import SentBefore, VisitError
from preventive import actions, reaction_forms
from preventive.forms import LifeForm, OwnDateForm, RulingForm, StrikeForm, day_or_none
from preventive.item_page import group_of, item_page
from preventive.life_rows import as_typed
from preventive.models import Dose, OwnDate, Proof, Supply
from preventive.patient_page import given_lately, patient_page
from preventive.queries import access_hold, access_reaction, access_recorded, dose_sent, mine
from preventive.reaction_models import Outcome
from preventive.views.attempt import WRONG, acted

FURTHEST_DAYS = 3653
NO_DOSE = "That dose is not on this patient’s record."


@require_safe
@needs(Right.SEE)
def history(request: StaffRequest, patient_id: int) -> HttpResponse:
    patient = access_patient(patient_id, actor=request.actor)
    return whole(request, patient)


@require_safe
@needs(Right.SEE)
def item(request: StaffRequest, patient_id: int, item_code: str) -> HttpResponse:
    """Why one item stands as it does; `on`: what if it were another day. Looking changes nothing."""
    patient = access_patient(patient_id, actor=request.actor)
    today = timezone.localdate()
    typed = request.GET.get("on", "")
    on = day_or_none(typed)
    wrong = ""
    if typed and (on is None or abs((on - today).days) > FURTHEST_DAYS):
        on, wrong = None, "A day within ten years, as year-month-day."
    return explained(request, patient, item_code, on=on, wrong=wrong)


def explained(
    request: StaffRequest,
    patient: Patient,
    item_code: str,
    *,
    on: date | None = None,
    wrong: str = "",
    refused: str = "",
) -> HttpResponse:
    """`wrong`: of the day asked about; `refused`: of the clinician's own date."""
    today = timezone.localdate()
    page = item_page(patient, item_code, today=today, on=on or today)
    context = {
        "patient": patient,
        "page": page,
        "code": item_code,
        "wrong": wrong,
        "refused": refused,
        "typed": request.GET.get("on", ""),
        "sent": request.POST,
        "once": OwnDateForm()["once"].value(),
        "may_set": request.actor.may(Right.ASSESS) and patient.deceased_on is None,
    }
    return render(request, "preventive/item.html", context, status=WRONG if refused else 200)


@require_POST
@needs(Right.ASSESS)
def own_date(request: StaffRequest, patient_id: int, item_code: str) -> HttpResponse:
    """A clinician sets when this is due, whatever the rules say."""
    patient = access_patient(patient_id, actor=request.actor, right=Right.ASSESS)
    group = group_of(patient, item_code, today=timezone.localdate())
    act = partial(actions.set_own_date, patient=patient, code=group)
    return _item_after(request, patient, item_code, acted(request, OwnDateForm(request.POST), act))


@require_POST
@needs(Right.ASSESS)
def own_date_withdraw(request: StaffRequest, patient_id: int, item_code: str) -> HttpResponse:
    """The date by the rules leads again."""
    patient = access_patient(patient_id, actor=request.actor, right=Right.ASSESS)
    sent = request.POST.get("row", "")
    row = get_object_or_404(OwnDate.objects.filter(mine(patient)), pk=int(sent) if sent.isdigit() else 0)
    form, act = reaction_forms.WhyForm(request.POST), partial(actions.withdraw_own_date, own=row)
    return _item_after(request, patient, item_code, acted(request, form, act))


def _item_after(request: StaffRequest, patient: Patient, item_code: str, refused: str) -> HttpResponse:
    if refused:
        return explained(request, patient, item_code, refused=refused)
    return redirect("prevention-item", patient.pk, item_code)


@require_safe
@needs(Right.SEE)
def proof(request: StaffRequest, patient_id: int, proof_id: int) -> HttpResponse:
    """The paper by which doses from elsewhere are known. A PDF is saved, never shown by this origin."""
    patient = access_patient(patient_id, actor=request.actor)
    row = get_object_or_404(Proof.objects.filter(mine(patient)), pk=proof_id)
    suffix = {kind: suffix for suffix, kind in TYPES.items()}[row.media_type]
    return stored_file(f"{row.sha256[:2]}/{row.sha256}{suffix}", name=f"proof-{row.pk}{suffix}")


@require_POST
@needs(Right.BOOK)
def calendar(request: StaffRequest, patient_id: int) -> HttpResponse:
    """What is due, for the owner's calendar. By a post: what stands in the file is kept."""
    patient = access_patient(patient_id, actor=request.actor, right=Right.BOOK)
    content = actions.write_calendar(actor=request.actor, now=timezone.now(), patient=patient)
    answer = HttpResponse(content, content_type="text/calendar; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="prevention-{patient.pk}.ics"'
    return answer


def whole(request: StaffRequest, patient: Patient, wrong: str = "", where: str = "") -> HttpResponse:
    page = patient_page(patient, actor=request.actor, today=timezone.localdate())
    may, lives = request.actor.may, patient.deceased_on is None
    context = {
        "patient": patient,
        "died": died_words(patient),
        "page": page,
        "life": as_typed(page.life, request.POST) if where == "life" else page.life,
        "wrong": wrong,
        "where": where,
        "typed": request.POST,
        "outcomes": Outcome.choices,
        "once": reaction_forms.WhyForm()["once"].value(),
        "may": {
            "history": may(Right.TAKE_HISTORY),
            "observe": lives and may(Right.OBSERVE),
            "assess": may(Right.ASSESS),
            "give": may(Right.GIVE_DOSE),
            "sign": lives and may(Right.SIGN),
            "book": may(Right.BOOK),
        },
    }
    return render(request, "preventive/patient.html", context, status=WRONG if wrong else 200)


def _back(patient: Patient, anchor: str) -> HttpResponse:
    return redirect(f"{reverse('patient-prevention', args=[patient.pk])}#{anchor}")


def _do(
    request: StaffRequest, patient: Patient, form: Any, anchor: str, act: Callable[..., object]
) -> HttpResponse:
    """Run one action of this page; what is refused is said beside its form, and nothing typed is lost."""
    wrong = acted(request, form, act)
    return whole(request, patient, wrong, anchor) if wrong else _back(patient, anchor)


@require_http_methods(["GET", "HEAD", "POST"])
@needs(Right.TAKE_HISTORY)
def reaction_new(request: StaffRequest, patient_id: int) -> HttpResponse:
    """A reaction after something that was given."""
    patient = access_patient(patient_id, actor=request.actor, right=Right.TAKE_HISTORY)
    given = given_lately(patient)
    initial = {"began_on": timezone.localdate(), "outcome": Outcome.GOING_ON}
    form = reaction_forms.ReactionForm(
        request.POST if request.method == "POST" else None, given=given, initial=initial
    )
    if request.method == "POST" and form.is_valid():
        told = dict(form.cleaned_data)
        chosen = told.pop("given")
        try:
            actions.record_reaction(
                actor=request.actor,
                now=timezone.now(),
                patient=patient,
                visit=None,
                doses=list(Dose.objects.filter(mine(patient), pk__in=_ids(chosen, "dose"))),
                supplies=list(Supply.objects.filter(mine(patient), pk__in=_ids(chosen, "supply"))),
                **told,
            )
        except SentBefore:
            return _back(patient, "reactions")
        except VisitError as error:
            field = getattr(error, "field", None)
            form.add_error(field if field in form.fields else None, str(error))
        else:
            messages.success(request, "Recorded. What it was after is on hold until a clinician releases it.")
            return _back(patient, "reactions")
    context = {"patient": patient, "form": form, "any_given": bool(given)}
    return render(request, "preventive/reaction.html", context, status=WRONG if form.errors else 200)


def _ids(chosen: list[str], sort: str) -> list[int]:
    return [int(each.partition(":")[2]) for each in chosen if each.startswith(f"{sort}:")]


@require_POST
@needs(Right.GIVE_DOSE)
def reaction_report(request: StaffRequest, patient_id: int, reaction_id: int) -> HttpResponse:
    patient = access_patient(patient_id, actor=request.actor)
    row = access_reaction(reaction_id, patient_id=patient_id, actor=request.actor, right=Right.GIVE_DOSE)
    act = partial(actions.report_reaction, reaction=row)
    return _do(request, patient, reaction_forms.ReportForm(request.POST), f"report-{row.pk}", act)


@require_POST
@needs(Right.TAKE_HISTORY)
def reaction_follow(request: StaffRequest, patient_id: int, reaction_id: int) -> HttpResponse:
    patient = access_patient(patient_id, actor=request.actor)
    row = access_reaction(reaction_id, patient_id=patient_id, actor=request.actor, right=Right.TAKE_HISTORY)
    act = partial(actions.follow_reaction, reaction=row)
    return _do(request, patient, reaction_forms.FollowForm(request.POST), f"follow-{row.pk}", act)


@require_POST
@needs(Right.STRIKE_OWN)
def reaction_strike(request: StaffRequest, patient_id: int, reaction_id: int) -> HttpResponse:
    patient = access_patient(patient_id, actor=request.actor)
    row = access_reaction(reaction_id, patient_id=patient_id, actor=request.actor, right=Right.STRIKE_OWN)
    act = partial(actions.strike_reaction, reaction=row)
    return _do(request, patient, reaction_forms.WhyForm(request.POST), f"strike-{row.pk}", act)


@require_POST
@needs(Right.ASSESS)
def hold_release(request: StaffRequest, patient_id: int, hold_id: int) -> HttpResponse:
    """A clinician reviewed it: it may go on."""
    patient = access_patient(patient_id, actor=request.actor, right=Right.ASSESS)
    held = access_hold(hold_id, patient_id=patient_id, actor=request.actor)
    act = partial(actions.release_hold, held=held)
    return _do(request, patient, reaction_forms.WhyForm(request.POST), f"hold-{held.pk}", act)


@require_POST
@needs(Right.OBSERVE)
def site_look(request: StaffRequest, patient_id: int) -> HttpResponse:
    """A lump at the place of an injection, or none any more."""
    patient = access_patient(patient_id, actor=request.actor, right=Right.OBSERVE)
    row = dose_sent(request.POST.get("dose", ""), patient=patient)
    if row is None:
        return whole(request, patient, NO_DOSE)
    act = partial(actions.look_at_site, dose=row)
    return _do(request, patient, reaction_forms.SiteLookForm(request.POST), f"place-{row.pk}", act)


@require_POST
@needs(Right.TAKE_HISTORY)
def life(request: StaffRequest, patient_id: int) -> HttpResponse:
    """Life stage, expected lifespan, and the days that some dates are counted from."""
    patient = access_patient(patient_id, actor=request.actor, right=Right.TAKE_HISTORY)
    act = partial(actions.note_life_facts, patient=patient)
    return _do(request, patient, LifeForm(request.POST), "life", act)


@require_POST
@needs(Right.ASSESS)
def rule(request: StaffRequest, patient_id: int) -> HttpResponse:
    """A clinician decides whether a doubtful dose counts."""
    patient = access_patient(patient_id, actor=request.actor, right=Right.ASSESS)
    row = dose_sent(request.POST.get("dose", ""), patient=patient)
    if row is None:
        return whole(request, patient, NO_DOSE)
    act = partial(actions.rule_on_dose, dose=row)
    return _do(request, patient, RulingForm(request.POST), f"rule-{row.pk}", act)


@require_POST
@needs(Right.STRIKE_OWN)
def strike(request: StaffRequest, patient_id: int) -> HttpResponse:
    """Strike out something recorded, also what was entered without a visit."""
    patient = access_patient(patient_id, actor=request.actor, right=Right.STRIKE_OWN)
    key = request.POST.get("row", "")
    row = access_recorded(key, patient=patient, actor=request.actor)
    act = partial(actions.strike_recorded, row=row)
    return _do(request, patient, StrikeForm(request.POST), f"strike-{key}", act)
