"""A value typed in the exam: judged and kept as the patient's measurement by clinic's own action."""

from __future__ import annotations

import dataclasses
from datetime import datetime
from decimal import Decimal, InvalidOperation

from clinic.patients.actions import measure as keep
from clinic.patients.actions import strike_measurement
from clinic.patients.errors import AskOnce, Impossible
from clinic.patients.models import Measurement
from clinic.patients.vitals import State
from clinic.people.actor import Actor, NotAllowed
from clinic.people.models import Staff
from exams.guards import Refusal
from exams.operations import Operation as Op
from exams.queries import Standing
from exams.readings import KIND_OF, reading
from exams.state import LineAnswer

HERE = "exam"


def measure(standing: Standing, op: Op, *, line: str, actor: Actor, now: datetime) -> Measurement:
    """The measurement that the operation makes. Raises Refusal: `impossible`, or `ask-once`, a question."""
    typed, category = _value(op)
    record = standing.exam.record
    try:
        return keep(
            patient=record.visit.patient,
            visit=record.visit,
            kind=KIND_OF[line],
            typed=typed,
            unit=str(op.payload.get("unit", "")),
            category=category,
            method=str(op.payload.get("method", "")),
            state=_state(op),
            details={
                **_details(op),
                "typed_in": HERE,
                **({"spoken": "yes"} if op.payload.get("heard") else {}),
            },
            measured_at=min(datetime.fromisoformat(op.made_at), now),
            observed_by=Staff.objects.get(pk=int(op.observed_by)) if op.observed_by else None,
            looked_twice=op.payload.get("looked_twice") is True,
            actor=actor,
            now=now,
        )
    except Impossible as error:
        raise Refusal("impossible", str(error)) from error
    except AskOnce as error:
        raise Refusal("ask-once", str(error)) from error


def answer(row: Measurement, before: LineAnswer, standing: Standing) -> LineAnswer:
    """The line's answer once the value is judged."""
    told = reading(row, standing.walk, standing.lines)
    found = (*told.findings, *(f for f in before.findings if f.code not in {t.code for t in told.findings}))
    return dataclasses.replace(before, value=told.value, unit=told.unit, flag=told.flag, findings=found)


def strike(row: Measurement, *, actor: Actor, now: datetime) -> None:
    """Taken back: struck out with its reason, never erased."""
    try:
        strike_measurement(measurement=row, reason="taken back in the exam", actor=actor, now=now)
    except NotAllowed as error:
        raise Refusal("role", "Only whoever entered this value, or a clinician, takes it back.") from error


def typed_here(row: Measurement) -> bool:
    """Whether it was typed in an exam and not at intake."""
    return bool(row.details.get("typed_in") == HERE)


def _value(op: Op) -> tuple[Decimal | None, str]:
    """A number as typed, or a word of the scale."""
    text = str(op.payload.get("value", "")).strip().replace(",", ".")
    try:
        number = Decimal(text)
    except InvalidOperation:
        return None, text
    if not number.is_finite():
        raise Refusal("impossible", "That is not a number.")
    return number, ""


def _state(op: Op) -> str:
    """How the animal was; empty: nobody said."""
    said = str(op.payload.get("state", ""))
    if said and said not in set(State):
        raise Refusal("bad-payload", "the state of the animal is one of the page's own words")
    return said


def _details(op: Op) -> dict[str, str]:
    """How it was measured: cuff, site, device and readings, as far as they were said."""
    sent = op.payload.get("details", {})
    if not isinstance(sent, dict):
        raise Refusal("bad-payload", "details is not a set of texts")
    known = ("cuff", "site", "device", "readings", "scale", "counted_s")
    return {k: str(v) for k, v in sent.items() if k in known and v}
