"""Which households are asked about what on a day, and who is written to already, or not at all."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db.models import Q

from clinic.callbacks import planning, queries
from clinic.callbacks.households import Household
from clinic.callbacks.models import CallBack
from clinic.callbacks.reasons import Reach
from clinic.callbacks.reminder_models import (
    AskingPlan,
    HouseholdReminder,
    ReminderItem,
    ReminderSettings,
    Suppressed,
    fingerprint,
)
from clinic.mail.models import Message
from clinic.people.models import Owner

# asked about by the shorter steps: a message a month before it would come with the visit itself
SOON = frozenset({CallBack.Nature.SERIES, CallBack.Nature.AGREED})


def reminder_settings() -> ReminderSettings:
    """The one row; before anybody changed anything, what a new house begins with: rehearsal."""
    return ReminderSettings.objects.select_related("paused_by").filter(pk=1).first() or ReminderSettings(pk=1)


def zone() -> ZoneInfo:
    return ZoneInfo(settings.TIME_ZONE)


def plans_in_force() -> list[AskingPlan]:
    """Those that are paused too: what is of their kind is asked about by no other."""
    return list(AskingPlan.objects.filter(approved_at__isnull=False, ended_at=None))


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
                soon=row.nature in SOON,
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


def hold_owners(owner_ids: Sequence[int]) -> list[int]:
    """Held until the transaction ends, in the order of their keys."""
    rows = Owner.objects.select_for_update(no_key=True).filter(pk__in=owner_ids).order_by("pk")
    return list(rows.values_list("pk", flat=True))
