"""A list of lumps: "Number one: ...", and after that "Two: ..."."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from itertools import pairwise

from exams.spoken.clause import Clause
from exams.spoken.one_only import OnlyOne
from exams.spoken.said import SUSPECTED, Described, Named, Statement
from exams.spoken.shapes import ABNORMAL, Span
from exams.spoken.sides import sides_said
from exams.spoken.terms import FIGURE

INSIDE = {"MTH", "EYE", "EAR", "ABD", "GUM", "PER"}  # a lump of these is theirs


class LumpList(OnlyOne):
    """A step of `Listening`."""

    lumps_counted = -9  # the clause that said how many there are, and no more
    lumps_denied = -9  # the sentence that said there are none in one place

    def is_lump(self, clauses: Sequence[Clause]) -> bool:
        """ "Number one: …", and after that "Two: …"."""
        first = clauses[0]
        if any(c.asked for c in clauses) or first.drop or first.having("control", "correct"):
            return False
        if self._lumps_headed(clauses):
            self.lumps_headed = self.lumps_title = first.sentence
            return True
        if self._in_list(first):
            return True
        if first.having("noun", "number-lump"):
            self.lumps_listed = True
            return not self._inside_of(first)  # "lump H is on the gum"
        if self._another(first):
            return True
        words = [t for t in first.terms if not t.has("control", "filler")]
        counted = len(words) == 1 and words[0].kind == FIGURE and not words[0].used
        articles = (
            *self.vocabulary.language.forms["word"].get("article", ()),
            *self.vocabulary.language.articles,
        )
        said = [w for t in first.terms for w in t.words if w not in articles]
        counted = counted or (len(said) == 1 and said[0] in self.vocabulary.language.ordinals)
        return self.lumps_listed and counted

    def _lumps_headed(self, clauses: Sequence[Clause]) -> bool:
        """ "Lumps now.": the sentence names them and no more; they come one by one."""
        told = [
            t for c in clauses for t in c.terms if not (t.has("control", "filler") and not t.has("trait"))
        ]
        several = (
            bool(told) and told[0].text in self.vocabulary.language.lumps and told[0].has("trait", "mass")
        )
        return several and all(t.has("word", "next", "onward") or t.kind == FIGURE for t in told[1:])

    def _in_list(self, clause: Clause) -> bool:
        """ "One on the left shoulder, …", "Second, …", after "Lumps now."."""
        if self.lumps_headed != clause.sentence - 1:
            return False
        if self.lumps_title == clause.sentence - 1 and self._only_place(clause):
            return True  # "Lumps first. On the right flank, in the skin, firm, …"
        first = next((t for t in clause.terms if not t.has("word", "article")), clause.terms[0])
        one = first.kind == FIGURE and first.text in self.vocabulary.language.ones
        return one or first.text in self.vocabulary.language.ordinals or self._another(clause)

    def _only_place(self, clause: Clause) -> bool:
        """Where, and nothing said of it."""
        led = clause.terms[0].led or clause.terms[0].has("control", "prep")
        said = any(t.has("trait") or t.has("finding") or t.has("says") for t in clause.terms)
        return led and not said and clause.having("noun") != [] and not clause.having("control", "skip")

    def _another(self, clause: Clause) -> bool:
        """ "A lump over the ribs, soft. There's another in the left armpit, firm": a lump where that is."""
        last = self.last[-1] if self.last else None
        denied = self.lumps_denied == clause.sentence - 1 and self._one_there_too(clause)
        known = last is not None and last.structure == "SKN.lumps" and last.state == ABNORMAL
        if not denied and not (known and last is not None and last.sentence == clause.sentence - 1):
            return False
        said = f" {' '.join(w for t in clause.terms for w in t.words)} "
        words = self.vocabulary.language
        another = any(f" {form} " in said for form in words.another) or self._one_there_too(clause)
        nouns = [self.vocabulary.nouns[k] for t in clause.terms for k in t.keys("noun")]
        inside = self._inside_of(clause)
        found = any(t.has("finding") or t.has("says") for t in clause.terms)
        where = bool(nouns) and (bool(clause.having("control", "prep")) or any(t.led for t in clause.terms))
        return another and where and not inside and not found

    def _inside_of(self, clause: Clause) -> bool:
        nouns = [self.vocabulary.nouns[k] for t in clause.terms for k in t.keys("noun")]
        return bool({x.partition(".")[0] for n in nouns for x in (*n.normal, *n.scope)} & INSIDE)

    def _count_lumps(self, clause: Clause) -> None:
        told = [t for t in clause.terms if not t.has("control", "filler") or t.kind == FIGURE]
        if len(told) == 2 and told[0].kind == FIGURE and told[1].text in self.vocabulary.language.lumps:
            self.lumps_counted = self.count

    def _one_there_too(self, clause: Clause) -> bool:
        """ "There's one on the left flank too.", "One more behind the ear."."""
        words = self.vocabulary.language
        told = [t for t in clause.terms if t.kind == FIGURE or not t.has("control", "filler")]
        first = bool(told) and told[0].kind == FIGURE and told[0].text in words.ones
        there = [b for a, b in pairwise(clause.terms) if a.text in words.there_is and b.kind == FIGURE]
        return first or any(t.text in words.ones for t in there)  # "on the belly there's one"

    def _one_more(self, clause: Clause, named: Sequence[Named], described: Sequence[Described]) -> bool:
        """ "Lump on the left elbow, soft; one on the right hip", "a scab on the left flank and another on the
        right": of the skin again, where this one is."""
        last = self.last[-1] if self.last else None
        if last is None or last.state != ABNORMAL or last.structure not in ("SKN.lumps", "SKN.skin"):
            return False
        words = self.vocabulary.language
        told = [t for t in clause.terms if not t.has("word", "article") and not t.has("control", "and")]
        first = told[0] if told else clause.terms[0]
        one = first.kind == FIGURE and first.text in words.ones and len(told) > 1
        one = one or first.text in words.another
        sides = [s for s in sides_said(clause.terms, "") if s in ("left", "right")]
        where = len(sides) == 1 and (bool(clause.having("control", "prep")) or any(t.led for t in told))
        surface = all(n.key in self.vocabulary.surface for n in named)
        plain = not described and not clause.having("control", "no", "skip", "hedge")
        if not (one and where and surface and plain and last.sentence == clause.sentence):
            return False
        size = tuple(self.figures.sizes.get(id(clause), ()))
        if last.clause == self.lumps_counted:  # "Two lumps: one over the ribs on the right"
            self.statements = [s for s in self.statements if s is not last]
        self.statements.append(
            dataclasses.replace(
                last, side=sides[0], size=size, site="", spans=(Span(clause.start, clause.end),),
                clause=self.count, sided=True, severity="",
            )
        )  # fmt: skip
        return True

    def lump(self, clauses: Sequence[Clause]) -> None:
        """One sentence is one lump: its side, place and size; what describes it is no finding elsewhere."""
        self.count += 1
        if self._lumps_headed(clauses):
            return
        listed = self._in_list(clauses[0])
        if listed:
            self.lumps_headed = clauses[0].sentence
            said = f" {' '.join(w for c in clauses for t in c.terms for w in t.words)} "
            words = self.vocabulary.language
            if any(f" {form} " in said for form in (*words.is_only, *words.no_lump)):
                return
        terms = [t for c in clauses for t in c.terms if not c.drop]
        side = next(
            (s for s in sides_said(terms, self._recent(clauses[0])) if s in ("left", "right")), "none"
        )
        size = next((self.figures.sizes[id(c)] for c in reversed(clauses) if id(c) in self.figures.sizes), [])
        warty = any(t.has("trait", "wart") for t in terms)
        where = [t.text for t in terms if t.has("noun") and not t.has("noun", "number-lump")]
        hedged = any(t.has("control", "hedge") for t in terms)
        span = Span(clauses[0].start, clauses[-1].end)
        self.statements.append(
            Statement(
                "SKN.lumps",
                side,
                ABNORMAL,
                ("SKN-26" if warty else "SKN-27",),
                size=tuple(size),
                site=", ".join(where[:2]),
                note=SUSPECTED if hedged else "",
                spans=(span,),
                sure=0.8,
                reason="a lump of a list",
                clause=self.count,
                sentence=clauses[0].sentence,
                trait="wart" if warty else "mass",
            )
        )
        self.last = [self.statements[-1]]
        if side != "none":
            self.last_side = side
            self.last_side_sentence = clauses[0].sentence
