"""Sound as it waits for being listened to: files that nobody else reads, each deleted afterwards."""

from __future__ import annotations

import os
from pathlib import Path

from django.conf import settings

FOLDER = "sound"
MOST_BYTES = 40_000_000  # an hour of compressed speech


def path_of(name: str) -> Path:
    return Path(settings.VAR_DIR) / FOLDER / name


def keep(name: str, content: bytes) -> None:
    """Write it where web and worker find it, closed to everybody else."""
    target = path_of(name)
    target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    handle = os.open(target, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(handle, "wb") as stream:
        stream.write(content)


def forget(name: str) -> None:
    """Delete it; once more does no harm."""
    if name:
        path_of(name).unlink(missing_ok=True)
