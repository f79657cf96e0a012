"""What is said of the skin of a place: the place is named, and what is said of it is seen on its surface."""

from __future__ import annotations

from collections.abc import Sequence

from exams.spoken.clause import Clause
from exams.spoken.said import GENERIC, LIMB_STATIONS, Described, Named, Statement
from exams.spoken.shapes import ABNORMAL, NORMAL
from exams.spoken.sides import Place, opposite
from exams.spoken.terms import UNKNOWN
from exams.spoken.the_rest import TheRest

SKIN = "SKN.skin"
THIGH = "HLB.thigh"
HAIRED = "haired"  # by itself a look at the skin of the place


class OnTheSkin(TheRest):
    """A step of `Listening`."""

    def _skin_fine(
        self, clause: Clause, one: Described, named: Sequence[Named], said: Sequence[str], place: Place
    ) -> list[Statement] | None:
        """ "Left groin red, the right groin fine", "left shoulder, the skin's sound": normal is the skin of
        that side, and nothing of the joint. None where no skin is meant."""
        good = "dry" in one.keys or any(self.vocabulary.meaning(SKIN, k) == NORMAL for k in one.keys)
        if one.denied or not good or self._doubtful(clause):
            return None
        here = [n for n in (*named, *self.where) if n.key in self.vocabulary.surface]
        skin = any(n.noun.normal == (SKIN,) for n in named) or HAIRED in one.keys
        if len(named) > 1 + skin or (not here and not skin and not self._side_alone(clause)):
            return None
        sides = [s for s in said if s in ("left", "right")] or [
            n.side for n in self.topic if self.topic_sentence == clause.sentence and n.side and not here
        ]
        if len(set(sides)) != 1:
            return None
        side = sides[0]
        sentence, found, places = self.skin_found
        there = {n.key for n in here} or {n.key for n in self.topic if n.key in self.vocabulary.surface}
        near = clause.sentence - sentence <= 1
        as_there = near and found == opposite(side) and bool(there & places)
        if set(one.keys) & set(GENERIC) and any(x.startswith(LIMB_STATIONS) for x in there - {THIGH}):
            as_there = (
                False  # "left elbow has a callus, the right elbow is fine": the joint, for all one knows
            )
        of_skin = skin and bool(there) and (bool(here) or self.topic_sentence == clause.sentence)
        of_skin = of_skin and all(
            n.key in (*self.vocabulary.surface, "skin", SKIN) for n in (*named, *self.where)
        )
        if not as_there and not of_skin:
            return None
        line = Named(SKIN, self.vocabulary.nouns[SKIN], False, None, side)
        made = self._made(
            clause, SKIN, NORMAL, one, [one.term], [side], place, result=NORMAL, name=line, own=True
        )
        return made or None

    def _doubtful(self, clause: Clause) -> bool:
        told = clause.having("control", "skip", "no", "rest", "part", "again")
        return bool(told) or any(t.kind == UNKNOWN for t in clause.terms)

    def _skin_found(
        self,
        clause: Clause,
        one: Described,
        about: Sequence[Named],
        said: Sequence[str],
        place: Place,
    ) -> list[Statement]:
        """ "Left armpit red", "the shoulder, it's blistered": of the skin over it."""
        key = next((k for k in one.keys if k in self.vocabulary.skin_looks), "")
        here = [n for n in (*about, *self.where) if n.key in self.vocabulary.surface]
        near = self.topic_sentence == clause.sentence or any(n.term in clause.terms for n in here)
        if key == "greasy" and not {"left", "right"} & {*said, *(n.side for n in here)}:
            return []  # "greasy along the back": the coat
        if one.denied or not key or not here or not near or set(one.keys) & set(GENERIC):
            return []
        if any(n.key not in self.vocabulary.surface for n in about) or clause.having("control", "skip"):
            return []
        line = Named(SKIN, self.vocabulary.nouns[SKIN], False, None, here[0].side)
        return self._made(
            clause, SKIN, ABNORMAL, one, [one.term], said, place,
            result=self.vocabulary.meaning(SKIN, key), name=line, key=key, own=True,
        )  # fmt: skip

    def _skin_noted(self, clause: Clause, made: Sequence[Statement], named: Sequence[Named]) -> None:
        """Where the skin was found not normal, and on which side, until the next sentence."""
        sides = {s.side for s in made if s.structure == SKIN and s.state == ABNORMAL}
        if len(sides) != 1 or not sides & {"left", "right"}:
            return
        names = [*named, *self.where] or (self.topic if self.topic_sentence == clause.sentence else [])
        self.skin_found = (clause.sentence, next(iter(sides)), frozenset(n.key for n in names))

    def _explained(self, made: Sequence[Statement]) -> None:
        """ "A round bald scaly patch on the left foreleg, so that's ringworm": it is what the patch is."""
        for s in made:
            looks = {c for code in s.codes for c in self.vocabulary.explains.get(code, ())}
            same = [
                x
                for x in self.statements
                if x.sentence == s.sentence and x.clause < s.clause and x.codes and set(x.codes) <= looks
            ]
            if same:
                s.side = same[-1].side if s.side == "none" else s.side
                self.statements = [x for x in self.statements if x not in same or x.structure == "SKN.coat"]

    def _only_live(self, one: Described) -> bool:
        alive = self.vocabulary.language.forms["word"].get("alive", ())
        return one.term.words[0] in alive
