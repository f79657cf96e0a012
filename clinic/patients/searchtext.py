"""How names are written for searching: lower case, without accents, one space between words. Pure."""

import unicodedata
from collections.abc import Iterable

SPECIAL = str.maketrans({"ß": "ss", "ø": "o", "ł": "l", "đ": "d", "æ": "ae", "œ": "oe", "’": "", "'": ""})


def plain(text: str) -> str:
    """Übelacker-O’Neill becomes ubelacker oneill."""
    lowered = text.casefold().translate(SPECIAL)
    apart = unicodedata.normalize("NFKD", lowered)
    letters = (
        character if character.isalnum() else " "
        for character in apart
        if not unicodedata.combining(character)
    )
    return " ".join("".join(letters).split())


def joined(parts: Iterable[str]) -> str:
    """The searchable text of several fields, empty ones left out."""
    return " ".join(filter(None, (plain(part) for part in parts)))


def searchable(words: Iterable[str], digits: Iterable[str] = ()) -> str:
    """What a search column holds: each word with a space in front, so that “ po” finds how a word begins."""
    text = " ".join(filter(None, (joined(words), *digits)))
    return f" {text} " if text else ""
