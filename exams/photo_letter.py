"""Photographs in a letter: those a clinician chose, each beside the one chosen at an earlier visit."""

from __future__ import annotations

from django.db.models import QuerySet

from clinic.letters.document import Photo, Photos, Section
from clinic.letters.sheet import quoted
from clinic.letters.texts import SOURCE, Texts
from clinic.letters.wording import long_day, words
from clinic.visits.models import Record
from exams.models import ExamPhoto
from exams.owner_texts import ROOM, texts_of
from exams.photos import Names, names_of, photo_day, photo_of
from exams.sentences import place_for_owner
from exams.versions import walk_of

MOST = 4  # chosen at one visit: more would not leave the letter on its sheet


def chosen_at(record: Record) -> QuerySet[ExamPhoto]:
    """What goes into this record's letter, as taken."""
    return ExamPhoto.objects.filter(record=record, in_letter=True, struck_at=None)


def photo_section(record: Record, language: str = SOURCE) -> Section | None:
    """One block a place: today's photographs, after the newest of earlier letters. At most three queries."""
    today = list(chosen_at(record).select_related("by", "struck_by", "record__visit", "exam")[:MOST])
    if not today:
        return None
    patient = record.visit.patient
    names = names_of(patient)
    before = _before(record, {photo.target for photo in today})
    blocks = []
    for target in dict.fromkeys(photo.target for photo in today):
        shown = [p for p in (before.get(target), *(p for p in today if p.target == target)) if p]
        blocks.append(Photos(tuple(_photo(p, names, language) for p in shown)))
    return Section("pictures", ROOM(language)("photo.title"), 45, tuple(blocks))


def _before(record: Record, targets: set[str]) -> dict[str, ExamPhoto]:
    """By place, the newest that went into a letter of an earlier visit."""
    rows = ExamPhoto.objects.filter(
        target__in=targets,
        in_letter=True,
        struck_at=None,
        record__visit__patient=record.visit.patient_id,
        record__opened_at__lt=record.opened_at,
    ).select_related("by", "struck_by", "record__visit", "exam")
    return {row.target: row for row in rows.order_by("record__opened_at", "received_at")}


def _photo(row: ExamPhoto, names: Names, language: str) -> Photo:
    t, told = texts_of(walk_of(row.exam.walk_id), language), photo_of(row, names)
    said = {"place": _place(row, names, t), "day": long_day(photo_day(row), words(language))}
    if told.note:
        said["note"] = t.own(told.note.rstrip("."))
    noted = "_note" if told.note else ""
    return Photo(
        sha256=row.sha256,
        src=told.src,
        alt=quoted(t(f"photo.alt{noted}", **said)),
        caption=t.sentence(
            f"photo:{row.pk}", f"photo.caption{noted}", "a photograph", told.note, told.by, **said
        ),
        width=row.width,
        height=row.height,
    )


def _place(row: ExamPhoto, names: Names, t: Texts) -> str:
    structure, _, side = row.target.partition("|")
    walk = walk_of(row.exam.walk_id)
    if structure not in walk.structure:
        return t.own(names.words(row.target))
    return place_for_owner(walk, structure, side, names.species, t)
