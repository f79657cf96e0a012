"""The libraries that can be used, each loaded only when there is something to listen to."""

from __future__ import annotations

import importlib
import json
import wave
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Protocol

FASTER_WHISPER, VOSK = "faster-whisper", "vosk"
LIBRARIES = (FASTER_WHISPER, VOSK)
CHUNK = 4_000  # frames
MOST_HINTS = 200
WHISPER_FILES = ("model.bin", "tokenizer.json")  # without the second the library asks the network for it


class NotReady(Exception):
    """Speech cannot be recognised on this machine; the text says in a sentence what is missing."""


class Recogniser(Protocol):
    """Turns a file of sound into lines, in their order. `hints`: words to expect."""

    def lines(self, sound: Path, *, language: str, hints: Sequence[str]) -> list[str]: ...


def recogniser(library: str, model: str) -> Recogniser:
    """The recogniser for a model at a path. Raises NotReady."""
    if not model:
        raise NotReady("No speech model is configured: set SPEECH_MODEL to the path of one.")
    if not Path(model).exists():
        raise NotReady(f"There is no speech model at {model}: SPEECH_MODEL must be the path of one.")
    if not Path(model).is_dir():
        raise NotReady(f"The speech model at {model} is a file: SPEECH_MODEL must be its folder.")
    if library == VOSK:
        return Vosk(_library("vosk", VOSK), model)
    if library == FASTER_WHISPER:
        return Whisper(_library("faster_whisper", FASTER_WHISPER), model)
    raise NotReady(f"SPEECH_LIBRARY is one of {', '.join(LIBRARIES)}, not {library!r}.")


def _library(module: str, name: str) -> Any:
    try:
        return importlib.import_module(module)
    except ImportError as error:
        raise NotReady(f"The library {name} is not installed: add the program’s extra for it.") from error


class Whisper:
    def __init__(self, library: Any, model: str) -> None:
        if lacks := [name for name in WHISPER_FILES if not (Path(model) / name).is_file()]:
            raise NotReady(f"The speech model at {model} is not whole: {' and '.join(lacks)} missing.")
        try:
            self._model = library.WhisperModel(
                model, device="cpu", compute_type="int8", local_files_only=True
            )
        except (OSError, RuntimeError, ValueError) as error:
            raise NotReady(f"The speech model at {model} could not be read: {error}") from error

    def lines(self, sound: Path, *, language: str, hints: Sequence[str]) -> list[str]:
        prompt = ", ".join(hints[:MOST_HINTS])
        segments, _info = self._model.transcribe(str(sound), language=language, initial_prompt=prompt)
        return [words for segment in segments if (words := segment.text.strip())]


class Vosk:
    """Reads mono PCM in a WAV file alone."""

    def __init__(self, library: Any, model: str) -> None:
        self._library = library
        try:
            self._model = library.Model(model)
        except Exception as error:  # the library raises plain Exception, without saying what is wrong
            raise NotReady(f"The folder {model} holds no whole model for {VOSK}.") from error

    def lines(self, sound: Path, *, language: str, hints: Sequence[str]) -> list[str]:
        try:
            with wave.open(str(sound), "rb") as stream:
                if stream.getnchannels() != 1 or stream.getsampwidth() != 2:
                    raise NotReady("This model reads WAV files with one channel and 16 bits only.")
                heard = self._library.KaldiRecognizer(self._model, stream.getframerate())
                found = []
                while frames := stream.readframes(CHUNK):
                    if heard.AcceptWaveform(frames):
                        found.append(json.loads(heard.Result())["text"])
                found.append(json.loads(heard.FinalResult())["text"])
        except (wave.Error, EOFError) as error:
            raise NotReady("This model reads WAV files only.") from error
        return [words for words in found if words]
