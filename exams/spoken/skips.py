"""Not examined, and normal in part, each with its reason."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Sequence

from exams.spoken.clause import PREDICATE, Clause, kind_of
from exams.spoken.corrections import Correcting
from exams.spoken.said import LIMB_STATIONS, NO_REASON, Named, Statement, clause_span, once
from exams.spoken.shapes import NORMAL, NOT_EXAMINED, PARTIAL
from exams.spoken.sides import Place, sides_said
from exams.spoken.terms import UNKNOWN


class Skipping(Correcting):
    """A step of `Listening`."""

    def _skip(self, clause: Clause, named: list[Named], place: Place) -> None:
        reason = self._reason(clause)
        said = sides_said(clause.terms, self._recent(clause))
        own = bool(named)
        about = (
            named
            or (self.pending if self.pending_sentence == clause.sentence else [])
            or (self.topic if self.topic_sentence == clause.sentence or self._refers(clause) else [])
        )
        if not about and place.limb:  # "front legs skipped"
            about = [Named("legs", self.vocabulary.nouns["legs"], True, None, limb=place.limb)]
        if not own and not said and not place.lungs and not place.limb and not place.has("scope"):
            normals = [
                s
                for s in self.last
                if s.state in (NORMAL, PARTIAL) and s.sentence == clause.sentence and s in self.statements
            ]
            if normals:
                for s in normals:
                    s.state, s.note, s.spans, s.sure = PARTIAL, reason, (*s.spans, clause_span(clause)), 0.75
                return
        made: list[Statement] = []
        for name in about:
            side = "" if said and not own else name.side
            one = dataclasses.replace(name, side=side)
            normal, _ = self._targets(one, place, clause)
            group = one.noun.absent is not None and not place.lungs
            structures = self._absent(one.noun.absent or (), one.limb or place.limb) if group else normal
            if place.has("scope") and one.noun.scoped:
                structures = one.noun.scoped
            for structure in structures:
                made += [
                    dataclasses.replace(s, note=reason, group=group)
                    for s in self._made(
                        clause,
                        structure,
                        NOT_EXAMINED,
                        None,
                        [one.term] if one.term else [],
                        said,
                        place,
                        name=one,
                        plural=one.plural or one.noun.never or self._any_limb(structure),
                        own=own,
                    )
                ]
        if not own and place.has("scope"):
            made = []
            for structure in ("EAR.canal",):
                made += [
                    dataclasses.replace(s, note=reason)
                    for s in self._made(clause, structure, NOT_EXAMINED, None, [], said, place, plural=True)
                ]
        self.statements.extend(once(made))
        self.topic_skipped = True

    def _any_limb(self, structure: str) -> bool:
        """A joint that is left out is of both limbs, unless one of them is spoken of."""
        station = structure.partition(".")[0]
        return station in LIMB_STATIONS and not (self.limb.station == station and self.limb.sides)

    def _absent(self, lines: Sequence[str], limb: str) -> list[str]:
        """The lines of a group that is left out; of one end only, where that was said."""
        other = {"fore": "HLB.", "hind": "FLB."}.get(limb, "-")
        return [s for s in lines if not s.startswith(other)]

    def _none_today(self, clause: Clause, named: Sequence[Named]) -> bool:
        """ "No fundus today", "Kidneys no": a name and a no, and nothing else said."""
        plain = [t for t in clause.terms if not t.has("noun")]
        no = [t for t in plain if t.text in self.vocabulary.language.bare_no]
        if not named or len(no) != 1 or any(t.has("trait") or t.has("finding") for t in plain):
            return False
        today = any(t.text in self.vocabulary.language.today for t in plain)
        last = clause.terms[-1] is no[0] and clause.opens
        lines = {s for n in named for s in n.noun.normal}
        # "no blood pressure, the cuff is gone": of what has a number, nobody says that there is none
        last = last or (
            bool(lines)
            and all(self.vocabulary.walk.structure[x].value for x in lines)
            and clause.terms[0] is no[0]
            and len(plain) == 1
        )
        return (today or last) and bool(lines) and not any(t.kind == UNKNOWN for t in plain)

    def _not_done(self, clause: Clause, named: Sequence[Named]) -> bool:
        """ "The spleen I didn't chase", "not coaxed his mouth open": a word nobody knows that the speaker did
        not do, with a name, and nothing else is said."""
        if not (named or self.topic_sentence == clause.sentence) or clause.asked:
            return False
        if any(kind_of(t) in PREDICATE or t.has("control", "hedge", "again") for t in clause.terms):
            return False
        told = clause.terms
        for at, term in enumerate(told[:-1]):
            if term.text not in self.vocabulary.language.refusals or told[at + 1].kind != UNKNOWN:
                continue
            before = told[at - 1] if at else None
            own = before is None or before.text in self.vocabulary.language.speakers
            balks = term.text in self.vocabulary.language.balks and before is not None
            own = own or (balks and before is not None and before.has("word", "subject"))
            if own or (before is not None and before.has("noun") and told[at + 1].text.endswith("ed")):
                return True
        return False

    def _refers(self, clause: Clause) -> bool:
        """ "Not done.", "Left that one alone.": the sentence before is meant."""
        near = self.topic_sentence == clause.sentence - 1
        return near and (
            self._pronoun(clause) or not any(t.kind == UNKNOWN or t.has("place") for t in clause.terms)
        )

    def _reason(self, clause: Clause) -> str:
        key = next((k for t in clause.terms for k in t.keys("reason")), "")
        found = self.vocabulary.walk.reason.get(key)
        return found.words if found else key or NO_REASON

    def _part(self, clause: Clause, statements: Iterable[Statement]) -> None:
        sides = [s for s in sides_said(clause.terms, self._recent(clause)) if s in ("left", "right")]
        for s in statements:
            if len(sides) == 1 and s.side in ("left", "right") and s.side not in sides:
                continue  # "right retina flat, left I got a quick look"
            if s.state == NORMAL and s.sentence == clause.sentence and s in self.statements:
                s.state, s.note, s.sure = PARTIAL, self._reason(clause), min(s.sure, 0.75)
                s.spans = (*s.spans, clause_span(clause))

    def _heard_partly(self, clause: Clause, made: Sequence[Statement]) -> None:
        """ "The lungs I only hear through the purring, but clear": what kept from hearing was said before."""
        sentence, noise = self.partly
        if noise is not None and sentence == clause.sentence and not clause.having("noun"):
            self._part(noise, made)
        elif clause.having("control", "part") and not made and self.topic_sentence == clause.sentence:
            self.partly = (clause.sentence, clause)

    def _top_only(self, clause: Clause, made: Sequence[Statement]) -> None:
        """ "Tongue pink on top": the top of it is a part."""
        words = self.vocabulary.language
        said = f" {' '.join(w for t in clause.terms for w in t.words)} "
        if any(f" {form} " in said for form in words.top) and not self.sentence_words & set(words.beneath):
            self._part(clause, [s for s in made if s.structure == "MTH.tongue"])
