"""Who was asked and came; and who was due, was not asked, and came."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db.models import (
    Case,
    CharField,
    Count,
    Exists,
    ExpressionWrapper,
    F,
    OuterRef,
    Q,
    QuerySet,
    Value,
    When,
)
from django.db.models import DateTimeField as Moment
from django.db.models.functions import TruncDate

from clinic.callbacks.helped import Share
from clinic.callbacks.manager_models import Unasked
from clinic.callbacks.models import AskedItem, Asking
from clinic.callbacks.reasons import UNREACHED
from clinic.visits.models import Visit

WITHIN = timedelta(days=60)
CHOICES = (14, 30, 60, 90)  # days
LOOKED_BACK = timedelta(days=730)
WHEN = {"before": "before it was due", "on": "on the day", "after": "when it was overdue"}
NOT_ASKED = {Unasked.Why.HELD_OUT: "held out by lot", Unasked.Why.NO_MAIL: "not reached by e-mail"}


@dataclass(frozen=True)
class HelpedRow:
    how: str
    when: str
    share: Share


@dataclass(frozen=True)
class Helped:
    """`asked` by way and step, `texts` by the words a mail carried, `unasked` by why nobody asked."""

    asked: tuple[HelpedRow, ...]
    texts: tuple[HelpedRow, ...]
    unasked: tuple[HelpedRow, ...]


def helped(*, now: datetime, within: timedelta = WITHIN) -> Helped:
    """Of all that was long enough ago. An animal counts once an asking. Two queries."""
    by_step: dict[tuple[str, str], list[int]] = defaultdict(lambda: [0, 0])
    by_text: dict[str, list[int]] = defaultdict(lambda: [0, 0])
    for row in _asked(now, within):
        for found in (
            by_step[row["asking__how"], row["phase"]],
            *([by_text[row["asking__text"]]] if row["asking__text"] else []),
        ):
            found[0] += row["came_n"]
            found[1] += row["asked"]
    order = list(WHEN)
    steps = sorted(by_step, key=lambda key: (Asking.How(key[0]).label, order.index(key[1])))
    return Helped(
        asked=tuple(
            HelpedRow(Asking.How(how).label, WHEN[phase], Share(*by_step[how, phase])) for how, phase in steps
        ),
        texts=tuple(HelpedRow("by e-mail", text, Share(*by_text[text])) for text in sorted(by_text)),
        unasked=tuple(
            HelpedRow("not asked", NOT_ASKED[Unasked.Why(row["why"])], Share(row["came_n"], row["unasked"]))
            for row in _unasked(now, within)
        ),
    )


def _asked(now: datetime, within: timedelta) -> QuerySet[Any, Any]:
    old_enough = AskedItem.objects.filter(
        asking__at__range=(now - LOOKED_BACK, now - within), asking__taken_back=None
    ).exclude(asking__outcome__in=UNREACHED)
    firsts = old_enough.order_by("asking_id", "patient_id", "due_on").distinct("asking_id", "patient_id")
    return (
        AskedItem.objects.filter(pk__in=firsts.values("pk"))
        .order_by()
        .annotate(day=TruncDate("asking__at"), came=Exists(_came("asking__at", within)))
        .annotate(
            phase=Case(
                When(day__lt=F("due_on"), then=Value("before")),
                When(day=F("due_on"), then=Value("on")),
                default=Value("after"),
                output_field=CharField(),
            )
        )
        .values("asking__how", "asking__text", "phase")
        .annotate(asked=Count("pk"), came_n=Count("pk", filter=Q(came=True)))
    )


def _unasked(now: datetime, within: timedelta) -> QuerySet[Any, Any]:
    """Each thing once, at its first step; not what somebody asked about in that time after all."""
    same = {name: OuterRef(name) for name in ("patient", "source", "key", "due_on")}
    later = ExpressionWrapper(OuterRef("at") + within, output_field=Moment())
    asked = AskedItem.objects.filter(asking__at__lte=later, asking__taken_back=None, **same)
    old_enough = Unasked.objects.filter(~Exists(asked), at__range=(now - LOOKED_BACK, now - within))
    firsts = old_enough.order_by("patient_id", "source", "key", "due_on", "at").distinct(
        "patient_id", "source", "key", "due_on"
    )
    return (
        Unasked.objects.filter(pk__in=firsts.values("pk"))
        .order_by()
        .annotate(came=Exists(_came("at", within)))
        .values("why")
        .annotate(unasked=Count("pk"), came_n=Count("pk", filter=Q(came=True)))
        .order_by("why")
    )


def _came(at: str, within: timedelta) -> QuerySet[Visit]:
    return Visit.objects.filter(
        patient=OuterRef("patient"),
        arrived_at__gt=OuterRef(at),
        arrived_at__lte=ExpressionWrapper(OuterRef(at) + within, output_field=Moment()),
    )
