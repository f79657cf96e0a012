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
        "rows": {table: _rows(table, record.pk) for table in _frozen_tables()},
    }


def _frozen_tables() -> list[str]:
    with connection.cursor() as cursor:
        cursor.execute(FROZEN_TABLES)
        return [name for (name,) in cursor.fetchall()]


def _rows(table: str, record_id: int) -> list[str]:
    # as the database's own text: its order of keys is fixed, and sorting makes the order of rows fixed too
    query = sql.SQL("SELECT to_jsonb(t)::text FROM {} t WHERE record_id = %s").format(sql.Identifier(table))
    with connection.cursor() as cursor:
        cursor.execute(query.as_string(cursor.connection), [record_id])
        return sorted(text for (text,) in cursor.fetchall())
