"""A summary is made on one page, with what it will say below; then it is looked at, opened and printed."""

from typing import Any

from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from clinic.patients.models import Patient
from clinic.people.actions import PeopleError, confirm_presence
from clinic.people.rights import Right
from clinic.platform.files import read
from clinic.platform.http import StaffRequest, needs
from clinic.promises.models import Contact
from clinic.promises.queries import owners_of
from clinic.summaries import actions, queries
from clinic.summaries.composition import compose
from clinic.summaries.consent import UNSAID, Consent, consents_of, noted_words
from clinic.summaries.document import from_json
from clinic.summaries.facts import Asked
from clinic.summaries.forms import NOW, WITHOUT, SummaryForm
from clinic.summaries.gathering import gather
from clinic.summaries.sheet import sheet_context
from clinic.visits.actions.signing import name_as_signed
from clinic.visits.errors import SentBefore, VisitError

WRONG, MAKING = 422, 202
WRONG_PIN = "That is not your PIN. Nothing was made."


@require_http_methods(["GET", "POST"])
@needs(Right.SIGN)
def new(request: StaffRequest, patient_id: int) -> HttpResponse:
    """The form; a POST with the PIN makes and signs the summary."""
    patient = queries.access_patient(patient_id, actor=request.actor)
    said = consents_of(patient)
    noted = {str(each.pk): each for each in said if each.kind == Contact.Kind.CONSENT}
    owners = owners_of(patient)
    form = SummaryForm(
        request.POST or None,
        noted=[(key, noted_words(each)) for key, each in noted.items()],
        initial={"consent_by": owners[0].name if owners else ""},
    )
    if request.method == "POST" and form.is_valid():
        answer = _made(request, patient, form, noted)
        if answer is not None:
            return answer
    withheld = [noted_words(each) for each in said if each.kind == Contact.Kind.WITHHELD]
    return _page(request, patient, form, withheld)


def _page(request: StaffRequest, patient: Patient, form: SummaryForm, withheld: list[str]) -> HttpResponse:
    signer = name_as_signed(request.actor.staff)
    asked = Asked("what it is for", "your colleague", "As you write it above.", "As you note it above.")
    facts = gather(patient, asked=asked, signer=signer, today=timezone.localdate())
    context = {"patient": patient, "form": form, "withheld": withheld, **sheet_context(compose(facts))}
    status = WRONG if request.method == "POST" else 200
    return render(request, "clinic/summaries/new.html", context, status=status)


def _made(
    request: StaffRequest, patient: Patient, form: SummaryForm, noted: dict[str, Contact]
) -> HttpResponse | None:
    """None where something is missing, said beside its field. A wrong PIN stays counted."""
    now, asked = timezone.now(), form.cleaned_data
    try:
        if not confirm_presence(request.actor.staff, asked["secret"], now):
            form.add_error("secret", WRONG_PIN)
            return None
        made = actions.make_summary(
            patient=patient,
            purpose=asked["purpose"],
            to_whom=asked["to_whom"],
            why=asked["why"],
            consent=_consent(asked, noted),
            once=asked["once"],
            actor=request.actor,
            now=now,
        )
    except PeopleError as error:
        form.add_error("secret", str(error))
    except SentBefore:
        return redirect("patient", patient.pk)
    except VisitError as error:
        field = getattr(error, "field", None)
        form.add_error(field if field in form.fields else None, str(error))
    else:
        return redirect("summary", made.pk)
    return None


def _consent(asked: dict[str, Any], noted: dict[str, Contact]) -> Consent:
    """Only what belongs to the answer that was chosen."""
    chosen = asked["consent"]
    if chosen == WITHOUT:
        return Consent(without=asked["without"] or UNSAID, why=asked["without_why"])
    if chosen == NOW:
        return Consent(who=asked["consent_by"], how=asked["consent_how"], at=asked["consent_at"])
    return Consent(noted=noted.get(chosen), how=asked["consent_how"])


@require_GET
@needs(Right.SEE)
def summary(request: StaffRequest, summary_id: int) -> HttpResponse:
    """One as it was made, with its PDF."""
    found = queries.access_summary(summary_id, actor=request.actor)
    context = {
        **sheet_context(from_json(found.content)),
        "summary_id": found.pk,
        "to_whom": found.to_whom,
        "made": f"{timezone.localtime(found.at):%-d %B %Y, %H:%M}, by {found.signed_name}",
        "patient_url": reverse("patient", args=[found.patient_id]),
        "has_file": hasattr(found, "file"),
        "can_make": request.actor.may(Right.SEND_LETTER),
    }
    return render(request, "clinic/summaries/page.html", context)


@require_GET
@needs(Right.SEE)
def summary_pdf(request: StaffRequest, summary_id: int) -> HttpResponseBase:
    """The stored bytes; while the worker still makes them, a page that says so and asks again."""
    found = queries.access_summary(summary_id, actor=request.actor)
    if not hasattr(found, "file"):
        return render(request, "clinic/summaries/making.html", {"summary_id": found.pk}, status=MAKING)
    sha = found.file.sha256
    response = HttpResponse(read(f"{sha[:2]}/{sha}.pdf"), content_type="application/pdf")
    plain = "".join(c for c in found.patient.name if c.isascii() and (c.isalnum() or c in " -")) or "patient"
    response["Content-Disposition"] = f'inline; filename="{plain} summary {found.at:%Y-%m-%d}.pdf"'
    return response


@require_POST
@needs(Right.SEND_LETTER)
def summary_make(request: StaffRequest, summary_id: int) -> HttpResponse:
    """Make the PDF of a summary that came without one; the page it leads to waits for it."""
    found = queries.access_summary(summary_id, actor=request.actor)
    actions.make_file(summary=found, actor=request.actor, now=timezone.now())
    return redirect("summary-pdf", found.pk)
