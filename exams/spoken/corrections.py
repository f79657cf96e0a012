"""Words that take back what was said before them."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

from exams.spoken.clause import PREDICATE, Clause, kind_of
from exams.spoken.codes import choose, ungraded
from exams.spoken.kept import REACH
from exams.spoken.said import SUSPECTED, Described, Named, Statement, clause_span, stations_of
from exams.spoken.shapes import ABNORMAL, NORMAL, NOT_EXAMINED, PARTIAL
from exams.spoken.sides import Place, opposite, sides_said
from exams.spoken.terms import FIGURE, UNKNOWN
from exams.spoken.there import There


class Correcting(There):
    """A step of `Listening`."""

    def _correction(self, clause: Clause) -> None:
        words = [t for t in clause.terms if not t.has("control", "filler")]
        lone_no = (
            len(words) == 1
            and words[0].has("control", "no")
            and words[0].text in self.vocabulary.language.bare_no
        )
        begins_no = (
            clause.opens
            and len(words) > 1
            and words[0].text in self.vocabulary.language.bare_no
            and not any(w.has("trait") or w.has("noun") or w.has("finding") for w in words[1:3])
        )
        if lone_no and clause.opens and clause.closes:
            self.lone_no = clause.sentence
        none = len(words) == 2 and words[0].text in self.vocabulary.language.bare_no
        none = none and words[1].has("control", "nothing")  # "... but I went back and no nothing there"
        self.rest_said = bool(clause.having("control", "rest"))
        if (
            (clause.having("control", "correct", "conclude") and not self._counted_as(clause))
            or lone_no
            or none
            or begins_no
        ):
            again = self.correcting_sentence == clause.sentence and self.correcting_until == self.count - 1
            self.correcting_until = self.count
            if not again:  # "no, sorry, on the right": one correction
                opened = self.correcting_sentence == clause.sentence and self.correcting_opens
                self.correcting, self.correcting_sentence = self.count, clause.sentence
                # "No, let me look again, no, it's whole": still of the sentence before
                self.correcting_opens = clause.opens or (opened and not self._told(clause))

    def _counted_as(self, clause: Clause) -> bool:
        """ "A lump on the rim, call it seven millimetres": about how much, and no other word for it."""
        first, then = clause.terms[:1], clause.terms[1:2]
        return bool(then) and first[0].has("number", "about") and then[0].kind == FIGURE

    def _leave_out(self, clause: Clause, named: Sequence[Named], place: Place) -> None:
        """ "Eyes clear except the left one", "shoulders and elbows fine bar the left elbow": what is left out
        is not normal, whatever else comes of it."""
        begins = clause.terms[0].has("control", "except") and not clause.opens and clause.stop != "but"
        if begins or self._not_that(clause):
            clause.stop = "except"
        ahead = clause.opens and clause.terms[0].has("control", "except")
        if clause.stop != "except" and not ahead:
            return
        sides = sides_said(clause.terms, self._recent(clause))
        one = [s for s in sides if s in ("left", "right")]
        lines = {x for n in named for x in (*n.noun.normal, *n.noun.scope)}
        inside = {x for n in named for x in (n.noun.fore or ())} | {
            x for n in named for x in n.noun.hind or ()
        }
        fits = (NORMAL, PARTIAL, NOT_EXAMINED)
        here = [s for s in self.statements if s.sentence == clause.sentence and s.state in fits]
        about = [s for s in here if s.structure in lines | inside]
        if not about:
            about = [s for s in here if s in self.last or s.clause >= self.count - 2] if one else []
        said = any(kind_of(t) in PREDICATE for t in clause.terms)
        own = stations_of(named) & {s.structure.partition(".")[0] for s in here}
        if (
            not about
            and not own
            and (clause.until or not (one or said or place.limb or (place.keys and self._about_lungs())))
        ):
            # "healed except for the bottom inch", "soft until I get to the back of it": not the whole of it
            about = [s for s in here if s.clause == self.count - 1 and s.state == NORMAL]
        gone = [s for s in about if not one or s.side not in ("left", "right") or s.side in one]
        if self.copied[0] == clause.sentence:  # "the right the same except the claws"
            gone += [s for s in self.copied[1] if s.structure in lines | inside and s not in gone]
        if place.lungs:  # "except the back right"
            gone = [s for s in gone if s.structure in place.lungs or not s.structure.startswith("LUN.")]
        self.statements = [s for s in self.statements if s not in gone]
        self.last = [s for s in self.last if s not in gone]
        self.left_out = (clause.sentence, frozenset(lines | inside), tuple(one))

    def _not_that(self, clause: Clause) -> bool:
        """ "Hips and stifles fine, not the right hip": a name or a side that is denied, and no more."""
        said = any(kind_of(t) in PREDICATE or t.has("control", "skip", "nothing") for t in clause.terms)
        names = any(t.has("noun") or t.has("side", "left", "right", "other") for t in clause.terms)
        no = clause.terms[0].text in self.vocabulary.language.not_that
        return no and names and not said and not clause.opens and clause.stop != "except"

    def _without(self, made: Sequence[Statement], clause: Clause) -> None:
        """ "Apart from the left eye, eyes clear": also where the exception was said first."""
        sentence, lines, sides = self.left_out
        if sentence != clause.sentence or clause.stop == "except":
            return
        gone = [
            s
            for s in made
            if s.state == NORMAL
            and (s.structure in lines or (not lines and sides))
            and (not sides or s.side in (*sides, "none"))
        ]
        if not clause.having("control", "correct"):
            self.statements = [s for s in self.statements if s not in gone]

    def _hangs(self, clause: Clause) -> None:
        """ "Wouldn't say I could | feel the spleen": a doubt at the end of a clause that says nothing yet is
        of what follows without a pause."""
        unreal = clause.having("control", "unreal")
        held = self.hanging == self.count - 1 and clause.stop == "name"
        said = any(t.has("trait") or t.has("finding") or t.has("says") for t in clause.terms)
        after = clause.terms[clause.terms.index(unreal[-1]) + 1 :] if unreal else clause.terms
        open_ended = not any(t.has("trait") or t.has("finding") or t.has("says") for t in after)
        self.doubted = held
        if (unreal and open_ended) or (held and not said):
            self.hanging = self.count

    def _replace(self, made: Sequence[Statement]) -> None:
        """After a word that corrects, what is said now stands instead of what was said of the same line."""
        if self.correcting_sentence < 0 or self.correcting < 0:
            return
        if made[0].sentence != self.correcting_sentence and not (
            self.correcting == self.count - 1 and made[0].sentence == self.correcting_sentence + 1
        ):
            return
        now = [s for s in made if s.clause >= self.correcting]
        self.statements = [
            s for s in self.statements if s in made or not any(self._taken_back(s, n) for n in now)
        ]

    def _taken_back(self, old: Statement, new: Statement) -> bool:
        if old.clause >= self.correcting:
            return False
        if self._all_the_same(old, new):
            return False  # "sclerosis in both, a cataract on the right? No, just sclerosis"
        if self._elsewhere_instead(old, new):
            return True
        if old.structure != new.structure:
            return False
        if old.sentence < self.correcting_sentence - (1 if self.correcting_opens else 0):
            return False
        near = self.correcting - old.clause <= 2
        same_side = old.side == new.side or (new.structure == "SKN.lumps" and new.side == "none")
        if new.state == NORMAL:
            return same_side and old.state != NORMAL and not self.rest_said and self._denies_that(old, new)
        if old.state == NORMAL:
            return same_side
        if new.state == ABNORMAL:
            alike = bool(set(old.codes) & set(new.codes)) or old.trait == new.trait
            at_once = self.correcting - old.clause <= 1 and not self.correcting_named
            alike = alike or (at_once and old.site == new.site)  # "a cataract, no, just sclerosis"
            return near and alike and (same_side or old.sentence == new.sentence)
        return same_side

    def _all_the_same(self, old: Statement, new: Statement) -> bool:
        """What was found of both before one of them was doubted, and is said again."""
        same = (old.structure, old.codes) == (new.structure, new.codes) and old.side != new.side
        return same and any(
            (s.structure, s.side) == (new.structure, new.side)
            and old.clause < s.clause < self.correcting
            and s.trait != old.trait
            for s in self.statements
        )

    def _denies_that(self, old: Statement, new: Statement) -> bool:
        """ "He coughs, a honk, no, not a honk": what is denied is taken back, and not what else was found."""
        if new.trait not in self.vocabulary.walk.finding:
            return True
        return new.trait == old.trait or new.trait in old.codes

    def _elsewhere_instead(self, old: Statement, new: Statement) -> bool:
        """ "Left ear's red, no, it's the right one that's red inside": the same finding of that station."""
        return (
            old.state == new.state == ABNORMAL
            and self.correcting - old.clause <= 2
            and old.sentence == new.sentence
            and old.trait == new.trait
            and old.side != new.side
            and {old.side, new.side} == {"left", "right"}
            and old.structure.partition(".")[0] == new.structure.partition(".")[0]
        )

    def _there_after_all(
        self, clause: Clause, named: Sequence[Named], described: Sequence[Described]
    ) -> None:
        """ "No murmur, let me listen again... okay, there is one": what was denied is there."""
        said = " ".join(w for t in clause.terms for w in t.words)
        last = self.last[-1] if self.last else None
        if last is None or last.state != NORMAL or last.sentence < clause.sentence - 1:
            return
        flips = self.vocabulary.language.flips
        there = any(said.startswith(f"{form} ") for form in flips) and bool(clause.having("control", "prep"))
        if not (there or (said in flips and not named)) or last not in self.statements:
            return
        home = next(
            (t for t in self.vocabulary.denied if self.vocabulary.home.get(t) == (last.structure,)), ""
        )
        result = self.vocabulary.meaning(last.structure, home) if home else ""
        if result in ("", NORMAL):
            return
        one_of = ungraded(result, "", "", self.about, self.vocabulary.walk)
        code = choose(result, "", "", self.about, self.vocabulary.walk)
        last.state, last.trait, last.codes, last.one_of = ABNORMAL, home, (code,), one_of
        last.clause, last.sentence, last.sided = self.count, clause.sentence, False
        last.spans = (*last.spans, clause_span(clause))
        sides = [s for s in sides_said(clause.terms, self._recent(clause)) if s in ("left", "right")]
        if there and len(set(sides)) == 1 and last.side == "none":
            last.side, last.sided = sides[0], True  # "No lumps, wait, there is one over the left ribs"

    def _only_that(self, clause: Clause, named: Sequence[Named], described: Sequence[Described]) -> None:
        """ "A lump on the gum, no, it's just food", "spleen big, no, that's the stomach"."""
        said = f"{' '.join(w for t in clause.terms for w in t.words if t.text not in self._no_words())} "
        lines = {x for n in named for x in (*n.noun.normal, *n.noun.scope)}
        organs = {x.partition(".")[0] for x in (*lines, *(s.structure for s in self.last))} == {"ABD"}
        other = organs and bool(lines) and not any(s.structure in lines for s in self.last)
        if described or (named and not other) or clause.having("side") or clause.having("control", "skip"):
            return
        only = said.startswith(tuple(f"{form} " for form in self.vocabulary.language.only))
        here = self.correcting_sentence == clause.sentence
        other = other and self._points(said)
        something = only or other or self._something_else(clause, said)
        if not (here and something) and not self._said_no(clause):
            return
        sentence, side = self.asked_of
        if sentence == clause.sentence - 1 and side and all(s.side == opposite(side) for s in self.last):
            return  # "Left is up. Right, is that up too? No, that's fat": of the right
        before = [c for c in self.content if c < self.correcting]
        if not self.last or not before or self.last[-1].clause < before[-1]:
            return  # something else was said in between, and that is what it was only
        self._withdraw()

    def _something_else(self, clause: Clause, said: str) -> bool:
        """ "No, that's the purr", "no, that's from my glove"."""
        return self._points(said) and any(t.kind == UNKNOWN or t.has("word", "object") for t in clause.terms)

    def _points(self, said: str) -> bool:
        return said.startswith(tuple(f"{form} " for form in self.vocabulary.language.points))

    def _said_no(self, clause: Clause) -> bool:
        """ "Crackly at the back. No. Hair under the stethoscope."."""
        alone = self.lone_no == clause.sentence - 1 and clause.opens
        return alone and sum(t.kind == UNKNOWN for t in clause.terms) > 1

    def _withdraw(self) -> None:
        self.statements = [s for s in self.statements if not (s in self.last and s.state == ABNORMAL)]
        self.last = [s for s in self.last if s.state != ABNORMAL] or self._before(self.now - REACH)

    def _before(self, since: int) -> list[Statement]:
        """What was said last, of what still stands."""
        near = [s for s in self.statements if s.sentence >= since]
        return [s for s in near if s.clause == near[-1].clause]

    def _withdrawn(self, clause: Clause) -> None:
        """ "A skin tag or something, no, that's a scab, forget it": none of it was found."""
        if not clause.having("control", "withdraw") or not self.last:
            return
        begin = self.correcting - 1 if self.correcting_sentence == clause.sentence else self.count - 1
        if self.last[-1].clause < min(begin, self.count - 2):
            return
        since = min(self.last[-1].clause, begin)
        self.statements = [
            s
            for s in self.statements
            if not (s.state == ABNORMAL and s.clause >= since and s.sentence >= clause.sentence - 1)
        ]

    def _but_not(self, clause: Clause, named: Sequence[object]) -> None:
        """ "His hips look fine, but they're not": what was just called normal is not."""
        plain = all(t.has("control", "no", "filler") or t.has("word") for t in clause.terms)
        if len(clause.terms) == 1 and clause.having("control", "unreal") and not clause.opens:
            plain = True  # "a waist, if you use your imagination"
        elif clause.stop != "but" or not clause.having("control", "no"):
            return
        if named or not plain:
            return
        doubts = [s for s in self.last if s.note == SUSPECTED and s.clause == self.count - 1 and s.sided]
        for s in doubts:  # "I thought the right elbow was swollen, but it's not"
            if s.state == ABNORMAL and s.sentence == clause.sentence:
                s.state, s.codes, s.one_of, s.severity, s.note, s.size = NORMAL, (), (), "", "", ()
                s.grade, s.spans, s.sure = "", (*s.spans, clause_span(clause)), 0.7
        self.statements = [
            s
            for s in self.statements
            if not (s in self.last and s.state in (NORMAL, PARTIAL) and s.sentence == clause.sentence)
        ]

    def _gone_since(self, clause: Clause, named: Sequence[object]) -> None:
        """ "A hot spot on the tail base, that's gone": what was just said is not there now."""
        plain = all(
            t.has("control", "gone", "filler") or t.has("word") or t.has("trait", "absent")
            for t in clause.terms
        )
        if named or not plain or not clause.having("control", "gone"):
            return
        self.statements = [
            s
            for s in self.statements
            if not (s in self.last and s.state == ABNORMAL and self._just_said(s, clause))
        ]

    def _just_said(self, s: Statement, clause: Clause) -> bool:
        """Right before; of a doubt also where nothing else was found since."""
        doubted = s.note == SUSPECTED or clause.opens
        return s.clause == self.count - 1 or (doubted and s.sentence >= clause.sentence - REACH)

    def _no_words(self) -> tuple[str, ...]:
        return self.vocabulary.language.bare_no

    def _normal_after_all(
        self, clause: Clause, named: Sequence[object], described: Sequence[Described]
    ) -> None:
        """ "Hind slow on both... hang on. No, they're normal": what was found just before is taken back."""
        hurt = bool(self.last) and all(s.trait == "painful" for s in self.last)
        calm = ("good", "comfortable") if hurt else ("good",)
        good = described and all(set(d.keys) & set(calm) and not d.denied for d in described)
        concludes = bool(clause.having("control", "conclude"))
        opens = concludes or (self.correcting_sentence == clause.sentence and self.correcting_opens)
        before = self.correcting_sentence == clause.sentence - 1 and self.correcting_opens and clause.opens
        opens = opens or (hurt and before)  # "She flinched... No, that was the nurse. Not painful."
        if named or not good or not opens or clause.having("control", "hedge", "skip", "rest", "part"):
            return
        here = not concludes and any(s.sentence == clause.sentence for s in self.statements)
        if clause.having("side") or here:
            return
        about = {x for n in self.topic for x in (*n.noun.normal, *n.noun.scope)}
        if any(t.kind == UNKNOWN for t in clause.terms) or not all(s.structure in about for s in self.last):
            return  # something else was spoken of since
        taken = [
            s for s in self.last if s.state == ABNORMAL and s in self.statements and not s.size and not s.site
        ]
        if not taken or len(taken) != len(self.last) or self.last[-1].sentence < clause.sentence - 2:
            return
        self.statements = [s for s in self.statements if s not in taken]
        self.statements += [
            dataclasses.replace(
                s, state=NORMAL, codes=(), severity="", grade="", note="", sure=0.7,
                spans=(*s.spans, clause_span(clause)), clause=self.count, sentence=clause.sentence,
                reason="taken back",
            )
            for s in taken
        ]  # fmt: skip

    def _nothing(self, clause: Clause) -> bool:
        return bool(clause.having("control", "nothing")) and not clause.having("trait")

    def _nothing_there(self, clause: Clause) -> None:
        """ "maybe a faint murmur... no, nothing there": the doubt is talked away."""
        gone = [
            s
            for s in self.hedged_away
            if any(s.structure == x.structure and s.side == x.side for x in self.statements)
        ]
        if not gone:
            return
        lines = {s.structure for s in gone}
        self.statements = [
            s
            for s in self.statements
            if not (s.structure in lines and s.state == ABNORMAL and s.note == SUSPECTED)
        ]
        for s in gone:
            if s.trait in self.vocabulary.denied:
                side = s.side if s.structure != "HRT.murmur" else "none"
                self.statements.append(
                    dataclasses.replace(
                        s,
                        side=side,
                        state=NORMAL,
                        codes=(),
                        severity="",
                        grade="",
                        size=(),
                        note="",
                        spans=(*s.spans, clause_span(clause)),
                        sure=0.7,
                        reason="a doubt that was taken back",
                        clause=self.count,
                        sentence=clause.sentence,
                    )
                )
        self.hedged_away = []
