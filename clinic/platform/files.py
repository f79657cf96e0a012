"""Stored files (letters, pictures): named by their SHA-256, written and fsynced first, never overwritten."""

import hashlib
import os
import re
import uuid
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

from django.core.files.base import ContentFile, File
from django.core.files.storage import FileSystemStorage, default_storage

_suffix = re.compile(r"\.[a-z0-9]{1,8}")


class WrongFile(Exception):
    """A stored file's bytes are not those its name was made from."""


class ContentStorage(FileSystemStorage):
    """A file system storage that writes whole files durably and leaves a file that exists as it is."""

    def _save(self, name: str, content: File) -> str:  # type: ignore[type-arg]
        target = Path(self.path(name))
        if target.exists():
            return name
        target.parent.mkdir(parents=True, exist_ok=True)
        part = target.with_name(f".{target.name}.{uuid.uuid4().hex}.part")
        try:
            handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            with os.fdopen(handle, "wb") as stream:
                for chunk in content.chunks():
                    stream.write(chunk)
                stream.flush()
                os.fsync(stream.fileno())
            part.rename(
                target
            )  # the same name means the same bytes, so a race writes them twice and harms none
        finally:
            part.unlink(missing_ok=True)
        _fsync_folder(target.parent)
        _fsync_folder(target.parent.parent)
        return name

    def get_available_name(self, name: str, max_length: int | None = None) -> str:
        return name


def content_name(content: bytes, suffix: str) -> str:
    """`ab/abcdef….pdf` for `content`; `suffix` with its dot, as `.pdf`."""
    if not _suffix.fullmatch(suffix):
        raise ValueError(f"{suffix!r} is no file name's suffix")
    digest = hashlib.sha256(content).hexdigest()
    return f"{digest[:2]}/{digest}{suffix}"


def keep(content: bytes, suffix: str) -> str:
    """Store `content`, before its row commits, and give the name for the row. Same bytes, stored once."""
    return default_storage.save(content_name(content, suffix), ContentFile(content))


def read(name: str) -> bytes:
    """The bytes kept under `name`. Raises FileNotFoundError, or WrongFile when they were changed since."""
    with default_storage.open(name) as stream:
        content = bytes(stream.read())
    if content_name(content, Path(name).suffix) != name:
        raise WrongFile(name)
    return content


def names(before: datetime) -> Iterator[str]:
    """Names of all kept files last written before `before` (aware): what a sweep of orphans looks through.

    A file younger than a transaction's longest life may belong to a row not committed yet.
    """
    folders, _ = _listing("")
    for folder in sorted(folders):
        for file in sorted(_listing(folder)[1]):
            name = f"{folder}/{file}"
            if not file.startswith(".") and default_storage.get_modified_time(name) < before:
                yield name


def _listing(folder: str) -> tuple[list[str], list[str]]:
    try:
        return default_storage.listdir(folder)
    except FileNotFoundError:
        return [], []


def _fsync_folder(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
