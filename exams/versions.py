"""Versions of the walk: the files with the clinic's own changes, kept in immutable rows, read for ever."""

from __future__ import annotations

import logging
from dataclasses import dataclass
from datetime import datetime
from functools import cache, lru_cache

from clinic.people.queries import CREDITED_FOR
from clinic.platform.models import DataVersion
from exams.lines import Animal, Lines, applicable
from exams.own_models import WalkEdition
from exams.own_walk import NONE, Changes, changes_from_json, composed_with
from exams.walk import Walk, WalkError, from_json, load_walk, number_of, to_json

log = logging.getLogger(__name__)


@cache
def published() -> Walk:
    """The walk of the files alone. Read once a process: files change with a release only."""
    return load_walk()


@dataclass(frozen=True)
class InForce:
    """The walk that a new exam begins with. `edition`: 0 while the clinic changed nothing.

    `trouble`: why the newest files do not take the clinic's changes; its last edition holds meanwhile.
    """

    walk: Walk
    changes: Changes = NONE
    edition: int = 0
    approved_by: int | None = None
    trouble: str = ""


def in_force() -> InForce:
    """One query."""
    newest = WalkEdition.objects.order_by("-number").values_list("number", "version_id", "by_id").first()
    return _in_force(*newest) if newest else InForce(published())


@lru_cache(maxsize=8)
def _in_force(number: int, sha256: str, by: int) -> InForce:
    """Editions are only added, so each is composed once a process."""
    changes = changes_from_json(WalkEdition.objects.values_list("changes", flat=True).get(number=number))
    try:
        return InForce(composed_with(published(), changes), changes, number, by)
    except WalkError as error:
        log.error("the clinic's own walk does not fit the files of this release: %s", error)
        return InForce(walk_of(sha256), changes, number, by, str(error))


def composed() -> Walk:
    """The walk that a new exam begins with: the files with the clinic's own changes. One query."""
    return in_force().walk


def version_row(*, now: datetime, shown: str = "") -> DataVersion:
    """The row of the walk that an exam begins with, made when it is the first time.

    `shown`: the version that the page of the first tap was drawn with. A page may have been open while a new
    edition was approved: its taps count, so the exam begins with what it showed.
    """
    force = in_force()
    if shown and shown != force.walk.sha256:
        if shown == published().sha256:
            return keep_version(published(), now=now)
        if is_taken(shown, now=now):
            return DataVersion.objects.defer("body").get(sha256=shown)
    return keep_version(force.walk, approved_by=force.approved_by, now=now)


def is_taken(sha256: str, *, now: datetime) -> bool:
    """Whether taps made on a page with this walk still count: it is in force, or was until 30 days ago.

    At most three queries; none for the walk of the files.
    """
    if sha256 == published().sha256:
        return True
    walks = DataVersion.objects.filter(kind=DataVersion.Kind.WALK)
    kept = walks.filter(sha256=sha256).values_list("composed_at", flat=True).first()
    if kept is None:
        return False
    after = walks.filter(composed_at__gt=kept).order_by("composed_at").values_list("composed_at", flat=True)
    replaced = after.first()
    return replaced is None or now - replaced < CREDITED_FOR or sha256 == composed().sha256


def keep_version(walk: Walk, *, approved_by: int | None = None, now: datetime) -> DataVersion:
    """The immutable row of a walk."""
    # the body is long: neither read nor composed where the row stands
    row, _made = DataVersion.objects.defer("body").get_or_create(
        sha256=walk.sha256,
        defaults={
            "kind": DataVersion.Kind.WALK,
            "body": lambda: to_json(walk),
            "composed_at": now,
            "approved_by_id": approved_by,
        },
    )
    return row


@lru_cache(maxsize=32)
def walk_of(sha256: str) -> Walk:
    """The walk of an exam, whatever the files say now. Rows never change, so it is kept for the process."""
    if sha256 == published().sha256:
        return published()
    body = DataVersion.objects.only("body").get(sha256=sha256).body
    assert number_of(body) == sha256, "a stored walk does not match its own number"
    return from_json(body)


@lru_cache(maxsize=256)
def lines_of(sha256: str, animal: Animal) -> Lines:
    """The lines of one animal in one version of the walk."""
    return applicable(
        walk_of(sha256), animal.species, animal.sex, animal.neutered, animal.age_days, animal.absences
    )
