"""Versions of the walk: composed from the files, kept in an immutable row, read from it for ever."""

from __future__ import annotations

from datetime import datetime
from functools import cache, lru_cache

from clinic.platform.models import DataVersion
from exams.lines import Animal, Lines, applicable
from exams.walk import Walk, from_json, load_walk, to_json


@cache
def composed() -> Walk:
    """The walk that a new exam begins with. Read once a process: files change with a release only."""
    return load_walk()


def version_row(*, now: datetime) -> DataVersion:
    """The row of the composed walk, made when it is the first time."""
    walk = composed()
    # the body is long: neither read nor composed where the row stands
    row, _made = DataVersion.objects.defer("body").get_or_create(
        sha256=walk.sha256,
        defaults={"kind": DataVersion.Kind.WALK, "body": lambda: to_json(walk), "composed_at": now},
    )
    return row


@lru_cache(maxsize=32)
def walk_of(sha256: str) -> Walk:
    """The walk of an exam, whatever the files say now. Rows never change, so it is kept for the process."""
    if sha256 == composed().sha256:
        return composed()
    walk = from_json(DataVersion.objects.only("body").get(sha256=sha256).body)
    assert walk.sha256 == sha256, "a stored walk does not match its own number"
    return walk


@lru_cache(maxsize=256)
def lines_of(sha256: str, animal: Animal) -> Lines:
    """The lines of one animal in one version of the walk."""
    return applicable(
        walk_of(sha256), animal.species, animal.sex, animal.neutered, animal.age_days, animal.absences
    )
