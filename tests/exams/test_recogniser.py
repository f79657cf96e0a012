"""Sound becomes lines of talk by a library of the clinic's own choice; without one a sentence says so."""

from __future__ import annotations

import inspect
import uuid
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from exams.models import TalkLine, TalkRecording
from exams.recogniser import NotReady, engines, listening, recogniser, sound
from exams.recogniser.listening import RecordingRefused, listen_to, take_recording
from exams.talk_actions import forget_talk
from tests import people
from tests.exams.house import Tablet, exam_here

pytestmark = pytest.mark.django_db


class Fake:
    """Hears what it is told to, and keeps what it was given."""

    def __init__(self, *said: str) -> None:
        self.said, self.hints, self.bytes = said, [], b""

    def lines(self, path: Path, *, language: str, hints) -> list[str]:
        self.hints, self.bytes = list(hints), path.read_bytes()
        return list(self.said)


@pytest.fixture
def tablet(settings, tmp_path) -> Tablet:
    settings.VAR_DIR, settings.SPEECH_MODEL = tmp_path, str(tmp_path)
    return exam_here(people.people().actor("clinician"))


def taken(
    tablet: Tablet, key: uuid.UUID | None = None, kind: str = "audio/webm;codecs=opus"
) -> TalkRecording:
    record = tablet.exam.record
    given = {"content": b"sound", "kind": kind, "language": "en", "actor": tablet.actor, "now": people.NOW}
    return take_recording(record=record, key=key or uuid.uuid4(), **given)


def files() -> list[Path]:
    return list(sound.path_of("").iterdir())


def test_a_recording_becomes_lines_and_its_sound_is_deleted(tablet, monkeypatch) -> None:
    fake = Fake("Left ear canal red, mild.", "Good boy.")
    monkeypatch.setattr(listening.engines, "recogniser", lambda library, model: fake)
    row = taken(tablet)
    assert [f.read_bytes() for f in files()] == [b"sound"]
    assert files()[0].stat().st_mode & 0o077 == 0
    listen_to(row.pk, now=people.NOW)
    listen_to(row.pk, now=people.NOW)
    assert [x.text for x in TalkLine.objects.all()] == ["Left ear canal red, mild.", "Good boy."]
    assert files() == []
    assert "Tympanic membrane" in fake.hints
    assert TalkRecording.objects.get().state == "done"


def test_the_same_recording_sent_twice_is_kept_once(tablet) -> None:
    key = uuid.uuid4()
    assert taken(tablet, key) == taken(tablet, key)
    assert TalkRecording.objects.count() == 1


@pytest.mark.parametrize(
    ("library", "words"),
    [("faster-whisper", "faster-whisper is not installed"), ("vosk", "vosk is not installed")],
)
def test_without_the_library_a_sentence_says_so_and_the_sound_goes(tablet, settings, library, words) -> None:
    settings.SPEECH_LIBRARY = library
    row = taken(tablet)
    listen_to(row.pk, now=people.NOW)
    row.refresh_from_db()
    assert row.state == "failed"
    assert words in row.why
    assert files() == []
    assert not TalkLine.objects.exists()


def test_a_library_that_breaks_is_told_of_and_the_sound_goes(tablet, monkeypatch) -> None:
    def breaks(library, model):
        raise RuntimeError("of its own")

    monkeypatch.setattr(listening.engines, "recogniser", breaks)
    row = taken(tablet)
    listen_to(row.pk, now=people.NOW)
    row.refresh_from_db()
    assert row.why == listening.FAILED
    assert files() == []


@pytest.mark.parametrize(
    ("library", "model", "words"),
    [
        ("vosk", "", "set SPEECH_MODEL"),
        ("vosk", "/nowhere/model", "no speech model at /nowhere/model"),
        ("other", "/", "SPEECH_LIBRARY is one of"),
        ("vosk", __file__, "is a file: SPEECH_MODEL must be its folder"),
    ],
)
def test_what_is_not_configured_is_said_in_a_sentence(library, model, words) -> None:
    with pytest.raises(NotReady, match=words):
        recogniser(library, model)


class Loaded:
    """A library that would take any model."""

    def WhisperModel(self, model: str, **how: object) -> str:
        return model


def test_a_whisper_model_without_all_its_files_is_never_completed_over_the_network(tmp_path) -> None:
    for lacks, words in (("model.bin", "model.bin and tokenizer.json"), ("tokenizer.json", "tokenizer.json")):
        with pytest.raises(NotReady, match=f"not whole: {words} missing"):
            engines.Whisper(Loaded(), str(tmp_path))
        (tmp_path / lacks).write_bytes(b"")
    assert engines.Whisper(Loaded(), str(tmp_path))


def test_the_real_faster_whisper_takes_what_it_is_called_with_and_says_what_it_cannot_read(tmp_path) -> None:
    library = pytest.importorskip("faster_whisper")
    asked = inspect.signature(library.WhisperModel.transcribe).parameters
    assert {"language", "initial_prompt"} <= set(asked)
    for name in engines.WHISPER_FILES:
        (tmp_path / name).write_bytes(b"no model")
    with pytest.raises(NotReady, match="could not be read"):
        recogniser("faster-whisper", str(tmp_path))


def test_the_real_vosk_has_what_is_called_and_refuses_an_empty_folder(tmp_path) -> None:
    library = pytest.importorskip("vosk")
    for name in ("AcceptWaveform", "Result", "FinalResult"):
        assert callable(getattr(library.KaldiRecognizer, name))
    with pytest.raises(NotReady, match="holds no whole model for vosk"):
        recogniser("vosk", str(tmp_path))


def test_deleting_the_words_deletes_the_sound_that_would_say_more(tablet) -> None:
    row = taken(tablet)
    forget_talk(record=tablet.exam.record, actor=tablet.actor)
    listen_to(row.pk, now=people.NOW)
    assert files() == []
    assert not TalkRecording.objects.exists()
    assert not TalkLine.objects.exists()


def test_only_sound_is_taken_and_only_where_a_model_is_configured(tablet, settings) -> None:
    with pytest.raises(RecordingRefused, match="no sound"):
        taken(tablet, kind="text/html")
    settings.SPEECH_MODEL = ""
    with pytest.raises(RecordingRefused, match="not set up"):
        taken(tablet)
    assert not TalkRecording.objects.exists()


def test_the_page_offers_it_only_where_it_is_configured(tablet, settings, client) -> None:
    client.force_login(tablet.actor.staff)
    url = f"/visits/{tablet.exam.record.visit_id}/exam/talk/"
    assert client.get(url).json()["records"] is True
    file = SimpleUploadedFile("said.webm", b"sound", content_type="audio/webm")
    sent = client.post(f"{url}recording/", {"sound": file, "key": str(uuid.uuid4()), "language": "en"})
    assert sent.status_code == 200
    settings.SPEECH_MODEL = ""
    assert client.get(url).json()["records"] is False
