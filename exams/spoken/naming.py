"""What a clause names, with side and place, and how it describes it."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

from exams.spoken.clause import Clause
from exams.spoken.meant import Meant
from exams.spoken.said import LIMB_STATIONS, Described, Named, stations_of
from exams.spoken.shapes import NOT_EXAMINED
from exams.spoken.sides import Place, sides_said
from exams.spoken.teeth import teeth_named, tooth_side
from exams.spoken.terms import FIGURE, UNKNOWN, Term
from exams.spoken.vocabulary import Sense

OF_GAIT = ("wobbly", "ataxic", "weak", "lame", "paralysed")


class Naming(Meant):
    """A step of `Listening`."""

    def _says(self, clause: Clause) -> list[Term]:
        return [t for t in clause.terms if t.has("says")]

    def _says_of_another(self, term: Term, clause: Clause) -> bool:
        """The words are a description as well, and something of another station is spoken of."""
        nouns = [self.vocabulary.nouns[k] for t in clause.terms for k in t.keys("noun")]
        near = self.topic if not nouns and self.topic_sentence == clause.sentence else []
        about = {
            x.partition(".")[0] for n in (*nouns, *(t.noun for t in near)) for x in (*n.normal, *n.scope)
        }
        says = {x.partition(".")[0] for codes in term.keys("says") for x in codes.split()}
        return term.has("trait") and bool(about) and not about & says

    def _end_of_animal(self, place: Place, named: Sequence[Named], clause: Clause) -> Place:
        """ "Nails long at the back": of what all limbs have, the back is the hind limbs."""
        about = named or (self.topic if self.topic_sentence == clause.sentence else ())
        walks = not named and any(t.has("trait", *OF_GAIT) for t in clause.terms)
        about = () if walks and not self._about_lungs() else about
        if place.limb or not (about or walks) or not all(n.noun.fore is not None for n in about):
            return place
        led = any(
            t.has("place", "lung back", "lung front") and at and clause.terms[at - 1].has("control", "prep")
            for at, t in enumerate(clause.terms)
        )
        if led:
            return place  # "wasted along the back"
        limb = "hind" if place.has("lung back") else "fore" if place.has("lung front") else ""
        return dataclasses.replace(place, limb=limb)

    def _named(self, clause: Clause) -> list[Named]:
        found: list[Named] = []
        said = sides_said(clause.terms, self._recent(clause))
        waiting = self.pending if self.pending_sentence == clause.sentence else []
        for at, term in enumerate(clause.terms):
            nouns = [s for s in term.senses if s.kind == "noun"]
            base = term.has("place") and term.words[-1] in self.vocabulary.language.base
            base = base or term.text in self.vocabulary.language.base
            if not nouns and base and self._of_ears():
                nouns = [Sense("noun", "EAR.base")]  # "left base soft", after the ears
            if term.text in self.vocabulary.language.pains and clause.opens and len(clause.terms) == 1:
                found.append(Named("GEN.pain", self.vocabulary.nouns["GEN.pain"], False, term))
                continue  # "Pain: moderate", "Pain, I'd call it severe"
            if not nouns or (term.has("severity") and not term.has("noun")):
                continue
            if term.has("trait") and (
                any(t.has("noun") for t in clause.terms if t is not term)
                or (self._near_topic(clause) and any(self.topic_matches(k) for k in term.keys("trait")))
            ):
                continue
            if self.topic and self._of_it(clause, at):
                continue  # "tongue, the face of it is clean"
            sense = self._fitting(nouns, clause)
            if sense.key == "MTH.breath" and at and clause.terms[at - 1].kind == FIGURE:
                continue  # "I heard two breaths"
            if sense.key == "back" and term.has("place") and not self._spine(clause, at):
                continue  # "the front, the middle and the back": of the lungs
            lead = clause.terms[0]
            only_to = at == 1 and clause.opens and len(lead.words) == 1
            if only_to and lead.has("control", "prep") and lead.has("word", "towards"):
                continue  # "To tail nothing.": only where to
            if self._bed_of_lump(clause, at):
                continue  # "a lump on the chest, soft, moves freely under the skin"
            if sense.key == "paw" and self._foot_of(clause):
                continue  # "Front nails: left foot long, right foot good"
            if self._only_end_of(clause, at) or self._beyond(clause, at) or self._as_far_as(clause, at):
                continue  # "the wrist end of that bone", "below the elbow", "round to the shoulder"
            if term.text in self.vocabulary.language.beneath and self._deep_down(clause, at):
                continue  # "I could see to the bottom", "the bottom jaw"
            if term.has("limb") and term.has("word", "attributive") and self._of_next(clause, at):
                continue  # "rear dewclaws"
            if self._looked_over(clause, at) or self._stops_before(clause, at):
                continue
            if self._runs_down_to(clause, at):
                continue
            bare = sense.key == "back" and len(term.words) == 1
            if (
                bare
                and len(clause.terms) == 1
                and self._about_lungs()
                and self.topic_sentence == clause.sentence
            ):
                continue  # "front and middle clear, back, crackle"
            if bare and self._way_moved(clause, at):
                continue
            if bare and (self._pulled_back(clause, at) or self._back_of_lungs(clause, at)):
                continue
            if bare and (self._onward(clause, at) or any(t.has("word", "centre") for t in clause.terms[:at])):
                continue  # "then back down he goes", "front, middle, back all clear"
            of_these = [n for n in waiting if n.key.startswith("LYM.")]
            if sense.key in ("nodes", "node", "glands") and any(n.key.startswith("LYM.") for n in found):
                continue  # "under his jaw, the nodes are up"
            if sense.key in ("nodes", "node", "glands") and of_these:
                found += [dataclasses.replace(n, plural=sense.plural) for n in of_these]
                continue
            if sense.key == "node" and (meant := self._node_meant(clause, at)):
                found.append(dataclasses.replace(meant, term=term))
                continue
            corrected = sense.key == "nodes" and self.correcting_sentence == clause.sentence
            if corrected and (of_these := self._nodes_corrected()):
                found += [dataclasses.replace(n, term=term) for n in of_these]
                continue
            sense = self._which(sense, clause)
            noun = self.vocabulary.nouns[sense.key]
            each = at > 0 and clause.terms[at - 1].text in self.vocabulary.language.each
            verb = at > 0 and term.has("trait")
            verb = verb and any(
                t.has("word", "subject") or t.has("control", "and") for t in clause.terms[:at][-1:]
            )
            plural = (sense.plural and not verb) or each  # "it blinks"
            found.append(Named(sense.key, noun, plural, term, self._own_side(clause, at, said), limb=""))
        # a region with a line of its own in the same row is only where that line is: "skin on the belly"
        found = [n for i, n in enumerate(found) if not self._announced(n, found[i + 1 :], clause)]
        where = [n for n in found if self._only_where(n, found, clause)]
        found = [n for n in found if n not in where]
        self.where = where
        numbers = self.figures.teeth.get(id(clause), ())
        if self._tooth_is_where(clause, [n.key for n in (found or waiting)]):
            numbers = ()
        if not numbers and any(n.key == "MTH.teeth" for n in found):
            several = any(n.key == "MTH.teeth" and n.plural for n in found) and not said
            numbers = teeth_named(
                clause, ["both"] if several else said, self.vocabulary.language, self.vocabulary.tooth
            )
        if numbers:
            self.tooth = (clause.sentence, tuple(numbers))
        for tooth in numbers:
            side = tooth_side(tooth)
            found.append(Named("MTH.teeth", self.vocabulary.nouns["MTH.teeth"], False, None, side, tooth))
        if any(n.site for n in found):
            found = [n for n in found if n.site or n.key != "MTH.teeth"]
        return found

    def _nodes_corrected(self) -> list[Named]:
        """ "Submandibulars, left one's up. No, that's the salivary gland, nodes are normal": of those."""
        lines = {s.structure for s in self.last}
        if len(lines) != 1 or not (line := next(iter(lines))).startswith("LYM."):
            return []
        return [Named(line, self.vocabulary.nouns[line], True, None)]

    def _described(self, clause: Clause) -> list[Described]:
        found: list[Described] = []
        denied, since, joined = clause.denied, 0, True
        last_at = -9
        others = none_of = said_no = False
        turned = self._turned_round(clause)
        for at, term in enumerate(clause.terms):
            if term.has("control", "none-of"):
                denied, since, joined, none_of = True, 0, True, True
                continue
            others = others or (denied and term.text in self.vocabulary.language.others)
            no = term.has("control", "no") or term.text in self.vocabulary.language.not_that
            no = no or self._zero_of(clause, at)
            if no and not term.has("trait") and not term.has("says"):
                denied, since, joined = True, 0, True
                if self._denies_unknown(clause, at):
                    found.append(Described(clause.terms[at + 1], ("good",), False))
                    denied = False
                    continue
                if self._no_such(clause, at):
                    found.append(Described(term, ("absent",), False))
                    denied = False
                continue
            if term.has("says") and term.words[0] in self.vocabulary.language.bare_no:
                denied, since, joined = True, 0, False  # "no murmurs or arrhythmias"
                said_no = True
                if self._says_of_another(term, clause):  # "spine, no pain anywhere": of it
                    found.append(Described(term, term.keys("trait"), False))
                    denied = False
                continue
            if term.has("control", "nothing"):
                if self._denies_unknown(clause, at):
                    found.append(Described(clause.terms[at + 1], ("good",), False))
                    continue
                if any(t.has("word", "comparing") for t in clause.terms[at + 1 : at + 2]):
                    continue  # "sclerosis, nothing worse"
                if not any(
                    (t.has("trait") and not t.has("trait", "up", "down", "present")) or t.has("finding")
                    for t in clause.terms
                ):
                    if not self._blank(clause, at) or self._none_on_the_other(clause, ()):
                        found.append(Described(term, ("mass", "nothing"), True))
                    continue
                if any(t.has("trait") or t.has("finding") for t in clause.terms[at + 1 : at + 3]):
                    denied, since, joined = True, 0, True  # "nothing slips"
                    continue
            if (term.has("trait", "unfelt") or self._senses_none(clause, at)) and self._none_felt(clause, at):
                denied, since, joined = True, 0, True  # "I don't feel any masses"
                continue
            if (
                self._adjective(clause, at)
                or self._leads_down(clause, at)
                or self._ends_verb(clause, at)
                or self._up_by(clause, at)
            ):
                continue
            keys = (*term.keys("trait"), *term.keys("finding"))
            if {"comfortable", "resists"} <= set(keys):  # "he won't look up": of a neck, that it does not
                neck = any(n.key == "neck" for n in self.topic) or "neck" in self.sentence_nouns
                keys = tuple(k for k in keys if k != ("comfortable" if neck else "resists"))
            if (
                keys
                and at == 0
                and clause.opens
                and term.text in self.vocabulary.language.openers
                and len(clause.terms) > 1
                and not all(t.has("side", "both") for t in clause.terms[1:])  # "fine, both"
            ) and (not clause.terms[1].has("noun") or clause.terms[1].has("control", "filler")):
                continue
            behind = clause.terms[at + 1] if at + 1 < len(clause.terms) else None
            unfound = behind and behind.has("trait", "unfelt") and behind.has("control", "no")
            if (
                keys
                and behind
                and (behind.has("trait", "negative") or unfound or self._quiet_test(clause, at))
            ):
                found.append(Described(term, keys, True))  # "thrust negative", "fleas not found"
                continue
            if keys and self._may_hide(clause, at):
                continue
            if keys and term.has("reason") and self._left_just_now(clause):
                continue  # "insides not looked at, she hates it"
            if keys and (self._of_number(clause, at) or self._weighed_on(clause, at)):
                continue
            if keys and (self._does_it(clause, at) or self._only_name(clause, at)):
                continue
            if keys and (self._of_a_thing(clause, at) or self._speaker_did(clause, at)):
                continue
            if keys and self._toe_moves(clause, at):
                continue
            if keys and self._sought(clause, at):
                self.sought = (clause.sentence, Described(term, keys, True))
                continue  # "round the ears for ticks"
            if keys and not set(keys) <= self.vocabulary.calm and self._looked_for(clause, at):
                continue  # "I'm looking under the tongue for a string"
            if term.text in self.vocabulary.language.pains and clause.opens and len(clause.terms) == 1:
                continue  # "Pain: moderate", a heading
            if keys and (self._tempered(clause, term) or self._runs_clear(clause, at)):
                continue
            if keys and (self._none_behind(clause, at) or self._not_sensed(clause, at)):
                found.append(Described(term, keys, True))
                continue
            if keys and self._gone(clause, at):
                found.append(Described(term, keys, True))
                continue
            if none_of and any(k in self.vocabulary.calm for k in keys):
                continue  # "none of the teeth are clean"
            if keys and others and denied and joined:
                continue  # "no other lumps than the known one"
            if keys:
                next_to = last_at == at - 1 and bool(found) and found[-1].denied
                next_to = next_to and not any(k in self.vocabulary.calm for k in keys)  # "no ringworm spots"
                says_no = turned or (denied and (joined or next_to) and since <= 5)
                last_at = at
                if said_no and all(k in self.vocabulary.calm for k in keys):
                    says_no = False  # "no murmur, nice and regular"
                found.append(Described(term, keys, says_no, self._severity(clause, at)))
                joined = False
                continue
            if term.has("control", "or", "and"):
                joined = joined or denied
            elif term.kind in (UNKNOWN, FIGURE) or term.has("noun"):
                since += 1
                if clause.unstopped and term.has("noun") and at and clause.terms[at - 1].has("noun"):
                    denied = False  # "I got the top not the bottom eyes goopy"
            if term.has("control", "but"):
                denied = False
        return found

    def _quiet_test(self, clause: Clause, at: int) -> bool:
        """ "The Ortolani on that side is quiet": what was tried for did not show."""
        keys = (*clause.terms[at].keys("trait"), *clause.terms[at].keys("finding"))
        lines = [self.vocabulary.tests[k] for k in keys if k in self.vocabulary.tests]
        behind = [t for t in clause.terms[at + 1 :] if not (t.has("side") or t.has("control", "filler"))]
        behind = [t for t in behind if not t.has("word", "saying")][:1]
        return (
            bool(lines)
            and bool(behind)
            and behind[0].has("trait", "quiet", "negative")
            and all(line.partition(".")[0] in LIMB_STATIONS for line in lines)
        )

    def _turned_round(self, clause: Clause) -> bool:
        """ "Weak she is not": the no stands at the end, behind all that is said."""
        traits = [t for t in clause.terms if t.has("trait") or t.has("finding")]
        last, before = clause.terms[-1], clause.terms[-2:-1]
        verb = bool(before) and before[0].has("word", "saying")
        return verb and last.text in self.vocabulary.language.not_that and len(traits) == 1

    def _left_just_now(self, clause: Clause) -> bool:
        last = self.last[-1] if self.last else None
        near = last is not None and (last.sentence, last.clause) == (clause.sentence, self.count - 1)
        return near and last is not None and last.state == NOT_EXAMINED

    def _blank(self, clause: Clause, at: int) -> bool:
        """ "Nothing on the eyes", "nothing takes": not that no lump was found there."""
        named = [k for t in clause.terms for k in t.keys("noun")] or [n.key for n in self.topic]
        row = [] if any(t.has("noun") for t in clause.terms) else self.topic
        stations = stations_of(row)
        if len(row) > 1 and len(stations) > 1 and stations - {*LIMB_STATIONS}:
            return True  # "I've been through ears, toes and armpits, and there's none": of what was sought
        if self.deed == (clause.sentence, self.count - 1):
            return True  # "ears: I sniffed, got nothing"
        after = clause.terms[at + 1 : at + 2]
        if clause.terms[at].has("control", "nothing") and self._for_something(clause, at):
            return True  # "canals, nothing in this exam calls for it"
        return any(k in self.vocabulary.blank for k in named) or bool(after and after[0].kind == UNKNOWN)

    def _for_something(self, clause: Clause, at: int) -> bool:
        after = clause.terms[at + 1 :]
        strange = any(t.kind == UNKNOWN for t in after)
        return strange and not any(t.has("noun") or t.has("side") or t.has("place") for t in after)

    def _denies_unknown(self, clause: Clause, at: int) -> bool:
        """ "Stifles, no grinding": something nobody knows is denied of a line, and nothing else is said."""
        after = clause.terms[at + 1 : at + 2]
        if not after or after[0].kind != UNKNOWN or after[0].text in self.vocabulary.language.idle:
            return False
        if not after[0].text.endswith(self.vocabulary.language.ailing):
            return False  # "no promises", "no Max, sit"
        no = clause.terms[at].text in self.vocabulary.language.bare_no
        if not no and not clause.terms[at].has("control", "nothing"):
            return False
        others = [t for t in clause.terms if t is not after[0] and t.kind == UNKNOWN]
        said = any(t.has("trait") or t.has("finding") or t.has("says") for t in clause.terms)
        told = clause.having("control", "skip", "hedge", "part", "again", "rest")
        nouns = [k for t in clause.terms[:at] for k in t.keys("noun")]
        if any(t.has("noun") for t in clause.terms[at:]):
            return False  # "no brushing round the face"
        here = nouns or ([n.key for n in self.topic] if self.topic_sentence == clause.sentence else [])
        nouns_here = [(k, self.vocabulary.nouns[k]) for k in here]
        lines = bool(here) and all(
            k in self.vocabulary.walk.structure or (n.scope == n.normal and len(n.normal) == 1)
            for k, n in nouns_here
        )
        return lines and not others and not said and not told

    def _none_felt(self, clause: Clause, at: int) -> bool:
        after = [t for t in clause.terms[at + 1 : at + 4] if not t.has("control", "filler")][:1]
        return bool(after) and any(
            k in self.vocabulary.denied or k not in self.vocabulary.calm
            for k in (*after[0].keys("trait"), *after[0].keys("finding"))
        )

    def _tempered(self, clause: Clause, term: Term) -> bool:
        """ "Lungs quiet and clear": quiet is not too quiet then."""
        by = {x for k in term.keys("trait") for x in self.vocabulary.tempered.get(k, ())}
        return bool(by) and any(t.has("trait", *by) for t in clause.terms if t is not term)

    def _none_behind(self, clause: Clause, at: int) -> bool:
        """ "Fleas none": there is not one."""
        keys = (*clause.terms[at].keys("trait"), *clause.terms[at].keys("finding"))
        behind = clause.terms[at + 1 : at + 2]
        if behind and behind[0].has("number", "grade") and clause.terms[at + 2 :]:
            return clause.terms[at + 2].has("number", "zero")  # "murmur grade zero"
        ends = at + 2 == len(clause.terms) or clause.unstopped
        none = bool(behind) and behind[0].text in self.vocabulary.language.none
        return ends and none and not any(k in self.vocabulary.calm for k in keys)

    def _not_sensed(self, clause: Clause, at: int) -> bool:
        """ "Crackles I don't hear", "drawer I can't feel": what was looked for and is not there."""
        words = self.vocabulary.language
        said = [w for t in clause.terms[at + 1 :] for w in t.words]
        calm = {*clause.terms[at].keys("trait")} & self.vocabulary.calm
        if calm or not said or said[0] not in words.speakers or said[-1] not in words.sensing:
            return False
        return " ".join(said[1:-1]) in words.refusals

    def _senses_none(self, clause: Clause, at: int) -> bool:
        """ "I can't hear a gallop": one that is not there."""
        skip, after = clause.terms[at], clause.terms[at + 1 : at + 2]
        one = bool(after) and after[0].has("word", "indefinite")
        return skip.has("control", "skip") and skip.words[-1] in self.vocabulary.language.sensing and one

    def _none_sensed(self, clause: Clause, described: Sequence[Described]) -> bool:
        said = [d.term for d in described if d.denied and d.term in clause.terms]
        none = [at for at in range(len(clause.terms)) if self._senses_none(clause, at)]
        return bool(said and none) or any(self._not_sensed(clause, clause.terms.index(t)) for t in said)

    def _gone(self, clause: Clause, at: int) -> bool:
        """ "The gallop's gone": what was found before is not there now."""
        keys = (*clause.terms[at].keys("trait"), *clause.terms[at].keys("finding"))
        after = [t for t in clause.terms[at + 1 : at + 4] if not t.has("control", "filler")][:1]
        gone = bool(after) and after[0].has("control", "gone")
        behind = clause.terms[clause.terms.index(after[0]) + 1 :] if gone else []
        if behind and (
            behind[0].has("trait") or behind[0].has("control", "prep") or behind[0].kind == FIGURE
        ):
            return False  # "the murmur's gone quiet", "gone up to a four"
        return gone and not any(k in self.vocabulary.calm for k in keys)

    def _no_such(self, clause: Clause, at: int) -> bool:
        """ "no light reflex on the right": the name itself is denied."""
        if any(t.has("trait") or t.has("finding") or t.has("says") for t in clause.terms):
            return False
        after = [t for t in clause.terms[at + 1 :] if not t.has("control", "filler")][:1]
        return (
            bool(after) and after[0].has("noun") and clause.terms[at].text in self.vocabulary.language.bare_no
        )

    def _severity(self, clause: Clause, at: int) -> str:
        for step in (-1, 1):
            i = at + step
            for _ in range(4 if step < 0 else 6):
                if not 0 <= i < len(clause.terms):
                    break
                term = clause.terms[i]
                if term.has("severity"):
                    return term.keys("severity")[0]
                named = term.has("noun") and i == at - 1 and i > 0
                if named and step < 0 and clause.terms[i - 1].has("severity"):
                    return clause.terms[i - 1].keys("severity")[0]  # "moderate epaxial wasting"
                stops = (
                    term.has("finding") or (term.has("noun") and step < 0) or term.has("control", "and", "no")
                )
                if stops:
                    break
                i += step
        own = clause.terms[at].keys("severity")
        return own[0] if own else ""
