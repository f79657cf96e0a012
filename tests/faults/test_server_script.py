import http.client
import json
import os
import shutil
import socket
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

import psutil
import pytest

from tests.faults.server_script import ROOT, ServerScript, gone

pytestmark = pytest.mark.faults


@dataclass(frozen=True)
class FirstRun:
    """A server started for the first time in a fresh clone in a folder that only its user may enter."""

    clone: Path
    rights_before: dict[Path, int]
    rights_after: dict[Path, int]
    server: ServerScript

    @property
    def var_dir(self) -> Path:
        return self.clone / "var"


@pytest.fixture(scope="module")
def first_run(tmp_path_factory) -> Iterator[FirstRun]:
    folder = tmp_path_factory.mktemp("house")
    clone = closed_clone(folder)
    places = (clone, clone.parent, folder)
    before = {place: place.stat().st_mode for place in places}
    first = ServerScript(None, root=clone, output=folder / "first.log")
    try:
        first.ready()
        yield FirstRun(clone, before, {place: place.stat().st_mode for place in places}, first)
    finally:
        first.put_away()
        away_with_data(clone)


@pytest.fixture(scope="module")
def var_dir(killed: Path) -> Path:
    """The data of a server that ran."""
    return killed


def closed_clone(folder: Path) -> Path:
    """A fresh clone in a folder that only its user may enter."""
    if not (ROOT / ".git").exists():
        pytest.skip("this copy of the project is no clone")
    closed = folder / "closed"
    closed.mkdir(mode=0o700)
    subprocess.run(["git", "clone", "--quiet", str(ROOT), str(closed / "clone")], check=True)
    return closed / "clone"


def away_with_data(clone: Path) -> None:
    """pytest's folders are closed to the database's user, so for root the data lie elsewhere."""
    access = clone / "var" / "database.json"
    if access.exists():
        shutil.rmtree(json.loads(access.read_text())["home"])


@pytest.fixture
def start(tmp_path):
    runs = []

    def start_one(var_dir, **variables) -> ServerScript:
        runs.append(ServerScript(var_dir, output=tmp_path / f"{len(runs)}.log", **variables))
        return runs[-1]

    yield start_one
    for run in runs:
        run.put_away()


def still_there(question, *arguments):
    """The answer of a process; nothing when it ended meanwhile, as the database's helpers do."""
    try:
        return question(*arguments)
    except psutil.NoSuchProcess:
        return []


def sentences(run: ServerScript) -> list[str]:
    return [line for line in run.said.splitlines() if not line.startswith("setup:")]


@pytest.fixture(scope="module")
def killed(first_run: FirstRun, tmp_path_factory) -> Iterator[Path]:
    """A server's data: its first process was killed, and after another start its database; each took the rest
    along.
    """
    var_dir, folder, first = first_run.var_dir, tmp_path_factory.mktemp("killed"), first_run.server
    runs = []

    def start_one() -> ServerScript:
        runs.append(ServerScript(var_dir, output=folder / f"{len(runs)}.log"))
        runs[-1].ready()
        return runs[-1]

    try:
        server = first if first.process.poll() is None else start_one()
        processes = server.everything()
        processes[0].kill()
        assert gone(processes)
        server = start_one()
        processes = server.everything()
        pid = int((data_folder(var_dir) / "postmaster.pid").read_text().splitlines()[0])
        psutil.Process(pid).kill()
        assert server.ended() == 1
        assert "The database ended by itself" in server.said
        assert gone(processes)
        yield var_dir
    finally:
        for run in runs:
            run.put_away()


@pytest.fixture(scope="module")
def running(var_dir: Path, tmp_path_factory) -> Iterator[ServerScript]:
    """A server behind a proxy that the next tests look at, and the last of them ends."""
    run = ServerScript(
        var_dir,
        output=tmp_path_factory.mktemp("running") / "server.log",
        TLS="on",
        SECRET_KEY="k" * 30 + "abcdefghijklmnopqrstuvwxyz",
        ALLOWED_HOSTS="tailward.lan",
    )
    try:
        run.ready()
        yield run
    finally:
        run.put_away()


def test_a_killed_server_or_database_takes_the_rest_along_and_recovers_at_the_next_start(running):
    assert running.process.poll() is None


def test_a_second_start_is_ready_within_ten_seconds(running):
    """The best of a few, since what other tests take of the machine meanwhile is not the server's."""
    for _again in range(3):
        if running.took > 10:
            assert running.ctrl_c() == 0
            running.begin(before_others=True)
            running.ready()
    assert running.took <= 10


def test_a_second_server_on_the_same_data_is_refused(start, running, var_dir):
    second = start(var_dir)
    assert second.ended() == 1
    assert sentences(second) == [f"script/server already runs here (process {running.process.pid})."]
    assert running.process.poll() is None


def test_it_listens_on_this_machine_only(running):
    listening = {
        connection.laddr.ip
        for process in running.everything()
        for connection in still_there(process.net_connections, "inet")
        if connection.status == psutil.CONN_LISTEN
    }
    assert listening == {"127.0.0.1"}


def test_behind_a_tls_proxy_nothing_is_answered_without_tls(running):
    address = urlsplit(running.ready()).netloc

    def ask(**headers: str) -> http.client.HTTPResponse:
        talk = http.client.HTTPConnection(address, timeout=10)
        talk.request("GET", "/accounts/login/", headers={"Host": "tailward.lan", **headers})
        return talk.getresponse()

    plain = ask()
    assert (plain.status, plain.headers["Location"]) == (301, "https://tailward.lan/accounts/login/")
    through_the_proxy = ask(**{"X-Forwarded-Proto": "https", "X-Forwarded-For": "127.0.0.1"})
    assert through_the_proxy.status == 200
    assert through_the_proxy.headers["Strict-Transport-Security"]
    assert "Secure" in through_the_proxy.headers["Set-Cookie"]


def test_ctrl_c_leaves_no_process_behind(running):
    processes = running.everything()
    names = {name for process in processes for name in still_there(process.cmdline)}
    assert "worker" in names
    assert any(name.endswith("/postgres") for name in names)
    assert running.ctrl_c() == 0
    assert gone(processes)


def test_a_taken_port_is_said_in_one_sentence(start, var_dir):
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        run = start(var_dir, PORT=str(port))
        assert run.ended() == 1
    assert sentences(run) == [
        f"Port {port} is taken by another program: choose another one, as PORT={port % 65535 + 1}."
    ]


@pytest.mark.parametrize("port", ["eighty", "0", "70000", "-1"])
def test_a_senseless_port_is_said_in_one_sentence(start, var_dir, port):
    run = start(var_dir, PORT=port)
    assert run.ended() == 1
    assert sentences(run) == [f"PORT is '{port}'; it can be a number from 1 to 65535."]


def test_data_of_another_major_version_are_refused_and_left_alone(start, var_dir):
    version = data_folder(var_dir) / "PG_VERSION"
    ours = version.read_text()
    version.write_text("12\n")
    before = as_they_lie(data_folder(var_dir))
    try:
        run = start(var_dir)
        assert run.ended() == 1
        assert len(sentences(run)) == 1
        assert "were written by PostgreSQL 12 and this is PostgreSQL" in run.said
        assert as_they_lie(data_folder(var_dir)) == before
    finally:
        version.write_text(ours)


def test_lost_passwords_are_said_and_the_data_left_alone(start, var_dir):
    access = var_dir / "database.json"
    kept = access.rename(access.with_suffix(".kept"))
    try:
        run = start(var_dir)
        assert run.ended() == 1
        assert "with its passwords is gone: bring that file back" in run.said
    finally:
        kept.rename(access)


def test_a_missing_right_is_said_in_one_sentence(start):
    # not even root may make a folder there
    run = start(Path("/sys/tailward"))
    assert run.ended() == 1
    assert len(sentences(run)) == 1
    assert sentences(run)[0].startswith("/sys/tailward cannot be used by ")


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can mount a small disk")
def test_a_full_disk_is_said_in_one_sentence(start, tmp_path):
    small = tmp_path / "small"
    small.mkdir()
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=4m", "tmpfs", str(small)], check=False)
    if mounted.returncode:
        pytest.skip("no right to mount here")
    try:
        run = start(small / "var")
        assert run.ended() == 1
        assert len(sentences(run)) == 1
        assert sentences(run)[0].startswith("The disk is full: ")
    finally:
        subprocess.run(["umount", str(small)], check=True)


def test_an_old_python_is_said_in_one_sentence(start, tmp_path):
    old = tmp_path / "python3"
    old.write_text('#!/bin/sh\ncase "$2" in *exit*) exit 1 ;; *) echo 3.9 ;; esac\n')
    old.chmod(0o755)
    run = start(tmp_path / "var", PYTHON=str(old))
    assert run.ended() == 1
    assert sentences(run) == [
        f"Tailward needs Python 3.11 or newer, and {old} is 3.9: name a newer one in PYTHON."
    ]


def test_secrets_are_readable_by_their_user_alone(var_dir):
    for name in ("database.json", "secret-key"):
        assert (var_dir / name).stat().st_mode & 0o777 == 0o600
    sockets = Path(json.loads((var_dir / "database.json").read_text())["sockets"])
    assert sockets.stat().st_mode & 0o777 == 0o700


def test_it_runs_in_a_clone_in_a_folder_closed_to_others(first_run):
    assert first_run.rights_after == first_run.rights_before


@pytest.mark.long
def test_a_fresh_clone_installs_everything_itself(start, tmp_path):
    clone = closed_clone(tmp_path)
    run = start(None, root=clone, TAILWARD_VENV=".venv")
    try:
        run.ready(within=600)
        assert run.ctrl_c() == 0
    finally:
        run.put_away()
        away_with_data(clone)


def as_they_lie(folder: Path) -> dict[Path, tuple[int, int]]:
    """Every file with its size and when it was last written."""
    found = {each: each.stat() for each in folder.rglob("*") if each.is_file()}
    return {each: (told.st_size, told.st_mtime_ns) for each, told in found.items()}


def data_folder(var_dir: Path) -> Path:
    return Path(json.loads((var_dir / "database.json").read_text())["home"]) / "data"
