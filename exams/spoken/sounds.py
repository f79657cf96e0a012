"""Words that sound like a word of the trade: by phonetic key first, then by likeness of spelling."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from functools import lru_cache

import jellyfish

SHORTEST = 7  # letters: shorter words sound like too much else
ALIKE = 0.91  # Jaro-Winkler, for words with the same phonetic key
VERY_ALIKE = 0.955  # without it


@lru_cache(maxsize=4096)
def _key(word: str) -> str:
    return str(jellyfish.metaphone(word)) if word.isascii() else ""


class Sounds:
    """Long words of the trade, found by their sound."""

    def __init__(self) -> None:
        self.words: set[str] = set()
        self._by_key: dict[str, list[str]] = defaultdict(list)
        self._by_start: dict[str, list[str]] = defaultdict(list)
        self._aliases: dict[str, tuple[str, ...]] = {}

    def add_alias(self, heard: str, meant: Sequence[str]) -> None:
        """What is written as `heard`, put together, was said as the words `meant`."""
        if len(heard) >= SHORTEST and heard not in self.words and heard.isascii():
            self._by_key[_key(heard)].append(heard)
            self._aliases[heard] = tuple(meant)

    def words_of(self, found: str) -> tuple[str, ...]:
        return self._aliases.get(found, (found,))

    def add(self, word: str) -> None:
        if len(word) < SHORTEST or word in self.words or "'" in word:
            return
        self.words.add(word)
        self._by_key[_key(word)].append(word)
        self._by_start[word[:1]].append(word)

    def like(self, heard: str) -> tuple[str, float] | None:
        """The word that `heard` stands for and how alike they are, if exactly one is near enough."""
        if len(heard) < SHORTEST:
            return None
        key = _key(heard)
        near = [(jellyfish.jaro_winkler_similarity(heard, w), w) for w in self._by_key.get(key, ()) if key]
        near = [(s, w) for s, w in near if s >= ALIKE]
        if not near:
            near = [
                (s, w)
                for w in self._by_start.get(heard[:1], ())
                if abs(len(w) - len(heard)) <= 2
                and (s := jellyfish.jaro_winkler_similarity(heard, w)) >= VERY_ALIKE
            ]
        near.sort(reverse=True)
        meant = {self.words_of(w) for s, w in near if near[0][0] - s < 0.01}
        if len(meant) != 1:
            return None
        return near[0][1], near[0][0]
