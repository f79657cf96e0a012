"""One side or end of what was named was got at, and no more; the same of another; a limb that is lost."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

from exams.spoken.clause import Clause
from exams.spoken.said import Described, Named, Statement, clause_span, once
from exams.spoken.shapes import NOT_EXAMINED
from exams.spoken.sides import Place, opposite, sides_said
from exams.spoken.skips import Skipping
from exams.spoken.terms import FIGURE
from exams.spoken.vocabulary import Sense

LAST_RIB = 13  # no vertebra of a part of the back has a higher number
JUNCTION = 11  # from this one on it is where the chest goes over into the loin


class OnlyOne(Skipping):
    """A step of `Listening`."""

    def _vertebrae(self, clause: Clause) -> None:
        """ "Sore at L four": of the back, where that is spoken of, and no left."""
        lines = {x for k in self.sentence_nouns for x in self.vocabulary.nouns[k].normal}
        if clause.sentence - self.topic_sentence <= 1:
            lines |= {x for n in self.topic for x in n.noun.normal}
        if not any(x.startswith("SPN.") for x in lines):
            return
        for key, letters in self.vocabulary.language.forms.get("vertebra", {}).items():
            for at, term in enumerate(clause.terms[:-1]):
                number = clause.terms[at + 1].number
                counts = clause.terms[at + 1].kind == FIGURE and number is not None and not number.decimals
                if term.text in letters and counts and number and number.whole() <= LAST_RIB:
                    low = key == "SPN.thoracic" and number.whole() >= JUNCTION
                    line = "SPN.lumbar" if low else key
                    clause.terms[at] = dataclasses.replace(term, senses=(Sense("noun", line),))

    def _only_one(self, clause: Clause, named: Sequence[Named], described: Sequence[Described]) -> None:
        """ "Hind feet, I only managed the right", "I only saw the front ones": the others were not seen."""
        near = self.topic_sentence == clause.sentence or self.topic_alone == clause.sentence - 1
        about = named or (self.topic if near else ())
        sides = [s for s in sides_said(clause.terms, self._recent(clause)) if s in ("left", "right")]
        ends = [k for k in ("fore", "hind") if clause.having("limb", k) or self._only_end(clause, k)]
        if not about or described or clause.having("control", "skip", "no") or not self._merely(clause):
            return
        made: list[Statement] = []
        for name in about:
            if len(sides) == 1:
                side = opposite(sides[0])
                lines, _ = self._targets(name, Place(), clause)
                one, said = dataclasses.replace(name, side=side), [side]
            elif len(ends) == 1 and name.noun.fore is not None:
                lines = (name.noun.hind if ends == ["fore"] else name.noun.fore) or ()
                one, said = name, ["both"]
            else:
                continue
            for structure in lines:
                made += self._made(
                    clause, structure, NOT_EXAMINED, None, [], said, Place(), name=one, plural=True, own=False
                )
        reason = self._reason(clause)
        self.statements.extend(once([dataclasses.replace(s, note=reason) for s in made]))

    def _same_of_those(self, clause: Clause, named: Sequence[Named], described: Sequence[Described]) -> bool:
        """ "Both wrists are puffy. Both hocks, same deal.": of what was named right before it."""
        last = self.last[-1] if self.last else None
        told = [d for d in described if not d.term.has("control", "again")]
        if named or told or last is None or not clause.having("control", "again") or not self.described:
            return False
        plain = all(t.has("control", "again", "filler") for t in clause.terms)
        near = self.pending_sentence == clause.sentence and bool(self.pending)
        lines = {x for n in self.pending for x in (*n.noun.normal, *n.noun.scope)}
        fresh = last.sentence in (clause.sentence, clause.sentence - 1) and last.state != NOT_EXAMINED
        return plain and near and fresh and last.structure not in lines and not last.one_part

    def _yes_or_no(self, clause: Clause, named: Sequence[Named]) -> list[Described]:
        """ "Blink to my hand: left yes, right no": of a reflex, that it is there or is not."""
        words = self.vocabulary.language
        told = [t for t in clause.terms if t.has("side") or t.text in (*words.yes, *words.bare_no)]
        reflex = bool(self.topic) and all(x.startswith("NEU.") for n in self.topic for x in n.noun.normal)
        if named or len(told) != 2 or len(clause.terms) != 2 or not reflex:
            return []
        last = told[-1]
        if self.topic_sentence != clause.sentence or not told[0].has("side") or last.has("side"):
            return []
        return [Described(last, ("present",) if last.text in words.yes else ("absent",), False)]

    def _lost_limb(self, clause: Clause, place: Place) -> None:
        """ "Tripod, he lost his left foreleg as a pup": nothing is found of that one."""
        sides = [s for s in sides_said(clause.terms, "") if s in ("left", "right")]
        if clause.having("word", "limbless") and place.limb in ("fore", "hind") and len(sides) == 1:
            self.limb_gone = ("FLB" if place.limb == "fore" else "HLB", sides[0])

    def _merely(self, clause: Clause) -> bool:
        words = [w for t in clause.terms for w in t.words]
        language = self.vocabulary.language
        return any(
            word in language.merely and any(w in language.managed for w in words[at + 1 : at + 3])
            for at, word in enumerate(words)
        )

    def _only_end(self, clause: Clause, end: str) -> bool:
        """An end that a longer form says: "I only saw the front ones"."""
        forms = self.vocabulary.language.forms["limb"].get(end, ())
        return any(w in forms for t in clause.having("control", "part") for w in t.words)

    def _and_there(self, clause: Clause, named: Sequence[Named], described: Sequence[Described]) -> bool:
        """ "The Achilles is taut on the left and on the right.": what was said before, of that side too."""
        sides = [s for s in sides_said(clause.terms, "") if s in ("left", "right")]
        if clause.stop != "and" or not clause.closes or len(sides) != 1 or named or described:
            return False
        last = [s for s in self.last if s.clause == self.count - 1 and s in self.statements]
        if not last or not self._only_side(clause) or len(last) != len(self.last):
            return False
        if not all(s.sided and s.side == opposite(sides[0]) and s.sentence == clause.sentence for s in last):
            return False
        self.statements += [
            dataclasses.replace(s, side=sides[0], clause=self.count, spans=(*s.spans, clause_span(clause)))
            for s in last
        ]
        return True
