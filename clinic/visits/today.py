"""Today as plain values: who must be seen, who waits, where each animal is, what is still owed."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.utils import timezone

from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.platform.registries import Flag, today_flags
from clinic.promises.pages import PromiseRow, promise_rows
from clinic.promises.queries import open_promises
from clinic.visits import day
from clinic.visits.actions.arrivals import HERE
from clinic.visits.drawings import minutes_in_words
from clinic.visits.models import Visit
from clinic.visits.today_here import Group, Here, Urgent, gone_words, groups, here_row, urgent_row
from clinic.visits.today_later import (
    Coming,
    Owed,
    coming_rows,
    coming_words,
    letterless_row,
    missed_row,
    result_row,
    unsigned_row,
)
from clinic.visits.today_sight import Sight, minutes_since, number_of, untaken

P = Visit.Place


@dataclass(frozen=True)
class TodayPage:
    heading: str
    summary: tuple[str, ...]
    urgent: tuple[Urgent, ...]
    waiting: tuple[Group, ...]
    busy: tuple[Group, ...]
    gone: tuple[Here, ...]
    gone_words: str
    letterless: tuple[Owed, ...]
    unsigned: tuple[Owed, ...]
    promises: tuple[PromiseRow, ...]
    results: tuple[Owed, ...]
    coming: tuple[Coming, ...]
    coming_words: str
    missed: tuple[Owed, ...]
    fingerprint: str
    may_move: bool


def today_page(*, actor: Actor, now: datetime, today: date) -> TodayPage:
    """Everything on Today. The number of queries does not depend on the number of rows."""
    seen = day.fingerprint(now)
    staged = day.visits_in_view(today)
    visits = [each.visit for each in staged]
    missed = day.missed(today)
    letterless = day.gone_without_letter(today)
    unsigned = day.unsigned_of_earlier_days(today)
    plans = day.plans_for_today(today)
    here = [visit for visit in visits if visit.place in HERE]
    gone = [visit for visit in visits if visit.place in day.PLACES_LEFT]
    expected = [visit for visit in visits if visit.place == P.EXPECTED]
    sight = Sight(
        actor=actor,
        now=now,
        today=today,
        owners=day.first_owners(
            [visit.patient_id for visit in visits + missed]
            + [left.visit.patient_id for left in letterless]
            + [plan.patient_id for plan in plans]
        ),
        stages={each.visit.pk: each.stage for each in staged},
        flags=_flags(visits, today),
        messages=day.newest_messages(visit.record.pk for visit in here + gone),
        handed=day.handed_records(visit.record.pk for visit in gone),
    )
    urgent = [visit for visit in here if visit.see_now_at]
    waiting = [visit for visit in here if visit.place == P.ARRIVED and not untaken(visit)]
    busy = [visit for visit in here if visit.place != P.ARRIVED and not untaken(visit)]
    coming = coming_rows(expected, plans, sight)
    return TodayPage(
        heading=f"{today:%A} {today.day} {today:%B}, {timezone.localtime(now):%H:%M}",
        summary=_summary(urgent, waiting, letterless, unsigned, sight),
        urgent=tuple(urgent_row(visit, sight) for visit in sorted(urgent, key=_urgency)),
        waiting=groups(waiting, sight),
        busy=groups(busy, sight),
        gone=tuple(here_row(visit, sight) for visit in gone),
        gone_words=gone_words(gone),
        letterless=tuple(letterless_row(left, sight) for left in letterless),
        unsigned=tuple(unsigned_row(record, sight) for record in unsigned),
        promises=promise_rows(open_promises(by=today), actor=actor, today=today),
        results=tuple(result_row(result, sight) for result in day.unread_results()),
        coming=coming,
        coming_words=coming_words(coming),
        missed=tuple(missed_row(visit, sight) for visit in missed),
        fingerprint=seen,
        may_move=actor.may(Right.MOVE_VISIT),
    )


def _flags(visits: list[Visit], today: date) -> dict[int, list[Flag]]:
    flags: dict[int, list[Flag]] = defaultdict(list)
    for entry in today_flags:
        for visit_id, found in entry.flags(visits, today=today).items():
            flags[visit_id] += found
    return flags


def _urgency(visit: Visit) -> tuple[bool, datetime]:
    assert visit.see_now_at
    return (visit.see_now_taken_at is not None, visit.see_now_at)


def _summary(
    urgent: list[Visit],
    waiting: list[Visit],
    letterless: Sequence[object],
    unsigned: Sequence[object],
    sight: Sight,
) -> tuple[str, ...]:
    """First what must be seen now; then the rest in a sentence each."""
    said = []
    alone = [visit for visit in urgent if untaken(visit)]
    if alone:
        names = ", ".join(visit.patient.name for visit in alone)
        said.append(f"To be seen now: {names}. Nobody has {'it' if len(alone) == 1 else 'them'} yet.")
    elif urgent:
        said.append("; ".join(f"{v.see_now_taken_by} has {v.patient.name}" for v in urgent) + ".")
    else:
        said.append("Nobody must be seen now.")
    if waiting:
        longest = minutes_in_words(max(minutes_since(waiting[0].place_since, sight.now), 0))
        many = len({visit.arrival_id for visit in waiting})
        said.append(f"{number_of(many, 'household')} {'waits' if many == 1 else 'wait'}, longest {longest}.")
    if letterless:
        said.append(f"{number_of(len(letterless), 'animal')} went home without a letter.")
    if unsigned:
        said.append(f"{number_of(len(unsigned), 'record')} of earlier days not signed.")
    return tuple(said)
