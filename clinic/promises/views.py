"""The list of promises, one promise with its three ways, and the contacts of a patient."""

from dataclasses import replace
from typing import Any

from django.contrib import messages
from django.forms import Form
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from clinic.care.models import Test
from clinic.care.queries import open_problems
from clinic.patients.facts import died_words
from clinic.patients.models import Patient
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.promises import actions, queries
from clinic.promises.errors import HasDied
from clinic.promises.fold import Promise
from clinic.promises.forms import ClosePromiseForm, ContactForm, HandForm, MovePromiseForm
from clinic.promises.models import Contact
from clinic.promises.pages import contact_rows, promise_row, promise_rows
from clinic.promises.rows import said
from clinic.visits.errors import SentBefore, VisitError

WRONG = 422
TESTS_OFFERED = 20


@require_GET
@needs(Right.SEE)
def promises(request: StaffRequest) -> HttpResponse:
    """All that is open, one's own first; or one person's."""
    staff = queries.staff_at_work()
    asked = request.GET.get("who", "")
    found = queries.open_promises()
    if asked == "nobody":
        found = [each for each in found if each.who_id not in {person.pk for person in staff}]
    elif asked:
        found = [each for each in found if str(each.who_id) == asked]
    context = {
        "rows": promise_rows(found, actor=request.actor, today=timezone.localdate()),
        "people": [(str(each.pk), each.full_name) for each in staff],
        "asked": asked,
    }
    return render(request, "clinic/promises/promises.html", context)


@require_GET
@needs(Right.SEE)
def promise(request: StaffRequest, source: str, promise_key: str) -> HttpResponse:
    """One promise, what became of it so far, and what can be done with it."""
    found = queries.find_promise(source, promise_key, actor=request.actor)
    if found is None:
        return _gone(request, source, promise_key)
    return _one(request, found)


@require_POST
@needs(Right.MOVE_VISIT)
def hand(request: StaffRequest, source: str, promise_key: str) -> HttpResponse:
    return _take(request, source, promise_key, "hand")


@require_POST
@needs(Right.MOVE_VISIT)
def move(request: StaffRequest, source: str, promise_key: str) -> HttpResponse:
    return _take(request, source, promise_key, "move")


@require_POST
@needs(Right.MOVE_VISIT)
def close(request: StaffRequest, source: str, promise_key: str) -> HttpResponse:
    return _take(request, source, promise_key, "close")


def _forms(found: Promise, which: str, data: Any) -> dict[str, Form]:
    """All three, fresh but for the one that was sent."""
    people = queries.staff_at_work()
    start = {"step": found.step}
    given = {name: data if name == which else None for name in ("hand", "move", "close")}
    return {
        "hand": HandForm(given["hand"], people=people, initial=start, auto_id="hand_%s"),
        "move": MovePromiseForm(given["move"], initial=start, auto_id="move_%s"),
        "close": ClosePromiseForm(given["close"], initial=start, auto_id="close_%s"),
    }


def _take(request: StaffRequest, source: str, promise_key: str, which: str) -> HttpResponse:
    found = queries.find_promise(source, promise_key, actor=request.actor)
    if found is None:
        return _gone(request, source, promise_key)
    forms = _forms(found, which, request.POST)
    form = forms[which]
    if not form.is_valid():
        return _one(request, found, forms=forms, which=which)
    asked = form.cleaned_data
    seen = replace(found, step=asked["step"])
    more = {"once": asked["once"], "words": asked["words"], "actor": request.actor, "now": timezone.now()}
    try:
        if which == "hand":
            to = queries.access_person(asked["to"], actor=request.actor)
            assert to is not None
            actions.hand_on(promise=seen, to=to, **more)
        elif which == "move":
            actions.move(promise=seen, to=asked["on"], **more)
        else:
            actions.close(promise=seen, outcome=asked["outcome"], **more)
            messages.success(request, f"{found.patient_name}: closed.")
            return redirect("promises")
    except SentBefore:
        return redirect("promise", source, promise_key)
    except VisitError as error:
        field = getattr(error, "field", None)
        form.add_error(field if field in form.fields else None, str(error))
        return _one(request, found, forms=forms, which=which)
    return redirect("promise", source, promise_key)


def _one(
    request: StaffRequest, found: Promise, *, forms: dict[str, Form] | None = None, which: str = ""
) -> HttpResponse:
    if forms:  # what was typed stays, and is sent again against what is seen now
        sent = forms[which]
        sent.data = {**sent.data.dict(), "step": str(found.step)}  # type: ignore[attr-defined]
    context = {
        "row": promise_row(found, me=request.actor.staff.pk, today=timezone.localdate()),
        "source": found.source,
        "key": found.key,
        "steps": [said(each) for each in queries.steps_of(found.source, found.key)],
        "forms": forms or _forms(found, "", None),
        "which": which,
        "may": request.actor.may(Right.MOVE_VISIT),
        "contact_url": f"{reverse('contact-new', args=[found.patient_id])}?closes={found.source}.{found.key}",
    }
    return render(request, "clinic/promises/promise.html", context, status=WRONG if forms else 200)


def _gone(request: StaffRequest, source: str, promise_key: str) -> HttpResponse:
    """It is closed: say by what. 404 for what never was."""
    steps = queries.steps_of(source, promise_key)
    context = {"steps": [said(each) for each in steps]}
    return render(request, "clinic/promises/closed.html", context, status=200 if steps else 404)


# --- Contacts ---------------------------------------------------------------------------------------------


@require_GET
@needs(Right.SEE)
def contacts(request: StaffRequest, patient_id: int) -> HttpResponse:
    """Everything that was said outside visits, the newest first."""
    patient = queries.access_patient(patient_id, actor=request.actor)
    context = {
        "patient": patient,
        "rows": contact_rows(queries.contacts_of(patient)),
        "may": request.actor.may(Right.NOTE_CONTACT),
        "died": died_words(patient),
    }
    return render(request, "clinic/promises/contacts.html", context)


@require_http_methods(["GET", "POST"])
@needs(Right.NOTE_CONTACT)
def contact(request: StaffRequest, patient_id: int) -> HttpResponse:
    """Note one; `corrects` in the address: the contact that it puts right."""
    patient = queries.access_patient(patient_id, actor=request.actor, right=Right.NOTE_CONTACT)
    promised = {f"{each.source}.{each.key}": each for each in queries.open_promises(patient=patient)}
    corrects = _corrected(request, patient)
    form = _contact_form(request, patient, promised)
    if request.method == "POST" and form.is_valid():
        asked = dict(form.cleaned_data)
        asked["problem"] = patient.problems.filter(pk=asked["problem"]).first() if asked["problem"] else None
        asked["test"] = patient.tests.filter(pk=asked["test"]).first() if asked["test"] else None
        asked["again_by"] = queries.access_person(asked["again_by"], actor=request.actor)
        asked["closes"] = promised.get(asked["closes"])
        try:
            actions.note_contact(
                patient=patient, corrects=corrects, actor=request.actor, now=timezone.now(), **asked
            )
        except SentBefore:
            return redirect("patient-contacts", patient.pk)
        except VisitError as error:
            field = getattr(error, "field", None)
            form.add_error(field if field in form.fields else None, str(error))
            if isinstance(error, HasDied):  # asked once: what was typed stays, and is taken the next time
                form.data = {**request.POST.dict(), "knows": "on"}
        else:
            return redirect("patient-contacts", patient.pk)
    context = {
        "patient": patient,
        "form": form,
        "died": died_words(patient),
        "corrects": contact_rows([corrects])[0] if corrects else None,
    }
    status = WRONG if request.method == "POST" else 200
    return render(request, "clinic/promises/contact.html", context, status=status)


def _corrected(request: StaffRequest, patient: Patient) -> Contact | None:
    given = request.GET.get("corrects", "")
    if not (given.isascii() and given.isdigit() and len(given) < 18):
        return None
    return queries.access_contact(int(given), patient=patient, actor=request.actor)


def _contact_form(request: StaffRequest, patient: Patient, promised: dict[str, Promise]) -> ContactForm:
    clinician = request.actor.may(Right.ASSESS)
    kinds = [
        (value, str(label))
        for value, label in Contact.Kind.choices
        if clinician or value not in actions.OF_A_CLINICIAN
    ]
    owners = queries.owners_of(patient)
    tests = Test.objects.filter(patient=patient).order_by("-ordered_at")[:TESTS_OFFERED]
    return ContactForm(
        request.POST or None,
        kinds=kinds,
        people=queries.staff_at_work(),
        problems=[(each.pk, each.title) for each in open_problems(patient)],
        tests=[(each.pk, f"{each.title}, {each.ordered_at:%d %B %Y}") for each in tests],
        promises=[(name, each.what[:120]) for name, each in promised.items()],
        initial={
            "closes": request.GET.get("closes", ""),
            "test": request.GET.get("test", ""),
            "owner_told": "test" in request.GET,
            "with_whom": owners[0].name if owners else "",
        },
    )
