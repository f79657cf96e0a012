"""How hard a letter is to read: a level for the whole, and its hardest sentences.

English: Flesch-Kincaid grade level, 0.39 × words a sentence + 11.8 × syllables a word - 15.59 (Kincaid et
al., 1975). At or under grade 8 an owner can follow it (Royal, Sheats, Kedrowicz, Top Companion Anim Med
2018;33:58-61). Spanish: the perspicuity of Szigriszt-Pazos, 206.835 - 62.3 × syllables a word - words a
sentence (Szigriszt Pazos, Universidad Complutense de Madrid, 1993); more is easier, above 80 is very easy on
the scale of Barrio Cantalejo et al., An Sist Sanit Navar 2008;31:135-152 (formula and scale from memory).
A level is rough: it warns, a person reads.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from clinic.letters.texts import OWN

HIGHEST_GRADE = 8.0
LABEL_WORDS = 4  # so few are a label, not a sentence
FEWEST_WORDS = 6  # a shorter sentence is not hard, whatever its score says
_WORD = re.compile(r"[^\W\d_]+(?:['’][^\W\d_]+)?")
_VOWELS = re.compile(r"[aeiouy]+")
_END = re.compile(r"(?<=[.!?:;])\s+")


@dataclass(frozen=True)
class Measure:
    """How a language is measured. `whole`, `one`: the hardest that a letter, and a single sentence, may be;
    `harder`: whether more of it is harder. `name`: for people."""

    name: str
    level: Callable[[list[str]], float]
    whole: float
    one: float
    harder: bool

    def too_hard(self, level: float, most: float) -> bool:
        return level > most if self.harder else level < most


@dataclass(frozen=True)
class Reading:
    """`grade`: the level of the whole; `hard`: its sentences that are too hard, hardest first."""

    grade: float
    hard: tuple[str, ...]
    language: str = "en"

    @property
    def measure(self) -> Measure:
        return MEASURES[self.language]

    @property
    def too_hard(self) -> bool:
        return self.measure.too_hard(self.grade, self.measure.whole)


def reading(texts: Iterable[str], language: str = "en") -> Reading:
    """Of whole sentences, without headings, tables, what stands in brackets and somebody's own words in
    another language. A language that is not measured counts as easy."""
    if language not in MEASURES:
        return Reading(0.0, ())
    measure = MEASURES[language]
    told = [
        part
        for text in texts
        if OWN not in text  # a sentence around somebody's own words is half theirs
        for part in _END.split(_plain(text))
        if _WORD.search(part)
    ]
    scored = [(measure.level([part]), part) for part in told if len(_WORD.findall(part)) >= FEWEST_WORDS]
    hard = sorted((s for s in scored if measure.too_hard(s[0], measure.one)), reverse=measure.harder)
    whole = [part for part in told if len(_WORD.findall(part)) > LABEL_WORDS]
    return Reading(measure.level(whole), tuple(part for _, part in hard), language)


def _counted(sentences: list[str], syllables_of: Callable[[str], int]) -> tuple[float, float]:
    """Words a sentence, syllables a word."""
    words = [w for s in sentences for w in _WORD.findall(s)]
    return len(words) / len(sentences), sum(syllables_of(w) for w in words) / len(words)


def grade(sentences: list[str]) -> float:
    """Flesch-Kincaid of some sentences together; 0 for none."""
    if not any(_WORD.search(s) for s in sentences):
        return 0.0
    length, syllables_a_word = _counted(sentences, syllables)
    return round(max(0.39 * length + 11.8 * syllables_a_word - 15.59, 0.0), 1)


def perspicuity(sentences: list[str]) -> float:
    """Szigriszt-Pazos of some Spanish sentences together; 100 for none."""
    if not any(_WORD.search(s) for s in sentences):
        return 100.0
    length, syllables_a_word = _counted(sentences, silabas)
    return round(206.835 - 62.3 * syllables_a_word - length, 1)


def syllables(word: str) -> int:
    """By groups of vowels, a silent e left out: rough, as every such counter."""
    lower = word.lower()
    groups = len(_VOWELS.findall(lower))
    silent = lower.endswith("e") and not lower.endswith(("le", "ee")) and groups > 1
    return max(groups - silent, 1)


_STRONG = "aeoáéóíú"  # an accented i or u does not join its neighbour


def silabas(word: str) -> int:
    """Spanish: one a group of vowels, two strong ones apart; the u of que, qui, gue and gui is silent."""
    lower = re.sub(r"(?<=q)u|(?<=g)u(?=[eéií])", "", word.lower())
    lower = re.sub(r"y\b", "i", lower)
    count, before = 0, ""
    for letter in lower:
        vowel = letter in "aeiouáéíóúü"
        if vowel and (not before or (letter in _STRONG and before in _STRONG)):
            count += 1
        before = letter if vowel else ""
    return max(count, 1)


def _plain(text: str) -> str:
    return re.sub(r"\s*\([^)]*\)", "", text)


MEASURES = {
    "en": Measure("school grade", grade, HIGHEST_GRADE, HIGHEST_GRADE, harder=True),
    "es": Measure("perspicuity", perspicuity, 80.0, 55.0, harder=False),
}
