"""A death: recorded with its facts, shown, the body decided on, taken back; a letter of condolence."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from clinic.death import actions, queries
from clinic.death.condolence import compose_condolence, greeting, send_condolence, ways
from clinic.death.forms import BackForm, BodyForm, CondolenceForm, DeathForm
from clinic.death.models import Death
from clinic.death.pages import death_page
from clinic.letters.models import Letter
from clinic.letters.sheet import sheet_context
from clinic.letters.wording import words
from clinic.patients.models import Patient
from clinic.people.actor import NotAllowed
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.platform.measures import units_of
from clinic.promises.queries import open_promises, owners_of
from clinic.visits.errors import SentBefore, VisitError

WRONG = 422


@require_http_methods(["GET", "POST"])
@needs(Right.EDIT_PEOPLE)
def death(request: StaffRequest, patient_id: int) -> HttpResponse:
    """The facts of the death; before there are any, the form that asks for them."""
    patient = queries.access_patient(patient_id, actor=request.actor, right=Right.EDIT_PEOPLE)
    standing = queries.death_of(patient)
    if standing is not None:
        return _shown(request, standing)
    form = _form(request, patient)
    if request.method == "POST" and form.is_valid():
        try:
            actions.record_death(
                patient=patient,
                facts=form.facts(),
                promised=form.answers(),
                once=form.cleaned_data["once"],
                actor=request.actor,
                now=timezone.now(),
            )
        except SentBefore:
            return redirect("patient-death", patient.pk)
        except NotAllowed:
            form.add_error("how", "A clinician says that. Hand the tablet over to one.")
        except VisitError as error:
            refused(form, error)
        else:
            messages.success(
                request, f"{patient.name}’s death is recorded. Nothing goes out by itself any more."
            )
            return redirect("patient-death", patient.pk)
    context = {
        "patient": patient,
        "form": form,
        "ending": queries.will_end(patient, today=timezone.localdate()),
        "sees": request.actor.may(Right.CERTIFY_DEATH),
        "weighed": _weighed(patient),
        "taken_back": queries.taken_back(patient),
    }
    status = WRONG if request.method == "POST" else 200
    return render(request, "clinic/death/record.html", context, status=status)


def _weighed(patient: Patient) -> bool:
    today = timezone.localdate()
    return patient.measurements.filter(
        kind="weight", struck_at=None, value__isnull=False, measured_at__date=today
    ).exists()


def _form(request: StaffRequest, patient: Patient) -> DeathForm:
    people = queries.staff_at_work()
    clinicians = queries.clinicians(people)
    me = request.actor.staff
    now = timezone.localtime()
    initial: dict[str, Any] = {
        "on": patient.deceased_on or now.date(),
        "how": request.GET.get("how", ""),
        "certified_by": me.pk if me in clinicians else "",
        "consent_taken_by": me.pk,
        "consent_on": now.date(),
    }
    return DeathForm(
        request.POST or None,
        people=people,
        clinicians=clinicians,
        promised=open_promises(patient=patient),
        sees=request.actor.may(Right.CERTIFY_DEATH),
        initial=initial,
    )


def refused(form: Any, error: VisitError) -> None:
    """The action's sentence beside its field, or over the form."""
    named = getattr(error, "field", None)
    named = {"consent_at": "consent_time"}.get(named or "", named)
    form.add_error(named if named in form.fields else None, str(error))


def _shown(
    request: StaffRequest, death: Death, *, body: BodyForm | None = None, back: BackForm | None = None
) -> HttpResponse:
    context = {
        "patient": death.patient,
        "page": death_page(death, units_of(request.actor).weight),
        "body": body or BodyForm(auto_id="body_%s"),
        "back": back or BackForm(auto_id="back_%s"),
        "may_note": request.actor.may(Right.NOTE_CONTACT),
        "may_back": request.actor.may(Right.CERTIFY_DEATH),
        "may_write": request.actor.may(Right.SIGN),
        "letters": _letters(queries.condolences(death.patient)),
    }
    return render(request, "clinic/death/death.html", context, status=WRONG if body or back else 200)


@require_POST
@needs(Right.NOTE_CONTACT)
def body(request: StaffRequest, patient_id: int) -> HttpResponse:
    """What was decided about the body."""
    death = queries.access_death(patient_id, actor=request.actor, right=Right.NOTE_CONTACT)
    form = BodyForm(request.POST, auto_id="body_%s")
    if not form.is_valid():
        return _shown(request, death, body=form)
    try:
        actions.decide_body(death=death, actor=request.actor, now=timezone.now(), **form.cleaned_data)
    except SentBefore:
        pass
    except VisitError as error:
        refused(form, error)
        return _shown(request, death, body=form)
    return redirect("patient-death", patient_id)


@require_POST
@needs(Right.CERTIFY_DEATH)
def back(request: StaffRequest, patient_id: int) -> HttpResponse:
    """The death was entered wrongly."""
    death = queries.access_death(patient_id, actor=request.actor, right=Right.CERTIFY_DEATH)
    form = BackForm(request.POST, auto_id="back_%s")
    if not form.is_valid():
        return _shown(request, death, back=form)
    try:
        actions.take_back(death=death, actor=request.actor, now=timezone.now(), **form.cleaned_data)
    except SentBefore:
        pass
    except VisitError as error:
        refused(form, error)
        return _shown(request, death, back=form)
    messages.success(
        request, f"{death.patient.name} lives. What had ended did not come back: book, plan and send it anew."
    )
    return redirect("patient", patient_id)


def _letters(rows: list[Letter]) -> list[tuple[int, str]]:
    return [
        (each.pk, f"{timezone.localtime(each.at):%-d %B %Y}, {each.by.full_name}, to {each.owner.name}")
        for each in rows
    ]


@require_http_methods(["GET", "POST"])
@needs(Right.SIGN)
def condolence(request: StaffRequest, patient_id: int) -> HttpResponse:
    """Written, looked at as it would go, and let go by the one who wrote it. Nothing leaves before that."""
    patient = queries.access_patient(patient_id, actor=request.actor, right=Right.SIGN)
    if patient.deceased_on is None:
        return redirect("patient-death", patient.pk)
    owners = owners_of(patient)
    initial = {"owner": owners[0].pk, "greets": greeting(owners[0])} if owners else {}
    if owners:
        initial["language"] = words(owners[0].language).language
    form = CondolenceForm(request.POST or None, owners=owners, initial=initial)
    do = request.POST.get("do", "")
    if request.method == "GET" or do == "write" or not form.is_valid():
        return _writing(request, patient, form, wrong=request.method == "POST" and do != "write")
    to = next(each for each in owners if each.pk == form.cleaned_data["owner"])
    said = {name: form.cleaned_data[name] for name in ("greets", "text", "language")}
    if do not in ways(to):
        document = compose_condolence(
            patient=patient, owner=to, actor=request.actor, today=timezone.localdate(), **said
        )
        context = {
            **sheet_context(document),
            "patient": patient,
            "form": form,
            "ways": ways(to),
            "address": to.email,
        }
        return render(request, "clinic/death/condolence_look.html", context)
    try:
        letter = send_condolence(
            patient=patient,
            owner=to,
            way=do,
            once=form.cleaned_data["once"],
            actor=request.actor,
            now=timezone.now(),
            **said,
        )
    except SentBefore:
        return redirect("patient-death", patient.pk)
    except VisitError as error:
        refused(form, error)
        return _writing(request, patient, form, wrong=True)
    return redirect("letter", letter.pk)


def _writing(request: StaffRequest, patient: Patient, form: CondolenceForm, *, wrong: bool) -> HttpResponse:
    context = {"patient": patient, "form": form, "letters": _letters(queries.condolences(patient))}
    return render(request, "clinic/death/condolence.html", context, status=WRONG if wrong else 200)
