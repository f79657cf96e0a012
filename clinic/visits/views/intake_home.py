"""Intake's questions about home: what the animal eats, how it lives."""

from decimal import Decimal, InvalidOperation
from itertools import zip_longest

from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from clinic.patients.actions import Eaten
from clinic.patients.models import DietEntry
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.visits import actions, intake, queries
from clinic.visits.errors import NeedsWords, VisitError
from clinic.visits.lifestyle import QUESTIONS
from clinic.visits.views.intake import refused, saved

LETTERS = 160
COLUMNS = ("part", "food", "amount", "unit", "how")


@require_POST
@needs(Right.TAKE_HISTORY)
def food(request: StaffRequest, visit_id: int) -> HttpResponse:
    """The rows as they stand on the page: a row without a food is none; `out` takes one off."""
    visit = queries.access_visit_here(visit_id, actor=request.actor, right=Right.TAKE_HISTORY)
    out, more = request.POST.get("out", ""), "more" in request.POST
    try:
        foods = [each for each in read_foods(request.POST) if f"{each.part}:{each.food}" != out]
        actions.tell_diet(record=visit.record, foods=foods, actor=request.actor, now=timezone.now())
    except VisitError as error:
        return refused(request, visit, "food", str(error), groups=intake.groups_as_typed(rows(request.POST)))
    if more and not request.htmx:
        return redirect(f"{reverse('visit-intake', args=[visit.pk])}?more=yes#food")
    return saved(request, visit, "food", "food" if out or more else "")


def rows(sent: QueryDict) -> list[dict[str, str]]:
    """What was typed, row by row."""
    columns = [sent.getlist(name) for name in COLUMNS]
    return [dict(zip(COLUMNS, row, strict=True)) for row in zip_longest(*columns, fillvalue="")]


def read_foods(sent: QueryDict) -> list[Eaten]:
    """Raises NeedsWords with the food whose amount is no number."""
    return [_read(row) for row in rows(sent) if row["food"].strip() and row["part"] in DietEntry.Part.values]


def _read(row: dict[str, str]) -> Eaten:
    name, typed = row["food"].strip(), row["amount"].strip().replace(",", ".")
    try:
        amount = Decimal(typed).quantize(Decimal("0.01")) if typed else None
    except InvalidOperation as error:
        raise NeedsWords("food", f"{name}: “{row['amount']}” is not a number.") from error
    if len(name) > LETTERS:
        raise NeedsWords("food", f"A food's name has at most {LETTERS} letters.")
    if amount is not None and amount >= 10**6:
        raise NeedsWords("food", f"{name}: {typed} is more than can be.")
    how = row["how"] if row["how"] in DietEntry.How.values else DietEntry.How.TOLD
    return Eaten(part=row["part"], food=name, amount=amount, unit=row["unit"][:20], how=how)


@require_POST
@needs(Right.TAKE_HISTORY)
def home(request: StaffRequest, visit_id: int) -> HttpResponse:
    """The lifestyle answers that were given; `only` narrows it to the one just tapped."""
    visit = queries.access_visit_here(visit_id, actor=request.actor, right=Right.TAKE_HISTORY)
    only = request.POST.get("only")
    answers = [
        (question.code, request.POST[f"life-{question.code}"])
        for question in QUESTIONS
        if request.POST.get(f"life-{question.code}") and only in (None, question.code)
    ]
    try:
        actions.tell_lifestyle(record=visit.record, answers=answers, actor=request.actor, now=timezone.now())
    except VisitError as error:
        return refused(request, visit, "home", str(error))
    return saved(request, visit, "home")
