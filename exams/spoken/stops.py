"""Full stops that dictation left out: where something else begins to be spoken of.

A text without stops is one sentence as it comes, and what holds for a sentence (its topic, its side, a
correction, a doubt) would hold for all of it.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Sequence

from exams.spoken.clause import PREDICATE, Clause, kind_of
from exams.spoken.terms import Term
from exams.spoken.tokens import PAUSE, WEAK
from exams.spoken.vocabulary import Vocabulary

LONG = 40  # terms: nobody says so much without a stop
STOPS = 12  # terms to a pause at most, where dictation sets them


def with_stops(sentences: Sequence[list[Clause]], vocabulary: Vocabulary) -> list[list[Clause]]:
    """The clauses of a text, those of a sentence without stops as several sentences."""
    found: list[list[Clause]] = []
    for clauses in sentences:
        unstopped = _unstopped(clauses)
        found += _split(list(_headed(clauses)), vocabulary) if unstopped else [clauses]
    for number, clauses in enumerate(found):
        for clause in clauses:
            clause.sentence = number
    return found


def _unstopped(clauses: Sequence[Clause]) -> bool:
    length = sum(len(c.terms) for c in clauses)
    pauses = sum(c.stop in (WEAK, PAUSE) for c in clauses)
    return length > LONG and pauses * STOPS < length


def _headed(clauses: Sequence[Clause]) -> Iterator[Clause]:
    """ "… not stained at all ears | left one fine": a name behind a statement, of which nothing is said
    before the next clause begins, stands over that."""
    for at, clause in enumerate(clauses):
        last = len(clause.terms) - 1
        before = clause.terms[:last]
        if (
            at + 1 < len(clauses)
            and last > 1
            and clause.terms[last].has("noun")
            and not _behind(clause.terms, last)
            and any(t.has("noun") for t in before)
            and _says(dataclasses.replace(clause, terms=before))
            and not before[-1].has("control", "and", "or")
            and kind_of(before[-1]) not in ("side", *PREDICATE)
        ):
            yield dataclasses.replace(clause, terms=before)
            yield dataclasses.replace(clause, terms=clause.terms[last:], stop="name", drop="")
        else:
            yield clause


def _split(clauses: Sequence[Clause], vocabulary: Vocabulary) -> list[list[Clause]]:
    found: list[list[Clause]] = []
    spoken: set[str] = set()
    said = planned = False
    for clause in clauses:
        planned = planned or bool(clause.having("word", "plan"))
        here = set() if planned else _stations(clause, vocabulary)
        if (found and said and here and not here & spoken and _begins(clause)) or not found:
            found.append([clause])
            spoken, said = set(here), _says(clause)
        else:
            found[-1].append(clause)
            spoken = here or spoken
            said = said or _says(clause)
    for one in found:
        one[0].opens, one[0].stop = True, "sentence"
        one[-1].closes = True
        for clause in one:
            clause.unstopped = True
    return found


def _stations(clause: Clause, vocabulary: Vocabulary) -> set[str]:
    """Stations of what a clause names, places aside."""
    return {
        line.partition(".")[0]
        for at, t in enumerate(clause.terms)
        if not _behind(clause.terms, at)
        for key in t.keys("noun")
        for line in (*vocabulary.nouns[key].normal, *vocabulary.nouns[key].scope)
    }


def _behind(terms: Sequence[Term], at: int) -> bool:
    before = [t for t in terms[:at] if not t.has("side") and not t.has("limb")]
    while before and before[-1].has("control", "filler") and not before[-1].has("control", "prep"):
        before = before[:-1]
    return bool(before) and before[-1].has("control", "prep")


def _begins(clause: Clause) -> bool:
    return clause.stop not in ("except", "correct", "because", "talk")


def _says(clause: Clause) -> bool:
    return any(kind_of(t) in PREDICATE or t.has("control", "skip", "nothing") for t in clause.terms)
