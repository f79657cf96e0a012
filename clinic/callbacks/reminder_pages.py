"""Writing to households as plain values for pages: who is written to, what leaves, the plans."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.utils import timezone

from clinic.callbacks import composing, plan_words, planning
from clinic.callbacks.asked_today import households_today, plans_in_force
from clinic.callbacks.by_hand import asked_by_hand
from clinic.callbacks.households import Household
from clinic.callbacks.models import CallBack
from clinic.callbacks.plan_words import PlanWords
from clinic.callbacks.reminder_forms import PlanForm
from clinic.callbacks.reminder_models import AskingPlan, HouseholdReminder
from clinic.callbacks.reminder_words import (
    Said,
    answer_link_to_come,
    by_animal,
    fields,
    said_of,
    stop_link,
    written_to_owner,
)
from clinic.mail.models import Message
from clinic.mail.telling import Told, told
from clinic.owner_page.texts import FIRST, every
from clinic.patients.models import Ownership, Patient
from clinic.people.models import Owner
from clinic.platform.queries import clinic_details

SHOWN = 25


@dataclass(frozen=True)
class Letter:
    """One message before it leaves."""

    owner_id: int
    owner: str
    address: str
    about: tuple[str, ...]
    subject: str
    body: str


def letters(found: Sequence[Household], *, today: date, words: PlanWords | None = None) -> list[Letter]:
    """The messages these households would get. Two or three queries."""
    clinic = clinic_details()
    said = words if words is not None else plan_words.in_force()
    names = dict(
        Patient.objects.filter(
            pk__in={asked.item.patient for each in found for asked in each.asked}
        ).values_list("pk", "name")
    )
    made = []
    for each in found:
        about = said_of(each, names)
        text = fields(each.owner, about, key=None, clinic=clinic, words=said, today=today)
        made.append(
            Letter(
                owner_id=each.owner.pk,
                owner=each.owner.name,
                address=each.owner.email,
                about=by_animal((one.patient, one.label) for one in about),
                subject=text["subject"],
                body=text["body"],
            )
        )
    return made


@dataclass(frozen=True)
class Leaving:
    """One message of today. `stoppable`: a tap still keeps it here."""

    id: int
    owner: str
    owner_id: int
    about: tuple[str, ...]
    fell: tuple[str, ...]
    when: str
    on: date | None
    mark: Told
    by: str
    body: str
    stoppable: bool


def leaving(*, today: date, limit: int = 200) -> list[Leaving]:
    """What was queued for today or waits from before, what waits first. Three queries."""
    rows = (
        HouseholdReminder.objects.filter(day__gte=today - timedelta(days=planning.LATE_AT_MOST))
        .exclude(day__lt=today, message__state__in=[Message.State.SENT, Message.State.CANCELLED])
        .select_related("owner", "message", "by")
        .prefetch_related("items__patient")
        .order_by("message__next_try_at", "pk")[:limit]
    )
    found = [_leaving(row) for row in rows]
    return sorted(found, key=lambda each: not each.stoppable)


def _leaving(row: HouseholdReminder) -> Leaving:
    message = row.message
    items = [item for item in row.items.all() if not item.skipped]
    at = message.sent_at or message.next_try_at
    return Leaving(
        id=row.pk,
        owner=row.owner.name,
        owner_id=row.owner_id,
        about=by_animal((item.patient.name, item.label) for item in items if not item.fell),
        fell=tuple(f"{item.patient.name}: {item.label} ({item.fell})" for item in items if item.fell),
        when=f"{timezone.localtime(at):%-d %B, %H:%M}" if at else "",
        on=timezone.localdate(at) if at else None,
        mark=told(message.state, message.state_why),
        by=row.by.full_name if row.by else "a plan",
        body=message.body,
        stoppable=message.state in (Message.State.WAITING, Message.State.HELD),
    )


@dataclass(frozen=True)
class Shown:
    """One example message; `wrong`: what is wrong with a sentence, which then stands there as typed."""

    language: str
    name: str
    subject: str
    body: str
    wrong: tuple[str, ...]


EXAMPLE, THINGS = "Pomfret", ("Wellness exam", "Heartworm test")


def words_shown(form: PlanForm | None, *, today: date) -> list[Shown]:
    """What an invented owner would read of two things, with the sentences in the form. One query."""
    clinic, found = clinic_details(), []
    typed = {} if form is None else form.data if form.is_bound else form.initial
    what = typed.get("what", "") or THINGS[0]
    other = next(each for each in THINGS if each != what)
    for language, texts in every().items():
        names = (
            ("words_before", "words_after")
            if language == FIRST
            else (f"before_{language}", f"after_{language}")
        )
        before, after = (" ".join(str(typed.get(name, "")).split()) for name in names)
        both = (before, after)
        own = {FIRST: (str(typed.get("words_before", "")), str(typed.get("words_after", ""))), language: both}
        text = written_to_owner(
            Owner(given_name="Henrike", family_name="Dovale", language=language),
            [
                Said(EXAMPLE, what, today + timedelta(days=30)),
                Said(EXAMPLE, other, today - timedelta(days=30)),
            ],
            clinic=clinic,
            words=PlanWords({"": own}),
            ways=composing.Ways(clinic.email, stop_link(0, None), answer_link_to_come(), calendar=True),
            today=today,
        )
        wrong = tuple(filter(None, (composing.wrong_words(each) for each in both)))
        found.append(Shown(language, texts.name, text.subject, text.body, wrong))
    return found


@dataclass(frozen=True)
class PlanRow:
    id: int
    what: str
    way: str
    days: str
    series: str
    words: tuple[str, ...]
    standing: str
    approved: bool
    paused: str


def plan_rows(plans: Iterable[AskingPlan]) -> list[PlanRow]:
    return [
        PlanRow(
            id=each.pk,
            what=each.what or "Everything without a plan of its own",
            way=each.get_way_display(),
            days=days_words(each.days),
            series=days_words(each.series_days),
            words=tuple(filter(None, (each.words_before, each.words_after))),
            standing=_standing(each),
            approved=each.approved_at is not None,
            paused=_paused(each),
        )
        for each in plans
    ]


def _standing(plan: AskingPlan) -> str:
    if plan.approved_by and plan.approved_at:
        return f"approved by {plan.approved_by.full_name}, {_day(plan.approved_at)}"
    by = plan.made_by.full_name if plan.made_by else "Tailward"
    return f"proposed by {by}, {_day(plan.made_at)}; it asks nobody yet"


def _paused(plan: AskingPlan) -> str:
    if not plan.paused:
        return ""
    by = f" by {plan.paused_by.full_name}" if plan.paused_by else ""
    return f"paused{by}" + (f", {_day(plan.paused_at)}" if plan.paused_at else "")


def _day(at: datetime) -> str:
    return f"{timezone.localtime(at):%-d %B %Y}"


def days_words(days: Sequence[int]) -> str:
    """30 days before, on the day, 30 days after."""
    return ", ".join(
        "on the day"
        if day == 0
        else f"{abs(day)} day{'' if abs(day) == 1 else 's'} {'before' if day < 0 else 'after'}"
        for day in sorted(days)
    )


def current_plans() -> list[AskingPlan]:
    """Those in force and those proposed. One query."""
    rows = AskingPlan.objects.filter(ended_at=None).select_related("made_by", "approved_by", "paused_by")
    return list(rows.order_by("what", "approved_at", "pk"))


AHEAD = 30  # days, in which a preview looks for somebody whom a plan would ask
TRIED = 5  # of those days: each is reckoned as if it were today


def preview(plan: AskingPlan, *, today: date) -> tuple[date, list[Letter]]:
    """What this plan would write if it were in force, to real households: today, or on the next day on which
    it asks somebody; at most ten. No letters where that is none of the days looked at."""
    steps = {*plan.steps.days, *plan.steps.series_days}
    rows = CallBack.objects.filter(
        due_on__range=(today - timedelta(days=max(steps)), today + timedelta(days=AHEAD - min(steps)))
    )
    if plan.what:
        rows = rows.filter(label__startswith=plan.what)
    due = set(rows.values_list("due_on", flat=True).distinct())
    days = (today + timedelta(days=ahead) for ahead in range(AHEAD))
    asks = [day for day in days if any(day - timedelta(days=step) in due for step in steps)]
    for day in [today, *(each for each in asks if each > today)][: TRIED + 1]:
        if found := _on(plan, day):
            return day, found
    return today, []


def _on(plan: AskingPlan, today: date) -> list[Letter]:
    """As if it were in force beside the others: a kind with a plan of its own is not of the plan for all."""
    others = [each for each in plans_in_force() if each.what != plan.what]
    every = [plan.steps, *(each.steps for each in others)]
    if plan.way != planning.MAIL:
        return by_person(asked_by_hand(plan.way, every, today=today), mine=plan.what, plans=every)
    steps = plan.steps
    days = {today - timedelta(days=day) for day in (*steps.days, *steps.series_days)}
    rows = CallBack.objects.filter(due_on__in=days)
    if plan.what:
        rows = rows.filter(label__startswith=plan.what)
    patients = rows.order_by("due_on", "pk").values_list("patient", flat=True)[:200]
    owners = Ownership.objects.filter(patient__in=list(patients), is_first=True, until=None)
    found = households_today([plan, *others], list(owners.values_list("owner", flat=True)), today=today)
    mine = [each for each in found if any(_is_of(plan.what, one.item.label, every) for one in each.asked)]
    own = {**plan_words.in_force().own, plan.what: plan_words.words_of(plan)}
    return letters(mine[:10], today=today, words=PlanWords(own))


def _is_of(what: str, label: str, plans: Sequence[planning.Steps]) -> bool:
    plan = planning.plan_of(label, plans)
    return plan is not None and plan.what == what


def by_person(rows: Sequence[Any], *, mine: str, plans: Sequence[planning.Steps]) -> list[Letter]:
    """Households that a plan asks by letter or telephone; what is said has no text here."""
    of: dict[int, list[Any]] = {}
    for row in rows:
        if _is_of(mine, row.label, plans):
            of.setdefault(row.household, []).append(row)
    owners = Owner.objects.in_bulk(list(of)[:10])
    return [
        Letter(
            owner_id=key,
            owner=owners[key].name,
            address=", ".join(filter(None, (owners[key].street, owners[key].city))),
            about=by_animal((row.patient.name, row.label) for row in of[key]),
            subject="",
            body="",
        )
        for key in owners
    ]


def rehearsed(plans: Sequence[AskingPlan], *, today: date) -> list[Letter]:
    """What would leave today if this were no rehearsal; the first households."""
    span = planning.window([plan.steps for plan in plans], today=today)
    if span is None:
        return []
    owners = (
        Ownership.objects.filter(
            patient__call_backs__due_on__range=span, is_first=True, until=None, owner__email__gt=""
        )
        .order_by("owner")
        .values_list("owner", flat=True)
        .distinct()[:500]
    )
    return letters(households_today(plans, list(owners), today=today)[:SHOWN], today=today)
