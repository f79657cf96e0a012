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
from django.utils import timezone

from clinic.callbacks.helped import Share
from clinic.callbacks.manager_models import AskedLately, Unasked
from clinic.callbacks.models import AskedItem, Asking
from clinic.callbacks.reasons import UNREACHED
from clinic.visits.models import NextVisit, Visit

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


# --- At a glance --------------------------------------------------------------------------------------------


def count_lately(*, now: datetime) -> AskedLately:
    """Of the households asked in the last 60 days those that came since, or are booked. Kept for the day,
    anew at every call; two queries."""
    today = timezone.localdate(now)
    came = Visit.objects.filter(patient=OuterRef("patient"), arrived_at__gt=OuterRef("asking__at"))
    coming = Visit.objects.filter(
        patient=OuterRef("patient"), place=Visit.Place.EXPECTED, expected_at__gte=now
    )
    planned = NextVisit.objects.filter(
        patient=OuterRef("patient"), state=NextVisit.State.PLANNED, on__gte=today
    )
    rows = (
        AskedItem.objects.filter(asking__at__range=(now - WITHIN, now), asking__taken_back=None)
        .exclude(asking__outcome__in=UNREACHED)
        .order_by()
        .values_list(
            "asking__owner",
            Exists(came),
            Case(When(Exists(coming) | Exists(planned), then=True), default=False),
        )
        .distinct()
    )
    found: dict[int, tuple[bool, bool]] = {}
    for owner, has_come, is_booked in rows:
        before = found.get(owner, (False, False))
        found[owner] = (before[0] or has_come, before[1] or is_booked)
    counted = {
        "asked": len(found),
        "came": sum(has_come for has_come, _ in found.values()),
        "booked": sum(is_booked and not has_come for has_come, is_booked in found.values()),
    }
    return AskedLately.objects.update_or_create(day=today, defaults=counted)[0]


BAR = 240  # its width


@dataclass(frozen=True)
class Lately:
    """A bar from left to right: came, booked, neither yet. Numbers are households."""

    asked: int
    came: int
    booked: int
    neither: int
    came_to: int
    booked_to: int
    width: int = BAR


def lately() -> Lately | None:
    """As counted last; None where nobody was asked. One query."""
    row = AskedLately.objects.order_by("-day").first()
    if row is None or not row.asked:
        return None
    came_to = round(BAR * row.came / row.asked)
    booked_to = round(BAR * (row.came + row.booked) / row.asked)
    return Lately(row.asked, row.came, row.booked, row.asked - row.came - row.booked, came_to, booked_to)
