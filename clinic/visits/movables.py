"""What of the visit itself can be put on the right patient: its measurements and its heads-ups."""

from collections.abc import Sequence
from datetime import datetime

from clinic.patients.actions import judged
from clinic.patients.actions import put_on_right_patient as put_measurement
from clinic.patients.errors import AskOnce, Impossible, PatientError
from clinic.patients.models import Measurement
from clinic.patients.units import Units
from clinic.patients.verdicts import in_words
from clinic.people.actor import Actor
from clinic.people.models import Staff
from clinic.people.rights import Right
from clinic.platform.measures import units_of
from clinic.platform.registries import Movable, heads_up_places
from clinic.visits.errors import NotMoved
from clinic.visits.models import HeadsUp, Record


def may_strike(by: Staff, actor: Actor) -> str:
    """Empty, or why this person does not take out what `by` entered."""
    own = by.pk == actor.staff.pk
    if actor.may(Right.STRIKE_OWN if own else Right.STRIKE_ANY):
        return ""
    return f"Only {by.full_name} or a clinician takes this out."


class Values:
    """Measurements: judged anew for the right animal, by its own limits."""

    name, order, title = "measurements", 10, "Measured"

    def rows(self, record: Record, *, to: Record, actor: Actor, now: datetime) -> list[Movable]:
        there, units = {row.kind: row for row in _values(to)}, units_of(actor)
        return [self._row(row, there.get(row.kind), to, actor, units) for row in _values(record)]

    def move(self, record: Record, keys: Sequence[str], *, to: Record, actor: Actor, now: datetime) -> None:
        for row in _values(record):
            if str(row.pk) not in keys:
                continue
            try:
                put_measurement(
                    actor=actor,
                    now=now,
                    measurement=row,
                    patient=to.visit.patient,
                    visit=to.visit,
                    looked_twice=True,  # its questions were shown, and choosing the row answered them
                )
            except PatientError as error:
                raise NotMoved(row.get_kind_display().capitalize(), str(error)) from error

    def _row(
        self, row: Measurement, there: Measurement | None, to: Record, actor: Actor, units: Units
    ) -> Movable:
        hinder, asks = may_strike(row.entered_by, actor), ""
        if not hinder:
            hinder, asks = _judged_there(row, to)
        return Movable(
            key=str(row.pk),
            where=row.get_kind_display().capitalize(),
            words=in_words(row, units),
            seen_by=row.observed_by,
            there=f"{in_words(there, units)} stands there already" if there else "",
            hinder=hinder,
            asks=asks,
        )


def _values(record: Record) -> list[Measurement]:
    """Not struck out, oldest first, with who entered them."""
    rows = Measurement.objects.filter(visit=record.visit_id, struck_at=None)
    return list(rows.select_related("observed_by", "entered_by", "patient").order_by("measured_at", "pk"))


def _judged_there(row: Measurement, to: Record) -> tuple[str, str]:
    """(why it cannot be, what is asked) for the other animal."""
    try:
        judgement = judged(
            patient=to.visit.patient,
            visit=to.visit,
            kind=row.kind,
            typed=row.typed,
            unit=row.unit,
            category=row.category if row.typed is None else "",
            setting=row.setting,
            state=row.state,
            details=row.details,
            now=row.measured_at,
            planned_change=None,
        )
    except PatientError as error:
        return str(error), ""
    if not judgement.complete:
        return str(Impossible(judgement)), ""
    return "", str(AskOnce(judgement)) if judgement.questions else ""


class Flags:
    """Heads-ups that nobody answered: pinned again in the words and name of whoever pinned them."""

    name, order, title = "heads-ups", 30, "Heads-ups"

    def rows(self, record: Record, *, to: Record, actor: Actor, now: datetime) -> list[Movable]:
        titles = {place.name: place.title for place in heads_up_places}
        return [
            Movable(
                key=str(row.pk),
                where=", ".join(x for x in ("Heads-up", titles.get(row.station, ""), row.side) if x),
                words=row.words,
                seen_by=row.by,
                hinder=may_strike(row.by, actor),
            )
            for row in HeadsUp.objects.filter(record=record, answer="").select_related("by")
        ]

    def move(self, record: Record, keys: Sequence[str], *, to: Record, actor: Actor, now: datetime) -> None:
        for row in HeadsUp.objects.filter(record=record, answer="", pk__in=keys):
            HeadsUp.objects.create(
                record=to, station=row.station, side=row.side, words=row.words, by_id=row.by_id, at=row.at
            )
            row.answer = HeadsUp.Answer.ELSEWHERE
            row.answer_reason = f"belongs to {to.visit.patient.name}"[:200]
            row.answered_by, row.answered_at = actor.staff, now
            row.save(update_fields=["answer", "answer_reason", "answered_by", "answered_at"])
