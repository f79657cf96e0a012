import psycopg
import pytest
from django.db import connection

from clinic.platform import roles


@pytest.fixture
def as_application(app_dsn):
    with psycopg.connect(app_dsn, autocommit=True) as open_connection:
        yield open_connection


@pytest.fixture
def some_table(transactional_db):
    with connection.cursor() as cursor:
        cursor.execute("CREATE TABLE kept (id int GENERATED ALWAYS AS IDENTITY, word text)")
        cursor.execute(
            "CREATE FUNCTION refuse() RETURNS trigger LANGUAGE plpgsql AS "
            "$$ BEGIN RAISE EXCEPTION 'frozen'; END $$"
        )
        cursor.execute("CREATE TRIGGER frozen BEFORE UPDATE ON kept FOR EACH ROW EXECUTE FUNCTION refuse()")
    yield "kept"
    with connection.cursor() as cursor:
        cursor.execute("DROP TABLE kept; DROP FUNCTION refuse")


@pytest.mark.django_db
def test_extensions_are_there_before_the_first_migration():
    with connection.cursor() as cursor:
        cursor.execute("SELECT extname FROM pg_extension")
        assert {name for (name,) in cursor.fetchall()} >= set(roles.EXTENSIONS)


def test_application_role_is_no_superuser_and_owns_nothing(as_application, some_table):
    role = as_application.execute(
        "SELECT current_user, rolsuper, rolcreatedb, rolcreaterole FROM pg_roles WHERE rolname = current_user"
    )
    assert role.fetchone() == (roles.APPLICATION, False, False, False)
    owned = as_application.execute("SELECT count(*) FROM pg_class WHERE relowner = current_user::regrole")
    assert owned.fetchone() == (0,)


def test_application_role_reads_and_writes_rows(as_application, some_table):
    as_application.execute("INSERT INTO kept (word) VALUES ('ear')")
    assert as_application.execute("SELECT id, word FROM kept").fetchall() == [(1, "ear")]


@pytest.mark.parametrize(
    "statement",
    [
        "ALTER TABLE kept DISABLE TRIGGER frozen",
        "DROP TRIGGER frozen ON kept",
        "SET session_replication_role = replica",
        "CREATE OR REPLACE FUNCTION refuse() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RETURN NEW; END $$",
        "TRUNCATE kept",
        "CREATE TABLE other (id int)",
        f"SET ROLE {roles.OWNER}",
    ],
)
def test_application_role_cannot_switch_a_trigger_off(as_application, some_table, statement):
    with pytest.raises(psycopg.errors.InsufficientPrivilege):
        as_application.execute(statement)
