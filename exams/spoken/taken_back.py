"""What was called normal and is taken back by what comes next: a contrast, an exception, another story."""

from __future__ import annotations

from collections.abc import Sequence

from exams.spoken.clause import PREDICATE, Clause, kind_of
from exams.spoken.corrections import Correcting
from exams.spoken.said import GENERIC, SUSPECTED, Described, Named, Statement
from exams.spoken.shapes import ABNORMAL, NORMAL, PARTIAL
from exams.spoken.sides import Place
from exams.spoken.terms import UNKNOWN
from exams.spoken.tokens import WEAK


class TakenBack(Correcting):
    """A step of `Listening`."""

    def _takes_back(
        self,
        clause: Clause,
        named: Sequence[Named],
        described: Sequence[Described],
        made: Sequence[Statement],
        place: Place,
    ) -> None:
        """The normals of the clause before go, if this one says the contrary of them, or what it leaves out
        came to nothing; what is said of the other side takes nothing back."""
        sided = clause.having("side", "left", "right", "other", "that") or place.limb
        if made or sided or clause.opens or clause.asked:
            return
        named = [n for n in named if not self._led(n, clause)]
        contrary = not named and (clause.having("word", "contrary") or self._they_are_not(clause))
        seems = clause.stop == "but" or clause.terms[0].has("word", "seeming")
        but = seems and not named and self._looked and self._unlike(clause)
        left_out = clause.stop == "except" and not named and bool(described)
        contrary = contrary or self._one_more_word(clause) or (not named and self._beneath(clause))
        denied = not named and any(d.denied and set(d.keys) & set(GENERIC) for d in described)
        if contrary or but or left_out or denied:
            self._without_last(clause, 3 if denied else 1)

    def _only_thought(self, clause: Clause) -> None:
        """ "Right back, I thought I heard some there as well, but that's her coat rubbing": it was not so."""
        words = self.vocabulary.language
        said = f"{' '.join(w for t in clause.terms for w in t.words)} "
        but = clause.stop == "but" and any(said.startswith(f"{form} ") for form in words.points)
        last = self.last[-1] if self.last else None
        if not but or last is None or last.note != SUSPECTED or last.clause != self.count - 1:
            return
        gone = [s for s in self.last if s.clause == last.clause]
        self.statements = [s for s in self.statements if not any(s is x for x in gone)]

    def _last_word(self, clause: Clause, made: Sequence[Statement]) -> None:
        """ "Left kidney, big... wait, no, that's stool. Left kidney's a normal size": the last word of it."""
        if not clause.opens or self.correcting_sentence != clause.sentence - 1:
            return
        now = {(s.structure, s.side) for s in made if s.state == NORMAL}
        self.statements = [
            s
            for s in self.statements
            if not (
                (s.structure, s.side) in now
                and s.state == ABNORMAL
                and s.sentence == clause.sentence - 1
                and s.clause < self.correcting
            )
        ]

    def _led(self, name: Named, clause: Clause) -> bool:
        at = clause.at(name.term)
        led = name.term is not None and len(name.term.words) > 2 and name.key == "rectal"
        return led or any(t.has("control", "prep") for t in clause.terms[max(0, at - 2) : at])

    def _they_are_not(self, clause: Clause) -> bool:
        """ "From outside the sacs seem empty; with a finger in they're not"."""
        last = clause.terms[-2:]
        them = len(last) == 2 and last[0].has("word", "them", "subject") and last[1].has("control", "no")
        return them and not any(kind_of(t) in PREDICATE for t in clause.terms)

    def _unlike(self, clause: Clause) -> bool:
        """ "The navel looks flat but feels like a marble"."""
        return any(
            t.kind == UNKNOWN
            or (t.has("trait") and not any(k in self.vocabulary.calm for k in t.keys("trait")))
            for t in clause.terms
        )

    def _beneath(self, clause: Clause) -> bool:
        """ "Fine on top, matted underneath"."""
        there = any(t.text in self.vocabulary.language.beneath for t in clause.terms)
        seen = clause.having("control", "skip", "part", "no", "hedge")
        return there and self._on_top and not seen and self._unlike(clause)

    def _one_more_word(self, clause: Clause) -> bool:
        """ "Clean and zorbly", "soft, knobbled, not painful": one more word of description, that nobody
        knows, may be what is wrong with it."""
        told = [t for t in clause.terms if not t.has("control", "filler", "and")]
        if self.described and all(d.denied for d in self.described):
            return False  # "no fleas, Rusty"
        lone = len(told) == 1 and told[0].kind == UNKNOWN and clause.stop in ("and", WEAK)
        return lone and told[0].text.endswith(self.vocabulary.language.describing)

    def _without_last(self, clause: Clause, back: int) -> None:
        """ "The liver's fine, no wait, that's not fine": up to so many clauses before."""
        gone = [
            s
            for s in self.statements
            if s.sentence == clause.sentence
            and self.count - back <= s.clause < self.count
            and s.state in (NORMAL, PARTIAL)
        ]
        self.statements = [s for s in self.statements if s not in gone]
        self.last = [s for s in self.last if s not in gone]

    def _note_looks(self, clause: Clause) -> None:
        """ "Looks flat", "seems empty": how it is at first sight."""
        seeming = self.vocabulary.language.forms["word"].get("seeming", ())
        said = f" {' '.join(w for t in clause.terms for w in t.words)} "
        self._on_top = any(f" {form} " in said for form in self.vocabulary.language.top)
        self._looked = any(t.words[0] in seeming for t in clause.terms if t.words)

    _looked = _on_top = False
