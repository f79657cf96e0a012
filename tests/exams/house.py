"""An exam in the house: a visit that is here, and a short way to tap."""

from __future__ import annotations

import uuid
from dataclasses import dataclass, field
from typing import Any

from clinic.models import Record, Visit
from clinic.people.actor import Actor
from exams.actions import apply_operations, begin_exam
from exams.models import Exam
from exams.operations import version_of
from exams.queries import standing
from tests import people


@dataclass
class Tablet:
    """One tablet in one person's hand: it knows what it last saw of each target."""

    exam: Exam
    actor: Actor
    seen: dict[str, str] = field(default_factory=dict)

    def operation(
        self, target: str, what: str, payload: dict[str, Any] | None = None, **more: Any
    ) -> dict[str, Any]:
        return {
            "key": str(uuid.uuid4()),
            "target": target,
            "what": what,
            "payload": payload or {},
            "made_at": "2026-03-11T11:02:00+01:00",
            "walk_version": self.exam.walk_id,
            "follows": self.seen.get(target, ""),
            **more,
        }

    def send(self, *operations: dict[str, Any]) -> list[dict[str, Any]]:
        return apply_operations(exam=self.exam, operations=operations, actor=self.actor, now=people.NOW)

    def tap(
        self, target: str, what: str, payload: dict[str, Any] | None = None, **more: Any
    ) -> dict[str, Any]:
        """One operation that follows whatever stands."""
        told = standing(Exam.objects.select_related("record__visit").get(pk=self.exam.pk))
        more.setdefault("follows", version_of(told.state, told.lines, target))
        return self.send(self.operation(target, what, payload, **more))[0]

    def all_normal(self, station: str) -> dict[str, Any]:
        told = standing(self.exam)
        return self.tap(station, "station_all_normal", {"lines": [x.key for x in told.lines.at(station)]})


def exam_here(actor: Actor, visit: Visit | None = None) -> Tablet:
    """A begun exam on the clinician's tablet."""
    visit = visit or people.visit_here(clinician=actor.staff)
    record = Record.objects.select_related("visit__patient").get(visit=visit)
    return Tablet(begin_exam(record=record, actor=actor, now=people.NOW), actor)


def state_of(exam: Exam) -> Any:
    return standing(Exam.objects.select_related("record__visit__patient").get(pk=exam.pk)).state
