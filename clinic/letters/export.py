"""Every letter of the database as a file of its own, for whoever takes the practice's papers elsewhere."""

import os
import re
import unicodedata
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from clinic.letters.document import from_json
from clinic.letters.models import Letter
from clinic.platform.files import WrongFile, read

_UNSAFE = re.compile(r"[^A-Za-z0-9]+")
LONGEST_NAME = 40


@dataclass
class Exported:
    """How many letters were written, stood there already, and could not be written."""

    written: int = 0
    there: int = 0
    wrong: int = 0


def file_name(letter: Letter) -> str:
    """`2026-03-11 Pomfret, visit 17.pdf`: day, patient in plain letters, kind, the letter's number, version.

    The number makes it unique and keeps it the same; nothing in it can leave the folder.
    """
    plain = unicodedata.normalize("NFKD", letter.patient.name).encode("ascii", "ignore").decode()
    name = _UNSAFE.sub(" ", plain).strip()[:LONGEST_NAME].strip() or "patient"
    version = f", version {letter.version}" if letter.version > 1 else ""
    return f"{letter.at:%Y-%m-%d} {name}, {letter.kind} {letter.pk}{version}.pdf"


def export(folder: Path, *, say: Callable[[str], object]) -> Exported:
    """Write what is not there yet. Bytes that were stored are copied; what was never made into a PDF is made
    now and not stored. `say` hears of each letter that could not be written, by its number.

    A file comes into being whole, under its name, or not at all; one that is there is left alone.
    """
    folder.mkdir(parents=True, exist_ok=True)
    count = Exported()
    for letter in _letters():
        target = folder / file_name(letter)
        if target.exists():
            count.there += 1
            continue
        try:
            _put(target, _content(letter))
        except Exception as error:  # noqa: BLE001 - one letter's fault, of whatever kind, is told and the others go on
            say(f"letter {letter.pk} ({letter.at:%Y-%m-%d}): {type(error).__name__}: {error}")
            count.wrong += 1
        else:
            count.written += 1
    return count


def _letters() -> Iterator[Letter]:
    rows = Letter.objects.select_related("patient", "file").order_by("pk")
    return rows.iterator(chunk_size=100)


def _content(letter: Letter) -> bytes:
    if hasattr(letter, "file"):
        sha = letter.file.sha256
        try:
            return read(f"{sha[:2]}/{sha}.pdf")
        except WrongFile as error:
            raise ValueError("the stored PDF was changed since it was made") from error
    from clinic.letters.pdf import render  # heavy, and mostly not needed

    return render(from_json(letter.content)).content


def _put(target: Path, content: bytes) -> None:
    part = target.with_name(f".{target.name}.part")
    try:
        handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | os.O_NOFOLLOW, 0o600)
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        os.link(part, target)  # refuses a file that came into being meanwhile
    finally:
        part.unlink(missing_ok=True)
