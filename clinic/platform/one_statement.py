"""Several writes as one statement, so that one tap is one round trip. Each part is Django's own SQL.

The parts see the database as it was before all of them, so no two of them may touch one row.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import connection
from django.db.models import Field, Model, QuerySet
from django.db.models.constants import OnConflict
from django.db.models.sql import DeleteQuery, InsertQuery, UpdateQuery


@dataclass(frozen=True)
class Part:
    sql: str
    params: tuple[Any, ...]


def insert(rows: Sequence[Model]) -> Part:
    """New rows of one model, at least one."""
    return _insert(rows, InsertQuery(type(rows[0])))


def insert_or_replace(rows: Sequence[Model], *, unique: Sequence[str]) -> Part:
    """Rows of one model; where one with the same `unique` columns stands, it gets the new values instead."""
    model = type(rows[0])
    one = [f for f in _written(model) if f.name in unique]
    other = [f for f in _written(model) if f.name not in unique]
    return _insert(
        rows, InsertQuery(model, on_conflict=OnConflict.UPDATE, update_fields=other, unique_fields=one)
    )


def update(rows: QuerySet[Any], values: Mapping[str, Any]) -> Part:
    query: Any = rows.query.chain(UpdateQuery)
    query.add_update_values(dict(values))
    return _part(query)


def delete(rows: QuerySet[Any]) -> Part:
    """Without Django's own cascade: nothing may point to these rows."""
    return _part(rows.query.chain(DeleteQuery))


def execute(parts: Sequence[Part]) -> None:
    """All of them at once. Raises what the database raises; then none of them was done."""
    if not parts:
        return
    *first, last = parts
    named = ", ".join(f"part_{i} AS ({part.sql})" for i, part in enumerate(first))
    with connection.cursor() as cursor:
        cursor.execute(
            f"WITH {named} {last.sql}" if first else last.sql, [p for part in parts for p in part.params]
        )


def _insert(rows: Sequence[Model], query: InsertQuery) -> Part:
    query.insert_values(_written(type(rows[0])), list(rows))
    return _part(query)


def _written(model: type[Model]) -> list[Field[Any, Any]]:
    """Every column but the number that the database gives."""
    return [f for f in model._meta.local_concrete_fields if f is not model._meta.auto_field]


def _part(query: Any) -> Part:
    compiled = query.get_compiler(connection=connection).as_sql()
    [(sql, params)] = compiled if isinstance(compiled, list) else [compiled]
    return Part(sql, tuple(params))
