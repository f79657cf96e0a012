"""How hard a letter is to read: a school grade for the whole, and its hardest sentences.

Flesch-Kincaid grade level: 0.39 × words a sentence + 11.8 × syllables a word - 15.59 (Kincaid et al., 1975).
At or under grade 8 an owner can follow it (Royal, Sheats, Kedrowicz, Top Companion Anim Med 2018;33:58-61).
A score is rough: it warns, a person reads.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

HIGHEST_GRADE = 8.0
FEWEST_WORDS = 6  # a shorter sentence is not hard, whatever its score says
_WORD = re.compile(r"[A-Za-z]+(?:['’][A-Za-z]+)?")
_VOWELS = re.compile(r"[aeiouy]+")
_END = re.compile(r"(?<=[.!?:;])\s+")


@dataclass(frozen=True)
class Reading:
    """`grade` of the whole; `hard`: its sentences above the highest grade, hardest first."""

    grade: float
    hard: tuple[str, ...]

    @property
    def too_hard(self) -> bool:
        return self.grade > HIGHEST_GRADE


def reading(texts: Iterable[str]) -> Reading:
    """Of whole sentences, without headings, tables and names of medicines in brackets."""
    told = [part for text in texts for part in _END.split(_plain(text)) if _WORD.search(part)]
    scored = [(grade([part]), part) for part in told if len(_WORD.findall(part)) >= FEWEST_WORDS]
    hard = sorted((s for s in scored if s[0] > HIGHEST_GRADE), reverse=True)
    return Reading(grade(told), tuple(part for _, part in hard))


def grade(sentences: list[str]) -> float:
    """Flesch-Kincaid of some sentences together; 0 for none."""
    words = [w for s in sentences for w in _WORD.findall(s)]
    if not words:
        return 0.0
    spoken = sum(syllables(w) for w in words)
    return round(max(0.39 * len(words) / len(sentences) + 11.8 * spoken / len(words) - 15.59, 0.0), 1)


def syllables(word: str) -> int:
    """By groups of vowels, a silent e left out: rough, as every such counter."""
    lower = word.lower()
    groups = len(_VOWELS.findall(lower))
    silent = lower.endswith("e") and not lower.endswith(("le", "ee")) and groups > 1
    return max(groups - silent, 1)


def _plain(text: str) -> str:
    return re.sub(r"\s*\([^)]*\)", "", text)
