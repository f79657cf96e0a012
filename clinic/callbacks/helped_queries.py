"""Who was asked and came."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Case, CharField, Count, Exists, ExpressionWrapper, F, OuterRef, Q, Value, When
from django.db.models import DateTimeField as Moment
from django.db.models.functions import TruncDate

from clinic.callbacks.helped import Share
from clinic.callbacks.models import AskedItem, Asking
from clinic.callbacks.reasons import UNREACHED
from clinic.visits.models import Visit

WITHIN = timedelta(days=60)
LOOKED_BACK = timedelta(days=730)
WHEN = {"before": "before it was due", "on": "on the day", "after": "when it was overdue"}


@dataclass(frozen=True)
class HelpedRow:
    how: str
    when: str
    share: Share


def helped(*, now: datetime) -> list[HelpedRow]:
    """By way and step, of all that were asked long enough ago. An animal counts once an asking. One query."""
    came = Visit.objects.filter(
        patient=OuterRef("patient"),
        arrived_at__gt=OuterRef("asking__at"),
        arrived_at__lte=ExpressionWrapper(OuterRef("asking__at") + WITHIN, output_field=Moment()),
    )
    old_enough = AskedItem.objects.filter(asking__at__range=(now - LOOKED_BACK, now - WITHIN)).exclude(
        asking__outcome__in=UNREACHED
    )
    firsts = old_enough.order_by("asking_id", "patient_id", "due_on").distinct("asking_id", "patient_id")
    rows = (
        AskedItem.objects.filter(pk__in=firsts.values("pk"))
        .order_by()
        .annotate(day=TruncDate("asking__at"), came=Exists(came))
        .annotate(
            phase=Case(
                When(day__lt=F("due_on"), then=Value("before")),
                When(day=F("due_on"), then=Value("on")),
                default=Value("after"),
                output_field=CharField(),
            )
        )
        .values("asking__how", "phase")
        .annotate(asked=Count("pk"), came_n=Count("pk", filter=Q(came=True)))
    )
    found = [
        HelpedRow(
            Asking.How(row["asking__how"]).label, WHEN[row["phase"]], Share(row["came_n"], row["asked"])
        )
        for row in rows
    ]
    order = list(WHEN.values())
    return sorted(found, key=lambda row: (row.how, order.index(row.when)))
