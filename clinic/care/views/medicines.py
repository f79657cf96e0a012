"""Directing a medicine: parts, the sentence composed from them, and the guards' questions."""

from django.contrib import messages
from django.http import HttpResponse, JsonResponse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from clinic.care import actions, queries
from clinic.care.actions.medicines import questions_for
from clinic.care.catalogue import known_kinds
from clinic.care.directions import compose_directions
from clinic.care.in_use import amount_words
from clinic.care.medicine_forms import DoseForm, MedicineForm, ReasonForm, directions_of
from clinic.care.models import Medicine
from clinic.care.views.page import Editor, back, back_to, blame, carried_out, whole
from clinic.patients.facts import newest_weight
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.platform.measures import units_of
from clinic.visits.errors import SentBefore, VisitError
from clinic.visits.models import Visit
from clinic.visits.queries import access_visit_here

# these go to the action together, as directions
PARTS = (
    "name",
    "ingredients",
    "strength",
    "dose",
    "route",
    "side",
    "times",
    "first_dose",
    "last_when",
    "quantity",
)


@require_POST
@needs(Right.PRESCRIBE)
def prescribe(request: StaffRequest, visit_id: int, problem_id: int) -> HttpResponse:
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.PRESCRIBE)
    problem = queries.access_problem(problem_id, visit=visit, actor=request.actor, right=Right.PRESCRIBE)
    form = MedicineForm(request.POST)
    if form.is_valid():
        asked = {key: value for key, value in form.cleaned_data.items() if key not in PARTS}
        asked["refills"] = asked["refills"] or 0
        if asked["instead_of"]:
            asked["instead_of"] = queries.access_medicine_of(
                asked["instead_of"], patient=visit.patient, actor=request.actor
            )
        try:
            actions.prescribe(
                record=visit.record,
                problem=problem,
                directions=form.directions(),
                answers=form.answers(),
                actor=request.actor,
                now=timezone.now(),
                **asked,
            )
        except SentBefore:
            return back_to(visit, problem)
        except actions.QuestionsOpen as error:
            _ask(form, visit, error)
        except actions.CorrectionOutdated as error:
            sent = request.POST.copy()
            sent["corrected_from"] = error.composed
            form.data = sent
            blame(form, error)
        except VisitError as error:
            blame(form, error)
        else:
            return back_to(visit, problem)
    return whole(request, visit, Editor("medicine", form, problem=problem.pk))


def _ask(form: MedicineForm, visit: Visit, error: actions.QuestionsOpen) -> None:
    every = questions_for(record=visit.record, directions=form.directions(), today=timezone.localdate())
    form.ask(every, still_open=error.questions)
    form.add_error(None, "Not recorded yet: each question below needs your reason.")


@require_GET
@needs(Right.PRESCRIBE)
def directions(request: StaffRequest, visit_id: int) -> HttpResponse:
    """The sentence as it would be composed from the parts typed so far; a look, nothing is kept.

    JSON: {"sentence", "notes"}: what one dose holds by the newest weight, what the guards cannot ask about.
    """
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.PRESCRIBE)
    form = MedicineForm(request.GET)
    form.is_valid()
    given = form.cleaned_data.get("how") == Medicine.How.GIVEN
    parts = directions_of(form.cleaned_data)
    ready = parts.dose and parts.route and parts.times
    sentence = compose_directions(parts, given=given) if ready else ""
    unit = units_of(request.actor).weight
    notes = [amount_words(parts, newest_weight(visit.patient), unit)] if parts.dose and parts.strength else []
    kinds = known_kinds()
    notes += [
        f"No kind of {each} is known: the guards cannot ask about it."
        for each in parts.ingredients
        if not kinds.knows(each)
    ]
    return JsonResponse({"sentence": sentence, "notes": [each for each in notes if each]})


@require_POST
@needs(Right.PRESCRIBE)
def take_back(request: StaffRequest, visit_id: int, medicine_id: int) -> HttpResponse:
    """A medicine that is not signed."""
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.PRESCRIBE)
    medicine = queries.access_medicine(medicine_id, visit=visit, actor=request.actor)
    try:
        actions.withdraw_medicine(medicine=medicine, actor=request.actor, now=timezone.now())
    except VisitError as error:
        messages.error(request, str(error))
    else:
        if stopped := queries.stopped_for(medicine):
            messages.info(request, f"{stopped.medicine.name} stays stopped: direct it anew if it goes on.")
    return back(visit, f"problem-{medicine.problem_id}")


@require_POST
@needs(Right.GIVE_DOSE)
def give(request: StaffRequest, visit_id: int, medicine_id: int) -> HttpResponse:
    """One dose given here; also after signing, while the animal is in the house."""
    visit = access_visit_here(visit_id, actor=request.actor, right=Right.GIVE_DOSE)
    medicine = queries.access_medicine_of(
        medicine_id, patient=visit.patient, actor=request.actor, right=Right.GIVE_DOSE
    )
    form = DoseForm(request.POST)
    return carried_out(
        request,
        visit,
        Editor("dose", form, problem=medicine.problem_id, at=medicine.pk),
        lambda: actions.give_dose(
            medicine=medicine, actor=request.actor, now=timezone.now(), **form.cleaned_data
        ),
        to=back(visit, f"problem-{medicine.problem_id}"),
    )


@require_POST
@needs(Right.STRIKE_OWN)
def strike_dose(request: StaffRequest, visit_id: int, dose_id: int) -> HttpResponse:
    """It was not given, or not so."""
    visit = access_visit_here(visit_id, actor=request.actor)
    dose = queries.access_dose(dose_id, visit=visit, actor=request.actor)
    form = ReasonForm(request.POST)
    return carried_out(
        request,
        visit,
        Editor("dose-strike", form, problem=dose.medicine.problem_id, at=dose.pk),
        lambda: actions.strike_dose(dose=dose, actor=request.actor, now=timezone.now(), **form.cleaned_data),
        to=back(visit, f"problem-{dose.medicine.problem_id}"),
    )
