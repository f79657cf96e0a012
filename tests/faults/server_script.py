"""Starts and ends `script/server` as somebody at a terminal does."""

import contextlib
import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import psutil

from tests.cluster import READ_BY_SETTINGS

ROOT = Path(__file__).resolve().parent.parent.parent
GRACE_SECONDS = 4  # a worker takes all of it for a job that its database's end broke off
READY = re.compile(r"ready at (http://127\.0\.0\.1:\d+)/")


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


class ServerScript:
    """One run; `output` is the file with everything it said."""

    def __init__(self, var_dir: Path | None, *, output: Path, root: Path = ROOT, **variables: str) -> None:
        inherited = {k: v for k, v in os.environ.items() if k not in READ_BY_SETTINGS | {"PORT"}}
        where = {"VAR_DIR": str(var_dir)} if var_dir else {}
        # how a start goes is asked here; what the demo holds is tests/test_demo.py's
        chosen = {
            "DEMO": "off",
            "TAILWARD_VENV": sys.prefix,
            "PORT": str(free_port()),
            "WORKER_GRACE": str(GRACE_SECONDS),
            **where,
            **variables,
        }
        self.output, self.root, self.environment = output, root, inherited | chosen
        self.took = float("inf")  # s from a begin until it answered, at best
        self.begin()

    def begin(self, *, before_others: bool = False) -> None:
        """Also once more, after it ended; `before_others`, if the system allows: as if it were alone here."""
        self.began = time.monotonic()
        with self.output.open("wb") as stream:
            self.process = subprocess.Popen(
                [str(self.root / "script" / "server")],
                env=self.environment,
                stdin=subprocess.DEVNULL,
                stdout=stream,
                stderr=stream,
                start_new_session=True,
                preexec_fn=_before_others if before_others else None,
            )

    @property
    def said(self) -> str:
        return self.output.read_text()

    def ready(self, within: float = 90) -> str:
        """The address it prints, once it answers there."""
        while True:
            if found := READY.search(self.said):
                with urllib.request.urlopen(found[1] + "/healthz", timeout=10) as answer:
                    assert answer.status == 200
                self.took = min(self.took, time.monotonic() - self.began)
                return found[1]
            assert self.process.poll() is None, self.said
            assert time.monotonic() - self.began < within, f"not ready after {within} s: {self.said}"
            time.sleep(0.05)

    def ended(self, within: float = 60) -> int:
        return self.process.wait(timeout=within)

    def everything(self) -> list[psutil.Process]:
        """This process and all below it."""
        top = psutil.Process(self.process.pid)
        return [top, *top.children(recursive=True)]

    def ctrl_c(self) -> int:
        os.killpg(self.process.pid, signal.SIGINT)
        return self.ended()

    def put_away(self) -> None:
        """After a test that failed: end what still runs."""
        if self.process.poll() is None:
            self.process.terminate()
            self.ended()


def _before_others() -> None:
    """In the child, for itself and all that it starts: run whenever there is something to do."""
    with contextlib.suppress(PermissionError):  # root's right; who has not got it waits for its turn
        os.sched_setscheduler(0, os.SCHED_RR, os.sched_param(1))


def gone(processes: list[psutil.Process], within: float = 40) -> bool:
    """Whether all ended, also those that who adopted them has not asked after yet."""
    return all(_has_ended(each) for each in psutil.wait_procs(processes, timeout=within)[1])


def _has_ended(process: psutil.Process) -> bool:
    try:
        return process.status() == psutil.STATUS_ZOMBIE
    except psutil.NoSuchProcess:
        return True
