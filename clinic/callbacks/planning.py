"""Which step of a plan of asking is due today, and when a message may leave. Pure: no clock, no database.

The usual days are common practice: 30 and 7 before, on the day, 30 and 90 after; stop after three; a dose of
a series 7 days and 1 day before. One message for a household and day, and one thing is never asked about
twice for the same due date and step (common practice).
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

STEPS_AT_MOST = 3  # common practice
FURTHEST = 365  # days from the due date; ours
LATE_AT_MOST = 14  # days; a step that was missed for longer is not caught up with (ours)
AFTER_THE_LAST = timedelta(days=30)  # then somebody may ask by telephone (ours)
MAIL, LETTER, CALL = "mail", "letter", "call"
WAYS = {MAIL: "by e-mail", LETTER: "by a letter on paper", CALL: "by telephone"}
USUAL_DAYS = (-30, 0, 30)
SERIES_DAYS = (-7, -1)


@dataclass(frozen=True)
class Steps:
    """When a plan asks, in days from the due date, negative before it. `what`: a label, empty for all.
    `way`: of `WAYS`; a letter or a call is done by a person, who finds it on a list."""

    what: str
    days: tuple[int, ...]
    series_days: tuple[int, ...]
    paused: bool = False
    way: str = MAIL

    def of(self, item: "Item") -> tuple[int, ...]:
        return self.series_days if item.soon else self.days


@dataclass(frozen=True)
class Item:
    """One thing a household may be asked about. `soon`: by the shorter steps, as a dose of a series or what
    was agreed on at a visit. `never`: due by age alone, nothing of it is recorded."""

    patient: int
    source: str
    key: str
    label: str
    due_on: date
    soon: bool = False
    never: bool = False

    @property
    def once(self) -> tuple[int, str, str, date]:
        """With the step: what can exist once."""
        return self.patient, self.source, self.key, self.due_on


@dataclass(frozen=True)
class Asked:
    """An item with the step it is asked at today; `skipped`: earlier steps nobody asked at."""

    item: Item
    step: int
    skipped: tuple[int, ...]
    next_on: date | None


def wrong_days(days: Sequence[int]) -> str:
    """What is wrong with them, as a sentence; empty where nothing is."""
    if not days:
        return "Give at least one day."
    if len(days) > STEPS_AT_MOST:
        return f"At most {STEPS_AT_MOST} steps: nobody is asked more often about the same thing."
    if len(set(days)) != len(days):
        return "The same day stands there twice."
    if any(abs(day) > FURTHEST for day in days):
        return f"A day lies at most {FURTHEST} days before or after the due date."
    return ""


def plan_for(item: Item, plans: Iterable[Steps]) -> Steps | None:
    """The plan of its own kind, else the one for all; none where that one is paused."""
    plan = plan_of(item.label, plans)
    return None if plan is None or plan.paused else plan


def plan_of(label: str, plans: Iterable[Steps]) -> Steps | None:
    """Of a label, whether it is paused or not."""
    found = {plan.what: plan for plan in plans}
    return found.get(label.split(": ")[0]) or found.get("")


def step_today(
    item: Item, days: Sequence[int], *, taken: frozenset[int] | set[int], today: date
) -> Asked | None:
    """The newest step whose day has come, unless it was taken or is too long ago.

    A machine that was off for days asks once, at the newest step; the older ones are skipped and named.
    """
    past = [day for day in sorted(days) if item.due_on + timedelta(days=day) <= today]
    if not past or past[-1] in taken or (today - item.due_on).days - past[-1] > LATE_AT_MOST:
        return None
    later = [day for day in sorted(days) if day > past[-1]]
    return Asked(
        item,
        past[-1],
        tuple(day for day in past[:-1] if day not in taken),
        item.due_on + timedelta(days=later[0]) if later else None,
    )


def asked_today(
    items: Iterable[Item],
    plans: Sequence[Steps],
    *,
    taken: Mapping[tuple[int, str, str, date], set[int]],
    today: date,
    way: str = MAIL,
) -> list[Asked]:
    """What one household is asked about today in this way, the longest due first; `taken`: steps by
    `Item.once`."""
    found = []
    for item in sorted(set(items), key=lambda each: (each.due_on, each.once)):
        if (plan := plan_for(item, plans)) and plan.way == way:
            asked = step_today(item, plan.of(item), taken=taken.get(item.once, set()), today=today)
            found += [asked] if asked else []
    return found


def window(plans: Iterable[Steps], *, today: date, way: str = MAIL) -> tuple[date, date] | None:
    """First and last due date that any step can fall on today; None without a plan that asks in this way."""
    days = [
        day
        for plan in plans
        if not plan.paused and plan.way == way
        for day in (*plan.days, *plan.series_days)
    ]
    if not days:
        return None
    return today - timedelta(days=max(days) + LATE_AT_MOST), today - timedelta(days=min(days))


def rest_until(asked: Iterable[Asked], *, today: date) -> date:
    """The day from which they may be asked again: the next step of any of the things, or a month later."""
    nexts = [each.next_on for each in asked if each.next_on and each.next_on > today]
    return min(nexts) if nexts else today + AFTER_THE_LAST


@dataclass(frozen=True)
class Hours:
    """When reminders leave, by the clinic's clock. `quiet_days`: 0 is Monday."""

    at: time
    quiet_from: time
    quiet_until: time
    quiet_days: frozenset[int]

    def quiet(self, when: datetime) -> bool:
        """`when`: the clinic's local time."""
        clock = when.timetz().replace(tzinfo=None)
        if self.quiet_from <= self.quiet_until:
            night = self.quiet_from <= clock < self.quiet_until
        else:
            night = clock >= self.quiet_from or clock < self.quiet_until
        return night or when.weekday() in self.quiet_days


def leaves_at(now: datetime, hours: Hours, zone: ZoneInfo) -> datetime | None:
    """When today's reminders leave: at the sending hour, now where it is past; None when today is quiet.

    An hour that the clock leaves out in spring is the hour after it; of one that comes twice in autumn, the
    first counts.
    """
    local = now.astimezone(zone)
    usual = datetime.combine(local.date(), hours.at, tzinfo=zone).astimezone(ZoneInfo("UTC")).astimezone(zone)
    when = usual if usual > local else local
    return None if hours.quiet(when) else when


def not_quiet(now: datetime, hours: Hours, zone: ZoneInfo) -> datetime:
    """The first moment from `now` on that is not quiet, to the minute; `now` itself where it is not."""
    local = now.astimezone(zone)
    if not hours.quiet(local):
        return now
    for days in range(8):
        day = local.date() + timedelta(days=days)
        for clock in (hours.quiet_until, time(0)):
            at = datetime.combine(day, clock, tzinfo=zone).astimezone(ZoneInfo("UTC")).astimezone(zone)
            if at > local and not hours.quiet(at):
                return at
    return local + timedelta(days=8)
