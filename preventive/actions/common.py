"""What several actions share: whose it is, what was asked, what is struck out."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from django.utils import timezone

from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.actions.addenda import add_addendum
from clinic.visits.actions.common import hold_open
from clinic.visits.models import Record, Visit
from preventive.errors import (
    ClinicianDecides,
    Incomplete,
    PatientDied,
    QuestionsOpen,
    Refused,
    StruckAlready,
    WrongPatient,
)
from preventive.models import StruckOut
from preventive.safety import SafetyQuestion


def open_record(patient: Patient, visit: Visit | None) -> Record | None:
    """The visit's record, held until the transaction ends. Raises WrongPatient, PatientDied, NotOpen."""
    if patient.deceased_on is not None:
        raise PatientDied(patient.name)
    if visit is None:
        return None
    if visit.patient_id != patient.pk:
        raise WrongPatient
    record = Record.objects.filter(visit=visit).first()
    return hold_open(record) if record else None


def said(text: str, *, field: str, sentence: str) -> str:
    """The text without outer blanks; raises Incomplete when nothing is left."""
    text = text.strip()
    if not text:
        raise Incomplete(field, sentence)
    return text


def answered(
    questions: tuple[SafetyQuestion, ...], answers: Mapping[str, str], *, about: str, actor: Actor
) -> list[dict[str, Any]]:
    """What was asked and answered, as plain data. Raises Refused, QuestionsOpen, ClinicianDecides."""
    stops = tuple(each for each in questions if each.level == "stop")
    if stops:
        raise Refused(stops, about)
    unanswered = tuple(each for each in questions if not answers.get(each.code, "").strip())
    if unanswered:
        raise QuestionsOpen(unanswered, about)
    decisions = tuple(each for each in questions if each.level == "warn")
    if decisions and not actor.may(Right.ASSESS):
        raise ClinicianDecides(decisions, about)
    return [
        {
            "code": each.code,
            "question": each.text,
            "source": each.source,
            "certainty": each.certainty,
            "reason": answers[each.code].strip(),
            "by": actor.staff.full_name,
        }
        for each in questions
    ]


def day_of(now: datetime, given_on: date | None) -> date:
    """The clinic's date of `now` where no day is named. Raises Incomplete for a day to come."""
    today = timezone.localdate(now)
    if given_on is not None and given_on > today:
        raise Incomplete("given_on", "This day has not come yet.")
    return given_on or today


def strike(row: StruckOut, *, what: str, reason: str, actor: Actor, now: datetime) -> None:
    """Strike a row out. A signed letter that said it gets an addendum and its next version.

    Raises StruckAlready, Incomplete; NotAllowed for what a colleague entered without that right.
    """
    own = row.entered_by_id == actor.staff.pk
    actor.require(Right.STRIKE_OWN if own and actor.may(Right.STRIKE_OWN) else Right.STRIKE_ANY)
    reason = said(reason, field="reason", sentence="Say why it is struck out.")
    # the condition lets only the first of two win
    changed = (
        type(row)
        ._default_manager.filter(pk=row.pk, struck_at=None)
        .update(struck_at=now, struck_by=actor.staff, struck_reason=reason)
    )
    if not changed:
        raise StruckAlready
    record: Record | None = getattr(row, "record", None)
    if record is not None and record.is_signed:
        add_addendum(
            record=record,
            text=f"{what}: entered by mistake and struck out. {reason}",
            corrects=what[:120],
            for_owner=True,
            actor=actor,
            now=now,
        )
