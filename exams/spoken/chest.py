"""Which part of the lungs is spoken of: their back is no spine, their front no limb."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

from exams.spoken.clause import Clause
from exams.spoken.said import GENERIC, Named, Statement
from exams.spoken.shapes import ABNORMAL, NORMAL
from exams.spoken.sides import LUNGS, Place
from exams.spoken.terms import Term
from exams.spoken.which_limb import WhichLimb

ALL_LUNGS = " ".join(LUNGS.values())  # "lungs clear"


class Chest(WhichLimb):
    """A step of `Listening`."""

    def _about_lungs(self) -> bool:
        return bool(self.topic) and all(set(n.noun.scope) <= set(LUNGS.values()) for n in self.topic)

    def _of_lungs(self, place: Place, named: Sequence[Named], clause: Clause) -> Place:
        """ "Lungs, crackles at the back, front is okay": the front of them, and no limb."""
        of_them = bool(named) and all(set(n.noun.normal) <= set(LUNGS.values()) for n in named)
        of_them = of_them or (not named and any(t.has("says", ALL_LUNGS) for t in clause.terms))
        about = self._about_lungs() or of_them
        if place.lungs and self.lung_row == (clause.sentence, self.count - 1):
            keys = [k for k, line in LUNGS.items() if line in self.lung_places]
            place = dataclasses.replace(place, keys=(*place.keys, *keys))  # "front, middle and back clear"
        words = self.vocabulary.language
        front = [t for t in clause.terms if t.has("limb", "fore") and set(t.words) & set(words.ahead)]
        back = [
            t
            for t in clause.terms
            if (t.has("limb", "hind") and set(t.words) & {*words.rear, *words.behind})
            or (len(clause.terms) == 1 and t.text in words.rear)
        ]
        back += [t for at, t in enumerate(clause.terms) if self._back_of_lungs(clause, at)]
        if (front or back) and self._field_alone(clause, [*front, *back]):
            self.topic = [Named("lungs", self.vocabulary.nouns["lungs"], True, None)]
            self.topic_sentence, about = clause.sentence, True
        here = of_them or (not named and self.topic_sentence == clause.sentence)
        if not (about and here and (front or back)):
            return place
        keys = [*(["lung front"] if front else []), *(["lung back"] if back else [])]
        fields = tuple(LUNGS[k] for k in keys)
        bare = not any(t.has("trait") or t.has("finding") or t.has("says") for t in clause.terms)
        row = bare and self.lung_row == (clause.sentence, self.count - 1)
        self.lung_places = (*self.lung_places, *fields) if row else fields
        self.lung_sentence = clause.sentence
        self._field_row(clause)
        return dataclasses.replace(place, limb="", keys=(*place.keys, *keys))

    def _fields_left_out(self, made: Sequence[Statement], clause: Clause, place: Place) -> None:
        """ "Crackles low on the right, front clear, middle clear": not in those that were called clear."""
        clear = {(s.structure, s.side) for s in made if s.state == NORMAL and s.structure in place.lungs}
        bad = [s for s in self.statements if s.sentence == clause.sentence and s.state == ABNORMAL]
        for s in bad:
            over = {x.structure for x in bad if (x.clause, x.trait) == (s.clause, s.trait)}
            if (s.structure, s.side) in clear and len(over) > 1:
                self.statements = [x for x in self.statements if x is not s]

    def _field_alone(self, clause: Clause, fields: Sequence[Term]) -> bool:
        """ "Lungs: crackles at the back. Front clear.": of them, right behind, and nothing else is said."""
        plain = all(t in fields or t.has("trait") or t.has("side") for t in clause.terms)
        heard = [s for s in self.last if s.structure in LUNGS.values() and s.sentence == clause.sentence - 1]
        return plain and clause.opens and bool(heard)

    def _back_of_lungs(self, clause: Clause, at: int) -> bool:
        """ "Lungs: front clear, back right crackly": the back of them, and no spine."""
        term = clause.terms[at]
        if not term.has("noun", "back") or len(term.words) > 1 or not self._about_lungs():
            return False
        beside = [*clause.terms[max(0, at - 1) : at], *clause.terms[at + 1 : at + 2]]
        sided = any(t.has("side", "left", "right", "both") for t in beside)
        keys = {k for t in clause.terms for kind in ("trait", "finding") for k in t.keys(kind)}
        meant = {self.vocabulary.meaning("LUN.back", k) for k in keys - set(GENERIC)} - {"", NORMAL}
        return self.topic_sentence == clause.sentence and (sided or bool(meant))
