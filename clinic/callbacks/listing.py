"""One page of the due list: its households in their order, found by whichever way is the shortest.

By the kept sums (`totals.py`), where they stand: a household's sum knows since when it is due, and so do the
call-backs of those that a change touched since then. Neither is later than what a filter leaves of them. So
nothing that is wanted stands before the place up to which both were read, and the rules of `queries.py` are
asked of those alone that may stand on the page. Without sums, and behind the first page of a filter, along
the call-backs' days. Every way gives the same pages.
"""

from datetime import date, timedelta
from typing import Any

from django.db.models import Exists, F, Min, OuterRef, Q, QuerySet

from clinic.callbacks import queries
from clinic.callbacks.manager_models import HouseholdDue
from clinic.callbacks.models import CallBack
from clinic.callbacks.narrowing import few_households, of_animal
from clinic.callbacks.queries import After, Wanted
from clinic.callbacks.totals import touched_households

ASKED = 40  # households of which the rules are asked at first, for a page of 25


def page(wanted: Wanted, *, after: After | None = None, today: date) -> tuple[list[int], After | None]:
    """Owners of one page, the longest overdue first, and where the next page goes on."""
    rows = queries.shown(queries.overdue(wanted, today=today), wanted.why)
    of_sums = wanted == Wanted(why=wanted.why, reach=wanted.reach)
    among = None if of_sums else few_households(wanted, today=today)
    if among is not None:
        return _among(rows, wanted, among, after=after, today=today)
    # when a thing of one name is due, a household's first day says little of; its call-backs have an index
    if of_sums or (after is None and not wanted.what):
        touched = touched_households(today=today)
        if touched is not None:
            return _by_sums(rows, wanted, touched, after=after, today=today, known=of_sums)
    until, animals = today - timedelta(days=1), of_animal(wanted)
    return queries.households(rows, until=until, what=wanted.what, after=after, animals=animals)


def _among(
    rows: QuerySet[Any], wanted: Wanted, among: list[int], *, after: After | None, today: date
) -> tuple[list[int], After | None]:
    left = _since(wanted, among, today=today) if among else []
    found: list[After] = []
    size = ASKED
    while left:
        near, left = left[:size], left[size:]
        found += queries.behind(_asked(rows, near), after)
        if sum(_place(each) <= _place(near[-1]) for each in found) > queries.PAGE:
            break
        size *= 2
    return queries.cut(sorted(found, key=_place))


def _asked(rows: QuerySet[Any], near: list[After]) -> list[After]:
    """Those of them that the rules leave, each with its true place."""
    ids = [each.owner_id for each in near]
    return queries.since_when(rows.filter(household__in=ids)) if ids else []


def _by_sums(
    rows: QuerySet[Any], wanted: Wanted, touched: list[int], *, after: After | None, today: date, known: bool
) -> tuple[list[int], After | None]:
    """`known`: the sums say all that is wanted; the rules are asked of the touched households alone then."""
    sums = _sums(wanted, touched, today=today)
    anew = _since(wanted, touched, today=today) if touched else []
    found: list[After] = []
    start, size = after if known else None, queries.PAGE + 1 if known else ASKED
    while True:
        kept = [After(*each) for each in _behind(sums, start).values_list("since", "owner_id")[:size]]
        end = kept[-1] if len(kept) == size else None
        near = [each for each in anew if end is None or _place(each) <= _place(end)]
        anew = anew[len(near) :]
        new = kept + _asked(rows, near) if known else _asked(rows, kept + near)
        found = sorted(found + queries.behind(new, after), key=_place)
        if end is None or sum(_place(each) <= _place(end) for each in found) > queries.PAGE:
            return queries.cut(found)
        start, size = end, size * 2


def _place(each: After) -> tuple[date, int]:
    return each.since, each.owner_id


def _behind(sums: QuerySet[HouseholdDue], start: After | None) -> QuerySet[HouseholdDue]:
    if start is None:
        return sums
    # the first condition alone is what an index can be entered by
    return sums.filter(since__gte=start.since).filter(
        Q(since__gt=start.since) | Q(since=start.since, owner__gt=start.owner_id)
    )


def _sums(wanted: Wanted, touched: list[int], *, today: date) -> QuerySet[HouseholdDue]:
    """One of each household that may be wanted, but for those touched, in the order of the list."""
    left_out = HouseholdDue.objects.exclude(why="")
    if wanted.why == "any":
        of_theirs = left_out.filter(owner=OuterRef("owner"))
        before = Q(since__lt=OuterRef("since")) | Q(since=OuterRef("since"), pk__lt=OuterRef("pk"))
        sums = left_out.filter(~Exists(of_theirs.filter(before)))
    else:
        sums = HouseholdDue.objects.filter(why=wanted.why or "")
    if wanted.reach:
        sums = sums.filter(reach=wanted.reach)
    if touched:
        sums = sums.exclude(owner__in=touched)
    if wanted != Wanted(why=wanted.why, reach=wanted.reach):
        sums = sums.filter(Exists(_things(wanted, today=today, owner=OuterRef("owner"))))
    return sums.order_by("since", "owner_id")


def _things(wanted: Wanted, *, today: date, **owner: Any) -> QuerySet[CallBack]:
    """What may be wanted, as far as things and animals tell; `owner`: whose, as a condition."""
    held = {f"patient__ownerships__{name}": value for name, value in owner.items()}
    return CallBack.objects.filter(
        queries.named(wanted.what),
        of_animal(wanted),
        due_on__lte=today - timedelta(days=max(wanted.over, 1)),
        patient__ownerships__until=None,
        patient__ownerships__is_first=True,
        **held,
    )


def _since(wanted: Wanted, touched: list[int], *, today: date) -> list[After]:
    """Since when each may be on the list at the earliest, in its order."""
    things = _things(wanted, today=today, owner__in=touched)
    found = things.order_by().values(of=F("patient__ownerships__owner")).annotate(first=Min("listed_on"))
    return sorted((After(each["first"], each["of"]) for each in found), key=_place)
