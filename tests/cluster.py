"""An early pytest plugin: one temporary PostgreSQL for the whole run, shared by the xdist workers.

It must be loaded before Django's settings are (`-p tests.cluster`), because it sets `DATABASE_URL`.
"""

import atexit
import os
import shutil
import tempfile
from pathlib import Path

import pytest

from clinic.platform.embedded import Cluster

# a test's database may be lost with the machine; its speed may not
FAST = {
    "fsync": "off",
    "synchronous_commit": "off",
    "full_page_writes": "off",
    "shared_buffers": "256MB",
    "max_wal_size": "2GB",
    "autovacuum": "off",
}
# what a developer's shell holds must not change what the tests say
READ_BY_SETTINGS = frozenset(
    {
        "ALLOWED_HOSTS",
        "BOUNCES_URL",
        "CLINIC_TIME_ZONE",
        "CSRF_TRUSTED_ORIGINS",
        "DATABASE_OWNER_URL",
        "DATABASE_URL",
        "DEBUG",
        "DEMO",
        "EMAIL_URL",
        "LOG_LEVEL",
        "MAIL_FROM",
        "MAIL_SERVICE",
        "MAIL_SERVICE_KEY",
        "MAIL_SERVICE_SECRET",
        "PUBLIC_URL",
        "SECRET_KEY",
        "STATIC_DIR",
        "TLS",
        "VAR_DIR",
        "WORKER_GRACE",
    }
)


class TemporaryCluster:
    """Starts on construction; `end()` may be called more than once."""

    def __init__(self) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="tailward-tests-"))
        # the database's user passes through; the files inside stay closed to it
        self.folder.chmod(0o755)
        (self.folder / "var" / "static").mkdir(parents=True)
        self.cluster = Cluster(self.folder, options=FAST)
        atexit.register(self.end)
        self.access = self.cluster.start()

    def end(self) -> None:
        self.cluster.stop()
        shutil.rmtree(self.folder, ignore_errors=True)


_running: TemporaryCluster | None = None


def _start() -> None:
    global _running
    if "PYTEST_XDIST_WORKER" in os.environ:  # the controller started it and we have its environment
        return
    for name in [name for name in os.environ if name.removesuffix("_FILE") in READ_BY_SETTINGS]:
        del os.environ[name]
    _running = TemporaryCluster()
    os.environ.update(
        SECRET_KEY="only-for-tests-" + "x" * 50,
        LOG_LEVEL="WARNING",
        VAR_DIR=str(_running.folder / "var"),
        DATABASE_URL=_running.access.owner_url,
        TEST_CLUSTER=str(_running.folder),
        TEST_DATABASE_APP_URL=_running.access.app_url,
    )


def _wants_help(args: list[str]) -> bool:
    return bool({"--help", "-h", "--version", "-V"} & set(args))


@pytest.hookimpl(tryfirst=True)
def pytest_load_initial_conftests(
    early_config: pytest.Config, parser: pytest.Parser, args: list[str]
) -> None:
    """Before pytest-django reads the settings (it does so in this same hook)."""
    if not _wants_help(args):
        _start()


def pytest_unconfigure(config: pytest.Config) -> None:
    """Also after Ctrl-C. The server's own death signal covers a killed pytest."""
    if _running is not None:
        _running.end()


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--long",
        action="store_true",
        help="run fault, race and property tests with their full numbers, and those marked long",
    )
    parser.addoption(
        "--fresh-schema",
        action="store_true",
        help="replay every migration instead of loading the schema that the last run kept",
    )
