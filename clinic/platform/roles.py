"""The two database roles: the owner migrates, the application role owns nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING

import psycopg
from psycopg import sql

if TYPE_CHECKING:  # script/server creates the roles and stays small by not loading Django
    from django.db.backends.base.base import BaseDatabaseWrapper

SUPERUSER = "postgres"
OWNER = "tailward_owner"
APPLICATION = "tailward_app"
DATABASE = "tailward"
EXTENSIONS = ("pg_trgm", "unaccent", "btree_gist", "citext")
# no TRUNCATE, TRIGGER or REFERENCES: the application role changes rows, never how they are guarded
ROW_RIGHTS = (("SELECT, INSERT, UPDATE, DELETE", "TABLES"), ("USAGE, SELECT", "SEQUENCES"))


def create_roles(connection: psycopg.Connection, *, owner_password: str, app_password: str) -> None:
    """Create or refresh both roles. `connection` is a superuser's, in autocommit."""
    _role(connection, OWNER, owner_password, "CREATEDB")
    _role(connection, APPLICATION, app_password, "NOCREATEDB")


def _role(connection: psycopg.Connection, name: str, password: str, right: str) -> None:
    known = connection.execute("SELECT 1 FROM pg_roles WHERE rolname = %s", [name]).fetchone()
    connection.execute(
        sql.SQL("{verb} ROLE {name} LOGIN NOSUPERUSER NOCREATEROLE {right} PASSWORD {password}").format(
            verb=sql.SQL("ALTER" if known else "CREATE"),
            name=sql.Identifier(name),
            right=sql.SQL(right),
            password=sql.Literal(password),
        )
    )


def prepare_database(connection: psycopg.Connection) -> None:
    """Extensions and the application role's rights. `connection` is a superuser's, in autocommit.

    Done in `template1`, every database made afterwards has them. Idempotent.
    """
    for extension in EXTENSIONS:
        connection.execute(sql.SQL("CREATE EXTENSION IF NOT EXISTS {}").format(sql.Identifier(extension)))
    for rights, kind in ROW_RIGHTS:
        connection.execute(
            sql.SQL("ALTER DEFAULT PRIVILEGES FOR ROLE {owner} GRANT {rights} ON {kind} TO {app}").format(
                owner=sql.Identifier(OWNER),
                rights=sql.SQL(rights),
                kind=sql.SQL(kind),
                app=sql.Identifier(APPLICATION),
            )
        )


def create_database(connection: psycopg.Connection, name: str = DATABASE) -> None:
    """Create `name`, owned by the owner role, if it is missing. `connection`: a superuser's, autocommit."""
    if connection.execute("SELECT 1 FROM pg_database WHERE datname = %s", [name]).fetchone() is None:
        connection.execute(
            sql.SQL("CREATE DATABASE {} OWNER {}").format(sql.Identifier(name), sql.Identifier(OWNER))
        )


def grant_rows(connection: BaseDatabaseWrapper, application: str) -> None:
    """Let `application` read and change rows in every table the owner (`connection`'s role) has made."""
    with connection.cursor() as cursor:
        if application == connection.settings_dict["USER"]:
            return
        name = sql.Identifier(application).as_string(cursor.connection)
        for rights, kind in ROW_RIGHTS:
            cursor.execute(f"GRANT {rights} ON ALL {kind} IN SCHEMA public TO {name}")
            cursor.execute(f"ALTER DEFAULT PRIVILEGES IN SCHEMA public GRANT {rights} ON {kind} TO {name}")
