"""What goes by what was found just before: the bad side, the next of a row, what is so in this breed."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

from exams.spoken.clause import PREDICATE, Clause, kind_of
from exams.spoken.lump_list import LumpList
from exams.spoken.said import Described, Named, Statement, clause_span, stations_of
from exams.spoken.shapes import ABNORMAL, NORMAL
from exams.spoken.sides import opposite
from exams.spoken.terms import UNKNOWN, Term
from exams.spoken.vocabulary import Sense


class AsBefore(LumpList):
    """A step of `Listening`."""

    def _bad_side(self, clause: Clause) -> None:
        """ "The good eye: cornea shiny", "I can't see the drum on that bad side": which of them it is."""
        for at, term in enumerate(clause.terms):
            if not term.has("side", "bad", "sound"):
                continue
            bad = next(
                (
                    s.side
                    for s in reversed(self.statements)
                    if s.state == ABNORMAL and s.sided and s.side in ("left", "right")
                ),
                "",
            )
            side = bad if term.has("side", "bad") else opposite(bad)
            senses = (Sense("side", side),) if side else ()
            kept = tuple(x for x in term.senses if x.kind != "side")
            clause.terms[at] = dataclasses.replace(term, senses=(*kept, *senses))

    def _gums_of_mouth(self, clause: Clause, named: list[Named]) -> list[Named]:
        """ "Lips, gums, palate, all grand": in a row of the mouth they are what holds the teeth."""
        others = [n for n in named if n.key != "gums"]
        mouth = bool(others) and all(stations_of([n]) == {"MTH"} for n in others)
        traits = [k for t in clause.terms if not t.has("trait", "good") for k in t.keys("trait")]
        coloured = any(self.vocabulary.meaning("VIT.mucous-membranes", k) for k in traits)
        if not mouth or coloured:
            return named
        gingiva = self.vocabulary.nouns["gingiva"]
        return [dataclasses.replace(n, key="gingiva", noun=gingiva) if n.key == "gums" else n for n in named]

    def _normal_for(self, clause: Clause, named: Sequence[Named], described: Sequence[Described]) -> bool:
        """ "It bulges the way a pug's does, that's normal for him": what was found is none."""
        words = f" {' '.join(w for t in clause.terms for w in t.words)} "
        so = any(f" {form} " in words for form in self.vocabulary.language.so_bred)
        said = so and not any(d.denied for d in described)
        found = [s for s in self.last if s in self.statements and s.state == ABNORMAL]
        near = bool(found) and all(s.sentence >= clause.sentence - 1 for s in found)
        hedged = clause.having("control", "hedge", "skip", "unreal", "no")
        if not said or named or not near or len(found) != len(self.last) or hedged:
            return False
        if any(s.size or s.site or s.unsaid for s in found):
            return False
        self.statements = [s for s in self.statements if s not in found]
        self.last = [
            dataclasses.replace(
                s, state=NORMAL, codes=(), severity="", grade="", note="", sure=0.7,
                spans=(*s.spans, clause_span(clause)), clause=self.count, sentence=clause.sentence,
                reason="said to be so in this animal", one_of=(),
            )
            for s in found
        ]  # fmt: skip
        self.statements += self.last
        return True

    def _did_too(self, clause: Clause, named: Sequence[Named]) -> bool:
        """ "Rolled down the left one too": what was done again, and nothing that was found."""
        return clause.opens and clause.terms[0].kind == UNKNOWN and not named

    def _row_the_same(self, clause: Clause, named: Sequence[Named]) -> list[Statement]:
        """ "Voice box even, no complaint, windpipe the same": as normal as what was named before it."""
        last = self.last[-1] if self.last else None
        fine = last is not None and last.state == NORMAL and last.clause == self.count - 1
        if last is None or not fine or last.sentence != clause.sentence or not named:
            return []
        plain = all(
            t.has("noun") or t.has("control", "again", "and") or t.has("word", "saying") or _filler(t)
            for t in clause.terms
        )
        stations = {last.structure.partition(".")[0]}
        if not plain or stations_of(named) != stations or not clause.terms[-1].has("control", "again"):
            return []
        made: list[Statement] = []
        for name in named:
            if last.structure in name.noun.normal or name.side or len(name.noun.normal) != 1:
                continue
            made += self._made(
                clause, name.noun.normal[0], NORMAL, None, [], [], self.limb, name=name, plural=name.plural
            )
        return made


def _filler(term: Term) -> bool:
    return term.has("control", "filler") and kind_of(term) not in PREDICATE
