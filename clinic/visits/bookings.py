"""A day's bookings and one booking's history, as plain values."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.urls import reverse
from django.utils import timezone

from clinic.visits.day import day_of
from clinic.visits.day_list import Slot, at_the_same_time
from clinic.visits.models import BookingChange, NextVisit, Visit

P = Visit.Place
LETTER_NAMED_IT = "The letter has named this day: call it off here, where the owner can be told."
SHAPES = {P.EXPECTED: "begun", P.DID_NOT_COME: "unseen", P.CANCELLED: "na", P.LEFT_EARLY: "unseen"}


@dataclass(frozen=True)
class BookedRow:
    """`shape` and `state` say in a shape and in words whether it stands; `note`: what shares its time."""

    at: str
    patient: str
    patient_url: str
    words: str
    shape: str
    state: str
    note: str
    url: str


@dataclass(frozen=True)
class DayPage:
    heading: str
    rows: tuple[BookedRow, ...]
    this_week: tuple[BookedRow, ...]
    before: date
    after: date


def day_page(day: date, *, today: date) -> DayPage:
    """Visits of the day, plans for it, and plans for its week. Two queries."""
    visits, plans = _visits(day), _plans(day)
    slots = [_visit_slot(each) for each in visits if each.place not in (P.CANCELLED, P.DID_NOT_COME)]
    slots += [_plan_slot(each) for each in plans if not each.week_of]
    timed = [slot for slot in slots if slot is not None]
    names = {f"visit {each.pk}": each.patient.name for each in visits}
    names |= {f"plan {each.pk}": each.patient.name for each in plans}
    notes = {
        key: f"at the same time as {', '.join(names[other] for other in others)}"
        for key, others in at_the_same_time(timed).items()
    }
    rows = [_visit_row(each, notes) for each in visits]
    rows += [_plan_row(each, notes) for each in plans if not each.week_of]
    return DayPage(
        heading=f"{day:%A} {day.day} {day:%B %Y}{', today' if day == today else ''}",
        rows=tuple(sorted(rows, key=lambda row: (not row.at[:1].isdigit(), row.at, row.patient))),
        this_week=tuple(_plan_row(each, notes) for each in plans if each.week_of),
        before=day - timedelta(days=1),
        after=day + timedelta(days=1),
    )


def _visits(day: date) -> list[Visit]:
    start, end = day_of(day)
    rows = Visit.objects.filter(expected_at__gte=start, expected_at__lt=end)
    return list(rows.select_related("patient").order_by("expected_at", "pk"))


def _plans(day: date) -> list[NextVisit]:
    monday = day - timedelta(days=day.weekday())
    planned = NextVisit.objects.filter(state=NextVisit.State.PLANNED, on__gte=monday, on__lte=monday + WEEK)
    rows = planned.select_related("patient", "by").order_by("at", "pk")
    return [each for each in rows if each.week_of or each.on == day]


WEEK = timedelta(days=6)


def _visit_slot(visit: Visit) -> Slot | None:
    assert visit.expected_at
    at = timezone.localtime(visit.expected_at)
    if (at.hour, at.minute) == (0, 0):
        return None
    return Slot(f"visit {visit.pk}", at, visit.expected_minutes)


def _plan_slot(plan: NextVisit) -> Slot | None:
    if plan.at is None:
        return None
    return Slot(f"plan {plan.pk}", timezone.make_aware(datetime.combine(plan.on, plan.at)), plan.minutes)


def _visit_row(visit: Visit, notes: dict[str, str]) -> BookedRow:
    slot = _visit_slot(visit)
    return BookedRow(
        at=f"{slot.start:%H:%M}" if slot else "any time",
        patient=visit.patient.name,
        patient_url=reverse("patient", args=[visit.patient_id]),
        words=f"{visit.get_kind_display()}, {visit.expected_minutes} minutes: {visit.booked_for}",
        shape=SHAPES.get(P(visit.place), "normal"),
        state=visit.get_place_display(),
        note=notes.get(f"visit {visit.pk}", ""),
        url=reverse("booking", args=[visit.pk]) if visit.place == P.EXPECTED else "",
    )


def _plan_row(plan: NextVisit, notes: dict[str, str]) -> BookedRow:
    return BookedRow(
        at="this week" if plan.week_of else f"{plan.at:%H:%M}" if plan.at else "any time",
        patient=plan.patient.name,
        patient_url=reverse("patient", args=[plan.patient_id]),
        words=f"{plan.get_kind_display()}, {plan.minutes} minutes: {plan.reason}. "
        f"Planned by {plan.by.full_name}",
        shape="begun",
        state="planned",
        note=notes.get(f"plan {plan.pk}", ""),
        url=reverse("next-visit-change", args=[plan.pk]),
    )


def changes_in_words(changes: Iterable[BookingChange]) -> tuple[str, ...]:
    """Was Friday 13 March 2026, 10:00; moved to …, by whom, when, why."""
    return tuple(_change(each) for each in changes)


def _change(each: BookingChange) -> str:
    was = _when(each.was_on, f", {each.was_at:%H:%M}" if each.was_at else "")
    at = timezone.localtime(each.at)
    by = f"{each.by.full_name}, {at.day} {at:%B %Y, %H:%M}: {each.why}"
    if each.now_on is None:
        return f"Was {was}; called off. {by}"
    return f"Was {was}; moved to {_when(each.now_on, f', {each.now_at:%H:%M}' if each.now_at else '')}. {by}"


def _when(day: date, clock: str) -> str:
    return f"{day:%A} {day.day} {day:%B %Y}{clock}"
