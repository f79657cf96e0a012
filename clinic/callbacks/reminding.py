"""Writing to households: what is planned for a day, what is still true when it leaves, what is taken out.

Whatever leaves is asked about once more while the owner and the animals are held (`StillTrue`): who died,
moved, said stop, is booked, has another owner or had it done gets nothing. Asking again at the moment of
sending is common practice.
"""

import uuid
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.core import signing
from django.db import IntegrityError, transaction
from django.db.models import Q
from django.urls import reverse
from django.utils import timezone

from clinic.callbacks import composing, plan_words, planning, queries
from clinic.callbacks.holding_out import without_held_out
from clinic.callbacks.households import Household as Household
from clinic.callbacks.models import AskedItem, Asking, CallBack
from clinic.callbacks.plan_words import PlanWords
from clinic.callbacks.reasons import LEFT_OUT_WORDS, LeftOut, Reach
from clinic.callbacks.reminder_models import (
    AskingPlan,
    HouseholdReminder,
    ReminderItem,
    ReminderSettings,
    Suppressed,
    fingerprint,
)
from clinic.mail.actions import cancel, queue_sendings
from clinic.mail.models import Message, MessageStep
from clinic.owner_page.actions import address_of, make_link
from clinic.owner_page.texts import FIRST, texts
from clinic.patients.models import Patient
from clinic.people.models import Owner, Staff
from clinic.platform.addresses import town
from clinic.platform.models import ClinicDetails
from clinic.platform.queries import clinic_details
from clinic.platform.registries import NotNow, thing_words
from clinic.visits.calendar_file import Entry, calendar_file
from clinic.visits.calendars import mail_domain, where

BATCH = 1000  # households
FAR = timedelta(days=planning.FURTHEST + planning.LATE_AT_MOST)
ASKED_EVERY = timedelta(hours=1)  # whether the pause, or the rehearsal, is over
SALT = "clinic.reminders.stop"
LINK_TO_COME = "…"
CALENDAR_SPACE = uuid.UUID("6d0b3c1e-54c5-5d0e-9a54-0b7d5b0a6c11")  # ours, for good
STILL = frozenset({Message.State.WAITING, Message.State.HELD, Message.State.FAILED})


def reminder_settings() -> ReminderSettings:
    """The one row; before anybody changed anything, what a new house begins with: rehearsal."""
    return ReminderSettings.objects.select_related("paused_by").filter(pk=1).first() or ReminderSettings(pk=1)


def zone() -> ZoneInfo:
    return ZoneInfo(settings.TIME_ZONE)


def plans_in_force() -> list[AskingPlan]:
    """Those that are paused too: what is of their kind is asked about by no other."""
    return list(AskingPlan.objects.filter(approved_at__isnull=False, ended_at=None))


# --- Who is asked about what --------------------------------------------------------------------------------


def households_today(
    plans: Sequence[AskingPlan], owner_ids: Sequence[int], *, today: date
) -> list[Household]:
    """Of these owners those who are asked today, by their keys. Five queries, whatever their number."""
    steps = [plan.steps for plan in plans]
    span = planning.window(steps, today=today)
    if span is None or not owner_ids:
        return []
    rows = (
        queries.call_backs(today=today, until=span[1])
        .filter(due_on__gte=span[0], household__in=owner_ids, reach=Reach.MAIL, why="")
        .exclude(nature=CallBack.Nature.BY_PERSON)
    )
    items = defaultdict(list)
    for row in rows.order_by():
        items[row.household].append(
            planning.Item(
                row.patient_id,
                row.source,
                row.key,
                row.label,
                row.due_on,
                series=row.nature == "series",
                never=row.never,
            )
        )
    taken = taken_steps(each.patient for of in items.values() for each in of)
    asked = {
        owner: found
        for owner, of in items.items()
        if (found := planning.asked_today(of, steps, taken=taken, today=today))
    }
    busy = written_to(asked, today=today)
    owners = Owner.objects.in_bulk(set(asked) - busy)
    silent = suppressed(each.email for each in owners.values())
    return [
        Household(owners[key], tuple(asked[key]))
        for key in sorted(owners)
        if fingerprint(owners[key].email) not in silent
    ]


def taken_steps(patient_ids: Iterable[int]) -> dict[tuple[int, str, str, date], set[int]]:
    taken: dict[tuple[int, str, str, date], set[int]] = defaultdict(set)
    rows = ReminderItem.objects.filter(patient__in=set(patient_ids)).order_by()
    for patient, source, key, due_on, step in rows.values_list("patient", "source", "key", "due_on", "step"):
        taken[patient, source, key, due_on].add(step)
    return taken


def written_to(owner_ids: Iterable[int], *, today: date) -> set[int]:
    """Who has a message of today, or one of an earlier day that has not left yet."""
    return set(
        HouseholdReminder.objects.filter(
            Q(day=today) | Q(message__state__in=[Message.State.WAITING, Message.State.SENDING]),
            owner__in=set(owner_ids),
        ).values_list("owner", flat=True)
    )


def suppressed(addresses: Iterable[str]) -> set[str]:
    """Fingerprints of those that are."""
    prints = {fingerprint(each) for each in addresses}
    return set(
        Suppressed.objects.filter(address_sha256__in=prints, lifted_at=None).values_list(
            "address_sha256", flat=True
        )
    )


# --- Queueing -----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Batch:
    """`last`: the key of its last owner, None when nobody was left."""

    asked: int
    last: int | None


def hold_owners(owner_ids: Sequence[int]) -> list[int]:
    """Held until the transaction ends, in the order of their keys."""
    rows = Owner.objects.select_for_update(no_key=True).filter(pk__in=owner_ids).order_by("pk")
    return list(rows.values_list("pk", flat=True))


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


# --- The words ----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Said:
    """One thing as it is written about."""

    patient: str
    label: str
    due_on: date
    never: bool = False


def said_of(household: Household, names: Mapping[int, str]) -> list[Said]:
    """What a household is asked about; `names` of its animals by their keys."""
    return [
        Said(names[each.item.patient], each.item.label, each.item.due_on, each.item.never)
        for each in household.asked
    ]


def fields(
    owner: Owner,
    things: Sequence[Said],
    *,
    key: uuid.UUID,
    clinic: ClinicDetails,
    words: PlanWords,
    today: date,
    answer_link: str | None = None,
) -> dict[str, Any]:
    """Subject, texts, headers and purpose of the message, as columns.

    `answer_link`: made when it leaves; None before that, where the text shows that one comes.
    """
    link = stop_link(owner.pk, key)
    if answer_link is None:
        answer_link = f"{settings.PUBLIC_URL}/l/{LINK_TO_COME}" if settings.PUBLIC_URL else ""
    written = written_to_owner(
        owner,
        things,
        clinic=clinic,
        words=words,
        ways=composing.Ways(
            clinic.email, link, answer_link, calendar=any(each.due_on >= today for each in things)
        ),
        today=today,
    )
    marketing = composing.is_marketing(clinic.country)
    return {
        "purpose": Message.Purpose.MARKETING if marketing else Message.Purpose.SERVICE,
        "subject": written.subject,
        "body": written.body,
        "html": written.html,
        "headers": list_headers(clinic.email, link),
    }


def written_to_owner(
    owner: Owner,
    things: Sequence[Said],
    *,
    clinic: ClinicDetails,
    words: PlanWords,
    ways: composing.Ways,
    today: date,
) -> composing.Written:
    """In the owner's language, each thing with the words of its own plan."""
    place = town(clinic)
    about = []
    for each in things:
        before, after = words.of(each.label, owner.language)
        label = thing_in(each.label, owner.language)
        about.append(composing.About(each.patient, label, each.due_on, before, after, each.never))
    return composing.write(
        to=owner.name,
        about=about,
        sender=composing.Sender(clinic.name, f"{clinic.street}, {place}", clinic.phone, clinic.country),
        ways=ways,
        language=owner.language,
        today=today,
    )


def thing_in(label: str, language: str) -> str:
    """A call-back's label in an owner's language, where its room knows it; else as staff read it."""
    if language == FIRST:
        return label
    return next((found for each in thing_words if (found := each.say(label, language))), label)


def answer_link(message: Message, *, now: datetime) -> str:
    """The secret address where this owner answers this message, the same at every attempt; in the sender's
    transaction. Empty without PUBLIC_URL, and where staff revoked it."""
    if not settings.PUBLIC_URL or message.owner is None:
        return ""
    links = list(message.links.all())
    if standing := next((each for each in links if each.stands(now) and address_of(each)), None):
        return address_of(standing)
    if any(each.revoked_at for each in links):
        return ""
    return address_of(make_link(owner=message.owner, message=message, now=now))


def calendar_of(things: Sequence[ReminderItem], *, today: date, now: datetime) -> str:
    """What is still to come as a calendar file (RFC 5545); empty where nothing is. One query.

    A thing keeps its UID from message to message; SEQUENCE counts the days it was said to be due on before,
    so that a day that moved is moved in the owner's calendar, too.
    """
    coming = [each for each in things if each.due_on >= today]
    if not coming:
        return ""
    earlier: dict[tuple[int, str, str], set[date]] = defaultdict(set)
    told = ReminderItem.objects.filter(
        patient__in={each.patient_id for each in coming}, skipped=False, reminder__message__sent_at__lt=now
    )
    for patient, source, key, due_on in told.values_list("patient", "source", "key", "due_on"):
        earlier[patient, source, key].add(due_on)
    place, language = where(), coming[0].reminder.owner.language
    said = texts(language).reminder
    entries = [
        Entry(
            uid=uuid.uuid5(CALENDAR_SPACE, f"{each.patient_id}:{each.source}:{each.key}"),
            sequence=len(earlier[each.patient_id, each.source, each.key] - {each.due_on}),
            on=each.due_on,
            start=None,
            minutes=0,
            week=False,
            summary=said["entry"].format(animal=each.patient.name, thing=thing_in(each.label, language)),
            place=place,
            changed_at=now,
        )
        for each in coming
    ]
    return calendar_file(entries, domain=mail_domain()).decode()


def stop_link(owner_id: int, key: uuid.UUID) -> str:
    """An address that only this house can make; empty without PUBLIC_URL."""
    if not settings.PUBLIC_URL:
        return ""
    token = signing.dumps({"owner": owner_id, "message": str(key)}, salt=SALT)
    return f"{settings.PUBLIC_URL}{reverse('owner-stop', args=[token], urlconf='clinic.owner_page.urls')}"


def list_headers(stop_mail: str, link: str) -> dict[str, str]:
    """RFC 2369 (List-Unsubscribe); RFC 8058 (one click), which wants an https address."""
    ways = [f"<{link}>"] if link.startswith("https://") else []
    ways.append(f"<mailto:{stop_mail}?subject=stop>")
    found = {"List-Unsubscribe": ", ".join(ways)}
    if len(ways) > 1:
        found["List-Unsubscribe-Post"] = "List-Unsubscribe=One-Click"
    return found


# --- What is still true -------------------------------------------------------------------------------------


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
    return {
        item.pk: "asking about this is paused"
        for item in items
        if (plan := planning.plan_of(item.label, plans)) and plan.paused
    }


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
