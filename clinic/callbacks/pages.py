"""The due list and one household's page as plain values."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import F, OuterRef, Subquery
from django.urls import reverse
from django.utils import timezone

from clinic.callbacks import listing, planning, queries
from clinic.callbacks.asked_today import written_to
from clinic.callbacks.by_hand import asked_by_hand, steps_in_force
from clinic.callbacks.models import Asking, ReminderStop
from clinic.callbacks.reasons import (
    LEFT_OUT_MARKS,
    LEFT_OUT_WORDS,
    REACH_MARKS,
    REACH_WORDS,
    LeftOut,
    Reach,
    left_out_words,
    over_run,
    over_words,
    sentence,
)
from clinic.callbacks.totals import totals
from clinic.patients.ages import completed_months, in_words
from clinic.patients.facts import died_words
from clinic.patients.models import Patient
from clinic.people.models import Owner, Phone


@dataclass(frozen=True)
class Mark:
    shape: str
    tone: str
    words: str


@dataclass(frozen=True)
class Line:
    """One thing of one animal. `left_out` says why nobody asks; None where somebody may."""

    id: int
    patient: str
    patient_url: str
    facts: str
    label: str
    due: str
    over: str
    run: int
    is_over: bool
    never: bool
    asked: str
    left_out: Mark | None
    stopped: bool


@dataclass(frozen=True)
class Group:
    """Things of one animal of which the same is to be said; the longest overdue one speaks for them."""

    first: Line
    count: int
    labels: str
    due: str


@dataclass(frozen=True)
class Number:
    """A telephone: as given, what to dial, and whether somebody else answered there."""

    number: str
    digits: str
    wrong: bool


@dataclass(frozen=True)
class Household:
    id: int
    name: str
    url: str
    reach: Mark
    email: str
    phones: tuple["Number", ...]
    address: str
    lines: tuple[Line, ...]
    groups: tuple[Group, ...]
    ask: bool
    mailable: bool
    written: bool


BEFORE_FOLD = 10  # households: as many as the list to telephone from shows


@dataclass(frozen=True)
class DueList:
    sentence: str
    left_out: tuple[str, str]
    households: tuple[Household, ...]
    next: str
    more_than_first: bool

    @property
    def mailable(self) -> int:
        """How many of them can be written to."""
        return sum(house.mailable for house in self.households)

    @property
    def at_once(self) -> tuple[Household, ...]:
        """Those that a telephone shows before the fold."""
        return self.households[:BEFORE_FOLD]

    @property
    def folded(self) -> tuple[Household, ...]:
        return self.households[BEFORE_FOLD:]


def due_list(wanted: queries.Wanted, *, after: queries.After | None, today: date) -> DueList:
    """A page of households; as many queries for twenty as for two thousand."""
    ids, more = listing.page(wanted, after=after, today=today)
    found = totals(wanted, today=today)
    return DueList(
        sentence=sentence(things=found.things, patients=found.patients, reach=found.reach),
        left_out=left_out_words(found.left_out),
        # one call speaks of all that a household has to come for, also of what the filter left out
        households=_households(ids, until=today - timedelta(days=1), today=today),
        next=f"{more.since.isoformat()}.{more.owner_id}" if more else "",
        more_than_first=after is not None,
    )


CALLS = 60  # households on a list to telephone from: more is no morning's work


def call_list(wanted: queries.Wanted, *, today: date) -> tuple[tuple[Household, ...], bool]:
    """The list's first households to telephone, and whether more follow. The same rows, the same order."""
    found: list[int] = []
    after: queries.After | None = None
    until = today - timedelta(days=1)
    while len(found) < CALLS:
        ids, after = listing.page(wanted, after=after, today=today)
        found += ids
        if after is None:
            break
    more = after is not None or len(found) > CALLS
    houses = _households(found[:CALLS], until=until, today=today)
    return houses, more


def calls_of_plans(*, today: date) -> tuple[tuple[Household, ...], bool]:
    """Whom a plan asks by telephone now, the longest due first, with all they may be asked about."""
    rows = asked_by_hand(planning.CALL, steps_in_force(), today=today)
    ids = list(dict.fromkeys(row.household for row in rows))
    until = max((row.due_on for row in rows), default=today)
    return _households(ids[:CALLS], until=max(until, today), today=today), len(ids) > CALLS


def how_many_calls(*, plans: Sequence[planning.Steps], today: date) -> int:
    """Households, at most a list full of them. Three queries, none where no plan asks by telephone."""
    rows = asked_by_hand(planning.CALL, plans, today=today, at_most=2 * CALLS)
    return min(len({row.household for row in rows}), CALLS)


def file_rows(wanted: queries.Wanted, *, today: date) -> Iterator[tuple[object, ...]]:
    """A row a thing, in the order of the due dates; the telephone is the first one. One query."""
    first = Phone.objects.filter(owner=OuterRef("household")).order_by("rank", "pk").values("number")[:1]
    rows = (
        queries.shown(queries.overdue(wanted, today=today), wanted.why)
        .annotate(
            phone=Subquery(first),
            given=F("holding__owner__given_name"),
            family=F("holding__owner__family_name"),
            email=F("holding__owner__email"),
        )
        .select_related("patient")
        .order_by("listed_on", "pk")
    )
    for row in rows.iterator(chunk_size=1000):
        yield (
            f"{row.given} {row.family}".strip(),
            row.patient.name,
            row.label,
            "never recorded" if row.never else row.due_on.isoformat(),
            REACH_WORDS[Reach(row.reach)],
            row.email,
            row.phone or "",
            LEFT_OUT_WORDS[LeftOut(row.why)] if row.why else "",
            Asking.Outcome(row.outcome).label if row.outcome else "",
        )


def household(owner: Owner, *, today: date) -> Household:
    """With what comes due in the next days, so that one call is enough."""
    (found,) = _households([owner.pk], until=today + queries.SOON, today=today)
    order = list(dict.fromkeys(line.patient_url for line in found.lines))
    return replace(found, lines=tuple(sorted(found.lines, key=lambda each: order.index(each.patient_url))))


def _households(ids: list[int], *, until: date, today: date) -> tuple[Household, ...]:
    rows = queries.in_detail(queries.call_backs(today=today, until=until), owner_ids=ids, today=today)
    owners = queries.owners(ids)
    of: dict[int, list[Line]] = {each: [] for each in ids}
    for row in rows:
        of[row.household].append(_line(row, today))
    busy = written_to(ids, today=today)
    return tuple(_household(owners[each], tuple(of[each]), written=each in busy) for each in ids)


def _household(owner: Owner, lines: tuple[Line, ...], *, written: bool) -> Household:
    reach = Reach(owner.reach)  # type: ignore[attr-defined]
    shape, tone = REACH_MARKS[reach]
    untried = reach is Reach.MAIL and owner.email_state == Owner.EmailState.UNTRIED
    return Household(
        id=owner.pk,
        name=owner.name,
        url=reverse("due-household", args=[owner.pk]),
        reach=Mark(shape, tone, REACH_WORDS[reach] + (", not tried yet" if untried else "")),
        email=owner.email,
        phones=tuple(
            Number(each.number, each.digits, each.is_wrong)  # type: ignore[attr-defined]
            for each in owner.phones.all()
        ),
        address=", ".join(part for part in (owner.street, owner.city) if part),
        lines=lines,
        groups=_by_animal(grouped(lines)),
        ask=any(line.left_out is None for line in lines),
        mailable=reach is Reach.MAIL and not written and any(line.left_out is None for line in lines),
        written=written,
    )


def _by_animal(groups: tuple[Group, ...]) -> tuple[Group, ...]:
    """What is said of one animal together; the animals in the order in which they first stand."""
    order = list(dict.fromkeys(each.first.patient_url for each in groups))
    return tuple(sorted(groups, key=lambda each: order.index(each.first.patient_url)))


def grouped(lines: Iterable[Line]) -> tuple[Group, ...]:
    """By animal, and by what was asked and why nobody asks; in the order of their first lines."""
    found: dict[tuple[object, ...], list[Line]] = {}
    for line in lines:
        found.setdefault((line.patient_url, line.never, line.asked, line.left_out), []).append(line)
    return tuple(
        Group(
            first=of[0],
            count=len(of),
            labels="; ".join(line.label for line in of),
            due=_due_words(of),
        )
        for of in found.values()
    )


def _due_words(of: list[Line]) -> str:
    """due 3 May; due 3 May to 12 June; by age alone, where nothing of it is recorded."""
    days = [line.due for line in of if not line.never]
    if not days:
        return "due by its age; no record of it here"
    return f"due {days[0]}" if days[0] == days[-1] else f"due {days[0]} to {days[-1]}"


def _line(row: Any, today: date) -> Line:
    why = LeftOut(row.why) if row.why else None
    return Line(
        id=row.pk,
        patient=row.patient.name,
        patient_url=reverse("patient", args=[row.patient_id]),
        facts=_facts(row.patient, today),
        label=row.label,
        due=_day(row.due_on, today),
        over=over_words(row.due_on, today, never=row.never),
        run=over_run(row.due_on, today, never=row.never),
        is_over=row.due_on < today,
        never=row.never,
        asked=_asked(row, today),
        left_out=Mark(*LEFT_OUT_MARKS[why], _why(row, why, today)) if why else None,
        stopped=why in (LeftOut.STOPPED, LeftOut.STOPPED_ITEM),
    )


def _why(row: Any, why: LeftOut, today: date) -> str:
    if why is LeftOut.DIED:
        return died_words(row.patient)
    words = LEFT_OUT_WORDS[why]
    if why is LeftOut.MOVED:
        return f"{words}, {_day(row.patient.left_practice_on, today)}"
    if why in (LeftOut.STOPPED, LeftOut.STOPPED_ITEM):
        return f"{words}, {_day(_local(row.stopped_at), today)}"
    if why is LeftOut.BOOKED and row.booked_at:
        at = timezone.localtime(row.booked_at)
        clock = f", {at:%H:%M}" if (at.hour, at.minute) != (0, 0) else ""
        return f"{words}, {_day(at.date(), today)}{clock}"
    if why is LeftOut.BOOKED:
        return f"{words}, {_day(row.planned_on, today)}"
    if why is LeftOut.LATELY:
        return f"{words}; again on {_day(row.again_on, today)}"
    return words


def _asked(row: Any, today: date) -> str:
    if row.asked_at is None:
        return "not yet"
    last = f"{Asking.How(row.asked_how).label}, {_day(_local(row.asked_at), today)}"
    if not row.asked_times:
        return f"not reached, {_day(_local(row.asked_at), today)}"
    times = {1: "once", 2: "twice"}.get(row.asked_times, f"{row.asked_times} times")
    return f"{times}, last {last}"


def _facts(patient: Patient, today: date) -> str:
    species = patient.get_species_display()
    if not patient.birth_date or patient.birth_date > today:
        return species
    months = completed_months(patient.birth_date, today)
    age = in_words(patient.birth_date, today) if months < 24 else f"{months // 12} years"
    return f"{species}, {age}"


def _local(at: datetime) -> date:
    return timezone.localdate(at)


def _day(day: date, today: date) -> str:
    """12 November; with its year when that is another."""
    return f"{day.day} {day:%B}" + (f" {day.year}" if day.year != today.year else "")


@dataclass(frozen=True)
class AskingRow:
    """`taken_back`: by whom and when it was noted as a mistake; empty where it stands."""

    id: int
    taken_back: str
    when: str
    what: str
    about: tuple[str, ...]
    words: str
    by: str


def asking_rows(askings: Iterable[Asking], *, today: date) -> tuple[AskingRow, ...]:
    return tuple(
        AskingRow(
            id=each.pk,
            taken_back=_taken_back(each, today),
            when=f"{_day(_local(each.at), today)}, {timezone.localtime(each.at):%H:%M}",
            what=f"{each.get_how_display()}: {each.get_outcome_display()}"
            f"{f' ({each.number})' if each.number else ''}; "
            f"again from {_day(each.again_on, today)}",
            about=tuple(f"{item.patient.name}: {item.label}" for item in each.items.all()),
            words=each.words,
            by=each.by.full_name if each.by else "the plan of asking",
        )
        for each in askings
    )


def _taken_back(asking: Asking, today: date) -> str:
    word = getattr(asking, "taken_back", None)
    if word is None:
        return ""
    said = f"taken back by {word.by.full_name}" if word.by else "its mail came back: it counts for nothing"
    return f"{said}, {_day(_local(word.at), today)}"


@dataclass(frozen=True)
class StopRow:
    id: int
    what: str
    noted: str


def stop_rows(stops: Iterable[ReminderStop], *, today: date) -> tuple[StopRow, ...]:
    return tuple(
        StopRow(
            id=each.pk,
            what=f"{each.patient.name}: {each.label}" if each.patient else "No reminders at all",
            noted=f"{_by(each)}, {_day(_local(each.at), today)}",
        )
        for each in stops
    )


def _by(stop: ReminderStop) -> str:
    return f"noted by {stop.by.full_name}" if stop.by else "said by themselves, through the link in a mail"
