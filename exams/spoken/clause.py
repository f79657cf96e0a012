"""A clause: the terms that belong together. What its terms are for the steps that cut and read them."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field

from exams.spoken.terms import FIGURE, UNKNOWN, Term

PREDICATE = ("trait", "finding", "says")


@dataclass(slots=True)
class Clause:
    """Terms that belong together. `sentence`: its number; `opens`: it begins one; `asked`: a question;
    `corrects`: what comes takes back what was; `stop`: the pause before it."""

    terms: list[Term]
    sentence: int
    opens: bool = False
    asked: bool = False
    corrects: bool = False
    stop: str = ""
    colon: bool = False
    drop: str = ""
    closes: bool = False  # the last of its sentence
    heads_skips: bool = False  # "Not done: …": what the sentence goes on to name was not looked at
    denied: bool = False  # goes on with what a no before it denies: "no crackles, wheezes or rales"
    until: bool = False  # how far what is said before it goes: "soft until I get to the back of it"
    unstopped: bool = False  # of a text without stops
    nouns: list[Term] = field(default_factory=list)

    @property
    def start(self) -> int:
        return min(t.start for t in self.terms)

    @property
    def end(self) -> int:
        return max(t.end for t in self.terms)

    def at(self, term: Term | None, otherwise: int = 0) -> int:
        """Where the term stands; `otherwise` where it is of another clause ("too", "the same")."""
        return self.terms.index(term) if term is not None and term in self.terms else otherwise

    def having(self, kind: str, *keys: str) -> list[Term]:
        return [t for t in self.terms if t.has(kind, *keys)]


def significant(term: Term) -> bool:
    """Not an article, auxiliary or the like."""
    return bool(
        term.kind in (FIGURE, UNKNOWN)
        or any(s.kind != "word" and (s.kind, s.key) != ("control", "filler") for s in term.senses)
    )


def kind_of(term: Term) -> str:
    """The kind that decides about boundaries."""
    for kind in ("noun", "side", "limb", "finding", "says", "trait", "severity", "place"):
        if term.has(kind):
            return kind
    return FIGURE if term.kind == FIGURE else "control" if term.senses else UNKNOWN


def one_side(term: Term) -> bool:
    return term.has("side", "left", "right", "other")


def anything_said(terms: Sequence[Term]) -> bool:
    return any(
        t.has("trait")
        or t.has("finding")
        or t.has("says")
        or t.kind == FIGURE
        or t.has("control", "skip", "again")
        for t in terms
    )


def up_from(term: Term) -> bool:
    """ "five point two kilos up from five": what it is, and what it was."""
    return term.has("talk", "past") and term.has("word", "up-from")


def likeness(terms: Sequence[Term], at: int) -> bool:
    """ "Bladder like a plum, soft": what it is likened to."""
    while at > 0 and (terms[at - 1].kind == UNKNOWN or terms[at - 1].has("word", "article")):
        at -= 1
    return at > 0 and terms[at - 1].has("word", "like")


def one_leg(clause: Clause, named: Sequence[str]) -> bool:
    """ "Left leg top to bottom: femur, knee, shin, all solid": the leg stands over what follows."""
    plain = not any(kind_of(t) in PREDICATE or t.kind == UNKNOWN for t in clause.terms)
    leg = set(named) == {"legs"} and clause.opens and not clause.closes
    return leg and plain and not clause.having("control", "prep", "again", "no")


def plain_heading(clause: Clause, regions: Collection[str]) -> bool:
    """ "O D.", "Now the right eye.": a side, with what it is of or without, is the whole sentence."""
    return all(
        t.has("side") or t.has("noun", *regions) or t.has("control", "filler", "and") for t in clause.terms
    )
