"""Server time of the search box at 20,000 patients: `script/bench benchmarks/search.py`.

Prints the median and the longest of each query, on a database of its own that ends with it.
"""

import statistics
import sys
import time
from datetime import date
from pathlib import Path
from random import Random

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.frame import own_database

PATIENTS = 20_000
ROUNDS = 30
LIMIT_MS = 50.0
FIRST = [consonant + vowel for consonant in "bdfghjklmn" for vowel in "aeio"]
MIDDLE = [consonant + vowel for consonant in "lmnrstv" for vowel in "aeio"]
LAST = ["n", "r", "l", "s", "t", "m", "ck", "x", "nd", "rt", "ll", "th", "ne", "ra", "la", "go", "by"]
QUERIES = {
    "a name": "pomfret",
    "a slip": "pomfert",
    "two letters": "po",
    "one letter": "p",
    "name and owner": "pomfret dovale",
    "telephone digits": "5550142",
    "four digits": "0142",
    "a chip": "985112345678903",
    "accents": "Übelacker",
    "nobody": "zzyzzyx",
    "nothing typed": "",
}


def word(random: Random) -> str:
    return random.choice(FIRST) + random.choice(MIDDLE) + random.choice(LAST)


def fill(number: int, today: date) -> None:
    """`number` patients with an owner, a telephone and a chip each, and one that the queries look for."""
    from django.utils import timezone

    from clinic.models import Microchip, Owner, Ownership, Patient, Phone, Staff
    from clinic.patients.searchtext import searchable

    random, now = Random(7), timezone.now()
    staff = Staff.objects.create_user(
        "bench@tailward.example", full_name="Bench", printed_name="Bench", roles=["assistant"]
    )
    named = [("Pomfret", "Henrike", "Dovale"), ("Grit", "Anna", "Übelacker")]
    named += [
        (word(random).title(), word(random).title(), (word(random) + word(random)).title())
        for _ in range(number - len(named))
    ]
    digits = ["5550142", *(f"555{random.randrange(10**7):07d}" for _ in named[1:])]
    chips = ["985112345678903", *(f"9850{n:011d}" for n in range(1, len(named)))]
    owners = Owner.objects.bulk_create(
        [
            Owner(given_name=g, family_name=f, search=searchable((g, f), [d]), made_at=now)
            for (_, g, f), d in zip(named, digits, strict=True)
        ],
        batch_size=2000,
    )
    Phone.objects.bulk_create(
        [Phone(owner=o, number=d, digits=d) for o, d in zip(owners, digits, strict=True)], batch_size=2000
    )
    patients = Patient.objects.bulk_create(
        [
            Patient(
                name=p,
                species=random.choice(["dog", "cat"]),
                sex="female",
                neutered="yes",
                birth_date=date(2018, 1, 9),
                birth_precision="day",
                search=searchable((p, g, f), [d, c]),
                made_at=now,
            )
            for (p, g, f), d, c in zip(named, digits, chips, strict=True)
        ],
        batch_size=2000,
    )
    Ownership.objects.bulk_create(
        [
            Ownership(patient=p, owner=o, is_first=True, since=today)
            for p, o in zip(patients, owners, strict=True)
        ],
        batch_size=2000,
    )
    Microchip.objects.bulk_create(
        [
            Microchip(patient=p, number=c, kind="iso-manufacturer", entered_by=staff, entered_at=now)
            for p, c in zip(patients, chips, strict=True)
        ],
        batch_size=2000,
    )


def measure(today: date, rounds: int = ROUNDS) -> dict[str, tuple[float, float, int]]:
    """Milliseconds (median, longest) and hits of each query, the page's fragment rendered."""
    from django.template.loader import render_to_string

    from clinic.patients.search import find

    seen = {}
    for name, query in QUERIES.items():
        times = []
        for _ in range(rounds):
            began = time.perf_counter()
            results = find(query, today=today)
            render_to_string("clinic/patients/found.html", {"results": results, "q": query})
            times.append((time.perf_counter() - began) * 1000)
        seen[name] = (statistics.median(times), max(times), len(results.hits))
    return seen


def main() -> int:
    with own_database():
        from django.db import connection
        from django.utils import timezone

        today = timezone.localdate()
        fill(PATIENTS, today)
        with connection.cursor() as cursor:
            cursor.execute("VACUUM ANALYZE")
        slowest = 0.0
        for name, (median, longest, hits) in measure(today).items():
            slowest = max(slowest, median)
            print(f"{name:18} {median:7.1f} ms median {longest:7.1f} ms longest {hits:4} found")
        print(f"slowest median {slowest:.1f} ms of {LIMIT_MS:.0f} ms allowed, {PATIENTS} patients")
        return 0 if slowest < LIMIT_MS else 1


if __name__ == "__main__":
    sys.exit(main())
