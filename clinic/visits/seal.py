"""The seal under a signature: one number that changes when anything signed would change."""

import hashlib
import json
from typing import Any

from django.db import connection
from psycopg import sql

from clinic.visits.models import Record

FROZEN_TABLES = """
SELECT c.relname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid
WHERE t.tgname = 'tailward_freeze' AND c.relnamespace = 'public'::regnamespace ORDER BY c.relname
"""


def seal(record: Record) -> str:
    """SHA-256, in hexadecimal, over canonical JSON of all rows that freeze with `record`, in every room.

    The database itself says which tables those are: each one that bears the freezing trigger.
    """
    canonical = json.dumps(signed_content(record), sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(canonical.encode()).hexdigest()


def signed_content(record: Record) -> dict[str, Any]:
    """Plain JSON values: what was asked, and the frozen rows by table."""
    visit = record.visit
    return {
        "record": record.pk,
        "patient": visit.patient_id,
        "kind": [visit.kind, visit.kind_reason],
        "owners_words": visit.owners_words,
        "not_taken": [record.no_weight_reason, record.no_bcs_reason],
        "rows": _rows(record.pk),
    }


def frozen_tables() -> list[str]:
    """The tables whose rows the seal covers."""
    with connection.cursor() as cursor:
        cursor.execute(FROZEN_TABLES)
        return [name for (name,) in cursor.fetchall()]


def _rows(record_id: int) -> dict[str, list[str]]:
    """By frozen table the rows of the record as the database's own text. Two queries."""
    # the database's order of keys is fixed, and sorting makes the order of rows fixed too
    found: dict[str, list[str]] = {table: [] for table in frozen_tables()}
    if not found:
        return found
    one = sql.SQL("SELECT {}, to_jsonb(t)::text FROM {} t WHERE record_id = %(record)s")
    parts = [one.format(sql.Literal(table), sql.Identifier(table)) for table in found]
    with connection.cursor() as cursor:
        statement = sql.SQL(" UNION ALL ").join(parts).as_string(cursor.connection)
        cursor.execute(statement, {"record": record_id})
        for table, text in cursor.fetchall():
            found[table].append(_what_is_said(text))
    # a table without rows is left out: one that a later release adds changes no seal
    return {table: sorted(rows) for table, rows in found.items() if rows}


def _what_is_said(row: str) -> str:
    """The row without its empty columns: one that a later release adds, empty there, changes no seal."""
    said = {
        name: value
        for name, value in json.loads(row, parse_float=str).items()
        if value not in (None, "", False, [], {})
    }
    return json.dumps(said, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
