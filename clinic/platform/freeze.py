"""Migration operations that let the database itself refuse a change.

Plain SQL triggers, because a library's can be switched off by a session setting. The application role owns
no table, so it can neither disable nor drop them. SQLSTATE tells which refusal it was: 23T01 frozen with its
record, 23T02 may only be struck out, 23T03 rows are only added.
"""

from django.db.migrations.operations import RunSQL

# FOR SHARE waits for a signature under way (FOR UPDATE) and then sees it: nothing slips in beside it.
FUNCTIONS = """
CREATE FUNCTION tailward_freeze() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    parent bigint;
    signed timestamptz;
BEGIN
    FOREACH parent IN ARRAY ARRAY[
        CASE WHEN TG_OP <> 'INSERT' THEN OLD.record_id END,
        CASE WHEN TG_OP <> 'DELETE' THEN NEW.record_id END
    ] LOOP
        CONTINUE WHEN parent IS NULL;
        SELECT signed_at INTO signed FROM clinic_record WHERE id = parent FOR SHARE;
        IF signed IS NOT NULL THEN
            RAISE EXCEPTION '% of a signed record is refused on %', TG_OP, TG_TABLE_NAME
                USING ERRCODE = '23T01';
        END IF;
    END LOOP;
    RETURN CASE WHEN TG_OP = 'DELETE' THEN OLD ELSE NEW END;
END $$;

CREATE FUNCTION tailward_freeze_record() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF OLD.signed_at IS NOT NULL THEN
        RAISE EXCEPTION '% of a signed record is refused', TG_OP USING ERRCODE = '23T01';
    END IF;
    RETURN CASE WHEN TG_OP = 'DELETE' THEN OLD ELSE NEW END;
END $$;

CREATE FUNCTION tailward_append_only() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '% on % is refused: rows are only added', TG_OP, TG_TABLE_NAME
        USING ERRCODE = '23T03';
END $$;

CREATE FUNCTION tailward_strike_only() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF TG_OP = 'DELETE' OR OLD.struck_at IS NOT NULL
        OR (to_jsonb(OLD) - TG_ARGV) <> (to_jsonb(NEW) - TG_ARGV) THEN
        RAISE EXCEPTION '% on % is refused: a row may only be struck out', TG_OP, TG_TABLE_NAME
            USING ERRCODE = '23T02';
    END IF;
    RETURN NEW;
END $$;
"""

DROP_FUNCTIONS = """
DROP FUNCTION tailward_strike_only();
DROP FUNCTION tailward_append_only();
DROP FUNCTION tailward_freeze_record();
DROP FUNCTION tailward_freeze();
"""


def _trigger(table: str, name: str, when: str, function: str) -> RunSQL:
    return RunSQL(
        f"CREATE TRIGGER {name} BEFORE {when} ON {table} FOR EACH ROW EXECUTE FUNCTION {function};",
        f"DROP TRIGGER {name} ON {table};",
    )


def freeze_with_record(table: str) -> RunSQL:
    """Rows of `table` (with a column `record_id`) freeze when their record is signed."""
    return _trigger(table, "tailward_freeze", "INSERT OR UPDATE OR DELETE", "tailward_freeze()")


def close_with_record(table: str) -> RunSQL:
    """Rows of `table` are neither added nor changed once their record is signed, but may still be deleted.

    They are no part of what was signed: the seal does not cover them.
    """
    return _trigger(table, "tailward_close", "INSERT OR UPDATE", "tailward_freeze()")


def append_only(table: str) -> RunSQL:
    """Rows of `table` are only ever added."""
    return _trigger(table, "tailward_append_only", "UPDATE OR DELETE", "tailward_append_only()")


def strike_only(table: str, *also: str) -> RunSQL:
    """Rows of `table` may only be struck out (`struck_at`, `struck_by_id`, `struck_reason`), plus `also`."""
    columns = ", ".join(f"'{c}'" for c in ("struck_at", "struck_by_id", "struck_reason", *also))
    return _trigger(table, "tailward_strike_only", "UPDATE OR DELETE", f"tailward_strike_only({columns})")


def once_only(table: str, *columns: str) -> RunSQL:
    """Of a row of `table` only `columns` may change, and only while the first of them is empty. None goes."""
    name, first = f"tailward_once_only_{table}", columns[0]
    listed = ", ".join(f"'{c}'" for c in columns)
    return RunSQL(
        f"""
CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF TG_OP = 'DELETE' OR OLD.{first} IS NOT NULL
        OR (to_jsonb(OLD) - ARRAY[{listed}]) <> (to_jsonb(NEW) - ARRAY[{listed}]) THEN
        RAISE EXCEPTION '% on % is refused: only {first} may be set, once', TG_OP, TG_TABLE_NAME
            USING ERRCODE = '23T02';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER tailward_once_only BEFORE UPDATE OR DELETE ON {table}
    FOR EACH ROW EXECUTE FUNCTION {name}();
""",
        f"DROP TRIGGER tailward_once_only ON {table}; DROP FUNCTION {name}();",
    )
