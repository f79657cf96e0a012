"""The manager's morning as plain values."""

from dataclasses import dataclass
from datetime import date, datetime

from django.urls import reverse
from django.utils import timezone

from clinic.callbacks import queries as due
from clinic.callbacks.asked_today import reminder_settings
from clinic.callbacks.reasons import counted, listed
from clinic.callbacks.reminder_models import ReminderSettings
from clinic.callbacks.reminder_pages import Leaving, leaving
from clinic.morning.compared import Compared, compared
from clinic.morning.queries import tally_before
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.platform.registries import MorningRow, morning_parts

LEAVING = 8


@dataclass(frozen=True)
class Block:
    name: str
    title: str
    beside: str
    rows: tuple[MorningRow, ...]


@dataclass(frozen=True)
class Morning:
    heading: str
    sentences: tuple[str, ...]
    overdue: tuple[Compared, ...]
    total: Compared
    then: str
    leaving: tuple[Leaving, ...]
    leaving_more: int
    leaves_words: str
    settings: ReminderSettings
    blocks: tuple[Block, ...]
    may_pause: bool


def morning(*, actor: Actor, now: datetime) -> Morning:
    """Everything of the page. The number of queries does not depend on the number of rows."""
    today = timezone.localdate(now)
    before = tally_before(today)
    rows, total = compared(due.by_name(today=today), before[1] if before else None)
    chosen = reminder_settings()
    waiting = [row for row in leaving(today=today) if row.stoppable]
    blocks = tuple(_block(part, actor, today) for part in morning_parts)
    shown = tuple(each for each in blocks if each.rows)
    then = _day(before[0], today) if before else ""
    return Morning(
        heading=f"{today:%A} {today.day} {today:%B}, {timezone.localtime(now):%H:%M}",
        sentences=_sentences(total, then, shown, len(waiting), chosen),
        overdue=tuple(rows),
        total=total,
        then=then,
        leaving=tuple(waiting[:LEAVING]),
        leaving_more=max(len(waiting) - LEAVING, 0),
        leaves_words=counted(len(waiting), "message", "messages"),
        settings=chosen,
        blocks=shown,
        may_pause=actor.may(Right.MANAGE_CLINIC),
    )


def _block(part: object, actor: Actor, today: date) -> Block:
    rows = tuple(part.rows(actor=actor, today=today))  # type: ignore[attr-defined]
    return Block(part.name, part.title, part.beside, rows)  # type: ignore[attr-defined]


def _sentences(
    total: Compared, then: str, blocks: tuple[Block, ...], waiting: int, settings: ReminderSettings
) -> tuple[str, ...]:
    """First what is overdue against then; what stands open; what leaves."""
    things = counted(total.now, "thing is", "things are")
    said = [f"{things} overdue, {total.words} as on {then}." if total.now == total.then and then else ""]
    if total.then is not None and total.now != total.then:
        said = [f"{things} overdue, {total.words} than on {then}."]
    elif total.then is None:
        said = [f"{things} overdue; what was overdue a month ago nobody counted."]
    if open_things := [f"{each.title.lower()} {len(each.rows)}" for each in blocks]:
        said.append(f"To look at: {listed(open_things)}.")
    if settings.paused or settings.rehearsal:
        said.append("Nothing leaves today." if settings.paused else "Rehearsal: nothing leaves.")
    elif waiting:
        said.append(f"{counted(waiting, 'message leaves', 'messages leave')} unless you stop them.")
    else:
        said.append("No message waits to leave.")
    return tuple(filter(None, said))


def _day(day: date, today: date) -> str:
    return f"{day.day} {day:%B}" + (f" {day.year}" if day.year != today.year else "")


def due_url() -> str:
    return reverse("due-list")
