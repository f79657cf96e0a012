"""What every test has: no way out to the network, Hypothesis' numbers, the application role's address."""

import gc
import ipaddress
import os
import socket
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit, urlunsplit

import pytest
from django.core.cache import cache
from django.db import connections
from django.test import TransactionTestCase
from hypothesis import HealthCheck
from hypothesis import settings as hypothesis_settings

from tests import emptying, schema

NEEDS_NO_TABLES = "test_server_script.py"
# a file goes to one worker whole: begun late, these would keep the others waiting at the end
LONGEST = frozenset(
    {"test_every_page.py", "test_doors.py", "test_demo.py", "test_no_network.py", "test_day.py"}
)
SLOW_IS_FINE = [HealthCheck.too_slow, HealthCheck.function_scoped_fixture]
hypothesis_settings.register_profile(
    "short",
    max_examples=25,
    deadline=None,
    database=None,
    derandomize=True,
    suppress_health_check=SLOW_IS_FINE,
)
hypothesis_settings.register_profile(
    "long", max_examples=2000, deadline=None, database=None, suppress_health_check=SLOW_IS_FINE
)


def pytest_configure(config: pytest.Config) -> None:
    hypothesis_settings.load_profile("long" if config.getoption("--long") else "short")
    _quicken()
    TransactionTestCase._fixture_teardown = lambda self: emptying.empty_tables()


def _quicken() -> None:
    """Leave out what only an installation needs: slow password hashes, collected files, a shared cache; and a
    walk is written out once a process, not once a clinic.
    """
    from django.conf import settings  # they exist only once pytest-django has loaded them

    from exams import versions

    versions.to_json = _once_a_number(versions.to_json)
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    settings.CACHES = {"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}}
    settings.STORAGES = {
        **settings.STORAGES,
        "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
    }


def _once_a_number(write_out: Callable[[Any], dict[str, Any]]) -> Callable[[Any], dict[str, Any]]:
    written: dict[str, dict[str, Any]] = {}

    def kept(walk: Any) -> dict[str, Any]:
        if walk.sha256 not in written:
            written[walk.sha256] = write_out(walk)
        return written[walk.sha256]

    return kept


def pytest_sessionstart(session: pytest.Session) -> None:
    """What is read now stays: looking for garbage among it takes a quarter of the reading."""
    gc.disable()


def pytest_collection_finish(session: pytest.Session) -> None:
    gc.enable()
    gc.freeze()
    gc.set_threshold(50_000, 20, 20)


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """The longest files first, so that the workers end together; before them all what needs no tables.

    While one worker migrates the template, every other one that needs tables waits for it.
    """
    items.sort(key=_turn)
    if config.getoption("--long"):
        return
    skip = pytest.mark.skip(reason="runs with --long")
    for item in items:
        if item.get_closest_marker("long"):
            item.add_marker(skip)


def _turn(item: pytest.Item) -> tuple[bool, ...]:
    name = item.path.name
    return name != NEEDS_NO_TABLES, name not in LONGEST, not item.get_closest_marker("faults")


@pytest.hookimpl(trylast=True)
def pytest_runtest_teardown(item: pytest.Item, nextitem: pytest.Item | None) -> None:
    """After the last of a file, unless the next file begins with the browser too."""
    opened = sys.modules.get("tests.chromium")
    if opened and (
        nextitem is None
        or (nextitem.path != item.path and "browser" not in getattr(nextitem, "fixturenames", ()))
    ):
        opened.kept.end()


@pytest.fixture(scope="session")
def django_db_modify_db_settings(
    request: pytest.FixtureRequest, django_db_modify_db_settings_parallel_suffix: None
) -> None:
    """pytest-django's hook for a change before it makes the test database: copy ours from the template."""
    name = schema.template(
        Path(os.environ["TEST_CLUSTER"]), fresh=bool(request.config.getoption("--fresh-schema"))
    )
    connections["default"].settings_dict["TEST"]["TEMPLATE"] = name


@pytest.fixture(scope="session")
def long_run(request: pytest.FixtureRequest) -> bool:
    """True under --long: take the full numbers."""
    return bool(request.config.getoption("--long"))


class OutsideNetwork(AssertionError):
    """A test reached for another machine."""


def _is_here(address: object) -> bool:
    if not isinstance(address, tuple):
        return True  # a Unix socket's path
    host = str(address[0])
    if host in ("", "localhost"):
        return True
    try:
        return ipaddress.ip_address(host.split("%")[0]).is_loopback
    except ValueError:
        return False


@pytest.fixture(autouse=True)
def no_way_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """Connections and name look-ups leave this machine in no test."""
    connect, connect_ex, look_up = socket.socket.connect, socket.socket.connect_ex, socket.getaddrinfo

    def guarded(real):
        def call(self, address):
            if self.family != socket.AF_UNIX and not _is_here(address):
                raise OutsideNetwork(f"a test tried to reach {address}")
            return real(self, address)

        return call

    def guarded_look_up(host, *args, **kwargs):
        if host is not None and not _is_here((host,)):
            raise OutsideNetwork(f"a test tried to look up {host}")
        return look_up(host, *args, **kwargs)

    monkeypatch.setattr(socket.socket, "connect", guarded(connect))
    monkeypatch.setattr(socket.socket, "connect_ex", guarded(connect_ex))
    monkeypatch.setattr(socket, "getaddrinfo", guarded_look_up)


@pytest.fixture(autouse=True)
def own_files(settings, tmp_path: Path) -> None:
    """Letters, pictures and kept mails of a test stay in its own folder; sign-in's rate limits begin anew."""
    settings.MEDIA_ROOT = tmp_path / "files"
    settings.OUTBOX_DIR = tmp_path / "outbox"
    cache.clear()


@pytest.fixture
def app_dsn(transactional_db) -> str:
    """Address of this test's database for the application role (neither owner nor superuser), for psycopg.

    Rows must be committed to be seen through it, so the test is a transactional one.
    """
    from django.conf import settings  # the settings exist only once pytest-django has loaded them

    url = urlsplit(os.environ["TEST_DATABASE_APP_URL"])
    return urlunsplit(url._replace(path="/" + settings.DATABASES["default"]["NAME"]))
