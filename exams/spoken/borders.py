"""Pauses that dictation left out, set where the language's own texts have theirs.

A text without stops runs on: what holds for a sentence (its topic, its side, a correction, a doubt) would
hold for all of it. Between every two terms the weights of `languages/<xx>/borders.csv` say how likely a full
stop or a comma is there: by the words and kinds of the terms around, by what has been said since the last
stop, and by whether another station is named. Whole numbers, added up: the same text always gets the same
stops. The weights are learned from the narrations kept with the tests (`learn_borders.py` there); a language
without the file goes by `stops` alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence, Set
from itertools import pairwise

from exams.spoken.language import Weight
from exams.spoken.terms import FIGURE, UNKNOWN, Term
from exams.spoken.tokens import ASK, STRONG, WEAK
from exams.spoken.vocabulary import Vocabulary

LONG = 40  # terms: nobody says so much without a stop
ASKED = 20  # terms: nobody asks so much without one
STOPS = 12  # terms to a pause at most, where dictation sets them
AHEAD = 4  # terms in which the next name is looked for
LENGTHS = (2, 3, 5, 9, 15)  # terms since the last stop, in steps
SAYING = ("calm", "trait", "finding", "says", "figure", "control.skip", "control.again", "control.nothing")
NONE = "#"
LEAN = -20  # a stop too many costs more than one too few
AT_COMMA, NO_COMMA = -60, -120  # where somebody set commas alone
NEVER = -100  # so little speaks for any pause here
FEW, WRONG, MANY, SOME = 6, 0.6, 30, 0.26  # stops of a text, and the part of them that stands where none is


def parted(terms: Sequence[Term], vocabulary: Vocabulary, asked: bool = False) -> list[list[Term]]:
    """The sentences of terms that have hardly a full stop; one, as it is, where that is no wonder. A question
    is short: where one runs on, its mark belongs to the end of it."""
    pauses = sum(t.pause for t in terms)
    bare = [t for t in terms if not t.pause]
    if not vocabulary.language.borders or len(bare) <= (ASKED if asked and not pauses else LONG):
        return [list(terms)]
    commas = pauses * STOPS >= len(terms)
    said = {id(t) for t, after in pairwise(terms) if after.pause}
    sentences: list[list[Term]] = [[]]
    stops = stops_of(bare, vocabulary, said if commas else set())
    for term, stop in zip(bare, [*stops, ""], strict=True):
        sentences[-1].append(term)
        if stop == STRONG:
            sentences.append([])
        elif id(term) in said or (stop and not commas):
            sentences[-1].append(Term((",",), (), WEAK, term.end, term.end))
    return [s for s in sentences if any(not t.pause for t in s)]


def stops_of(terms: Sequence[Term], vocabulary: Vocabulary, commas: Set[int] = frozenset()) -> list[str]:
    """Behind each term but the last: STRONG, WEAK or nothing. `commas`: terms behind which one was said."""
    signs = Signs(terms, vocabulary)
    stops: list[str] = []
    begin = 0
    for at in range(len(terms) - 1):
        weak, strong = sum_of(signs, at, begin, vocabulary)
        strong += (AT_COMMA if id(terms[at]) in commas else NO_COMMA) if commas else LEAN
        stops.append(STRONG if strong > max(0, weak) else WEAK if weak > 0 else "")
        if stops[-1] and (signs.denies(at) or signs.leaves(at, begin)):
            stops[-1] = ""
        if stops[-1] == STRONG:
            begin = at + 1
    return stops


def sum_of(signs: Signs, at: int, begin: int, vocabulary: Vocabulary) -> Weight:
    weak = strong = 0
    for sign in signs.between(at, begin):
        weight = vocabulary.language.borders.get(sign)
        if weight:
            weak += weight.weak
            strong += weight.strong
    return Weight(weak, strong)


def misplaced(terms: Sequence[Term], vocabulary: Vocabulary) -> bool:
    """Whether the full stops of a text stand where nobody would end a sentence: some dictation sets one at
    every breath."""
    bare = [t for t in terms if not t.pause]
    signs = Signs(bare, vocabulary)
    begin = wrong = stops = at = 0
    for term in terms:
        if not term.pause:
            at += 1
        elif term.kind in (STRONG, ASK) and begin < at < len(bare):
            stops += 1
            talk = any(t.has("talk") for t in bare[begin:at])  # "good girl." ends anywhere
            wrong += not talk and max(sum_of(signs, at - 1, begin, vocabulary)) < NEVER
            begin = at
    return stops >= FEW and wrong >= (SOME if stops >= MANY else WRONG) * stops


class Signs:
    """What can be seen at a place between two terms, as words to which a weight is given."""

    def __init__(self, terms: Sequence[Term], vocabulary: Vocabulary) -> None:
        self.words = [t.text for t in terms]
        self.kinds = [_kind(t, vocabulary) for t in terms]
        self.stations = [_stations(t, vocabulary) for t in terms]
        self.speakers = vocabulary.language.speakers

    def between(self, at: int, begin: int) -> Iterator[str]:
        """Between the terms `at` and `at + 1`, where `begin` is the first one since the last stop."""
        w1, w2, w3, w4 = (self._at(self.words, i) for i in range(at - 1, at + 3))
        k1, k2, k3, k4, k5 = (self._at(self.kinds, i) for i in range(at - 1, at + 4))
        said, length = self._said(at, begin), self._length(at, begin)
        other = self._other(at, begin)
        yield from (
            "", f"last={w2.rpartition(' ')[2]}", f"first={w3.partition(' ')[0]}",
            f"a={w2}", f"b={w3}", f"A={k2}", f"B={k3}", f"C={k4}", f"Z={k1}",
            f"ab={w2}|{w3}", f"AB={k2}|{k3}", f"aB={w2}|{k3}", f"Ab={k2}|{w3}",
            f"ABC={k2}|{k3}|{k4}", f"ZAB={k1}|{k2}|{k3}", f"bc={w3}|{w4}", f"bC={w3}|{k4}", f"za={w1}|{w2}",
            f"length={length}", f"said={said}", f"other={other}", f"said other={said}{other}",
            f"said other AB={said}{other}|{k2}|{k3}", f"said B={said}|{k3}", f"said b={said}|{w3}",
            f"length B={length}|{k3}", f"length said={length}{said}",
            f"BCD={k3}|{k4}|{k5}", f"ZABC={k1}|{k2}|{k3}|{k4}",
        )  # fmt: skip

    def denies(self, at: int) -> bool:
        """ "no | nodes up": a no and what is not found belong together."""
        after = self.kinds[at + 1 : at + 3]
        bad = after[:1] in (["trait"], ["finding"]) or after == ["noun", "trait"]
        within = at > 0 and self.kinds[at - 1 : at + 2] in (
            ["control.no", "noun", "trait"],
            ["control.no", "noun", "finding"],
        )
        return (self.kinds[at] == "control.no" and bad) or within

    def leaves(self, at: int, begin: int) -> bool:
        """ "hips | i did not test": a name alone and that it was left out belong together."""
        alone = {"noun"} <= set(self.kinds[begin : at + 1]) <= {"noun", "side", "limb", "control.filler"}
        own = self.words[at + 1] in self.speakers
        return alone and "control.skip" in self.kinds[at + 1 : at + 2 + own]

    @staticmethod
    def _at(of: Sequence[str], at: int) -> str:
        return of[at] if 0 <= at < len(of) else NONE

    def _said(self, at: int, begin: int) -> str:
        """Whether something is named, and something said, since the last stop."""
        kinds = self.kinds[begin : at + 1]
        return ("n" if "noun" in kinds else "") + ("s" if any(k in SAYING for k in kinds) else "")

    @staticmethod
    def _length(at: int, begin: int) -> int:
        return sum(at - begin + 1 >= step for step in LENGTHS)

    def _other(self, at: int, begin: int) -> str:
        """Whether the next name is of another station than the last."""
        after = next((s for s in self.stations[at + 1 : at + 1 + AHEAD] if s), frozenset())
        before = next((s for s in reversed(self.stations[begin : at + 1]) if s), frozenset())
        if not after:
            return "none"
        return "new" if not before else "same" if before & after else "other"


def _kind(term: Term, vocabulary: Vocabulary) -> str:
    if term.kind in (FIGURE, UNKNOWN):
        return "figure" if term.kind == FIGURE else "unknown"
    kinds = {s.kind for s in term.senses}
    if "talk" in kinds and not kinds & {"noun", "trait", "finding"}:
        return f"talk.{term.keys('talk')[0]}"
    for kind in ("says", "noun", "finding"):
        if kind in kinds:
            return kind
    if "trait" in kinds:
        return "calm" if any(k in vocabulary.calm for k in term.keys("trait")) else "trait"
    for kind in ("side", "limb", "severity", "place"):
        if kind in kinds:
            return kind
    if "control" in kinds:
        return f"control.{term.keys('control')[0]}"
    return "unit" if "number-unit" in kinds else "word" if "word" in kinds else min(kinds, default="")


def _stations(term: Term, vocabulary: Vocabulary) -> frozenset[str]:
    return frozenset(
        line.partition(".")[0]
        for key in term.keys("noun")
        for line in (*vocabulary.nouns[key].normal, *vocabulary.nouns[key].scope)
    )
