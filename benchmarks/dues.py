"""Dues of 20,000 animals reckoned by two processes: `script/bench benchmarks/dues.py`.

`BENCH_ANIMALS` chooses how many.

Measured against a floor in the same run: the same rows read and the same rows written by plain SQL, with
nothing reckoned. Then the query of whom to call back. Everything on a database of its own that ends with it.
"""

import multiprocessing
import os
import random
import resource
import sys
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from datetime import date, timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.frame import own_database

ANIMALS = int(os.environ.get("BENCH_ANIMALS", "20000"))
WHOLE, WHOLE_SECONDS = 100_000, 8 * 60
CORE_LEAST = 1_000.0  # animals a second of one process
QUERY_MS = 50.0
# counts beside the list, asked for only where a plan for everything goes by post or telephone (ours)
BY_HAND, BY_HAND_MS = ("by post: how many", "by telephone: how many"), 150.0
MOST_GROWTH_MB = 15.0
TODAY = date(2026, 3, 11)
PROCESSES, AT_ONCE = 2, 200
Told = tuple[int, float, float]  # animals, and the process's peak memory in MB: early, and at the end

# A third are cats; ages from some weeks to fourteen years; a series, boosters, chews, exams, answers.
LAID = """
INSERT INTO clinic_owner (family_name, email, email_state, made_at, {owner_columns})
  SELECT 'Owner ' || n, 'o' || n || '@example.com', 'works', now(), {owner_values}
  FROM generate_series(1, %(owners)s) n;
INSERT INTO clinic_patient (name, species, breed, sex, neutered, birth_date, birth_precision, colour,
    photo_sha256, deceased_how, search, made_at)
  SELECT 'Pet ' || n, CASE WHEN n %% 3 = 0 THEN 'cat' ELSE 'dog' END, '', 'male', 'yes',
    %(today)s::date - (40 + (n * 37) %% 5000), 'day', '', '', '', '', now()
  FROM generate_series(1, %(animals)s) n;
INSERT INTO clinic_ownership (patient_id, owner_id, is_first, since)
  SELECT p.id, o.id, true, %(today)s FROM
    (SELECT id, row_number() OVER (ORDER BY id) AS n FROM clinic_patient) p
    JOIN (SELECT id, row_number() OVER (ORDER BY id) AS n FROM clinic_owner) o
      ON o.n = 1 + (p.n - 1) %% %(owners)s;
INSERT INTO preventive_dose (patient_id, antigens, product_facts, lot, given_on, precision, route, site,
    sequence, licence, source, proof, proof_words, consent, answers, tag_number, counted_reason,
    entered_by_id, entered_at, struck_reason)
  SELECT p.id, v.antigens, jsonb_build_object('code', 'P', 'name', 'Invented vaccine', 'maker', 'Invented',
    'species', jsonb_build_array(p.species), 'facts', jsonb_build_object('antigens', to_jsonb(v.antigens),
    'type', 'inactivated', 'routes', '["SC"]'::jsonb, 'licensed_months', 12)), 'L1',
    p.birth_date + v.days, 'day', 'SC', '', '', '', 'outside', true, '', '', '[]', '', '', %(staff)s,
    now(), ''
  FROM clinic_patient p JOIN (VALUES
    ('dog', ARRAY['CDV','CAV-2','CPV','CPiV'], 56), ('dog', ARRAY['CDV','CAV-2','CPV','CPiV'], 84),
    ('dog', ARRAY['CDV','CAV-2','CPV','CPiV'], 112), ('dog', ARRAY['CDV','CAV-2','CPV','CPiV'], 480),
    ('dog', ARRAY['CDV','CAV-2','CPV','CPiV'], 1570), ('dog', ARRAY['Leptospira'], 84),
    ('dog', ARRAY['Leptospira'], 112), ('dog', ARRAY['Leptospira'], 477), ('dog', ARRAY['Rabies'], 112),
    ('dog', ARRAY['Rabies'], 477), ('cat', ARRAY['FPV','FHV-1','FCV'], 56),
    ('cat', ARRAY['FPV','FHV-1','FCV'], 84), ('cat', ARRAY['FPV','FHV-1','FCV'], 112),
    ('cat', ARRAY['FeLV'], 84), ('cat', ARRAY['FeLV'], 112), ('cat', ARRAY['Rabies'], 112)
  ) AS v(species, antigens, days) ON v.species = p.species
  WHERE p.birth_date + v.days < %(today)s::date;
INSERT INTO preventive_supply (patient_id, product_facts, product_name, form, band, lot, protects,
    ingredients, count, first_on, interval, source, answers, entered_by_id, entered_at, struck_reason)
  SELECT p.id, '{{}}', 'Invented chew', 'chew', '', '', ARRAY['heartworm','intestinal'],
    ARRAY['milbemycin'], 6, %(today)s::date - d, '1 mo', 'outside', '[]', %(staff)s, now(), ''
  FROM clinic_patient p CROSS JOIN (VALUES (520), (330), (100)) AS v(d)
  WHERE p.id %% 4 <> 0 AND p.birth_date < %(today)s::date - d;
INSERT INTO preventive_treatmentgiven (patient_id, kind, "on", words, source, entered_by_id, entered_at,
    struck_reason)
  SELECT id, 'deworming', birth_date + 30, '', 'outside', %(staff)s, now(), '' FROM clinic_patient;
INSERT INTO clinic_lifestyleanswer (patient_id, code, answer, review_on, answered_at, entered_by_id)
  SELECT p.id, v.code, v.answer, %(today)s, now(), %(staff)s FROM clinic_patient p
  CROSS JOIN (VALUES ('boarding', 'yes'), ('ticks', 'no'), ('outdoors', 'no'), ('other_cats', 'unknown'))
    AS v(code, answer);
INSERT INTO clinic_visit (patient_id, kind, kind_reason, place, place_since, {visit_columns} arrived_at,
    gone_at, outcome, made_at)
  SELECT p.id, 'full', '', 'gone-home', now(), {visit_values} %(today)s::date - d, %(today)s::date - d,
    'home', now()
  FROM clinic_patient p CROSS JOIN (VALUES (700), (340)) AS v(d) WHERE p.birth_date < %(today)s::date - d;
"""


def lay(animals: int) -> None:
    from django.db import connection

    from tests import people

    people.clinic_details()
    staff = people.staff("Bench", "technician")
    facts = {"animals": animals, "owners": max(animals * 2 // 3, 1), "today": TODAY, "staff": staff.pk}
    with connection.cursor() as cursor:
        owner = _rest(cursor, "clinic_owner", {"family_name", "email", "email_state", "made_at"})
        visit = _rest(
            cursor,
            "clinic_visit",
            {"patient_id", "kind", "kind_reason", "place", "place_since", "arrived_at", "gone_at", "outcome"}
            | {"made_at"},
        )
        statement = LAID.format(
            owner_columns=", ".join(owner),
            owner_values=", ".join(owner.values()),
            visit_columns="".join(f"{name}, " for name in visit),
            visit_values="".join(f"{value}, " for value in visit.values()),
        )
        cursor.execute("SET statement_timeout = 0")
        laid = [each for each in statement.split(";\n") if each.strip()]
        tables = {each.split()[2] for each in laid}
        for table in tables:  # their histories are of no interest here, and take most of the time
            cursor.execute(f"ALTER TABLE {table} DISABLE TRIGGER USER")
        for each in laid:
            cursor.execute(each, facts)
        for table in tables:
            cursor.execute(f"ALTER TABLE {table} ENABLE TRIGGER USER")
        cursor.execute("ANALYZE")


def _rest(cursor, table: str, named: set[str]) -> dict[str, str]:
    """Columns that must hold something and about which this benchmark has nothing to say."""
    cursor.execute(
        "SELECT column_name, data_type FROM information_schema.columns WHERE table_name = %s"
        " AND is_nullable = 'NO' AND column_default IS NULL AND is_identity = 'NO'",
        [table],
    )
    empty = {"boolean": "false", "integer": "0", "smallint": "0", "date": "now()", "jsonb": "'{}'"}
    return {
        name: empty.get(kind, "now()" if "time" in kind else "''")
        for name, kind in cursor.fetchall()
        if name not in named
    }


def written(cursor, table: str) -> list[str]:
    """The columns of a table that whoever adds a row may fill."""
    cursor.execute(
        "SELECT column_name FROM information_schema.columns WHERE table_name = %s AND is_generated = 'NEVER'",
        [table],
    )
    return [name for (name,) in cursor.fetchall()]


def peak_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def reckoning(part: int) -> Told:
    """One process: batches until nothing waits. Tells animals, peak memory early and at the end."""
    import django

    django.setup()
    from django.utils import timezone

    from preventive.actions.dues import refresh_stale

    done, after, early = 0, 0, 0.0
    while ids := refresh_stale(today=TODAY, now=timezone.now(), after=after, size=AT_ONCE):
        done += len(ids)
        after = ids[-1]
        if done <= 5 * AT_ONCE:
            early = peak_mb()
    return done, early, peak_mb()


def reading_and_writing(part: int) -> Told:
    """The floor: what a batch reads, and as many rows written, by plain SQL."""
    import django

    django.setup()
    from django.db import connection, transaction

    from preventive.rows import STATEMENT

    done, after = 0, 0
    with connection.cursor() as cursor:
        columns = ", ".join(each for each in written(cursor, "clinic_callback") if each != "id")
        while True:
            cursor.execute(
                "SELECT id FROM clinic_patient WHERE id > %s AND (id / %s) %% %s = %s ORDER BY id LIMIT %s",
                [after, AT_ONCE, PROCESSES, part, AT_ONCE],
            )
            ids = [each for (each,) in cursor.fetchall()]
            if not ids:
                break
            with transaction.atomic():
                cursor.execute(STATEMENT, {"ids": ids})
                cursor.fetchall()
                cursor.execute(
                    f"INSERT INTO bench_callback ({columns}) SELECT {columns} FROM clinic_callback"
                    " WHERE patient_id = ANY(%s)",
                    [ids],
                )
                cursor.execute(
                    "INSERT INTO bench_reckoning SELECT * FROM preventive_reckoning"
                    " WHERE patient_id = ANY(%s)",
                    [ids],
                )
            done, after = done + len(ids), ids[-1]
    return done, peak_mb(), peak_mb()


def together(does: Callable[[int], Told]) -> tuple[int, float, list[Told]]:
    """In processes of their own; what one raises is raised here."""
    began = time.perf_counter()
    with ProcessPoolExecutor(PROCESSES, mp_context=multiprocessing.get_context("spawn")) as pool:
        found = list(pool.map(does, range(PROCESSES)))
    return sum(done for done, _, _ in found), time.perf_counter() - began, found


def core_alone() -> float:
    """Animals a second of the pure core in this process, over real rows read before the clock starts."""
    from clinic.models import Patient
    from preventive.knowing import histories_of
    from preventive.schedule import due_items
    from preventive.versions import protocol_in_force

    ids = random.Random(7).sample(list(Patient.objects.values_list("pk", flat=True)), 2000)
    patients = list(Patient.objects.filter(pk__in=ids))
    known, protocol = list(histories_of(patients, today=TODAY).values()), protocol_in_force()
    protocol.rules  # noqa: B018 - read once a process
    began = time.process_time()
    for each in known:
        due_items(each.animal, each.history, protocol, TODAY)
    return len(known) / (time.process_time() - began)


COPIED = {
    "clinic_owner": ("id",),
    "clinic_patient": ("id",),
    "clinic_ownership": ("patient_id", "owner_id"),
    "clinic_visit": ("patient_id",),
    "clinic_callback": ("patient_id",),
}


def widen(times: int) -> None:
    """The same animals so many times, with owners, visits and call-backs of their own, by plain SQL."""
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute("SET statement_timeout = 0")
        step = 10**7  # further than any number that is taken
        for table, moved in COPIED.items():
            names = [f'"{name}"' for name in written(cursor, table) if name in moved or name != "id"]
            values = [f"{name} + n * {step}" if name.strip('"') in moved else name for name in names]
            cursor.execute(f"ALTER TABLE {table} DISABLE TRIGGER USER")
            cursor.execute(
                f"INSERT INTO {table} ({', '.join(names)}) OVERRIDING SYSTEM VALUE"
                f" SELECT {', '.join(values)} FROM {table}, generate_series(1, %s) n",
                [times - 1],
            )
        cursor.execute("ANALYZE")


def whom_to_call() -> dict[str, float]:
    """Milliseconds of what the list of call-backs asks, by filter, the best of five; the house is at rest."""
    from datetime import UTC, datetime

    from django.db import connection

    from clinic.callbacks import listing, pages, posting, queries
    from clinic.callbacks.planning import CALL, LETTER, SERIES_DAYS, USUAL_DAYS, Steps
    from clinic.callbacks.queries import Wanted
    from clinic.callbacks.totals import fold
    from clinic.models import Staff

    on = TODAY + timedelta(days=1)
    with connection.cursor() as cursor:  # some of everything that can be filtered by
        cursor.execute(
            "UPDATE clinic_owner SET email_state = 'bounced' WHERE id %% 300 = 3;"
            "UPDATE clinic_patient SET deceased_on = %s, deceased_how = 'died' WHERE id %% 500 = 7",
            [TODAY],
        )
    fold(now=datetime(on.year, on.month, on.day, 12, tzinfo=UTC))
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    somebody = Staff.objects.values_list("pk", flat=True)[0]
    asked = {
        "first page, all": Wanted(),
        "rabies": Wanted(what="Rabies"),
        "what nobody is due for": Wanted(what="Nothing of that name"),
        "30 days and more": Wanted(over=30),
        "90 days and more": Wanted(over=90),
        "cats": Wanted(species="cat"),
        "a species nobody has": Wanted(species="rabbit"),
        "reached by e-mail": Wanted(reach="mail"),
        "whose e-mail came back": Wanted(reach="bounced"),
        "by telephone only": Wanted(reach="telephone"),
        "not at all": Wanted(reach="nothing"),
        "not asked yet": Wanted(asked="0"),
        "asked once": Wanted(asked="1"),
        "asked twice": Wanted(asked="2"),
        "seen last by": Wanted(clinician=somebody),
        "lives with: boarding": Wanted(life="boarding"),
        "lives with: ticks": Wanted(life="ticks"),
        "left out, all": Wanted(why="any"),
        "left out: died": Wanted(why="died"),
        "rabies, e-mail came back": Wanted(what="Rabies", reach="bounced"),
    }

    took = {
        name: best(lambda wanted=wanted: listing.page(wanted, today=on)) for name, wanted in asked.items()
    }
    plans = [Steps("", USUAL_DAYS, SERIES_DAYS, way=way) for way in (LETTER, CALL)]  # as none is laid
    took[BY_HAND[0]] = best(lambda: posting.how_many(plans=plans[:1], today=on))
    took[BY_HAND[1]] = best(lambda: pages.how_many_calls(plans=plans[1:], today=on))
    took["what can be chosen"] = best(lambda: queries.labels(today=on))
    return took


def allowed(name: str) -> float:
    return BY_HAND_MS if name in BY_HAND else QUERY_MS


def best(does: Callable[[], object]) -> float:
    times = []
    for _ in range(5):
        began = time.perf_counter()
        does()
        times.append((time.perf_counter() - began) * 1000)
    return min(times)


def main() -> int:
    with own_database(to_disk=True):
        from django.db import connection

        lay(ANIMALS)
        core = core_alone()
        connection.close()
        done, took, each = together(reckoning)
        with connection.cursor() as cursor:
            for table in ("clinic_callback", "preventive_reckoning"):
                copy = f"bench_{table.rpartition('_')[2]}"
                cursor.execute(f"CREATE TABLE {copy} (LIKE {table} INCLUDING ALL)")
            cursor.execute("SELECT count(*) FROM clinic_callback")
            (rows,) = cursor.fetchone()
            cursor.execute("SELECT count(*) FROM preventive_reckoning")
            (reckoned,) = cursor.fetchone()
        connection.close()
        floor_done, floor_took, _ = together(reading_and_writing)
        # two processes may now and then take the same animals: done again it is the same, but it counts once
        assert reckoned == floor_done == ANIMALS <= done, (reckoned, floor_done, done)
        grown = max(end - early for _, early, end in each)
        print(f"{'the core alone':28} {core:8.0f} animals a second of one process; {CORE_LEAST:.0f} wanted")
        print(
            f"{'two processes':28} {ANIMALS / took:8.0f} animals a second, {rows} call-backs, {took:.0f} s;"
            f" {WHOLE} animals in {WHOLE * took / ANIMALS:.0f} s of {WHOLE_SECONDS} s allowed"
        )
        print(
            f"{'the floor':28} {ANIMALS / floor_took:8.0f} animals a second; reckoning is"
            f" {took / floor_took:.1f} × reading and writing alone"
        )
        peak = max(end for _, _, end in each)
        print(f"{'memory':28} {peak:8.0f} MB at most, {grown:.0f} MB more at the end than after 5 batches")
        widen(max(WHOLE // ANIMALS, 1))
        slow = whom_to_call()
        for name, ms in slow.items():
            print(f"{name:28} {ms:8.1f} ms of {allowed(name):.0f} ms allowed, at {WHOLE} animals")
        return int(
            core < CORE_LEAST
            or WHOLE * took / ANIMALS > WHOLE_SECONDS
            or grown > MOST_GROWTH_MB
            or any(ms > allowed(name) for name, ms in slow.items())
        )


if __name__ == "__main__":
    sys.exit(main())
