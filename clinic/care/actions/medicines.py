"""A medicine as the clinician directs it. Questions lift only by a reason, one for each."""

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from clinic.care.actions.common import fits, said
from clinic.care.actions.medicine_stops import stop_medicine
from clinic.care.catalogue import cautions, find_listed, known_kinds
from clinic.care.directions import Directions, compose_directions
from clinic.care.errors import CorrectionOutdated, HasDoses, QuestionsOpen, SideMissing, StoppedBefore
from clinic.care.guards import Proposed, Question, questions
from clinic.care.models import DoseGiven, Medicine, MedicineStop, Problem
from clinic.care.patient_case import case_of
from clinic.care.routes import needs_side
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.actions.common import first_sending, hold_open
from clinic.visits.models import Record

Answers = Sequence[dict[str, Any]]
MOST_REASON = 200


@transaction.atomic
def prescribe(
    *,
    actor: Actor,
    now: datetime,
    record: Record,
    problem: Problem,
    how: str,
    directions: Directions,
    reason: str,
    refills: int = 0,
    own_words: str = "",
    corrected_from: str = "",
    last_on: date | None = None,
    answers: Answers | None = None,
    instead_of: Medicine | None = None,
    once: UUID | None = None,
) -> Medicine:
    """`own_words` replace the composed directions; `corrected_from` is the text they were written over.

    `instead_of`: what it changes is stopped from today on, in the same step, and no guard asks about it.
    `answers`: {"code", "reason"} for each question that the guards raise. Raises QuestionsOpen (with those
    that have no reason), SideMissing, CorrectionOutdated, StoppedBefore, TextMissing, WrongPatient,
    ProblemClosed, NotOpen, SentBefore.
    """
    actor.require(Right.PRESCRIBE)
    reason = said(reason, field="reason", sentence="Say what the medicine is for.")
    if needs_side(directions.route) and not directions.side:
        raise SideMissing
    record = hold_open(record)
    # before the guards: the second sending would meet the first one as a medicine in use
    first_sending(once, actor=actor, now=now)
    fits(problem, record)
    composed = compose_directions(directions, given=how == Medicine.How.GIVEN)
    own_words = own_words.strip()
    if own_words and corrected_from.strip() and corrected_from.strip() != composed:
        raise CorrectionOutdated(composed)
    if instead_of is not None:
        stop_medicine(
            medicine=instead_of,
            why=_changed(directions),
            on=timezone.localdate(now),
            owner_told=True,
            actor=actor,
            now=now,
        )
    asked = questions_for(record=record, directions=directions, today=timezone.localdate(now))
    answered = _answered(asked, answers or ())
    return Medicine.objects.create(
        record=record,
        problem=problem,
        how=how,
        name=directions.name,
        ingredients=list(directions.ingredients),
        strength=directions.strength,
        dose=directions.dose,
        route=directions.route,
        side=directions.side,
        times=directions.times,
        first_dose=directions.first_dose,
        last_dose=directions.last_dose,
        last_on=last_on,
        quantity=directions.quantity,
        refills=refills,
        reason=reason,
        directions=own_words or composed,
        answers=answered,
        prescriber=actor.staff,
        at=now,
    )


def _changed(directions: Directions) -> str:
    """In whole words: as much of the new directions as a reason holds."""
    parts = (directions.name, directions.dose, directions.times)
    words = (f"changed to {', '.join(parts[:many])}" for many in (3, 2, 1))
    return next((each for each in words if len(each) <= MOST_REASON), "changed")


def questions_for(*, record: Record, directions: Directions, today: date) -> tuple[Question, ...]:
    """What the guards ask about this medicine for the patient of this record."""
    listed = find_listed(directions.name)
    proposed = Proposed(
        name=directions.name,
        ingredients=directions.ingredients,
        route=directions.route,
        side=directions.side,
        species=listed.species if listed else frozenset(),
    )
    kinds = known_kinds()
    return questions(proposed, case_of(record, kinds, today=today), kinds, cautions())


def _answered(asked: tuple[Question, ...], answers: Answers) -> list[dict[str, Any]]:
    """Each question with its reason, as it is kept. Raises QuestionsOpen."""
    reasons = {str(each.get("code", "")): str(each.get("reason", "")).strip() for each in answers}
    without = tuple(each for each in asked if not reasons.get(each.code))
    if without:
        raise QuestionsOpen(without)
    return [
        {"code": each.code, "question": each.sentence, "source": each.source, "reason": reasons[each.code]}
        for each in asked
    ]


@transaction.atomic
def withdraw_medicine(*, actor: Actor, now: datetime, medicine: Medicine) -> None:
    """Take back one that is not signed yet. Raises NotOpen, StoppedBefore, HasDoses."""
    actor.require(Right.PRESCRIBE)
    hold_open(medicine.record)
    held = Medicine.objects.select_for_update(of=("self",)).filter(pk=medicine.pk)  # no dose comes meanwhile
    if held.first() is None:
        return
    if MedicineStop.objects.filter(medicine=medicine).exists():
        raise StoppedBefore(medicine.name)
    if DoseGiven.objects.filter(medicine=medicine).exists():
        raise HasDoses(medicine.name)
    held.delete()
