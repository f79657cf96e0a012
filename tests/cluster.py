"""An early pytest plugin: one temporary PostgreSQL for the whole run, shared by the xdist workers.

It must be loaded before Django's settings are (`-p tests.cluster`), because it sets `DATABASE_URL`. Set
`TEST_DATABASE_URL` (and `TEST_DATABASE_APP_URL`) to use a server that already runs.
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
SETTINGS = {
    "SECRET_KEY": "only-for-tests-" + "x" * 50,
    "EMAIL_URL": "consolemail://",
}


class TemporaryCluster:
    """Starts on construction; `end()` may be called more than once."""

    def __init__(self) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="tailward-tests-"))
        # the database's user passes through; the files inside stay closed to it
        self.folder.chmod(0o755)
        self.cluster = Cluster(self.folder, options=FAST)
        atexit.register(self.end)
        self.access = self.cluster.start()

    def end(self) -> None:
        self.cluster.stop()
        shutil.rmtree(self.folder, ignore_errors=True)


_running: TemporaryCluster | None = None


def _start() -> None:
    global _running
    for name, value in SETTINGS.items():
        os.environ[name] = value
    if "PYTEST_XDIST_WORKER" in os.environ:  # the controller started it and we have its environment
        return
    if given := os.environ.get("TEST_DATABASE_URL"):
        os.environ["DATABASE_URL"] = given
        return
    _running = TemporaryCluster()
    os.environ["DATABASE_URL"] = _running.access.owner_url
    os.environ["TEST_DATABASE_APP_URL"] = _running.access.app_url
    os.environ["VAR_DIR"] = str(_running.folder / "var")


def _wants_help(args: list[str]) -> bool:
    return bool({"--help", "-h", "--version", "-V"} & set(args))


@pytest.hookimpl(tryfirst=True)
def pytest_load_initial_conftests(early_config: pytest.Config, parser: pytest.Parser, args: list[str]) -> None:
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
