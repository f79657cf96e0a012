"""What `script/server` runs: database, web and worker together, until Ctrl-C ends all of them.

This process imports no Django: it stays small while it waits.
"""

import ctypes
import errno
import fcntl
import getpass
import os
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType
from typing import IO, NoReturn

from clinic.platform.embedded import Cluster, EmbeddedError

ROOT = Path(__file__).resolve().parent.parent.parent
LEAST_FREE_MB = 200
HOST = "127.0.0.1"
# what was started last is ended first
END_WITHIN_SECONDS = 40


class CannotServe(Exception):
    """Something that the person who started the server can put right; the message is one sentence."""


class Ended(BaseException):
    """Somebody asked us to end (Ctrl-C, SIGTERM, a closed terminal)."""


def say(text: str) -> None:
    print(text, flush=True)  # noqa: T201 - this is the command's own output


@dataclass
class Server:
    """The parts that run. `end()` ends those that were started, the last one first."""

    var_dir: Path
    port: int
    cluster: Cluster | None = None
    children: dict[str, subprocess.Popen[bytes]] = field(default_factory=dict)

    def run(self) -> None:
        """Start everything, say where it is, and wait until one part ends. Raises CannotServe, Ended."""
        began = time.monotonic()
        if not os.environ.get("DATABASE_URL") and not os.environ.get("DATABASE_URL_FILE"):
            self.cluster = Cluster(self.var_dir, say=say)
            self.cluster.start()
        people = self._prepare()
        self._start(
            "web", "gunicorn", "-c", "python:clinic.platform.gunicorn_conf", *self._bind(), "clinic.wsgi"
        )
        self._start("worker", str(ROOT / "manage.py"), "worker")
        self._wait_until_it_answers()
        say(f"\nTailward is ready at http://{HOST}:{self.port}/ (after {time.monotonic() - began:.1f} s).")
        if people:
            say(people)
        say("Ctrl-C ends it.")
        self._watch()

    def end(self) -> None:
        """End every part in order, however far the start came."""
        for child in reversed(self.children.values()):
            if child.poll() is None:
                child.terminate()
        deadline = time.monotonic() + END_WITHIN_SECONDS
        for child in self.children.values():
            try:
                child.wait(timeout=max(0.1, deadline - time.monotonic()))
            except subprocess.TimeoutExpired:
                os.killpg(child.pid, signal.SIGKILL)  # its own group: nobody else is in it
                child.wait()
        if self.cluster is not None:
            self.cluster.stop()

    def _prepare(self) -> str:
        """Migrate, collect the static files, lay out the demo clinic; what the demo says about its people."""
        child = self._start("preparation", str(ROOT / "manage.py"), "prepare", stdout=subprocess.PIPE)
        output = child.communicate()[0].decode()
        del self.children["preparation"]
        if child.returncode:
            raise CannotServe("Preparing the database failed: see above.")
        return output.strip()

    def _bind(self) -> list[str]:
        return ["--bind", f"{HOST}:{self.port}"]

    def _start(self, name: str, *arguments: str, stdout: int | None = None) -> subprocess.Popen[bytes]:
        command = [sys.executable, *(["-m", *arguments] if arguments[0] == "gunicorn" else arguments)]
        child = subprocess.Popen(  # noqa: S603 - our own programs
            command,
            cwd=ROOT,
            env={**os.environ, "DJANGO_SETTINGS_MODULE": "clinic.settings", "VAR_DIR": str(self.var_dir)},
            stdin=subprocess.DEVNULL,
            stdout=stdout,
            start_new_session=True,  # the terminal's Ctrl-C is for us, who end the parts in order
            preexec_fn=_end_with_parent,
        )
        self.children[name] = child
        return child

    def _wait_until_it_answers(self) -> None:
        while True:
            self._look_at_the_parts()
            try:
                with urllib.request.urlopen(f"http://{HOST}:{self.port}/healthz", timeout=5):
                    return
            except (urllib.error.URLError, TimeoutError, ConnectionError):
                time.sleep(0.05)

    def _watch(self) -> NoReturn:
        while True:
            self._look_at_the_parts()
            time.sleep(0.5)

    def _look_at_the_parts(self) -> None:
        for name, child in self.children.items():
            if child.poll() is not None:
                raise CannotServe(f"The {name} ended by itself (code {child.returncode}): see above.")
        process = self.cluster.process if self.cluster else None
        if process is not None and process.poll() is not None:
            raise CannotServe(f"The database ended by itself (code {process.returncode}).")


def port_from(text: str) -> int:
    """The port in `text`. Raises CannotServe."""
    if not text.isascii() or not text.isdigit() or not 1 <= int(text) <= 65535:
        raise CannotServe(f"PORT is {text!r}; it can be a number from 1 to 65535.")
    return int(text)


def refuse_taken_port(port: int) -> None:
    """Raises CannotServe when nobody can listen on `port`."""
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)  # as gunicorn does
        try:
            probe.bind((HOST, port))
        except PermissionError as error:
            raise CannotServe(f"Port {port} is for root only: choose another one, as PORT=8300.") from error
        except OSError as error:
            raise CannotServe(
                f"Port {port} is taken by another program: choose another one, as PORT={port % 65535 + 1}."
            ) from error


def refuse_full_disk(var_dir: Path) -> None:
    """Raises CannotServe when there is too little room for a database to start in."""
    free = shutil.disk_usage(var_dir).free // 1_000_000
    if free < LEAST_FREE_MB:
        raise CannotServe(
            f"The disk is full: {free} MB are free at {var_dir}, {LEAST_FREE_MB} MB are needed."
        )


def only_server(var_dir: Path) -> IO[str]:
    """Take the lock that one running server holds; keep the answer open. Raises CannotServe."""
    lock = (var_dir / "server.lock").open("a+")
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError as error:
        lock.seek(0)
        raise CannotServe(f"script/server already runs here (process {lock.read().strip()}).") from error
    lock.truncate(0)
    lock.write(str(os.getpid()))
    lock.flush()
    return lock


def main() -> int:
    """Serve until asked to end. The exit code: 0 after Ctrl-C, 1 with one sentence on stderr."""
    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, _end)
    server = None
    try:
        var_dir = Path(os.environ.get("VAR_DIR") or ROOT / "var").resolve()
        port = port_from(os.environ.get("PORT") or "8300")
        var_dir.mkdir(parents=True, exist_ok=True)
        lock = only_server(var_dir)
        refuse_taken_port(port)
        refuse_full_disk(var_dir)
        server = Server(var_dir, port)
        server.run()
    except Ended:
        say("\nEnding.")
        return 0
    except (CannotServe, EmbeddedError) as error:
        print(error, file=sys.stderr)  # noqa: T201
        return 1
    except OSError as error:
        print(_sentence(error), file=sys.stderr)  # noqa: T201
        return 1
    finally:
        for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
            signal.signal(number, signal.SIG_IGN)  # a second Ctrl-C must not leave half of it running
        if server is not None:
            server.end()
            lock.close()
    return 0


def _sentence(error: OSError) -> str:
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return f"The disk is full: {error.filename or 'a file'} could not be written."
    if isinstance(error, PermissionError):
        return f"{error.filename} cannot be used by {getpass.getuser()}: give that user the right to it."
    return f"{error.strerror}: {error.filename}" if error.filename else str(error)


def _end(number: int, frame: FrameType | None) -> NoReturn:
    raise Ended


def _end_with_parent() -> None:
    """In the child: be asked to end when this process dies without having ended it."""
    pr_set_pdeathsig = 1
    ctypes.CDLL(None).prctl(pr_set_pdeathsig, signal.SIGTERM)


if __name__ == "__main__":
    sys.exit(main())
