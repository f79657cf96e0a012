"""What a name means where it stands: which of two things, only a place, or what was spoken of before."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

from exams.spoken.clause import PREDICATE, Clause
from exams.spoken.kept import REACH
from exams.spoken.no_finding import NoFinding
from exams.spoken.said import (
    GENERIC,
    LIMB_STATIONS,
    PAIRS,
    Named,
    Statement,
    filler_right,
    stations_of,
)
from exams.spoken.shapes import ABNORMAL
from exams.spoken.sides import is_paired, opposite, sides_said
from exams.spoken.terms import FIGURE, UNKNOWN
from exams.spoken.vocabulary import Sense

FLOWS = ("NOS.nares", "EYE.tears")  # nothing from them is all there is to say


class Meant(NoFinding):
    """A step of `Listening`."""

    def _node_meant(self, clause: Clause, at: int) -> Named | None:
        """ "Behind the knees: left is up. Right, is that up? No, that's fat, the node's normal.": of the
        nodes that are spoken of, on the side that was asked."""
        sentence, side = self.asked_of
        lines = {x for n in self.topic for x in n.noun.normal}
        nodes = len(lines) == 1 and all(x.startswith("LYM.") for x in lines)
        the = at > 0 and clause.terms[at - 1].has("word", "the", "that")
        if sentence != clause.sentence - 1 or not side or not nodes or not the:
            return None
        return dataclasses.replace(self.topic[0], side=side, plural=False)

    def _fitting(self, nouns: Sequence[Sense], clause: Clause) -> Sense:
        """ "The front of the chest springs": of several things by one name, what the words fit."""
        said = [k for t in clause.terms for k in (*t.keys("trait"), *t.keys("finding")) if k not in GENERIC]
        fits = [s for s in nouns if any(self.vocabulary.fits(s.key, k) for k in said)]
        return fits[0] if fits and len(nouns) > 1 else nouns[0]

    def _bed_of_lump(self, clause: Clause, at: int) -> bool:
        """What a lump that was just found lies in or moves on."""
        last = self.last[-1] if self.last else None
        lump = last is not None and (last.structure, last.sentence) == ("SKN.lumps", clause.sentence)
        bed = {"SKN.skin", "skin", "muscles", "wall"} & set(clause.terms[at].keys("noun"))
        led = any(t.has("control", "prep") for t in clause.terms[max(0, at - 2) : at])
        return lump and bool(bed) and led and last is not None and last.state == ABNORMAL

    def _foot_of(self, clause: Clause) -> bool:
        """A part of the foot stands over the sentence, and the clause names nothing but which foot."""
        headed = self.over[0] == clause.sentence and all(n.noun.fore is not None for n in self.over[1])
        feet = any(n.key == "paw" for n in self.over[1])
        return headed and not feet and sum(t.has("noun") for t in clause.terms) == 1

    def _of_it(self, clause: Clause, at: int) -> bool:
        """A part by the name of something else: "the face of it", "the belly of it"."""
        after = clause.terms[at + 1 : at + 3]
        it = self.vocabulary.language.it
        part = len(after) == 2 and after[0].has("number", "of") and after[1].text in it
        return part and at > 0 and clause.terms[at - 1].has("word", "the")

    def _near_topic(self, clause: Clause) -> bool:
        """Named in the sentence, or before a stop that was only guessed: "windpipe soft | no cough"."""
        return clause.sentence - self.topic_sentence <= (1 if clause.unstopped and clause.opens else 0)

    def _of_ears(self) -> bool:
        near = self.now - self.topic_sentence <= REACH
        lines = [x for n in self.topic for x in (*n.noun.normal, *n.noun.scope)]
        return near and bool(lines) and all(x.startswith("EAR.") for x in lines)

    def _of_next(self, clause: Clause, at: int) -> bool:
        after = clause.terms[at + 1 : at + 2]
        return bool(after) and any(self.vocabulary.nouns[k].fore is not None for k in after[0].keys("noun"))

    def _way_moved(self, clause: Clause, at: int) -> bool:
        """ "Right shoulder. Forward, fine; back, fine": where a joint is moved to, and no spine."""
        moved = self.sentence_words & set(self.vocabulary.language.ways)
        if moved and len(clause.terms) == 1:
            return True
        alone = at == 0 and (len(clause.terms) == 1 or not clause.terms[1].has("word", "saying"))
        lines = {x.partition(".")[0] for n in self.topic for x in n.noun.normal}
        return bool(moved) and alone and bool(lines & {*LIMB_STATIONS, "NEK"})

    def _looked_over(self, clause: Clause, at: int) -> bool:
        """ "Looks over either shoulder": how far the neck goes, and nothing of the shoulder."""
        before = clause.terms[:at]
        while before and (before[-1].has("side") or before[-1].has("word", "article")):
            before = before[:-1]
        over = len(before) > 1 and before[-1].has("number", "over")
        looks = over and (before[-2].has("word", "seeming") or before[-2].has("word", "turning"))
        return looks and clause.terms[at].has("noun", "FLB.shoulder")

    def _stops_before(self, clause: Clause, at: int) -> bool:
        """ "He stops short of the shoulder": how far the neck goes."""
        neck = any(x.startswith("NEK.") for n in self.topic for x in n.noun.normal)
        before = [t for t in clause.terms[:at] if not t.has("word", "article") and not t.has("side")]
        of = len(before) > 1 and before[-1].has("number", "of")
        return neck and of and before[-2].has("trait", "reduced")

    def _onward(self, clause: Clause, at: int) -> bool:
        after = clause.terms[at + 1 : at + 2]
        return clause.terms[at].has("word", "onward") and bool(after) and after[0].has("word", "onward")

    def _spine(self, clause: Clause, at: int) -> bool:
        """ "Along the back": no part of the lungs, nor the hind end."""
        if {"lungs", "chest", "nail", "paw", "toe", "pad"} & self.sentence_nouns or self.lung_places:
            return False
        before = [t for t in clause.terms[:at] if not t.has("control", "filler") or t.has("control", "prep")]
        return bool(before) and before[-1].text in self.vocabulary.language.along

    def _which(self, sense: Sense, clause: Clause) -> Sense:
        """ "Glands a bit full": a name that two things go by."""
        if sense.key == "NEU.facial-sensation" and "NEU.menace" in self.sentence_nouns:
            return sense._replace(key="NEU.menace")  # "she blinks on the left when I bring my hand up"
        if sense.key == "pressure" and sense.plural and self._of_eyes(clause):
            return sense._replace(key="EYE.pressure")  # "corneas clear. Pressures I haven't done"
        if self._behind_nodes(sense, clause):
            return sense._replace(key=self.vocabulary.below["nodes"][sense.key])
        for heading in self.over[1] if self.over[0] == self.now else ():
            below = self.vocabulary.below.get(heading.key, {}).get(sense.key)
            if below:
                return sense._replace(key=below)
        if self.topic_alone == clause.sentence - 1 and any(n.key == "nodes" for n in self.topic):
            return sense._replace(key=self.vocabulary.below["nodes"].get(sense.key, sense.key))
        choices = self.vocabulary.either.get(sense.key, ())
        said = {k for t in clause.terms for k in t.keys("trait")}
        near = {
            line.partition(".")[0]
            for n in (self.topic if self.topic_sentence >= clause.sentence - 1 else ())
            for line in (*n.noun.normal, *n.noun.scope)
        }
        if sense.key == "air":  # "no air through the left nostril"
            near |= {
                line.partition(".")[0]
                for t in clause.terms
                for k in t.keys("noun")
                if k != "air"
                for line in self.vocabulary.nouns[k].normal
            }
        for meant in choices:
            if said & meant.traits:
                return sense._replace(key=meant.noun)
        for meant in choices:
            if near & meant.near or (meant.sided and clause.having("side", "left", "right", "other")):
                return sense._replace(key=meant.noun)
        default = next((c.noun for c in choices if not c.traits and not c.near), sense.key)
        return sense._replace(key=default)

    def _of_eyes(self, clause: Clause) -> bool:
        near = self.topic_sentence >= clause.sentence - 2 and stations_of(self.topic) == {"EYE"}
        return near and not any(t.kind == FIGURE for t in clause.terms)

    def _behind_nodes(self, sense: Sense, clause: Clause) -> bool:
        """ "Lymph nodes I felt jaw, shoulder and back of the knee": a row behind them, nothing said yet."""
        at = next((i for i, t in enumerate(clause.terms) if sense in t.senses), 0)
        before = clause.terms[:at]
        several = {k for k in self.vocabulary.nouns if k.startswith("LYM.")}
        nodes = [
            i
            for i, t in enumerate(before)
            if t.has("noun", "nodes") or (t.has("noun", *several) and len(t.words) > 2)
        ]  # "nodes at the jaw and shoulders"
        said = any(t.has(kind) for t in before[nodes[-1] + 1 :] for kind in PREDICATE) if nodes else True
        return sense.key in self.vocabulary.below["nodes"] and not said

    def _announced(self, one: Named, after: Sequence[Named], clause: Clause) -> bool:
        """A name that only leads to the next, nothing said between them nor joining them: "the knees now
        both kneecaps are normal", "ears, both flaps clean"."""
        if not after or one.term is None or after[0].term is None:
            return False
        if one.term not in clause.terms or after[0].term not in clause.terms:
            return False
        between = clause.terms[clause.at(one.term) + 1 : clause.at(after[0].term)]
        over = self.vocabulary.over.get(one.key) == after[0].key
        if (
            over
            and any(t.has("side", "left", "right") for t in between)
            and not any(t.has("trait") for t in between)
        ):
            return True  # "knees right kneecap tight"
        if not between and not self.vocabulary.leads(one.key, after[0].key):
            return False  # "elbows carpi shoulders fine"
        return not any(
            t.has("control", "and", "or", "prep")
            or t.has("trait")
            or t.has("finding")
            or t.has("says")
            or t.led  # "the pulses in both thighs"
            for t in between
        )

    def _only_where(self, one: Named, all_named: Sequence[Named], clause: Clause) -> bool:
        """A name behind a preposition, while another is named before it: "the skin round the bottom"."""
        if one.term is None or len(all_named) < 2 or one.term not in clause.terms:
            return False
        at = clause.at(one.term)
        before = clause.terms[:at]
        both_of = before and before[-1].has("side") and one.key in PAIRS
        if (
            both_of
            and any(t.has("noun") for t in before)
            and not any(t.has("trait") for t in clause.terms[at:])
        ):
            return True  # "menace good both eyes"
        while before and (
            before[-1].has("control", "filler") or before[-1].has("side") or before[-1].has("limb")
        ):
            if before[-1].has("control", "prep"):
                break
            if before[-1].led and any(t.has("noun") for t in before):
                return True  # "the pulses in both thighs"
            before = before[:-1]
        led = bool(before) and (before[-1].has("control", "prep") or before[-1].has("word", "towards"))
        return led and any(t.has("noun") for t in before)

    def _own_side(self, clause: Clause, at: int, said: Sequence[str]) -> str:
        i = at - 1
        while i >= 0:
            term = clause.terms[i]
            if term.used or (term.has("control", "nor") and clause.having("control", "or")):
                break  # "neither the elbow nor the wrist": no side
            keys = [k for k in term.keys("side") if k in ("left", "right", "both", "other", "that")]
            if keys and keys[0] == "other" and any(s.plural for s in clause.terms[at].senses):
                break  # "the other nodes": no side
            if keys and not (keys[0] == "right" and filler_right(clause, i)):
                return self._resolved(keys[0], clause)
            if not (
                term.has("limb") or term.has("severity") or term.has("control", "filler") or term.has("trait")
            ):
                break
            i -= 1
        within = clause.terms[at].within
        if not within and clause.terms[at].words[-1] in self.vocabulary.language.it:
            return self._recent(clause)  # "the membrane round it"
        return "both" if len(within) > 1 else next(iter(within), "")

    def _none_on_the_other(self, clause: Clause, named: Sequence[Named]) -> Statement | None:
        """ "A slip on the right, left nothing": what was found is denied of the other side."""
        sides = [s for s in sides_said(clause.terms, self._recent(clause)) if s in ("left", "right")]
        if named or len(sides) != 1 or not self.last or clause.having("control", "skip", "hedge"):
            return None
        last = self.last[-1]
        paired = is_paired(self.vocabulary.walk.structure[last.structure])
        known = (paired or last.structure == "SKN.skin") and last.trait
        fits = last.state == ABNORMAL and last.sided and last.side == opposite(sides[0])
        such = bool(clause.having("word", "such"))
        begins = clause.opens and clause.terms[0].has("control", "nothing", "no")
        after = begins and last.sentence == clause.sentence - 1  # "Blood on the right. Nothing on the left."
        near = (last.sentence == clause.sentence or such or after) and last.clause >= self.count - 2
        near = near and not (such and last.trait == "painful")  # "sore. None of that on the right"
        flows = last.structure in FLOWS and bool(clause.having("control", "prep"))  # "nothing from the left"
        denied = (flows or last.trait not in self.vocabulary.silent) and all(
            t.kind != UNKNOWN for t in clause.terms
        )
        return last if known and fits and near and denied else None
