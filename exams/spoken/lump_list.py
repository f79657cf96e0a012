"""A list of lumps: "Number one: ...", and after that "Two: ..."."""

from __future__ import annotations

from collections.abc import Sequence

from exams.spoken.clause import Clause
from exams.spoken.said import SUSPECTED, Statement
from exams.spoken.shapes import ABNORMAL, Span
from exams.spoken.sides import sides_said
from exams.spoken.skips import Skipping
from exams.spoken.terms import FIGURE


class LumpList(Skipping):
    """A step of `Listening`."""

    def is_lump(self, clauses: Sequence[Clause]) -> bool:
        """ "Number one: …", and after that "Two: …"."""
        first = clauses[0]
        if any(c.asked for c in clauses) or first.drop or first.having("control", "correct"):
            return False
        if first.having("noun", "number-lump"):
            self.lumps_listed = True
            return True
        words = [t for t in first.terms if not t.has("control", "filler")]
        counted = len(words) == 1 and words[0].kind == FIGURE and not words[0].used
        said = [w for t in first.terms for w in t.words if w not in ("the", "el", "la", "one")]
        counted = counted or (len(said) == 1 and said[0] in self.vocabulary.language.ordinals)
        return self.lumps_listed and counted

    def lump(self, clauses: Sequence[Clause]) -> None:
        """One sentence is one lump: its side, place and size; what describes it is no finding elsewhere."""
        self.count += 1
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
