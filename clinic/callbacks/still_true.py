"""What is still true when a message leaves, and what is taken out of it.

Whatever leaves is asked about once more while the owner and the animals are held (`StillTrue`): who died,
moved, said stop, is booked, has another owner or had it done gets nothing. Asking again at the moment of
sending is common practice.
"""

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from clinic.callbacks import plan_words, planning, queries
from clinic.callbacks.asked_today import hold_owners, plans_in_force, reminder_settings, suppressed, zone
from clinic.callbacks.models import AskedItem, Asking, AskingTakenBack, CallBack
from clinic.callbacks.reasons import LEFT_OUT_WORDS, LeftOut, Reach
from clinic.callbacks.reminder_models import (
    HouseholdReminder,
    ReminderItem,
)
from clinic.callbacks.reminder_words import Said, answer_link, calendar_of, fields
from clinic.mail.actions import cancel
from clinic.mail.models import Message
from clinic.patients.models import Patient
from clinic.people.models import Owner
from clinic.platform.queries import clinic_details
from clinic.platform.registries import NotNow

FAR = timedelta(days=planning.FURTHEST + planning.LATE_AT_MOST)
ASKED_EVERY = timedelta(hours=1)  # whether the pause, or the rehearsal, is over
STILL = frozenset({Message.State.WAITING, Message.State.HELD, Message.State.FAILED})


def fallen(items: Sequence[ReminderItem], *, owner_id: int, today: date) -> dict[int, str]:
    """Those that nobody may be written to about any more, with why. One query."""
    rows = {
        (row.patient_id, row.source, row.key, row.due_on): row
        for row in queries.call_backs(today=today, until=today + FAR)
        .filter(patient__in={each.patient_id for each in items})
        .select_related("patient")
    }
    gone = {
        each.pk: each
        for each in Patient.objects.filter(pk__in={item.patient_id for item in items}).exclude(
            deceased_on=None, left_practice_on=None
        )
    }
    found = {}
    for item in items:
        row = rows.get((item.patient_id, item.source, item.key, item.due_on))
        if why := _why(row, gone.get(item.patient_id), owner_id):
            found[item.pk] = why
    return found


def _why(row: Any, gone: Patient | None, owner_id: int) -> str:
    if gone:
        return LEFT_OUT_WORDS[LeftOut.DIED if gone.deceased_on else LeftOut.MOVED]
    if row is None:
        return "not due any more, or on another day"
    if row.why:
        return LEFT_OUT_WORDS[LeftOut(row.why)]
    if row.household != owner_id:
        return "another owner is written to now"
    return "" if row.reach == Reach.MAIL else "not reached by e-mail any more"


def _key(item: ReminderItem) -> tuple[int, str, str]:
    return item.patient_id, item.source, item.key


def _never_recorded(items: Sequence[ReminderItem]) -> set[tuple[int, str, str]]:
    """Those that are due by age alone. One query."""
    rows = CallBack.objects.filter(patient__in={each.patient_id for each in items}, never=True)
    return set(rows.values_list("patient", "source", "key"))


def take_out(reminder: HouseholdReminder, *, now: datetime) -> list[ReminderItem]:
    """Note what fell since it was queued; what is left. The message is cancelled when nothing is."""
    standing = list(
        reminder.items.filter(skipped=False, fell="").select_related("patient", "reminder__owner")
    )
    fell = fallen(standing, owner_id=reminder.owner_id, today=timezone.localdate(now))
    if reminder.by_id is None and (plans := plans_in_force()):
        fell = _paused(standing, [plan.steps for plan in plans]) | fell
    for item in standing:
        if item.pk in fell:
            item.fell = fell[item.pk]
            item.save(update_fields=["fell"])
    left = [item for item in standing if not item.fell]
    if not left:
        words = sorted({f"{item.patient.name}: {item.fell}" for item in standing})
        cancel(message_id=reminder.message_id, why="; ".join(words) or "nothing is left of it", now=now)
    return left


def _paused(items: Sequence[ReminderItem], plans: Sequence[planning.Steps]) -> dict[int, str]:
    found = {}
    for item in items:
        plan = planning.plan_of(item.label, plans)
        if plan and plan.paused:
            found[item.pk] = "asking about this is paused"
        elif plan and plan.way != planning.MAIL:
            found[item.pk] = f"asked about {planning.WAYS[plan.way]} now"
    return found


class StillTrue:
    """The check of reminders in the sender's transaction."""

    name, order = "reminders", 10

    def hold(self, message: Message, *, now: datetime) -> NotNow | None:
        reminder = HouseholdReminder.objects.filter(message=message).select_related("owner").first()
        if reminder is None:
            return None
        hold(reminder)
        return self._not_now(message, reminder, now)

    def _not_now(self, message: Message, reminder: HouseholdReminder, now: datetime) -> NotNow | None:
        state = Message.State
        chosen = reminder_settings()
        today = timezone.localdate(now)
        owner = Owner.objects.get(pk=reminder.owner_id)
        if chosen.paused or chosen.rehearsal:
            why = "reminders are paused" if chosen.paused else "rehearsal: nothing leaves"
            return NotNow(state.WAITING, why, now + ASKED_EVERY)
        if (today - reminder.day).days > planning.LATE_AT_MOST:
            return NotNow(state.CANCELLED, "it waited too long")
        if suppressed([owner.email or message.to_address, message.to_address]):
            return NotNow(state.CANCELLED, LEFT_OUT_WORDS[LeftOut.STOPPED])
        if (later := planning.not_quiet(now, chosen.hours, zone())) != now:
            return NotNow(state.WAITING, "quiet hours", later)
        left = take_out(reminder, now=now)
        if not left:
            return NotNow(state.CANCELLED, "nothing is left of it")
        if reminder.day != today and not _moved(reminder, today):
            return NotNow(state.CANCELLED, "they are written to today already")
        never = _never_recorded(left)
        anew = fields(
            owner,
            [Said(each.patient.name, each.label, each.due_on, _key(each) in never) for each in left],
            key=message.pk,
            clinic=clinic_details(),
            words=plan_words.in_force(),
            today=today,
            answer_link=answer_link(message, now=now),
        )
        anew["calendar"] = calendar_of(left, today=today, now=now)
        for name, value in {**anew, "to_address": owner.email}.items():
            setattr(message, name, value)
        message.save(update_fields=[*anew, "to_address"])
        return None

    def left(self, message: Message, *, now: datetime) -> None:
        """The due list counts it as asking."""
        reminder = HouseholdReminder.objects.filter(message=message).first()
        if reminder is None:
            return
        today = timezone.localdate(now)
        asking = Asking.objects.create(
            owner_id=reminder.owner_id,
            how=Asking.How.MAIL,
            outcome=Asking.Outcome.ASKED,
            again_on=max(reminder.rest_until, today + timedelta(days=1)),
            text=_words_used(message)[: Asking._meta.get_field("text").max_length],
            by_id=reminder.by_id,
            at=now,
        )
        AskedItem.objects.bulk_create(
            AskedItem(
                asking=asking,
                patient_id=item.patient_id,
                source=item.source,
                key=item.key,
                label=item.label,
                due_on=item.due_on,
            )
            for item in reminder.items.filter(skipped=False, fell="")
        )

    def came_back(self, message: Message, *, now: datetime) -> None:
        """Nobody read it: it is no asking. Found by the moment, which `left` took from the same sending."""
        reminder = HouseholdReminder.objects.filter(message=message).first()
        if reminder is None or message.sent_at is None:
            return
        mails = Asking.objects.filter(owner=reminder.owner_id, how=Asking.How.MAIL, at=message.sent_at)
        for asking in mails.filter(taken_back=None):
            AskingTakenBack.objects.create(asking=asking, by=None, at=now)


def _words_used(message: Message) -> str:
    """A plan's own sentence that the message carries, in whatever language: of what is past first."""
    pairs = [pair for plan in plan_words.in_force().own.values() for pair in plan.values()]
    own = [after for _, after in pairs] + [before for before, _ in pairs]
    return next((words for words in own if words and words in message.body), "")


def hold(reminder: HouseholdReminder) -> None:
    """The owner first, then the animals by their keys: a stop or a death is over, or waits."""
    hold_owners([reminder.owner_id])
    ids = reminder.items.filter(skipped=False).values("patient")
    list(Patient.objects.select_for_update(no_key=True).filter(pk__in=ids).order_by("pk"))


def _moved(reminder: HouseholdReminder, today: date) -> bool:
    """A message that waited overnight is the one of the day on which it leaves."""
    try:
        with transaction.atomic():
            HouseholdReminder.objects.filter(pk=reminder.pk).update(day=today)
    except IntegrityError:
        return False
    return True


class Review:
    """What waits is looked at again whenever something happens to its animals."""

    name, order = "reminders", 10

    def changed(self, patient_ids: Sequence[int], *, now: datetime) -> None:
        waiting = HouseholdReminder.objects.filter(
            items__patient__in=patient_ids, items__skipped=False, items__fell="", message__state__in=STILL
        )
        for reminder in waiting.distinct().order_by("pk"):
            take_out(reminder, now=now)


def review_owner(owner: Owner, *, now: datetime) -> None:
    for reminder in HouseholdReminder.objects.filter(owner=owner, message__state__in=STILL).order_by("pk"):
        take_out(reminder, now=now)
