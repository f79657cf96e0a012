"""From words to terms: the longest known form at each place, with every meaning that it has."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

from exams.spoken.language import Language
from exams.spoken.numbers import Reading, read
from exams.spoken.tokens import ASK, NUMBER, PAUSE, STRONG, WEAK, WORD, Token
from exams.spoken.vocabulary import END, Sense, Vocabulary

NUMBER_TERM, FIGURE, UNKNOWN = "number-words", "figure", "unknown"
MOST_NUMBER_WORDS = 12
PAUSES = (STRONG, WEAK, PAUSE, ASK)


@dataclass(slots=True)
class Term:
    """A form that was recognised, a number, a pause or an unknown word. `words` as normalised; `used`: taken
    by a step (a number by its measurement)."""

    words: tuple[str, ...]
    senses: tuple[Sense, ...]
    kind: str  # "form", "number-words", "unknown" or a pause
    start: int
    end: int
    sure: float = 1.0
    used: bool = field(default=False, compare=False)
    number: Reading | None = None
    alone: bool = False  # says something without a name: a finding, or a trait with a line of its own
    within: tuple[str, ...] = ()  # sides that its words name: "the left eye"
    sided: bool = False  # and the whole of it has that side
    led: bool = False  # begins with what leads to a side: "on the left"
    one: bool = False  # ends with what stands for one of a pair: "the left one"
    right_at: bool = False  # behind "right", it is no side: "right under my fingers"
    assent: bool = False  # a side that alone may be no more than a word to begin with: "right, …"

    @property
    def text(self) -> str:
        return " ".join(self.words)

    def keys(self, kind: str) -> tuple[str, ...]:
        return tuple(s.key for s in self.senses if s.kind == kind)

    def has(self, kind: str, *keys: str) -> bool:
        return any(s.kind == kind and (not keys or s.key in keys) for s in self.senses)

    @property
    def pause(self) -> bool:
        return self.kind in PAUSES


def terms_of(tokens: Sequence[Token], vocabulary: Vocabulary) -> list[Term]:
    """Every token is in exactly one term, in their order."""
    terms: list[Term] = []
    at = 0
    while at < len(tokens):
        token = tokens[at]
        if token.kind in PAUSES:
            terms.append(Term((token.text,), (), token.kind, token.start, token.end))
            at += 1
            continue
        length, senses = _longest(tokens, at, vocabulary)
        if length > 1 and token.text in vocabulary.language.forms["word"].get("the", ()):
            inner, named = _longest(tokens, at + 1, vocabulary)
            last = tokens[min(at + inner, len(tokens) - 1)].text
            names = any(s.kind in ("noun", "limb", "place") for s in named)
            if inner >= length and names and last not in vocabulary.language.pronouns:
                length, senses = _longest(tokens[: at + 1], at, vocabulary)  # "the back" of "the back teeth"
        if length == 2 and _sided_limb(tokens, at, senses, vocabulary):
            length, senses = _longest(tokens[: at + 1], at, vocabulary)
        if length <= 1 and _numeric(token, vocabulary):
            length, senses, kind = 1, tuple(senses), NUMBER_TERM
        else:
            kind = "form" if length else UNKNOWN
        taken = tokens[at : at + max(1, length)]
        words = tuple(t.text for t in taken if t.kind in (WORD, NUMBER))
        terms.append(
            Term(
                words,
                tuple(senses),
                kind,
                taken[0].start,
                max(t.end for t in taken),
                min(t.sure for t in taken),
                alone=any(s.kind == "finding" or s.key in vocabulary.home for s in senses),
                **_sides_within(words, vocabulary.language),
            )
        )
        at += max(1, length)
    _other_one(terms, vocabulary)
    return _figures(terms, vocabulary)


def _other_one(terms: Sequence[Term], vocabulary: Vocabulary) -> None:
    """ "Other elbow fine", "other front foot": before one of a pair, a side."""
    for term, after in pairwise(terms):
        one = any(s.kind in ("noun", "limb") and not s.plural for s in after.senses)
        if one and term.text in vocabulary.language.other_one and not term.has("side"):
            term.senses = (Sense("side", "other"),)


def _sides_within(words: tuple[str, ...], language: Language) -> dict[str, Any]:
    """What the words of a form say of a side, apart from what the form means."""
    if not words:
        return {}
    named = {"left": language.left_words, "right": language.right_words}
    within = tuple(side for w in words for side, forms in named.items() if w in forms)
    if len(words) > 2 and not within and any(w in language.pair_words for w in words):
        within = ("left", "right")
    return {
        "within": within,
        "sided": bool(language.sided.search(" ".join(words))),
        "led": words[0] in language.at_side,
        "one": words[-1] in language.ones,
        "right_at": words[0] in language.right_at,
        "assent": len(words) == 1 and words[0] in language.assent,
    }


def _sided_limb(tokens: Sequence[Token], at: int, senses: Sequence[Sense], vocabulary: Vocabulary) -> bool:
    """ "right back foot": a side and a limb, while "goes right back" is neither."""
    if any(s.kind not in ("control", "word") for s in senses):
        return False
    _, side = _longest(tokens[: at + 1], at, vocabulary)
    if not any(s.kind == "side" for s in side):
        return False
    _, first = _longest(tokens[: at + 2], at + 1, vocabulary)
    limb = any((s.kind, s.key) == ("word", "attributive") for s in first)
    _, named = _longest(tokens, at + 2, vocabulary) if at + 2 < len(tokens) else (0, ())
    whole, _ = _longest(tokens, at + 1, vocabulary)
    return limb and (whole > 1 or any(s.kind in ("noun", "limb") for s in named))


def _figures(terms: Sequence[Term], vocabulary: Vocabulary) -> list[Term]:
    """Number words in a row become one term with its reading."""
    found: list[Term] = []
    at = 0
    while at < len(terms):
        pieces = [_piece(t, vocabulary) for t in terms[at : at + MOST_NUMBER_WORDS]]
        length, reading = read(pieces)
        if reading is None:
            found.append(terms[at])
            at += 1
            continue
        taken = terms[at : at + length]
        found.append(
            Term(
                tuple(w for t in taken for w in t.words),
                taken[0].senses if length == 1 else (),
                FIGURE,
                taken[0].start,
                taken[-1].end,
                min(t.sure for t in taken),
                number=reading,
            )
        )
        at += length
    return found


def _piece(term: Term, vocabulary: Vocabulary) -> str | int:
    """A term as a piece of a number: a value, digits, or the name of a number word; "" for anything else."""
    if term.kind == NUMBER_TERM:
        word = term.words[0]
        return vocabulary.language.numbers.get(word, word)
    for key in ("zero", "point", "half", "quarter", "three-quarters"):
        if term.has("number", key):
            return key
    if term.has("control", "and"):
        return "tens-and" if vocabulary.language.tens_and else "and"
    return "a" if term.words and term.words[0] in vocabulary.language.articles else ""


def _numeric(token: Token, vocabulary: Vocabulary) -> bool:
    return token.kind == NUMBER or token.text in vocabulary.language.numbers


def _longest(tokens: Sequence[Token], at: int, vocabulary: Vocabulary) -> tuple[int, Sequence[Sense]]:
    node, best, senses, i = vocabulary.trie, 0, (), at
    found: Sequence[Sense] = senses
    while i < len(tokens) and tokens[i].text in node:
        node = node[tokens[i].text]
        i += 1
        if END in node:
            best, found = i - at, node[END]
    return best, found
