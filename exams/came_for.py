"""What an owner came for, answered from what the exam recorded there. Pure.

The owner's own words are matched against a list of words (`came_for.toml`): which stations they speak of.
What is said of a station is only what its lines hold: a finding, normal, part of it, not examined, nothing.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable
from enum import StrEnum
from functools import cache
from pathlib import Path


class Told(StrEnum):
    """What the exam holds at a station; the value is the letter's text for it (`exams/texts`, asked)."""

    FOUND = "found"
    NORMAL = "normal"
    PART = "part"
    UNSEEN = "unseen"
    NOTHING = "nothing"


def told(*, found: bool, normal: bool, limited: bool) -> Told:
    """`found`: something abnormal stands there. `normal`: a line of it was looked at and is normal.
    `limited`: a line of it was not examined, or seen only in part."""
    if found:
        return Told.FOUND
    if normal:
        return Told.PART if limited else Told.NORMAL
    return Told.UNSEEN if limited else Told.NOTHING


def spoken_of(words: str) -> tuple[str, ...]:
    """Codes of the stations that an owner's words speak of, in the order of the file; mostly none.

    >>> spoken_of("Scratches at the left ear, worse at night.")
    ('EAR',)
    """
    said = words.casefold()
    for listed in _patterns():
        found = tuple(code for code, pattern in listed if pattern.search(said))
        if found:
            return found
    return ()


@cache
def _patterns() -> tuple[tuple[tuple[str, re.Pattern[str]], ...], ...]:
    data = tomllib.loads(Path(__file__).with_name("came_for.toml").read_text(encoding="utf-8"))
    return tuple(
        tuple((code, _pattern(words)) for code, words in data[name].items()) for name in ("place", "sign")
    )


def _pattern(words: Iterable[str]) -> re.Pattern[str]:
    return re.compile(rf"\b(?:{'|'.join(re.escape(each.casefold()) for each in words)})\b")
