"""Photographs taken on the wrong patient: struck out there, and kept on the right one as they were taken.

The picture's files are named by their content and stay where they are; whoever took it stays named.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from uuid import uuid4

from django.utils import timezone

from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.platform.registries import Movable
from clinic.visits.models import Record
from clinic.visits.movables import may_strike
from exams.lines import Lines
from exams.models import ExamPhoto
from exams.moving import begun
from exams.photo_actions import LONGEST_NOTE, changed
from exams.photos import LUMP, Names, names_of
from exams.queries import Standing, standing_of


class ExamPhotos:
    """Photographs of lines and teeth; those of a lump go with their lump, or stay with it."""

    name, order, title = "photos", 22, "Photographs"

    def rows(self, record: Record, *, to: Record, actor: Actor, now: datetime) -> list[Movable]:
        there = standing_of(to, today=timezone.localdate(now)).lines
        here = standing_of(record, today=timezone.localdate(now))
        names = names_of(record.visit.patient)
        return [
            Movable(
                key=str(photo.pk),
                where=_where(photo, here, names),
                words=photo.note or "photograph without words",
                seen_by=photo.observed_by or photo.by,
                hinder=may_strike(photo.by, actor)
                or ("" if actor.may(Right.MEASURE) else f"This needs the right “{Right.MEASURE.value}”.")
                or _stays(photo, there),
            )
            for photo in _standing_photos(record)
            if photo.target.removeprefix(LUMP) not in here.state.lumps
        ]

    def move(self, record: Record, keys: Sequence[str], *, to: Record, actor: Actor, now: datetime) -> None:
        photos = [photo for photo in _standing_photos(record) if str(photo.pk) in keys]
        put_photos(photos, {photo.target: photo.target for photo in photos}, to=to, actor=actor, now=now)


def photos_at(record: Record, targets: Iterable[str]) -> list[ExamPhoto]:
    """Those of a record that show one of these places, and are not struck out."""
    wanted = set(targets)
    return [photo for photo in _standing_photos(record) if photo.target in wanted]


def put_photos(
    photos: Sequence[ExamPhoto], became: Mapping[str, str], *, to: Record, actor: Actor, now: datetime
) -> None:
    """Strike each out and keep its picture in the other record at the place it became there. Whether it goes
    into that letter is chosen anew.

    Both records are held by the caller, and not signed.
    """
    if not photos:
        return
    exam = begun(to, actor, now)
    for photo in photos:
        taken = {
            name: getattr(photo, name)
            for name in (
                "note", "sha256", "small_sha256", "sent_sha256", "width", "height",
                "taken_at", "by_id", "role", "grant", "observed_by_id",
            )
        }  # fmt: skip
        target = became[photo.target]
        ExamPhoto.objects.create(id=uuid4(), exam=exam, record=to, target=target, received_at=now, **taken)
        photo.struck_at, photo.struck_by = now, actor.staff
        photo.struck_reason = f"wrong patient: belongs to {to.visit.patient.name}"[:LONGEST_NOTE]
        photo.save(update_fields=["struck_at", "struck_by", "struck_reason"])
    changed(exam)
    changed(photos[0].exam)


def _standing_photos(record: Record) -> list[ExamPhoto]:
    rows = ExamPhoto.objects.filter(record=record, struck_at=None)
    return list(rows.select_related("exam", "by", "observed_by"))


def _stays(photo: ExamPhoto, there: Lines) -> str:
    """Why it cannot go: a lump that nothing is said of today is the wrong patient's own."""
    if photo.target.startswith(LUMP):
        return "It shows a lump of this patient: strike it out there, and take it anew."
    return "" if photo.target in there else "This animal has no such place."


def _where(photo: ExamPhoto, here: Standing, names: Names) -> str:
    if photo.target not in here.lines:
        return names.words(photo.target)
    line = here.lines[photo.target]
    side = f", {line.side_words}" if line.side_words else ""
    return f"{here.walk.station[line.station].short}: {line.name}{side}"
