"""Rechecks that were agreed on and that nobody came for yet: the owner is called back."""

from datetime import date, datetime, timedelta

from django.db.models import Q
from django.utils import timezone

from clinic.callbacks.things import RECHECK
from clinic.care.coming import NEAR, owner_words
from clinic.care.models import PlanLine
from clinic.patients.models import Patient
from clinic.platform.registries import CallBackRow
from clinic.promises.sources import PlannedLines
from clinic.visits.models import Visit

LOOKED_BACK = timedelta(days=365)  # ours, as for a visit that was missed: then the dues speak for themselves


class Rechecks:
    """A plan line of that kind from a signed record, on the day that was last agreed, while it is open.

    Whoever came within a week before that day, or later, has been here for it, though nobody closed the
    line (ours): its person still has the promise, and no owner is asked for what was done.
    """

    name, order = "recheck", 20

    def rows(self, patient: Patient, *, today: date) -> list[CallBackRow]:
        lines = list(
            PlannedLines()
            .rows()
            .filter(
                Q(record__visit__patient=patient) | Q(record__visit__patient__merged_into=patient),
                kind=PlanLine.Kind.RECHECK,
                record__signed_at__isnull=False,
            )
            .filter(Q(("due__gte", today - LOOKED_BACK)))
        )
        came = _arrivals(patient) if lines else []
        return [
            CallBackRow(
                f"line:{line.pk}",
                f"{RECHECK}: {owner_words(line).rstrip('.')}"[:160],
                line.due,  # type: ignore[attr-defined]
                nature="agreed",
            )
            for line in lines
            if not any(
                visit != line.record.visit_id and at > line.at and timezone.localdate(at) >= line.due - NEAR  # type: ignore[attr-defined]
                for visit, at in came
            )
        ]


def _arrivals(patient: Patient) -> list[tuple[int, datetime]]:
    rows = Visit.objects.filter(
        Q(patient=patient) | Q(patient__merged_into=patient), arrived_at__isnull=False
    )
    return [(pk, at) for pk, at in rows.order_by("-arrived_at").values_list("pk", "arrived_at")[:50] if at]
