"""The due list as a file for spreadsheets. Pure but for the rows it is given."""

import csv
from collections.abc import Iterable, Iterator, Sequence
from io import StringIO
from itertools import chain

HEADS = ("Household", "Patient", "What", "Due on", "Reached", "E-mail", "Telephone", "Left out", "Asked last")
RUNS = ("=", "+", "-", "@", "\t", "\r", "\n")


def safe(cell: object) -> str:
    """A cell that a spreadsheet takes for text: one that it would run as a formula begins with an apostrophe.

    OWASP, CSV Injection.
    """
    text = str(cell)
    return f"'{text}" if text.lstrip(" ").startswith(RUNS) or text.startswith(RUNS) else text


def lines(rows: Iterable[Sequence[object]]) -> Iterator[str]:
    """With a byte-order mark, so that every spreadsheet reads the letters right."""
    yield "\ufeff"
    for row in chain([HEADS], rows):
        out = StringIO()
        csv.writer(out).writerow([safe(cell) for cell in row])
        yield out.getvalue()
