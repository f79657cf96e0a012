"""The tests' own database ends with the tests, however they end."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import psutil
import pytest

from tests.cluster import READ_BY_SETTINGS
from tests.faults.server_script import gone

ROOT = Path(__file__).resolve().parents[2]

pytestmark = pytest.mark.faults

SLEEPS = """
import pathlib, time
def test_sleeps():
    pathlib.Path({mark!r}).touch()
    time.sleep(60)
"""


def listens_to_ctrl_c() -> None:
    """What a shell starts in the background would inherit an ignored Ctrl-C."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


@pytest.fixture
def sleeping_run(tmp_path):
    mark = tmp_path / "asleep"
    (tmp_path / "test_sleeps.py").write_text(SLEEPS.format(mark=str(mark)))
    left_out = READ_BY_SETTINGS | {"PYTEST_XDIST_WORKER", "PYTEST_CURRENT_TEST", "TEST_CLUSTER"}
    run = subprocess.Popen(
        [
            sys.executable,
            "-m",
            "pytest",
            "-c",
            str(ROOT / "pyproject.toml"),
            str(tmp_path / "test_sleeps.py"),
        ],
        cwd=ROOT,
        env={name: value for name, value in os.environ.items() if name not in left_out},
        stdout=subprocess.DEVNULL,
        preexec_fn=listens_to_ctrl_c,
    )
    deadline = time.monotonic() + 60
    while not mark.exists():
        assert run.poll() is None
        assert time.monotonic() < deadline
        time.sleep(0.05)
    yield run
    if run.poll() is None:
        run.kill()
    run.wait()


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGKILL])
def test_no_server_outlives_a_run_that_was_broken_off(sleeping_run, number):
    servers = psutil.Process(sleeping_run.pid).children(recursive=True)
    assert any("postgres" in server.name() for server in servers)
    sleeping_run.send_signal(number)
    sleeping_run.wait(timeout=60)
    assert gone(servers)
