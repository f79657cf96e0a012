"""A recording on its way: taken in, listened to by a worker, said as lines, its sound deleted."""

from __future__ import annotations

import logging
from datetime import datetime
from uuid import NAMESPACE_URL, UUID, uuid5

from django.conf import settings
from django.db import transaction
from django.db.models import F
from procrastinate.contrib.django import app

from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.models import Record
from exams import recogniser as engines
from exams.actions import apply_operations, begin_exam
from exams.errors import ExamError, RecordSigned
from exams.models import Exam, TalkRecording
from exams.recogniser import sound
from exams.rows import animal_of
from exams.talk_words import spoken_languages
from exams.versions import lines_of, walk_of

TASK = "exams.recogniser.tasks.listen"
SUFFIXES = {"audio/wav": ".wav", "audio/x-wav": ".wav", "audio/webm": ".webm", "audio/ogg": ".ogg"}
SUFFIXES |= {"audio/wave": ".wav", "audio/vnd.wave": ".wav", "audio/aac": ".aac", "audio/mpeg": ".mp3"}
SUFFIXES |= dict.fromkeys(("audio/mp4", "audio/m4a", "audio/x-m4a"), ".m4a")
NOTHING = "Nothing was understood. Say it again, or use the keyboard’s dictation."
FAILED = "The recording could not be listened to. Say it again, or use the keyboard’s dictation."
log = logging.getLogger(__name__)


class RecordingRefused(ExamError):
    """A recording cannot be taken in. The text is for the person who sent it."""


def take_recording(
    *, record: Record, key: UUID, content: bytes, kind: str, language: str, actor: Actor, now: datetime
) -> TalkRecording:
    """Keep the sound and queue the listening; the same key again gets the same row again.

    `kind`: a media type. Raises RecordSigned, RecordingRefused.
    """
    actor.require(Right.MEASURE)
    suffix = SUFFIXES.get(kind.partition(";")[0].strip())
    if not settings.SPEECH_MODEL:
        raise RecordingRefused("Recording is not set up here: use the keyboard’s dictation.")
    if suffix is None or not content or len(content) > sound.MOST_BYTES:
        raise RecordingRefused("That is no sound that can be listened to.")
    if language not in spoken_languages():
        raise RecordingRefused("That language is not heard.")
    with transaction.atomic():
        exam = begin_exam(record=record, actor=actor, now=now)
        held = Record.objects.select_for_update(no_key=True).get(pk=record.pk)
        known = TalkRecording.objects.filter(pk=key, exam=exam).first()
        if known:
            return known
        if held.is_signed:
            raise RecordSigned
        name = f"{key}{suffix}"
        sound.keep(name, content)
        row = TalkRecording.objects.create(
            id=key, exam=exam, record=held, language=language, file=name, by=actor.staff, received_at=now
        )
        _changed(exam.pk)
        app.configure_task(TASK, queue="default").defer(recording_id=str(key))
    return row


def listen_to(key: UUID, *, now: datetime) -> None:
    """Whatever comes of it, the sound is deleted. A row that is gone or done needs nothing."""
    row = TalkRecording.objects.select_related("exam__record__visit", "by").filter(pk=key).first()
    if row is None or row.state != TalkRecording.State.WAITING:
        return
    said, why = _heard(row)
    if said:
        exam, actor = row.exam, Actor.of(row.by)
        sent = [_operation(row, number, text, exam, now) for number, text in enumerate(said)]
        answers = apply_operations(exam=exam, operations=sent, actor=actor, now=now)
        why = next((a["words"] for a in answers if a["result"] != "accepted"), "")
    _finish(row, why)


def _heard(row: TalkRecording) -> tuple[list[str], str]:
    """What was understood, or why nothing was."""
    try:
        ear = engines.recogniser(settings.SPEECH_LIBRARY, settings.SPEECH_MODEL)
        found = ear.lines(sound.path_of(row.file), language=row.language, hints=hints_of(row.exam))
    except engines.NotReady as error:
        log.warning("a recording was not listened to: %s", error)
        return [], str(error)
    except Exception:
        log.exception("a recording was not listened to")
        return [], FAILED
    return found, "" if found else NOTHING


def hints_of(exam: Exam) -> list[str]:
    """Names of the walk that this animal's exam may say: structures, then findings."""
    walk, lines = walk_of(exam.walk_id), lines_of(exam.walk_id, animal_of(exam.animal))
    names = [line.name.partition(" (")[0] for line in lines if line.applies and not line.whole_station]
    codes = dict.fromkeys(code for line in lines if line.applies for code in line.codes)
    return list(dict.fromkeys([*names, *(walk.finding[code].name for code in codes)]))


def _operation(row: TalkRecording, number: int, text: str, exam: Exam, now: datetime) -> dict[str, object]:
    return {
        "key": str(uuid5(NAMESPACE_URL, f"{row.pk}/{number}")),  # listened to twice, said once
        "target": "talk",
        "what": "say",
        "payload": {"text": text, "language": row.language},
        "made_at": now.isoformat(),
        "walk_version": exam.walk_id,
        "follows": "",
    }


def _finish(row: TalkRecording, why: str) -> None:
    state = TalkRecording.State.FAILED if why else TalkRecording.State.DONE
    sound.forget(row.file)
    TalkRecording.objects.filter(pk=row.pk).update(state=state, why=why[:300], file="")
    _changed(row.exam_id)


def _changed(exam_id: int) -> None:
    """Open pages look again; a signed exam does not change any more."""
    rows = Exam.objects.filter(pk=exam_id, record__signed_at=None)
    rows.update(talk_changes=F("talk_changes") + 1, revision=F("revision") + 1)
