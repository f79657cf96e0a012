""" "Same on the other side", "too": a statement said again of something else."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

from exams.spoken.adding import Adding
from exams.spoken.clause import Clause
from exams.spoken.said import LIMB_STATIONS, SUSPECTED, Described, Named, clause_span, stations_of
from exams.spoken.shapes import ABNORMAL, NORMAL, NOT_EXAMINED
from exams.spoken.sides import LIMBS, Place, is_paired, opposite, sides_said, that_side
from exams.spoken.terms import Term

REGIONS = ("EYE", "EAR")
ANSWERS = frozenset(
    {"good", "present", "tracks", "follows", "brisk", "quick", "strong", "comes-down", "hears"}
)


class Again(Adding):
    """A step of `Listening`."""

    def _again(self, clause: Clause, named: list[Named], place: Place) -> bool:
        """ "Right kneecap same as the other side, but only a grade one"."""
        if self._teeth_again(clause, named):
            return True
        said = [s for s in sides_said(clause.terms, self._recent(clause)) if s in ("left", "right")]
        target = next((n.side for n in named if n.side in ("left", "right")), "") or (said[0] if said else "")
        site = ""
        fresh = self.limb_sentence >= clause.sentence - 1 and not self.limb_lines
        if not target and (self.limb_sentence == clause.sentence or fresh) and len(self.limb.sides) == 1:
            target, place = self.limb.sides[0], self.limb
        if not target and named and len(self.limb.sides) == 1 and stations_of(named) == {self.limb.station}:
            target = self.limb.sides[0]  # "Left front: … Pads fine. Wrist same as the other one."
        if not target and self.lone_side[0] == clause.sentence and self.side_over[0] == clause.sentence:
            target = self.lone_side[1]  # "… clear on the left; on the right, the same"
        if not target and self.topic_sentence == clause.sentence and self.topic and self.topic[0].site:
            target, site = self.topic[0].side, self.topic[0].site
            named = self.topic[:1]
        if (
            not target
            and self.topic_sentence == clause.sentence
            and self.topic
            and self.topic[0].side in ("left", "right")
        ):
            target, named = self.topic[0].side, list(self.topic)
        if not target and self.heading:  # "O S. … Third eyelid same."
            stations = {x.partition(".")[0] for n in named for x in n.noun.normal}
            target = self.heading if stations == {self.heading_station} else ""
        if place.limb == "all" and any(t.within for t in clause.having("control", "again")):
            return False  # "back legs same as the right fore"
        if not target:  # "hip and hock same as the right"
            likened = [side for t in clause.having("control", "again") for side in t.within]
            target = opposite(likened[0]) if likened else ""
        if not target:
            return False
        source = opposite(target)
        wanted = self._again_lines(named, place, clause)
        copied = []
        for s in self.statements:
            same_side = s.side == source or (s.side in LIMBS and LIMBS[s.side] == source)
            if s.structure == "MTH.teeth" and (not site or s not in self.last):
                continue
            of_kidney = any(n.key == "kidneys" for n in named) or (
                not named and s in self.last and s.structure.startswith("ABD.kidney")
            )
            kidney = f"ABD.kidney-{source}" if of_kidney else ""
            if same_side and s.structure in (*wanted, kidney) and s.state != NOT_EXAMINED:
                side = target if s.side == source else s.side.translate(str.maketrans("LR", "RL"))
                copied.append(
                    dataclasses.replace(
                        s,
                        structure=f"ABD.kidney-{target}" if s.structure == kidney else s.structure,
                        side=side,
                        spans=(*s.spans, clause_span(clause)),
                        sure=round(s.sure * 0.85, 2),
                        reason="said to be the same as the other side",
                        clause=self.count,
                        sentence=clause.sentence,
                        site=site
                        if s.structure in ("MTH.teeth", "HRT.murmur")
                        else s.site.translate(str.maketrans("LR", "RL")),
                        sided=True,
                    )
                )
        if not copied:
            return False
        severity = next((t.keys("severity")[0] for t in clause.terms if t.has("severity")), "")
        grade = self.figures.grades.get(id(clause), "")
        for s in copied:
            if s.state == ABNORMAL and severity:
                s.severity = severity
            if s.state == ABNORMAL and grade:
                self._grade(s, grade)
            if s.state == ABNORMAL and clause.having("control", "hedge"):
                s.note = SUSPECTED
        if clause.having("control", "hedge"):
            copied = [s for s in copied if s.state == ABNORMAL]
        self.statements.extend(copied)
        self.copied = (clause.sentence, copied)
        self.last_side, self.side_taken = target, self.count
        self.last_side_sentence = clause.sentence
        if clause.opens and not named:  # "Left the same, except the wrist's thick": that wrist
            self.side_over = (clause.sentence, target)
            self.heading = target if self.heading else ""
            if self.limb.sides == (source,):
                self.limb = dataclasses.replace(self.limb, sides=(target,))
                self.limb_sentence = clause.sentence
        return True

    def _teeth_again(self, clause: Clause, named: Sequence[Named]) -> bool:
        """ "Two oh four is worn, one oh four the same": of another tooth."""
        teeth = [n for n in named if n.site]
        last = [s for s in self.last if s.structure == "MTH.teeth" and s.site and s.state == ABNORMAL]
        near = bool(last) and last[-1].sentence >= clause.sentence - 1
        if not teeth or not near or clause.having("control", "skip", "hedge", "no"):
            return False
        first = [s for s in last if s.site == last[-1].site]
        copied = [
            dataclasses.replace(
                s,
                side=tooth.side,
                site=tooth.site,
                spans=(*s.spans, clause_span(clause)),
                sure=round(s.sure * 0.85, 2),
                reason="said to be the same as of another tooth",
                clause=self.count,
                sentence=clause.sentence,
            )
            for tooth in teeth
            for s in first
        ]
        self.statements.extend(copied)
        self.copied = (clause.sentence, copied)
        return True

    def _verb_again(self, clause: Clause, named: Sequence[Named], described: Sequence[Described]) -> bool:
        """ "She doesn't blink on the left, she does on the right", "left leaks, the right doesn't": the
        other side's answer, by the verb that stands for what was said."""
        words = self.vocabulary.language
        sides = [s for s in sides_said(clause.terms, self._recent(clause)) if s in ("left", "right")]
        last = self.last[-1] if self.last else None
        told = [d for d in described if not d.term.has("control", "nothing")]
        if not sides and self.lone_side[0] == clause.sentence and self.lone_side[1]:
            sides = [self.lone_side[1]]  # "left, I get nothing"
        if last is None or named or told or len(sides) != 1 or clause.having("control", "skip", "hedge"):
            return False
        verb = [" ".join(t.text for t in clause.terms if not self._of_subject(t))]
        nothing = verb[0] in words.hardly or (
            bool(clause.having("control", "nothing")) and len(verb[0].split()) < 3
        )
        plain = verb[0] in (*words.does, *words.does_not) or nothing
        known = is_paired(self.vocabulary.walk.structure[last.structure])
        if not plain or not known or last.side != opposite(sides[0]):
            return False
        if not last.sided or last.clause < self.count - 2 or last.sentence < clause.sentence - 1:
            return False
        denies = verb[0] in words.does_not or nothing
        if nothing and last.state == ABNORMAL:
            return False
        codes: tuple[str, ...] = ()
        if last.state == ABNORMAL and denies != self.last_denies:
            state = NORMAL
        elif last.state == NORMAL and denies and not self.last_denies:
            code = self.vocabulary.meaning(last.structure, f"not-{last.trait}")
            code = code or (
                self.vocabulary.meaning(last.structure, "absent") if last.trait in ANSWERS else ""
            )
            if not code or "|" in code or code == NORMAL:
                return False
            state, codes = ABNORMAL, (code,)
        else:
            return False
        line = that_side(last.structure, sides[0])
        self.statements.append(
            dataclasses.replace(
                last, structure=line, side=sides[0], state=state, codes=codes, severity="", grade="", size=(),
                note="", one_of=(), spans=(*last.spans, clause_span(clause)), sure=0.7, clause=self.count,
                sentence=clause.sentence, reason="the other side's answer, by its verb",
            )
        )  # fmt: skip
        return True

    def _of_subject(self, term: Term) -> bool:
        return term.has("side") or term.has("word", "subject", "article")

    def _denies(self, clause: Clause) -> bool:
        no = (*self.vocabulary.language.does_not, *self.vocabulary.language.not_that)
        return any(w in no for t in clause.terms for w in t.words)

    def _too(self, clause: Clause, named: Sequence[Named], described: Sequence[Described]) -> bool:
        """ "Spine comfortable, lumbosacral too": what was said last holds for what is named now."""
        fresh = [d for d in described if not d.term.has("control", "again")]  # "behind the knee the same"
        if fresh or not named or not self.last:
            return False
        if self._same_of_row(clause):
            return True
        if not clause.having("control", "again", "nor") and not self._ends_row(clause):
            return False
        here = {s for n in named for s in (*n.noun.normal, *n.noun.scope)}
        sided = any(t.has("side") and not t.has("control", "nor") for t in clause.terms)
        sided = sided or any(n.side for n in named)
        told = any(s.structure in here for s in self.statements)  # "as is the right": as the other of two
        if any(n.site for n in named) or (sided and (told or clause.opens)):
            return False
        if self.limb_sentence == clause.sentence and self.limb.sides:
            return False
        last = self.last[-1]
        next_to = clause.opens and clause.closes and last.sentence == clause.sentence - 1
        next_to = next_to and not self.heading and len({s.side for s in self.last} & {"left", "right"}) != 1
        next_to = next_to and last.clause == self.count - 1 and bool(clause.having("control", "again"))
        return (last.sentence == clause.sentence or next_to) and not any(
            s.structure in here for s in self.last
        )

    def _same_of_row(self, clause: Clause) -> bool:
        """ "Right hind: hip and knee move. Front legs, same, shoulders, elbows, wrists": of each of them."""
        plain = all(t.has("noun") or t.has("control", "and", "filler") for t in clause.terms)
        last = self.last[-1]
        fresh = last.state == NORMAL and last.sentence >= clause.sentence - 1
        return self.same_said == (clause.sentence, self.count - 1) and plain and fresh

    def _ends_row(self, clause: Clause) -> bool:
        """ "Full range in the hips, stifles and elbows": the end of a row that what was said went before."""
        plain = all(t.has("noun") or t.has("control", "and", "filler") for t in clause.terms)
        row = plain and not clause.colon and clause.stop == "weak" and bool(clause.having("control", "and"))
        before = self.last[-1].clause == self.count - 1 and self.last[-1].sentence == clause.sentence
        return row and before and self.name_ended

    def _again_lines(self, named: list[Named], place: Place, clause: Clause) -> set[str]:
        near = bool(self.last) and self.last[-1].side in LIMBS and self.last[-1].clause >= self.count - 2
        if place.limb and not named and near:
            return {s.structure for s in self.last}  # "right hind knuckles. Left hind the same"
        if place.limb and not any(n.noun.normal for n in named):
            return {
                s
                for s in self.vocabulary.walk.structure
                if s.startswith("FLB" if place.limb == "fore" else "HLB") and not s.endswith(".gait")
            }  # a lame one is no other's likeness
        if not named:
            station = self.last[-1].structure.partition(".")[0] if self.last else ""
            lines = {s.structure for s in self.last}
            if (
                station in (*REGIONS, *LIMB_STATIONS)
                and (clause.opens or self.side_over[0] == clause.sentence)  # "Left, same again"
            ):  # "Right ear: flap …, canal …. Same on the left."
                lines |= {
                    s.structure
                    for s in self.statements
                    if s.sentence == self.last[-1].sentence and s.structure.startswith(station + ".")
                }
            if station in LIMB_STATIONS:
                lines |= {
                    s.structure
                    for s in self.statements
                    if s.sentence == clause.sentence and s.structure.startswith(station + ".")
                }
            teeth = self.figures.teeth.get(id(clause))
            return lines if not teeth else {"MTH.teeth"}
        found: set[str] = set()
        for name in named:
            normal, scope = self._targets(name, place, clause)
            found |= {*normal, *scope}
            if name.key in ("eye", "ear"):
                found |= {s for s in self.vocabulary.walk.structure if s.startswith(name.key.upper() + ".")}
        return found
