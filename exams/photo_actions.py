"""Photographs of an exam: taken in once, said more of, struck out with a reason. None is ever erased."""

from __future__ import annotations

import hashlib
from datetime import datetime
from pathlib import PurePosixPath
from uuid import UUID

from django.db import transaction
from django.db.models import F
from django.utils.dateparse import parse_datetime

from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.platform.files import keep
from clinic.platform.pictures import prepare
from clinic.visits.models import Record
from exams.actions import begin_exam
from exams.applying import role_of, staff_named
from exams.errors import PhotoRefused, RecordSigned
from exams.models import Exam, ExamPhoto
from exams.photo_letter import MOST, chosen_at
from exams.photos import LUMP
from exams.rows import animal_of
from exams.versions import lines_of

LONGEST_NOTE, LONGEST_TARGET, LONGEST_TIME = 200, 80, 40  # as the columns


def add_photo(
    *,
    record: Record,
    key: UUID,
    target: str,
    taken_at: str,
    content: bytes,
    note: str = "",
    observed_by: str = "",
    actor: Actor,
    now: datetime,
) -> ExamPhoto:
    """Take in a photograph; the same key again gets the same row again, also after signing.

    `target`: a line of the walk (`EAR.canal|left`) or `lump:3`. `taken_at`: ISO 8601 with its offset.
    `observed_by`: a staff number, when somebody else looked. The files are on the disk before the row is.
    Raises RecordSigned; PhotoRefused: `key-taken`, `bad-photo`, `no-such-line`; NotAPicture.
    """
    known = _known(key, record)
    if known:
        return known
    actor.require(Right.MEASURE)
    _readable(target, taken_at, note)
    if record.is_signed:
        raise RecordSigned
    if observed_by and staff_named(observed_by) is None:
        raise PhotoRefused("bad-photo", "Whoever looked does not work here.")
    picture = prepare(content)
    whole, small = keep(picture.content, ".jpg"), keep(picture.small, ".jpg")
    with transaction.atomic():
        exam = _held(begin_exam(record=record, actor=actor, now=now))
        known = _known(key, record)  # the other sending may have been first while we waited
        if known:
            return known
        if exam.record.is_signed:
            raise RecordSigned
        _named(target, exam)
        photo = ExamPhoto.objects.create(
            id=key,
            exam=exam,
            record=exam.record,
            target=target,
            note=note.strip(),
            sha256=PurePosixPath(whole).stem,
            small_sha256=PurePosixPath(small).stem,
            sent_sha256=hashlib.sha256(content).hexdigest(),
            width=picture.width,
            height=picture.height,
            taken_at=taken_at,
            received_at=now,
            by=actor.staff,
            role=role_of(actor),
            grant=actor.grant_id,
            observed_by_id=int(observed_by) if observed_by else None,
        )
        changed(exam)
    return photo


@transaction.atomic
def describe_photo(
    *, photo: ExamPhoto, note: str | None = None, in_letter: bool | None = None, actor: Actor, now: datetime
) -> ExamPhoto:
    """Say what a photograph shows, or that it goes into the letter (a clinician's choice).

    Raises RecordSigned; PhotoRefused: `struck`, `bad-photo` (a note too long, a letter that is full).
    """
    held = _open(photo)
    if note is not None:
        _own_or_any(held, actor)
        if len(note.strip()) > LONGEST_NOTE:
            raise PhotoRefused("bad-photo", f"Say it in {LONGEST_NOTE} characters at most.")
        held.note = note.strip()
    if in_letter is not None:
        actor.require(Right.ASSESS)
        others = chosen_at(held.record).exclude(pk=held.pk).count() if in_letter else 0
        if others >= MOST:
            raise PhotoRefused("bad-photo", f"A letter holds {MOST} photographs: take another one out first.")
        held.in_letter = in_letter
    held.save(update_fields=["note", "in_letter"])
    changed(held.exam)
    return held


@transaction.atomic
def strike_photo(*, photo: ExamPhoto, reason: str, actor: Actor, now: datetime) -> ExamPhoto:
    """Strike a photograph out: by whoever took it, or by a clinician. Picture and row stay.

    Raises RecordSigned; PhotoRefused: `no-reason`, `struck`.
    """
    held = _open(photo)
    _own_or_any(held, actor)
    if not reason.strip():
        raise PhotoRefused("no-reason", "Say why it is struck out.")
    held.struck_at, held.struck_by, held.struck_reason = now, actor.staff, reason.strip()[:LONGEST_NOTE]
    held.save(update_fields=["struck_at", "struck_by", "struck_reason"])
    changed(held.exam)
    return held


def _known(key: UUID, record: Record) -> ExamPhoto | None:
    """What came under this key before. One that another record has is nobody's second sending."""
    known = ExamPhoto.objects.select_related("by", "record").filter(pk=key).first()
    if known and known.record_id != record.pk:
        raise PhotoRefused("key-taken", "Another photograph has this key already.")
    return known


def _readable(target: str, taken_at: str, note: str) -> None:
    try:
        at = parse_datetime(taken_at)
    except ValueError:
        at = None
    if not 0 < len(target) <= LONGEST_TARGET or len(taken_at) > LONGEST_TIME or len(note) > LONGEST_NOTE:
        raise PhotoRefused("bad-photo", "What came with the photograph cannot be read.")
    if at is None or at.tzinfo is None:
        raise PhotoRefused("bad-photo", "When it was taken cannot be read.")


def _named(target: str, exam: Exam) -> None:
    """A line of this animal, or a lump by its number; a lump may reach the server after its photograph."""
    if target.startswith(LUMP) and target != LUMP:
        return
    if target not in lines_of(exam.walk_id, animal_of(exam.animal)):
        raise PhotoRefused("no-such-line", "This animal has no such line.")


def _held(exam: Exam) -> Exam:
    """The exam, its record held until the transaction ends: it cannot be signed meanwhile."""
    record = Record.objects.select_for_update(no_key=True, of=("self",)).get(pk=exam.record_id)
    exam.record = record
    return exam


def _open(photo: ExamPhoto) -> ExamPhoto:
    """The photograph anew, its record held and not signed. Raises RecordSigned, PhotoRefused: `struck`."""
    record = Record.objects.select_for_update(no_key=True, of=("self",)).get(pk=photo.record_id)
    if record.is_signed:
        raise RecordSigned
    held = ExamPhoto.objects.select_related("exam", "by").get(pk=photo.pk)
    if held.struck_at:
        raise PhotoRefused("struck", "It is struck out already.")
    held.record = record
    return held


def _own_or_any(photo: ExamPhoto, actor: Actor) -> None:
    actor.require(Right.STRIKE_OWN if photo.by_id == actor.staff.pk else Right.STRIKE_ANY)


def changed(exam: Exam) -> None:
    """Other tablets learn of it with their next question."""
    Exam.objects.filter(pk=exam.pk).update(photo_changes=F("photo_changes") + 1, revision=F("revision") + 1)
