"""What something is said of that names nothing: the topic, the line found just before, what is around it."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

from exams.spoken.clause import Clause
from exams.spoken.kept import REACH
from exams.spoken.making import Making
from exams.spoken.said import GENERIC, RUNNY, Described, Named, stations_of
from exams.spoken.shapes import ABNORMAL, NORMAL
from exams.spoken.sides import opposite, sides_said
from exams.spoken.terms import UNKNOWN, Term
from exams.spoken.vocabulary import Sense

DIRTY = ("pus", "wax", "dark-debris", "crust", "tear-stain", "runny")


class OfWhat(Making):
    """A step of `Listening`."""

    def _spoken_of(self, clause: Clause, named: list[Named], described: Sequence[Described]) -> list[Named]:
        """What the traits of a clause are of: its own names, else the topic."""
        if named:
            return named
        if within := self._named_within(clause):
            return within
        if self._answers_query(clause):
            return list(self.queried[1])
        said = [t for t in clause.terms if t.has("side")]
        if self.spot[0] == clause.sentence and clause.having("word", "there"):
            return list(self.spot[1])
        near = self.topic_sentence == clause.sentence
        if near or self.topic_sentence == clause.sentence - 1 or self._still_of(clause):
            alone = self._side_alone(clause)
            headed = self.over[0] == clause.sentence and all(n.noun.never for n in self.topic)
            topic = [self._settled(n, clause) for n in (self.over[1] if headed else self.topic)]
            if other := self._other_of_last(clause):
                topic = other
            return [dataclasses.replace(n, side="" if said else alone or n.side) for n in topic]
        return []

    def _named_within(self, clause: Clause) -> list[Named]:
        """ "Moist pink gums": what is said by itself names what the other words are of."""
        for term in self._says(clause):
            for length in range(len(term.words) - 1, 0, -1):
                for at in range(len(term.words) - length + 1):
                    senses = self.vocabulary.senses(term.words[at : at + length])
                    for sense in senses:
                        if sense.kind == "noun":
                            noun = self.vocabulary.nouns[sense.key]
                            return [Named(sense.key, noun, sense.plural, None)]
        return []

    def _answers_query(self, clause: Clause) -> bool:
        """ "Are the gums pale? No, they're pink."."""
        no = self.correcting_sentence == clause.sentence and self.correcting_opens
        them = any(t.has("word", "them") for t in clause.terms)
        told = self.told_by[0] == clause.sentence - 1 and clause.opens and clause.terms[0].has("word", "them")
        return (no or told) and them and self.queried[0] == clause.sentence - 1

    def _still_of(self, clause: Clause) -> bool:
        """ "Bladder next. It's an orange. Big, hard": of what two sentences before named and no more."""
        lone = self.topic_alone == self.topic_sentence == clause.sentence - 2
        return lone and self.likened == clause.sentence - 1

    def _spotted(self, clause: Clause, named: Sequence[Named]) -> None:
        """ "Fine down to the loin, sore there", "when I press at the lumbosacral …": where "there" is."""
        for name in (*named, *self.where):
            if name.term is None or name.term not in clause.terms:
                continue
            before = clause.terms[: clause.at(name.term)]
            while before and before[-1].has("control", "filler") and not before[-1].has("control", "prep"):
                before = before[:-1]
            if before and (before[-1].has("control", "prep") or before[-1].has("place", "to tail")):
                self.spot = (clause.sentence, [name])

    def _around(self, said: Sequence[str] = ()) -> list[Named]:
        """ "Corneas clear, no discharge": the eye that a part of it was named of."""
        found = []
        for name in self.topic:
            for region in self.vocabulary.regions:
                noun = self.vocabulary.nouns[region]
                if name.key in noun.scope:
                    alone = self.lone_side[1] if self.lone_side[0] == self.now else ""
                    side = "" if said else alone or name.side
                    found.append(Named(region, noun, name.plural, name.term, side))
        return found[:1]

    def _not_copied(self, structure: str, code: str) -> None:
        """ "O S. Same lashes. No entropion on this one": what came with the other things does not stand."""
        sentence, copied = self.copied
        gone = [s for s in copied if s.structure == structure and set(s.codes) & set(code.split("|"))]
        if gone and sentence >= self.now - REACH:
            self.statements = [s for s in self.statements if s not in gone]

    def _under_heading(self) -> Named | None:
        """ "O D. … Ropey mucus.": of the eye that the heading is of."""
        if not self.heading:
            return None
        for region in self.vocabulary.regions:
            noun = self.vocabulary.nouns[region]
            if {x.partition(".")[0] for x in noun.normal} == {self.heading_station}:
                return Named(region, noun, False, None, self.heading)
        return None

    def _lone(self, clause: Clause) -> bool:
        """Nothing else is said in the clause."""
        return sum(1 for t in clause.terms if t.has("trait") or t.has("finding") or t.has("says")) == 1

    def _other_of_last(self, clause: Clause) -> list[Named]:
        """ "Ears: wax in the left canal, the right's clean": of the canal that was spoken of."""
        sides = [s for s in sides_said(clause.terms, self._recent(clause)) if s in ("left", "right")]
        if len(sides) != 1 or not self.last or not self.topic:
            return []
        last = self.last[-1]
        near = last.sentence == clause.sentence and last.side == opposite(sides[0]) and last.sided
        lines = {x for n in self.topic for x in (*n.noun.normal, n.key)}
        if near and last.state == ABNORMAL and last.clause >= self.count - 2 and not clause.having("noun"):
            named = all(n.key in self.vocabulary.walk.structure for n in self.topic)
            one_line = {x.partition(".")[0] for x in lines} == {last.structure.partition(".")[0]}
            if one_line and last.structure in self.sentence_nouns and last.structure not in lines:
                named = True  # "Ears: outsides fine, black stuff in the left canal, the right one's clear"
            if last.structure == "MTH.gums" and any(n.key == "gums" for n in self.topic):
                named = True  # "gums red on the upper right, the left side looks good"
            if named and last.structure not in lines:  # "lip hangs on the left, right side's fine"
                return [Named(last.structure, self.vocabulary.nouns[last.structure], False, None)]
        if not all(n.key in self.vocabulary.headings or n.noun.never for n in self.topic):
            return []
        inside = {s for n in self.topic for s in n.noun.scope}
        named = last.structure in self.sentence_nouns or any(
            self.vocabulary.meaning(last.structure, k) == NORMAL and k not in GENERIC
            for t in clause.terms
            for k in t.keys("trait")
        )
        keys = {k for t in clause.terms for k in t.keys("trait")}
        runny = last.trait in (*RUNNY, *DIRTY) and bool(keys) and keys <= {"clear", "clean", "dry", "tacky"}
        named = named or (runny and last.structure in inside)  # "goo in the left eye, the right one's clean"
        if not near or not named or last.state != ABNORMAL or last.structure not in inside:
            return []
        return [Named(last.structure, self.vocabulary.nouns[last.structure], False, None)]

    def _detail(self, clause: Clause, one: Described, named: Sequence[Named]) -> bool:
        """ "Brown wax in the left canal, no redness", "a scratch on the nose leather, dry": of what was just
        found not normal, and no word elsewhere."""
        if named or not self.last or one.term.has("control", "nothing"):
            return False
        if not one.denied:
            return self._looks(clause, one)
        return all(
            s.state == ABNORMAL and s.sentence == clause.sentence and s.clause == self.count - 1
            for s in self.last
        ) and any(self.vocabulary.meaning(s.structure, k) for s in self.last for k in one.keys)

    def _still_clean(self, clause: Clause, one: Described, named: Sequence[Named]) -> bool:
        """ "The right one's clean, nothing coming out of it": what was just normal, once more."""
        here = [s for s in self.statements[-1:] if s.clause == self.count]
        last = here[-1] if here else self.last[-1] if self.last else None
        fresh = last is not None and last.clause >= self.count - 1 and last.sentence == clause.sentence
        if named or not fresh or last is None or last.state != NORMAL or clause.having("side"):
            return False
        own = last.structure in {x for n in self.topic for x in n.noun.normal}
        return not own and not one.denied and set(one.keys) <= {"clean", "clear", "dry", *GENERIC}

    def _looks(self, clause: Clause, one: Described) -> bool:
        last = self.last[-1]
        fresh = last.state == ABNORMAL and last.sentence == clause.sentence and last.clause == self.count - 1
        if fresh and last.trait in RUNNY and "clear" in one.keys:
            return True  # "some watery stuff on the lid, just clear"
        if not fresh or clause.having("side") or set(one.keys) & set(GENERIC):
            return False
        lines = {s for n in self.topic if n.key in self.vocabulary.headings for s in n.noun.normal}
        return any(
            self.vocabulary.meaning(s, k) == NORMAL for s in lines - {last.structure} for k in one.keys
        )

    def _settled(self, name: Named, clause: Clause) -> Named:
        """ "Glands: left full, right empty": what is said now tells what was meant."""
        if name.key not in self.vocabulary.either:
            return name
        key = self._which(Sense("noun", name.key, name.plural), clause).key
        return dataclasses.replace(name, key=key, noun=self.vocabulary.nouns[key])

    def _elsewhere(self, clause: Clause, named: Sequence[Named]) -> bool:
        """The names of the clause are of another station than the topic: they may only be places of it."""
        if not named or self.topic_sentence != clause.sentence or self.topic_skipped:
            return False
        stations = stations_of(self.topic)
        return not any(
            s.partition(".")[0] in stations for n in named for s in (*n.noun.normal, *n.noun.scope)
        )

    def _topic_rather(self, clause: Clause, one: Described, named: Sequence[Named]) -> bool:
        """ "Nails: the front ones overgrown on both feet": the only name says where."""
        # "Eyes. The left one has some watery stuff on the lower lid"
        of_one = self._side_before(clause)
        spoken = self.topic_sentence == clause.sentence or of_one
        if not spoken or self.topic_skipped or len(named) != 1 or named[0].term is None:
            return False
        if named[0].term not in clause.terms or not all(k not in GENERIC for k in one.keys):
            return False
        whole = {x for n in self.topic for x in n.noun.normal}
        if len(whole) > 1 and set(named[0].noun.normal) <= whole:
            return False  # "Spine: sore at the loin": a part of what is spoken of
        at = clause.at(named[0].term)
        line = len(self.topic) == 1 and self.topic[0].key in self.vocabulary.walk.structure
        bare = of_one or (line and not any(self.vocabulary.fits(named[0].key, k) for k in one.keys))
        before = [
            t
            for t in clause.terms[:at]
            if not (t.has("side") or t.has("limb") or (bare and t.has("word", "article")))
        ]
        behind = bool(before) and before[-1].has("control", "prep")
        return behind and any(self.topic_matches(k) for k in one.keys)

    def _same_station(self, structure: str, named: Sequence[Named]) -> bool:
        station = structure.partition(".")[0]
        if station == "GEN":
            return True  # "weight four kilos he is bright": the whole animal
        if structure == "HRT.rhythm" and any(n.key == "VIT.weight" for n in named):
            return False  # "steady weight"
        if all(n.key.startswith("VIT.") for n in named):
            return True  # "resp rate thirty-six no effort"
        return any(s.startswith(station + ".") for n in named for s in (*n.noun.normal, *n.noun.scope))

    def _of_a_lump(self, clause: Clause, one: Described) -> bool:
        """ "mass on the flank, firm, ulcerated": what describes the lump is no finding elsewhere."""
        return bool(
            self.last
            and self.last[-1].structure == "SKN.lumps"
            and self.last[-1].sentence == clause.sentence
            and self.last[-1].state == ABNORMAL
            and not any(
                t.has("noun") and not self._bed_of_lump(clause, at) for at, t in enumerate(clause.terms)
            )
            and not one.denied
            and not set(one.keys) & {"mass", "wart"}
        )

    def _object(self, clause: Clause, name: Named) -> bool:
        """ "She places all four feet fine": an unknown word right before the name may be what is fine, or
        what is done with them all."""
        if name.term is None or name.term not in clause.terms:
            return False
        at = clause.at(name.term) - 1
        while at >= 0 and (
            clause.terms[at].has("side")
            or clause.terms[at].has("limb")
            or (clause.terms[at].has("word", "article") or clause.terms[at].has("pronoun"))
        ):
            at -= 1
        if at < 0:
            return False
        before = [self.vocabulary.nouns[k] for k in clause.terms[at].keys("noun")]
        reflex = any(line.startswith("NEU.") for n in before for line in (*n.normal, *n.scope))
        limbed = clause.terms[at + 1].has("limb")
        return clause.terms[at].kind == UNKNOWN or (limbed and reflex)

    def _pronoun(self, clause: Clause) -> bool:
        """ "The right one is fine", "both sides normal": what was named before is meant."""
        if self.topic_alone == clause.sentence - 1 and clause.opens and clause.terms[0].has("word", "them"):
            return True  # "Eyes first. They look clear."
        one = clause.terms[0].text in self.vocabulary.language.it and any(n.plural for n in self.topic)
        them = clause.terms[0].has("word", "them") and not one
        if self.topic_alone == clause.sentence - 1 and them and not self.where:
            return True  # "Eyes. I've had a look at both and they're clear."
        return any(
            t.has("side")
            and (
                t.words[-1] in self.vocabulary.language.pronouns
                or self._nominal(clause.terms, at)
                or (at == 0 and (self._is_so(clause) or self._then_other(clause)))  # "Right's fine."
            )
            for at, t in enumerate(clause.terms)
        )

    def _then_other(self, clause: Clause) -> bool:
        """ "Lungs: left clear. Right clear in front, harsh in back.": the side that was not said yet."""
        last, second = (self.last[-1] if self.last else None), clause.terms[1:2]
        side = next(iter(clause.terms[0].keys("side")), "")
        said = bool(second) and second[0].has("trait") and clause.opens
        return (
            said
            and last is not None
            and last.sided
            and (last.side, last.sentence)
            == (
                opposite(side),
                clause.sentence - 1,
            )
        )

    def _is_so(self, clause: Clause) -> bool:
        rest = [t for t in clause.terms[1:] if not t.has("word", "saying")]
        return clause.opens and len(rest) == 1 and rest[0].has("trait")

    def _nominal(self, terms: Sequence[Term], at: int) -> bool:
        """ "The left is normal": the side stands for what was named before."""
        before, after = terms[max(0, at - 1) : at], terms[at + 1 : at + 2]
        led = bool(before) and before[0].has("word", "definite") and at == 1
        return led and bool(after) and after[0].has("word", "saying")

    def _beside(self, key: str, named: Sequence[Named]) -> tuple[str, ...]:
        """ "Pink, moist, refill under two": of the gums, which only the sentence tells."""
        if named or self.where or (self.topic_sentence == self.now and not self._of_gums()):
            return ()
        return tuple(
            lines[key]
            for noun, lines in self.vocabulary.beside.items()
            if (noun in self.sentence_nouns or self._gums_next(noun)) and key in lines
        )[:1]

    def _gums_next(self, noun: str) -> bool:
        """ "Gums grey? No, it's the light. Pink.": still of them."""
        near = self.now - self.topic_sentence <= REACH
        return noun == "gums" and near and any(n.key == "gums" for n in self.topic)

    def _of_gums(self) -> bool:
        lines = {x for beside in self.vocabulary.beside.values() for x in beside.values()}
        return all({*n.noun.normal, n.key} & {*lines, *self.vocabulary.beside} for n in self.topic)

    def _topic_station(self, key: str) -> bool:
        finding = self.vocabulary.walk.finding.get(key)
        homes = finding.structures[:1] if finding else self.vocabulary.home.get(key, ())
        stations = {
            s.partition(".")[0]
            for n in self.topic
            for s in (*n.noun.normal, *n.noun.scope, *n.noun.also, *n.noun.neuro)
        }
        return any(h.partition(".")[0] in stations for h in homes)

    def _of_skin(self, named: Sequence[Named], near: bool) -> bool:
        """ "Colon empty, no masses": of the belly, not of the skin."""
        about = [
            *(named or (self.topic if near else ())),
            *(self.over[1] if self.over[0] == self.now else ()),
        ]
        stations = stations_of(about)
        nobody_knows = bool(about) and not stations  # "wall smooth, no mass": of which wall
        return not nobody_knows and stations <= {"SKN", "GEN", "BCM", "VIT", "HER"}

    def _reference(self, clause: Clause, one: Described, key: str) -> bool:
        """ "Skin around the lumps is fine", "nothing broken from the bump": known before, not found now."""
        if (
            one.denied
            or one.term not in clause.terms
            or not {key} & (self.vocabulary.things | self.vocabulary.known_before)
        ):
            return False
        at = clause.at(one.term)
        behind = " ".join(w for t in clause.terms[at + 1 :] for w in t.words)
        if any(f"{form} " in f"{behind} " for form in self.vocabulary.language.is_only):
            return True  # "that bump is just the breastbone"
        known = (
            at > 0 and clause.terms[at - 1].has("word", "definite") and key in self.vocabulary.known_before
        )
        if known and not any(
            not set(t.keys("trait")) <= self.vocabulary.calm for t in clause.terms[at + 1 :]
        ):
            return True  # "the wound's dry and healed"
        before = clause.terms[max(0, at - 2) : at]
        if any(t.has("word", "purpose") for t in before):
            return True  # "I've been over him for ticks"
        return len(before) == 2 and before[0].has("control", "prep") and before[1].has("word", "definite")
