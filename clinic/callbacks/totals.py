"""The due list's totals for the whole house, without counting every row anew.

Each household's sum is kept (`HouseholdDue`), and all of them added up (`DueSum`). Whatever such a sum rests
upon writes down whom it touches in its own transaction, by triggers (`DueChange`); the totals are those added
up, less what was kept of the touched, and the rows of these, so they say what the rows say at any moment.
A worker folds what was written down into the sums.
They stand for one day: on another one, until they are made, all rows are counted.
"""

from datetime import date, datetime
from typing import Any

from django.db import connection, transaction
from django.db.models import Count, Max, Min, QuerySet
from django.utils import timezone

from clinic.callbacks import queries
from clinic.callbacks.manager_models import DueChange, DueTotals, HouseholdDue, OverdueTally
from clinic.callbacks.queries import Counts, Wanted
from clinic.patients.models import Ownership

MANY = 5000  # households counted anew beside the sums; more, and all rows are counted
NOTED = 5 * MANY  # changes read for them, so that the planner knows that they are few, whatever it last saw
SUMMED_ONE_BY_ONE = 20_000
MUCH = 300  # changes noted since the last fold: to reckon more beside the sums takes too long for a page
LOCK = 8_315_018  # two workers do not fold at once

_TOUCHED = """
WITH noted AS MATERIALIZED (SELECT owner_id, patient_id FROM clinic_duechange LIMIT %s),
touched AS MATERIALIZED (
    SELECT DISTINCT owner_id FROM (
        SELECT owner_id FROM noted
        UNION ALL
        SELECT (SELECT o.owner_id FROM clinic_ownership o
                WHERE o.patient_id = noted.patient_id AND o.until IS NULL AND o.is_first)
        FROM noted WHERE patient_id IS NOT NULL
    ) AS of WHERE owner_id IS NOT NULL
)
"""

_WHICH = """
SELECT (SELECT count(*) FROM noted), ARRAY(SELECT owner_id FROM touched)
    FROM clinic_duetotals WHERE day = %s
"""

_PARTS = """
SELECT why, reach, things, patients, households, NULL::bigint FROM clinic_duesum
UNION ALL SELECT why, reach, -sum(things), -sum(patients), -count(*), NULL FROM clinic_householddue
    WHERE owner_id = ANY(ARRAY(SELECT owner_id FROM touched)) GROUP BY why, reach
UNION ALL SELECT NULL, NULL, NULL, NULL, NULL, owner_id FROM touched
UNION ALL SELECT 'day', NULL, NULL, (SELECT count(*) FROM noted), NULL, NULL
    FROM clinic_duetotals WHERE day = %s
"""

_ADDED_UP = """
DELETE FROM clinic_duesum;
INSERT INTO clinic_duesum (why, reach, things, patients, households)
    SELECT why, reach, sum(things), sum(patients), count(*) FROM clinic_householddue GROUP BY why, reach
"""

_INTO = """
INSERT INTO clinic_householddue (owner_id, why, reach, things, patients, since)
SELECT household, why, way, n, animals, listed FROM
"""


def totals(wanted: Wanted, *, today: date) -> Counts:
    """What the list's sentence says, by the sums but for those touched. Two queries for the whole house; with
    a filter its rows are counted."""
    if wanted != Wanted(why=wanted.why):
        return queries.counts(queries.overdue(wanted, today=today))
    with connection.cursor() as cursor:
        # one statement, so that both parts are of one moment
        cursor.execute(f"{_TOUCHED}{_PARTS}", [NOTED, today])
        rows = cursor.fetchall()
    touched = [owner for *_, owner in rows if owner is not None]
    everything = queries.overdue(Wanted(), today=today)
    noted = next((row[3] for row in rows if row[0] == "day" and row[1] is None), None)
    if noted is None or noted == NOTED or len(touched) > MANY:
        return queries.counts(everything)
    kept = [row for row in rows if row[1] is not None]
    anew = queries.counts(everything.filter(household__in=touched)) if touched else None
    return _added(kept, anew)


def touched_households(*, today: date) -> list[int] | None:
    """Those of which the sums may not be true; None where no sums stand, or these are too many. One query."""
    with connection.cursor() as cursor:
        cursor.execute(f"{_TOUCHED}{_WHICH}", [NOTED, today])
        row = cursor.fetchone()
    if row is None or row[0] == NOTED or len(row[1]) > MANY:
        return None
    return sorted(row[1])


def _added(kept: list[tuple[str, str, int, int, int, None]], anew: Counts | None) -> Counts:
    reach = dict(anew.reach) if anew else {}
    left_out = dict(anew.left_out) if anew else {}
    things, patients = (anew.things, anew.patients) if anew else (0, 0)
    for why, way, n, animals, households, _ in kept:
        if why:
            left_out[why] = left_out.get(why, 0) + int(n)
            continue
        things, patients = things + int(n), patients + int(animals)
        reach[way] = reach.get(way, 0) + int(households)
    return Counts(
        things=things,
        patients=patients,
        reach={way: n for way, n in reach.items() if n},
        left_out={why: n for why, n in left_out.items() if n},
    )


@transaction.atomic
def much_is_noted() -> bool:
    """Whether the next fold should not wait for its time. Reads no more than it must."""
    return DueChange.objects.all()[MUCH - 1 : MUCH].exists()


def fold(*, now: datetime) -> int:
    """Bring the sums to what the rows say; how many households were summed anew. Idempotent.

    What is written down meanwhile stays for the next time, for the changes to forget are read first.
    """
    today = timezone.localdate(now)
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [LOCK])
        # forgotten first: what is written down from here on stays, whether the sums below hold it or not
        cursor.execute("DELETE FROM clinic_duechange RETURNING owner_id, patient_id")
        found = cursor.fetchall()
    everything = queries.overdue(Wanted(), today=today)
    owners = {owner for owner, _ in found if owner} | _households({each for _, each in found if each})
    if not DueTotals.objects.filter(pk=1, day=today).exists() or len(owners) > SUMMED_ONE_BY_ONE:
        HouseholdDue.objects.all().delete()
        DueTotals.objects.update_or_create(pk=1, defaults={"day": today, "made_at": now})
        made = _sum(everything)
    else:
        HouseholdDue.objects.filter(owner__in=owners).delete()
        made = _sum(everything.filter(household__in=owners)) if owners else 0
    if found or made:
        with connection.cursor() as cursor:
            cursor.execute(_ADDED_UP)
    return made


def _households(patient_ids: set[int]) -> set[int]:
    rows = Ownership.objects.filter(patient__in=patient_ids, until=None, is_first=True)
    return set(rows.values_list("owner", flat=True))


def _sum(rows: QuerySet[Any]) -> int:
    """One statement; nothing of the rows comes here."""
    sums = (
        rows.order_by()
        .values("household", "why")
        .annotate(
            way=Max("reach"),
            n=Count("pk"),
            animals=Count("patient", distinct=True),
            listed=Min("listed_on"),
        )
        .values("household", "why", "way", "n", "animals", "listed")
    )
    sql, params = sums.query.sql_with_params()
    with connection.cursor() as cursor:
        cursor.execute(f"{_INTO} ({sql}) AS sums", params)  # both are ours, their values stand apart
        return int(cursor.rowcount)


def tally(*, now: datetime) -> int:
    """How much is overdue today, by name, kept for the comparison of a later day. Idempotent for a day."""
    today = timezone.localdate(now)
    found = queries.by_name(today=today)
    OverdueTally.objects.bulk_create(
        [OverdueTally(day=today, what=what, things=things) for what, things in found.items()],
        update_conflicts=True,
        unique_fields=["day", "what"],
        update_fields=["things"],
    )
    return len(found)
