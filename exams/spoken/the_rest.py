"""The fields and limbs that were not said, and what a grade alone says."""

from __future__ import annotations

from collections.abc import Sequence

from exams.spoken.at_home import AtHome
from exams.spoken.clause import Clause
from exams.spoken.said import (
    GENERIC,
    Described,
    Named,
    Statement,
)
from exams.spoken.shapes import NORMAL
from exams.spoken.sides import LIMB_PLACE, LIMBS, LUNGS, Place
from exams.spoken.terms import FIGURE, UNKNOWN


class TheRest(AtHome):
    """A step of `Listening`."""

    def _rest_of_chest(
        self, clause: Clause, named: Sequence[Named], described: Sequence[Described]
    ) -> list[Statement]:
        """ "Chest: quiet on the right at the back, everything else clear": the fields that were not said."""
        fine = next((d for d in described if set(d.keys) & set(GENERIC) and not d.denied), None)
        chest = self.topic_sentence == clause.sentence and all(
            set(n.noun.scope) <= set(LUNGS.values()) for n in self.topic
        )
        if named or fine is None or not chest or not clause.having("control", "rest"):
            return []
        said = {(s.structure, s.side) for s in self.statements if s.sentence == clause.sentence}
        if not any(structure in LUNGS.values() for structure, _ in said) or clause.having("place"):
            return []
        made = []
        for structure in LUNGS.values():
            made += self._made(
                clause, structure, NORMAL, fine, [fine.term], ["both"], Place(), plural=True, own=False
            )
        return [s for s in made if (s.structure, s.side) not in said]

    def _rest_of_limbs(
        self, clause: Clause, named: Sequence[Named], described: Sequence[Described]
    ) -> list[Statement]:
        """ "Placing slow in the left hind, normal in the others": the limbs that were not said."""
        told = [s for s in self.statements if s.sentence == clause.sentence and s.side in LIMBS]
        lines = {s.structure for s in told}
        if named or len(lines) != 1 or not clause.having("control", "rest") or self._how_much(clause):
            return []
        structure = told[0].structure
        fine = next(
            (
                d
                for d in described
                if not d.denied and any(self.vocabulary.meaning(structure, k) == NORMAL for k in d.keys)
            ),
            None,
        )
        if fine is None or self.topic_sentence != clause.sentence:
            return []
        made: list[Statement] = []
        for limb in LIMBS:
            if limb not in {s.side for s in told}:
                made += self._made(
                    clause, structure, NORMAL, fine, [fine.term], [LIMBS[limb]], LIMB_PLACE[limb],
                    plural=True, own=False,
                )  # fmt: skip
        return made

    def _how_much(self, clause: Clause) -> bool:
        return bool(clause.having("control", "skip", "hedge", "no")) or any(
            t.kind == UNKNOWN for t in clause.terms
        )

    def _graded(
        self, clause: Clause, about: Sequence[Named], described: Sequence[Described]
    ) -> list[Described]:
        """ "left kneecap grade one": the grade alone says what it is; of pain, how much there is."""
        pain = [t for t in clause.terms if t.has("severity")]
        if pain and not described and about and all(n.key == "GEN.pain" for n in about):
            return [Described(pain[0], ("graded-pain",), False, pain[0].keys("severity")[0])]
        if id(clause) not in self.figures.grades or any(not d.denied for d in described):
            return []
        trait = next(
            (
                self.vocabulary.graded[x]
                for n in about
                for x in (*n.noun.normal, *(n.noun.hind or ()), *(n.noun.fore or ()))
                if x in self.vocabulary.graded
            ),
            "",
        )
        term = next((t for t in clause.terms if t.kind == FIGURE), clause.terms[-1])
        return (
            [Described(term, (trait,), False, self._severity(clause, clause.terms.index(term)))]
            if trait
            else []
        )
