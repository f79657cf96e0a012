""" "On the right there's some": of the other side, what was found, or denied, of this one."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

from exams.spoken.again import Again
from exams.spoken.clause import Clause
from exams.spoken.said import SUSPECTED, Described, Named, Statement, clause_span
from exams.spoken.shapes import ABNORMAL, NORMAL
from exams.spoken.sides import opposite, sides_said, that_side
from exams.spoken.terms import FIGURE, UNKNOWN

MURMUR = "HRT.murmur"
SOME = ("side", "severity")


class There(Again):
    """A step of `Listening`."""

    def _there_so_much(self, clause: Clause, named: Sequence[Named], described: Sequence[Described]) -> bool:
        """ "Heavy on the upper left, on the right only a bit": the same there, so much of it."""
        sides = [s for s in sides_said(clause.terms, self._recent(clause)) if s in ("left", "right")]
        much = clause.having("severity") or clause.having("word", "comparing")
        last = self.last[-1] if self.last else None
        told = [d for d in described if not d.term.has("trait", "even")]  # "even more"
        if last is None or named or told or len(sides) != 1 or not much or self._says(clause):
            return False
        plain = all(
            t.has("side")
            or t.has("severity")
            or t.has("control", "filler")
            or t.has("word", "comparing")
            or t.has("trait", "even")
            for t in clause.terms
        )
        near = last.sentence == clause.sentence and last.clause >= self.count - 2
        if not plain or not near or last.state != ABNORMAL or last.side != opposite(sides[0]):
            return False
        line = that_side(last.structure, sides[0])
        self.statements.append(
            dataclasses.replace(
                last, structure=line, side=sides[0], grade="", size=(), site="",
                severity=next(iter(much[0].keys("severity")), ""),
                spans=(*last.spans, clause_span(clause)), sure=0.7, clause=self.count,
                sentence=clause.sentence, reason="the same on the other side, so much of it",
            )
        )  # fmt: skip
        return True

    def _one_there(self, clause: Clause, named: Sequence[Named], described: Sequence[Described]) -> bool:
        """ "No swelling on the left. On the right there's some.", "No murmur on the left, on the right a soft
        one": there is what was denied of the other side."""
        sides = [s for s in sides_said(clause.terms, self._recent(clause)) if s in ("left", "right")]
        last = self.last[-1] if self.last else None
        if last is None or named or len(sides) != 1 or self._says(clause):
            return False
        if clause.having("control", "skip", "no", "nothing", "again") or clause.having("word", "comparing"):
            return False
        much = clause.having("severity") or [
            t for t in clause.terms if t.kind == FIGURE and t.text in self.vocabulary.language.ones
        ]
        plain = all(t.kind != UNKNOWN and not t.has("finding") for t in clause.terms)
        told = [d for d in described if not d.term.has("severity") and set(d.keys) - {"soft"}]
        near = last.clause >= self.count - 2 and last.sentence >= clause.sentence - 1
        if not (much and plain and near) or told or last.state != NORMAL:
            return False
        found = [there for s in self.last if s.clause == last.clause and (there := self._there(s, sides[0]))]
        for s in found:
            s.severity = next((t.keys("severity")[0] for t in clause.terms if t.has("severity")), "")
            s.note = SUSPECTED if clause.having("control", "hedge") else ""
            s.spans = (*s.spans, clause_span(clause))
            s.clause, s.sentence = self.count, clause.sentence
            self._recode(s)
        if found and last.structure == MURMUR:
            self.statements = [*(s for s in self.statements if s is not last), *found]
            self.last = found
            return True
        self.statements += found
        return bool(found)

    def _there(self, denied: Statement, side: str) -> Statement | None:
        murmur = denied.structure == MURMUR
        if denied.side != opposite(side) and not murmur:
            return None
        trait = "murmur" if murmur else denied.trait
        code = self.vocabulary.meaning(denied.structure, trait)
        if not code or code == NORMAL:
            return None
        return dataclasses.replace(
            denied,
            structure=that_side(denied.structure, side),
            side=side,
            state=ABNORMAL,
            codes=(code,) if "|" not in code else (),
            trait=trait,
            sure=0.7,
            sided=True,
            reason="there is what was denied of the other side",
        )

    def _murmur_there(self, clause: Clause) -> bool:
        """ "At the left apex, grade four. On the right side I hear it at grade three.": it is on both."""
        last = self.last[-1] if self.last else None
        grade = self.figures.grades.get(id(clause), "")
        same = clause.having("control", "again") and clause.having("noun", MURMUR)
        sides = [s for s in sides_said(clause.terms, self._recent(clause)) if s in ("left", "right")]
        if same and not sides and self.lone_side[0] == clause.sentence and self.lone_side[1]:
            sides = [self.lone_side[1]]  # "On the right, same murmur, but softer"
        if last is None or last.structure != MURMUR or last.state != ABNORMAL or len(sides) != 1:
            return False
        if not (grade or same):
            return False
        it = any(w in self.vocabulary.language.it for t in clause.terms for w in t.words)
        near = last.sentence >= clause.sentence - 1 and last.side == opposite(sides[0])
        said = [t for t in clause.terms if t.has("trait") or t.has("finding") or t.has("noun")]
        said = [t for t in said if not (same and t.has("noun", MURMUR))]
        if not ((it or same) and near) or said or clause.having("control", "no", "skip", "correct"):
            return False
        there = dataclasses.replace(
            last, side=sides[0], site="", note="", clause=self.count, sentence=clause.sentence,
            spans=(*last.spans, clause_span(clause)), reason="the same on the other side, with its grade",
        )  # fmt: skip
        if grade:
            self._grade(there, grade)
        self.statements.append(there)
        return True

    def _lump_lies(self, clause: Clause, named: Sequence[Named], described: Sequence[Described]) -> bool:
        """ "A lump, three centimetres, on the left flank": where what was just found is."""
        last = self.last[-1] if self.last else None
        if last is None or last.structure != "SKN.lumps" or last.state != ABNORMAL or last.side != "none":
            return False
        words = clause.terms
        led = words[0].led or words[0].has("control", "prep") or words[0].has("side", "left", "right")
        said = described or any(t.has("says") or t.has("finding") for t in words)
        bare = clause.having("control", "no", "skip", "correct", "except", "again")
        sides = [s for s in sides_said(words, "") if s in ("left", "right")]
        here = last.sentence == clause.sentence and not clause.opens
        if not (here and led and named) or said or bare or len(set(sides)) > 1:
            return False
        last.side = sides[0] if sides else "none"
        last.sided = bool(sides)
        last.site = last.site or " ".join(n.term.text for n in named[:1] if n.term)
        last.spans = (*last.spans, clause_span(clause))
        return True
