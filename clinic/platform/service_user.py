"""The ordinary operating-system user under which root starts the database.

PostgreSQL refuses to run as root. Everything here matters only for somebody who runs the commands as
root; an ordinary user's database runs as that user.
"""

import os
import pwd
import subprocess
from dataclasses import dataclass
from pathlib import Path

SERVICE_USER = "tailward-db"


class NoServiceUser(Exception):
    """The service user could not be made; the message is one sentence for whoever started the command."""


@dataclass(frozen=True)
class RunAs:
    """Who a child process runs as; `uid` None means: as ourselves."""

    uid: int | None = None
    gid: int | None = None

    def may_enter(self, folder: Path) -> bool:
        """True when this user can pass through `folder` (an existing folder) and read in it."""
        return self.runs(["/usr/bin/test", "-x", str(folder), "-a", "-r", str(folder)])

    def runs(self, command: list[str]) -> bool:
        """True when `command` can be started as this user and ends with 0."""
        try:
            done = subprocess.run(  # noqa: S603 - fixed commands of ours
                command,
                user=self.uid,
                group=self.gid,
                extra_groups=None if self.uid is None else [],
                cwd="/",
                capture_output=True,
                check=False,
            )
        except PermissionError:
            return False
        return done.returncode == 0

    def give(self, path: Path) -> None:
        """Make this user the owner of `path`, which we have just made ourselves."""
        if self.uid is not None and self.gid is not None:
            os.chown(path, self.uid, self.gid)


def run_as() -> RunAs:
    """Ourselves for an ordinary user; for root the service user, made on first use.

    Raises NoServiceUser.
    """
    if os.geteuid() != 0:
        return RunAs()
    try:
        entry = pwd.getpwnam(SERVICE_USER)
    except KeyError:
        _make_user()
        entry = pwd.getpwnam(SERVICE_USER)
    return RunAs(uid=entry.pw_uid, gid=entry.pw_gid)


def _make_user() -> None:
    command = ["useradd", "--system", "--no-create-home", "--user-group", "--shell", "/usr/sbin/nologin"]
    try:
        done = subprocess.run(  # noqa: S603 - fixed command of ours
            [*command, SERVICE_USER], capture_output=True, text=True, check=False
        )
    except FileNotFoundError as error:
        raise NoServiceUser(
            f"PostgreSQL does not run as root and no user could be made for it: "
            f"make a system user named {SERVICE_USER}, or run this as an ordinary user."
        ) from error
    # 9: two commands started together and the other one was first
    if done.returncode not in (0, 9):
        raise NoServiceUser(
            f"PostgreSQL does not run as root, and making the user {SERVICE_USER} for it failed: "
            f"{done.stderr.strip()}"
        )
