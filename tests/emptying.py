"""Empties the tables after a transactional test: those that hold rows, without asking their triggers.

Django's own way truncates every table, makes content types and permissions anew, and leaves out the queue's
tables, which are no models.
"""

import os
from pathlib import Path

from django.contrib.auth.models import Permission
from django.contrib.contenttypes.models import ContentType
from django.db import connection
from psycopg import sql

from clinic.platform.embedded import read_access

STAYS = {ContentType._meta.db_table, Permission._meta.db_table, "django_migrations"}
TABLES = "SELECT tablename FROM pg_tables WHERE schemaname = 'public' ORDER BY tablename"


def empty_tables() -> None:
    access = read_access(Path(os.environ["TEST_CLUSTER"]))
    assert access is not None
    with access.superuser(connection.settings_dict["NAME"]) as asked, asked.transaction():
        asked.execute("SET LOCAL session_replication_role = replica")  # frozen rows go as well
        tables = [name for (name,) in asked.execute(TABLES) if name not in STAYS]
        holds = sql.SQL(" UNION ALL ").join(
            sql.SQL("SELECT {} WHERE EXISTS (SELECT FROM {})").format(sql.Literal(name), sql.Identifier(name))
            for name in tables
        )
        for (name,) in asked.execute(holds).fetchall():
            asked.execute(sql.SQL("DELETE FROM {}").format(sql.Identifier(name)))
