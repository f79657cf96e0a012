"""Queueing the messages of a day: one a household, all its things in it, in one transaction a batch."""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction

from clinic.callbacks import plan_words, planning
from clinic.callbacks.asked_today import (
    hold_owners,
    households_today,
    plans_in_force,
    reminder_settings,
    zone,
)
from clinic.callbacks.holding_out import without_held_out
from clinic.callbacks.households import Household
from clinic.callbacks.reminder_models import (
    HouseholdReminder,
    ReminderItem,
)
from clinic.callbacks.reminder_words import fields, said_of
from clinic.mail.actions import queue_sendings
from clinic.mail.models import Message, MessageStep
from clinic.patients.models import Patient
from clinic.people.models import Owner, Staff
from clinic.platform.queries import clinic_details

BATCH = 1000  # households


@dataclass(frozen=True)
class Batch:
    """`last`: the key of its last owner, None when nobody was left."""

    asked: int
    last: int | None


@transaction.atomic
def plan_batch(*, after: int, today: date, now: datetime, size: int = BATCH) -> Batch:
    """Queue the day's messages to the next `size` owners behind the key `after`. Idempotent."""
    ids = list(Owner.objects.filter(pk__gt=after).order_by("pk").values_list("pk", flat=True)[:size])
    last = ids[-1] if ids else None
    chosen = reminder_settings()
    plans = plans_in_force()
    when = planning.leaves_at(now, chosen.hours, zone())
    if chosen.paused or chosen.rehearsal or when is None or not plans:
        return Batch(0, None)
    wanted = [each.owner.pk for each in households_today(plans, ids, today=today)]
    if not wanted:
        return Batch(0, last)
    # whoever plans the same household at the same moment waits here, and then finds it written to
    found = households_today(plans, hold_owners(wanted), today=today)
    found = without_held_out(found, share=chosen.hold_out, now=now)
    queue(found, when=when, by=None, today=today, now=now)
    return Batch(len(found), last)


def queue(
    found: Sequence[Household], *, when: datetime, by: Staff | None, today: date, now: datetime
) -> list[HouseholdReminder]:
    """In the caller's transaction, the owners held: a message and its things for each."""
    clinic = clinic_details()
    words = plan_words.in_force()
    names = dict(
        Patient.objects.filter(
            pk__in={asked.item.patient for each in found for asked in each.asked}
        ).values_list("pk", "name")
    )
    messages, reminders, items = [], [], []
    for each in found:
        about = said_of(each, names)
        key = uuid.uuid4()
        message = Message(
            id=key,
            owner=each.owner,
            to_address=each.owner.email,
            once=f"reminder:{each.owner.pk}:{today.isoformat()}",
            next_try_at=when,
            state_since=now,
            made_by=by,
            made_at=now,
            **fields(each.owner, about, key=key, clinic=clinic, words=words, today=today),
        )
        reminder = HouseholdReminder(
            owner=each.owner,
            day=today,
            message=message,
            rest_until=planning.rest_until(each.asked, today=today),
            by=by,
            made_at=now,
        )
        messages.append(message)
        reminders.append(reminder)
        for asked in each.asked:
            items += [
                _item(reminder, asked.item, step, skipped=step != asked.step)
                for step in (*asked.skipped, asked.step)
            ]
    Message.objects.bulk_create(messages)
    MessageStep.objects.bulk_create(
        MessageStep(message=each, state=each.state, at=now, by=by) for each in messages
    )
    HouseholdReminder.objects.bulk_create(reminders)
    ReminderItem.objects.bulk_create(items)
    queue_sendings([each.pk for each in messages], at=when)
    return reminders


def _item(reminder: HouseholdReminder, item: planning.Item, step: int, *, skipped: bool) -> ReminderItem:
    return ReminderItem(
        reminder=reminder,
        patient_id=item.patient,
        source=item.source,
        key=item.key,
        label=item.label,
        due_on=item.due_on,
        step=step,
        skipped=skipped,
    )
