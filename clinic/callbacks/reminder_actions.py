"""Plans of asking, the one switch, writing to chosen households, stopping one message."""

from collections.abc import Mapping, Sequence
from datetime import datetime, time, timedelta
from uuid import UUID

from django.db import IntegrityError, transaction
from django.utils import timezone

from clinic.callbacks import planning, queries
from clinic.callbacks.asked_today import (
    hold_owners,
    reminder_settings,
    suppressed,
    taken_steps,
    written_to,
    zone,
)
from clinic.callbacks.composing import wrong_words
from clinic.callbacks.errors import NothingLeaves, PlanWrong
from clinic.callbacks.households import Household
from clinic.callbacks.manager_models import DueTotals
from clinic.callbacks.models import CallBack
from clinic.callbacks.reasons import INACTIVE_MONTHS, Reach
from clinic.callbacks.reminder_models import (
    AskingPlan,
    HouseholdReminder,
    ReminderSettings,
    fingerprint,
)
from clinic.callbacks.reminding import queue
from clinic.mail.actions import cancel
from clinic.people.actor import Actor
from clinic.people.models import Owner
from clinic.people.rights import Right
from clinic.visits.actions.common import first_sending

USUAL_BEFORE = "There is still time to find a day that suits you."
USUAL_AFTER = "It can still be done: please let us know what suits you."


def lay_usual_plan(*, now: datetime) -> AskingPlan:
    """What a new house may approve; it asks nobody before. Idempotent."""
    found = AskingPlan.objects.filter(what="", ended_at=None).first()
    return found or AskingPlan.objects.create(words_before=USUAL_BEFORE, words_after=USUAL_AFTER, made_at=now)


@transaction.atomic
def propose_plan(
    *,
    what: str,
    way: str = planning.MAIL,
    days: Sequence[int],
    series_days: Sequence[int],
    words_before: str = "",
    words_after: str = "",
    words_in: Mapping[str, Mapping[str, str]] | None = None,
    once: UUID | None = None,
    actor: Actor,
    now: datetime,
) -> AskingPlan:
    """A plan that asks nobody until it is approved. Raises PlanWrong, SentBefore."""
    actor.require(Right.MANAGE_CLINIC)
    for name, given in (("days", days), ("series_days", series_days)):
        if wrong := planning.wrong_days(given):
            raise PlanWrong(wrong, field=name)
    for name, text in (("words_before", words_before), ("words_after", words_after)):
        if wrong := wrong_words(text):
            raise PlanWrong(wrong, field=name)
    first_sending(once, actor=actor, now=now)
    return AskingPlan.objects.create(
        what=what,
        way=way,
        days=sorted(days),
        series_days=sorted(series_days),
        words_before=" ".join(words_before.split()),
        words_after=" ".join(words_after.split()),
        words_in={
            language: {part: " ".join(text.split()) for part, text in said.items()}
            for language, said in (words_in or {}).items()
        },
        made_by=actor.staff,
        made_at=now,
    )


@transaction.atomic
def approve_plan(*, plan: AskingPlan, actor: Actor, now: datetime) -> bool:
    """From now on it asks, in place of the one before. False when it was approved or dropped meanwhile."""
    actor.require(Right.MANAGE_CLINIC)
    old = AskingPlan.objects.select_for_update().filter(
        what=plan.what, approved_at__isnull=False, ended_at=None
    )
    for each in old.exclude(pk=plan.pk):
        each.ended_at = now
        each.save(update_fields=["ended_at"])
    found = AskingPlan.objects.filter(pk=plan.pk, approved_at=None, ended_at=None)
    try:
        with transaction.atomic():
            return bool(found.update(approved_by=actor.staff, approved_at=now))
    except IntegrityError:
        return False


@transaction.atomic
def drop_plan(*, plan: AskingPlan, actor: Actor, now: datetime) -> bool:
    """It asks no more, or never did."""
    actor.require(Right.MANAGE_CLINIC)
    return bool(AskingPlan.objects.filter(pk=plan.pk, ended_at=None).update(ended_at=now))


@transaction.atomic
def pause(*, paused: bool, actor: Actor, now: datetime) -> bool:
    """The one switch: no reminder leaves until it is turned back. False where it stood so already."""
    actor.require(Right.MANAGE_CLINIC)
    ReminderSettings.objects.get_or_create(pk=1)
    found = ReminderSettings.objects.filter(pk=1).exclude(paused=paused)
    return bool(found.update(paused=paused, paused_by=actor.staff, paused_at=now))


@transaction.atomic
def pause_plan(*, plan: AskingPlan, paused: bool, actor: Actor, now: datetime) -> bool:
    """Nobody is asked about this kind, by no other plan either. False where it stood so, or has ended."""
    actor.require(Right.MANAGE_CLINIC)
    found = AskingPlan.objects.filter(pk=plan.pk, ended_at=None, approved_at__isnull=False)
    return bool(found.exclude(paused=paused).update(paused=paused, paused_by=actor.staff, paused_at=now))


@transaction.atomic
def change_settings(
    *,
    rehearsal: bool,
    hold_out: int = 0,
    inactive_months: int = INACTIVE_MONTHS,
    sends_at: time,
    quiet_from: time,
    quiet_until: time,
    quiet_days: Sequence[int],
    actor: Actor,
    now: datetime,
) -> ReminderSettings:
    """Raises PlanWrong where the sending hour is a quiet one, or every day is quiet."""
    actor.require(Right.MANAGE_CLINIC)
    hours = planning.Hours(sends_at, quiet_from, quiet_until, frozenset(quiet_days))
    if len(set(quiet_days)) >= 7:
        raise PlanWrong("On one day of the week at least something has to leave.", field="quiet_days")
    monday = datetime(2026, 1, 5, sends_at.hour, sends_at.minute)  # noqa: DTZ001 - a clock, no moment
    if all(hours.quiet(monday + timedelta(days=day)) for day in range(7)):
        raise PlanWrong("This hour is one of the quiet ones.", field="sends_at")
    if reminder_settings().inactive_months != inactive_months:
        DueTotals.objects.all().delete()  # every sum may be another: till the next fold all rows are counted
    changed, _ = ReminderSettings.objects.update_or_create(
        pk=1,
        defaults={
            "inactive_months": inactive_months,
            "rehearsal": rehearsal,
            "hold_out": hold_out,
            "sends_at": sends_at,
            "quiet_from": quiet_from,
            "quiet_until": quiet_until,
            "quiet_days": sorted(set(quiet_days)),
        },
    )
    return changed


def chosen_households(owner_ids: Sequence[int], *, now: datetime) -> list[Household]:
    """Of these those that may be written to now, about all that is overdue. Six queries."""
    today = timezone.localdate(now)
    items: dict[int, list[planning.Item]] = {}
    rows = (
        queries.call_backs(today=today, until=today - timedelta(days=1))
        .filter(household__in=list(owner_ids), reach=Reach.MAIL, why="")
        .exclude(nature=CallBack.Nature.BY_PERSON)
    )
    for row in rows.order_by("due_on", "pk"):
        items.setdefault(row.household, []).append(
            planning.Item(row.patient_id, row.source, row.key, row.label, row.due_on, never=row.never)
        )
    taken = taken_steps(each.patient for of in items.values() for each in of)
    busy = written_to(items, today=today)
    owners = Owner.objects.in_bulk(set(items) - busy)
    silent = suppressed(each.email for each in owners.values())
    found = []
    for key, owner in sorted(owners.items()):
        asked = tuple(
            planning.Asked(item, step, (), None)
            for item in items[key]
            if (step := min((today - item.due_on).days, 32_000)) not in taken.get(item.once, set())
        )
        if asked and fingerprint(owner.email) not in silent:
            found.append(Household(owner, asked))
    return found


@transaction.atomic
def write_to(
    *, owner_ids: Sequence[int], once: UUID | None = None, actor: Actor, now: datetime
) -> list[HouseholdReminder]:
    """A message to each of these that may be written to; at once, or as soon as it is not quiet.

    Raises NothingLeaves, SentBefore.
    """
    actor.require(Right.NOTE_CONTACT)
    chosen = reminder_settings()
    if chosen.paused or chosen.rehearsal:
        raise NothingLeaves(paused=chosen.paused)
    first_sending(once, actor=actor, now=now)
    found = chosen_households(hold_owners(list(owner_ids)), now=now)
    when = planning.not_quiet(now, chosen.hours, zone())
    return queue(found, when=when, by=actor.staff, today=timezone.localdate(now), now=now)


@transaction.atomic
def stop_one(*, reminder: HouseholdReminder, actor: Actor, now: datetime) -> bool:
    """This message does not leave. False when it has left, or was stopped before."""
    actor.require(Right.NOTE_CONTACT)
    why = f"stopped by {actor.staff.full_name}"
    return cancel(message_id=reminder.message_id, why=why, now=now, by=actor.staff)
