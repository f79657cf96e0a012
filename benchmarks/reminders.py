"""Planning a day's reminders for 100,000 patients: `script/bench benchmarks/reminders.py`.

Prints seconds and memory of the planning, beside the floor (as many messages written, nothing asked), and the
due list's totals. On a database of its own that ends with it.
"""

import os
import resource
import sys
import time
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path
from random import Random

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.frame import own_database

PATIENTS = int(os.environ.get("BENCH_PATIENTS", "100000"))
A_PATIENT_HAS = 2  # call-backs
LIMIT_S = 60.0
GROWS_AT_MOST_MB = 60.0
TOTALS_S = 0.1
TOUCHED = (0, 100, 1000)  # households; a minute of sending touches some 2,000, then the sums are made anew


def fastest(do: Callable[[], object]) -> float:
    """Seconds of the quickest of five: what the machine does besides is not measured."""
    took = []
    for _each in range(5):
        began = time.perf_counter()
        do()
        took.append(time.perf_counter() - began)
    return min(took)


def fill(number: int, today: date) -> None:
    """Owners with an address, an animal each, and two things due within a year around today."""
    from django.utils import timezone

    from clinic.callbacks.reminder_models import AskingPlan, ReminderSettings
    from clinic.models import CallBack, ClinicDetails, Owner, Ownership, Patient, Staff

    random, now = Random(7), timezone.now()
    ClinicDetails.objects.create(
        pk=1, name="Bench", street="1 Weir Lane", city="Quillwater", country="GB", phone="555-0100",
        emergency_name="Bench", emergency_phone="555-0199", email="desk@quillwater.example",
    )  # fmt: skip
    ReminderSettings.objects.create(
        pk=1, rehearsal=False, quiet_days=[], quiet_from="03:00", quiet_until="03:00"
    )
    staff = Staff.objects.create_user(
        "bench@tailward.example", full_name="Bench", printed_name="Bench", roles=["manager"]
    )
    AskingPlan.objects.create(made_at=now, approved_at=now, approved_by=staff)
    for start in range(0, number, 5000):
        names = range(start, min(start + 5000, number))
        owners = Owner.objects.bulk_create(
            Owner(
                family_name=f"Dovale{n}",
                email=f"h{n}@example.com",
                email_state="works",
                search="x",
                made_at=now,
            )
            for n in names
        )
        patients = Patient.objects.bulk_create(
            Patient(
                name=f"Pomfret{n}", species="dog", sex="female", neutered="yes", search="x", made_at=now,
                birth_date=date(2018, 1, 9), birth_precision="day",
            )
            for n in names
        )  # fmt: skip
        Ownership.objects.bulk_create(
            Ownership(patient=p, owner=o, is_first=True, since=today)
            for p, o in zip(patients, owners, strict=True)
        )
        CallBack.objects.bulk_create(
            CallBack(
                patient=p, source="dues", key=f"k{k}", label=f"Thing {k}", refreshed_at=now,
                due_on=today + timedelta(days=random.randrange(-180, 180)),
            )
            for p in patients
            for k in range(A_PATIENT_HAS)
        )  # fmt: skip


def memory_mb() -> float:
    """What is in use now, not the most there ever was."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * resource.getpagesize() / 2**20


def plan_day(today: date) -> tuple[int, int, float]:
    """Messages, batches, and the most memory after any of them, in MB."""
    from django.utils import timezone

    from clinic.callbacks.reminding import plan_batch

    after, asked, batches, most = 0, 0, 0, 0.0
    while True:
        batch = plan_batch(after=after, today=today, now=timezone.now())
        asked += batch.asked
        batches += 1
        most = max(most, memory_mb())
        if batch.last is None:
            return asked, batches, most
        after = batch.last


def floor(number: int) -> float:
    """Seconds to write as many bare messages, and to queue as many jobs."""
    from django.db import transaction
    from django.utils import timezone

    from clinic.callbacks.reminding import BATCH
    from clinic.mail.actions import queue_sendings
    from clinic.mail.models import Message

    now, began = timezone.now(), time.perf_counter()
    with transaction.atomic():
        made = Message.objects.bulk_create(
            Message(
                purpose="service", to_address="h@example.com", subject="s", body="b" * 1200, state_since=now,
                made_at=now, once=f"floor:{n}",
            )
            for n in range(number)
        )  # fmt: skip
        for start in range(0, len(made), BATCH):  # as the planning does
            queue_sendings([each.pk for each in made[start : start + BATCH]], at=now + timedelta(days=1))
        transaction.set_rollback(True)
    return time.perf_counter() - began


def main() -> int:
    with own_database():
        from django.db import connection
        from django.utils import timezone

        from clinic.callbacks import queries
        from clinic.callbacks.totals import fold, totals
        from clinic.models import Owner

        today = timezone.localdate()
        fill(PATIENTS, today)
        with connection.cursor() as cursor:
            cursor.execute("VACUUM ANALYZE")
        before, began = memory_mb(), time.perf_counter()
        asked, batches, most = plan_day(today)
        seconds, grown = time.perf_counter() - began, most - before
        print(f"{PATIENTS} patients, {batches} batches: {asked} messages in {seconds:.1f} s")
        print(f"memory grew by {grown:.0f} MB; the floor for as many messages: {floor(asked):.1f} s")
        began = time.perf_counter()
        again, _, _ = plan_day(today)
        print(f"planned again: {again} messages in {time.perf_counter() - began:.1f} s")
        began = time.perf_counter()
        fold(now=timezone.now())
        print(f"sums of the day made: {(time.perf_counter() - began) * 1000:.0f} ms")
        took, wanted = [], queries.Wanted()
        for touched in TOUCHED:  # households changed since the sums were made
            Owner.objects.filter(pk__in=Owner.objects.order_by("pk")[:touched].values("pk")).update(
                desk_note=f"changed {touched}"
            )
            took.append(fastest(lambda: totals(wanted, today=today)))
            counted = queries.counts(queries.overdue(wanted, today=today))
            assert totals(wanted, today=today) == counted
            print(f"totals of the due list, {touched} households touched: {took[-1] * 1000:.0f} ms")
        rows = queries.overdue(queries.Wanted(), today=today)
        print(f"the same by counting every row: {fastest(lambda: queries.counts(rows)) * 1000:.0f} ms")
        enough = seconds < LIMIT_S and grown < GROWS_AT_MOST_MB and max(took) < TOTALS_S
        return 0 if enough and not again else 1


if __name__ == "__main__":
    raise SystemExit(main())
