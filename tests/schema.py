"""One migrated template database for all workers, loaded from the last run's dump when nothing changed.

Django needs many seconds to replay the migrations; copying a template takes less than one.
`--fresh-schema` replays them.
"""

import ast
import fcntl
import hashlib
import os
import subprocess
import sys
from pathlib import Path

import psycopg
from psycopg import sql

from clinic.platform import roles
from clinic.platform.embedded import Access, Cluster, read_access

ROOT = Path(__file__).resolve().parent.parent
TEMPLATE = "tailward_template"
CACHE = ROOT / "var" / "test-schema"


def template(folder: Path, *, fresh: bool) -> str:
    """Name of the template database on the cluster whose access file is in `folder`, made on first call."""
    access = read_access(folder)
    assert access is not None
    with (folder / "template.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        with access.superuser("postgres") as connection:
            if not _exists(connection, TEMPLATE):
                _make(connection, access, Cluster(folder), fresh=fresh)
    return TEMPLATE


def _make(connection: psycopg.Connection, access: Access, cluster: Cluster, *, fresh: bool) -> None:
    part = TEMPLATE + "_part"  # a migration that failed leaves no template behind
    connection.execute(sql.SQL("DROP DATABASE IF EXISTS {}").format(sql.Identifier(part)))
    roles.create_database(connection, part)
    dump = CACHE / f"{_key()}.sql"
    if dump.exists() and not fresh:
        _run([cluster.program("psql"), "-q", "-v", "ON_ERROR_STOP=1", "-1", "-f", dump, part], access)
    else:
        _migrate(access.url(roles.OWNER, access.owner_password, part))
        _keep(dump, cluster.program("pg_dump"), access, part)
    connection.execute(
        sql.SQL("ALTER DATABASE {} RENAME TO {}").format(sql.Identifier(part), sql.Identifier(TEMPLATE))
    )


def _migrate(url: str) -> None:
    subprocess.run(
        [sys.executable, str(ROOT / "manage.py"), "migrate", "--verbosity", "0", "--skip-checks"],
        check=True,
        env={**os.environ, "DATABASE_URL": url},
    )


def _keep(dump: Path, pg_dump: Path, access: Access, database: str) -> None:
    dump.parent.mkdir(parents=True, exist_ok=True)
    part = dump.with_suffix(f".{os.getpid()}.part")
    _run([pg_dump, "--no-comments", "-f", part, database], access)
    for old in dump.parent.glob("*.sql"):
        old.unlink(missing_ok=True)
    part.rename(dump)


def _run(command: list[str | Path], access: Access) -> None:
    connect = {"PGHOST": access.sockets, "PGUSER": roles.SUPERUSER, "PGPASSWORD": access.superuser_password}
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, env={**os.environ, **connect})


def _exists(connection: psycopg.Connection, name: str) -> bool:
    return connection.execute("SELECT 1 FROM pg_database WHERE datname = %s", [name]).fetchone() is not None


def _key() -> str:
    """Changes with any migration, any module of ours that one imports, and any pinned package."""
    files = {ROOT / "requirements.lock", Path(roles.__file__)}
    for app in ("clinic", "exams", "nutrition", "preventive"):
        for migration in (ROOT / app / "migrations").rglob("*"):
            if migration.suffix != ".pyc" and migration.is_file():
                files |= {migration, *(_imported(migration) if migration.suffix == ".py" else ())}
    digest = hashlib.sha256()
    for file in sorted(files):
        digest.update(str(file.relative_to(ROOT)).encode() + b"\0" + file.read_bytes())
    return digest.hexdigest()


def _imported(source: Path) -> set[Path]:
    names = {
        node.module
        for node in ast.walk(ast.parse(source.read_text()))
        if isinstance(node, ast.ImportFrom) and node.module and not node.level
    }
    candidates = {ROOT.joinpath(*name.split(".")).with_suffix(".py") for name in names}
    return {path for path in candidates if path.exists()}
