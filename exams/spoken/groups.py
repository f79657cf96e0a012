"""What the traits of a clause say of the lines it names, one by one or as a group."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

from exams.spoken.clause import Clause, likeness
from exams.spoken.kept import REACH
from exams.spoken.of_what import OfWhat
from exams.spoken.said import (
    GENERIC,
    MOST_UNKNOWN,
    SUSPECTED,
    Described,
    Named,
    Statement,
    once,
    terms_behind,
)
from exams.spoken.shapes import ABNORMAL, NORMAL, NOT_EXAMINED
from exams.spoken.sides import ALL_NECK, LIMB_PLACE, LIMBS, LUNGS, Place, opposite, side_kind, sides_said
from exams.spoken.terms import FIGURE, UNKNOWN, Term

NOT_FELT = "not felt"


class Groups(OfWhat):
    """A step of `Listening`."""

    def _state(self, clause: Clause, named: list[Named], described: list[Described], place: Place) -> None:
        hedged = any(
            t.text not in self.vocabulary.language.settled or self.correcting_sentence != clause.sentence
            for t in clause.having("control", "hedge")
            if not self._about_number(clause, t)
        )
        made: list[Statement] = []
        said = sides_said(clause.terms, self._recent(clause))
        for term in self._says(clause):
            at = clause.terms.index(term)
            if (
                at
                and clause.terms[at - 1].kind == UNKNOWN
                and term.words[0] not in self.vocabulary.language.bare_no
            ):
                continue  # "scrotal skin is clean": the word before may say of which
            for codes in term.keys("says"):
                for structure in codes.split():
                    if place.lungs and structure in LUNGS.values() and structure not in place.lungs:
                        continue  # "lungs clear up front and mid"
                    made += self._made(clause, structure, NORMAL, None, [term], said, place, plural=True)
        if (
            not named
            and self.copied[0] == clause.sentence
            and any("good" in d.keys and not d.denied for d in described)
        ):
            gone = [s for s in self.copied[1] if s.state == ABNORMAL]
            self.statements = [s for s in self.statements if s not in gone]
        made += self._rest_of_chest(clause, named, described)
        made += self._rest_of_limbs(clause, named, described)
        about = self._spoken_of(clause, named, described)
        described = [*described, *self._graded(clause, about, described)]
        blocked: set[str] = set()
        for one in described:
            found = self._of_trait(clause, one, about, named, said, place, blocked)
            if not found and not one.denied:
                self.loose = (clause.sentence, (*self._loose_here(clause), *one.keys))
            made += found
        abnormal = {(s.structure, s.side) for s in made if s.state == ABNORMAL}
        made = [
            s
            for s in made
            if s.state == ABNORMAL or ((s.structure, s.side) not in abnormal and s.structure not in blocked)
        ]
        if any(s.structure == "HRT.murmur" and s.grade in ("5", "6") for s in made):
            made = [s for s in made if s.structure != "HRT.impulse"]  # a thrill is what makes it a five
        if hedged:
            self.hedged_away = [s for s in made if s.state == ABNORMAL]
            made = [dataclasses.replace(s, note=SUSPECTED, sure=0.5) for s in made if s.state == ABNORMAL]
        self.statements.extend(once(made))

    def _loose_here(self, clause: Clause) -> tuple[str, ...]:
        return self.loose[1] if self.loose[0] == clause.sentence else ()

    def _loose_of_topic(self, clause: Clause) -> bool:
        """A word of the sentence is not normal of another line of the station that is spoken of."""
        stations = {x.partition(".")[0] for n in self.topic for x in (*n.noun.normal, *n.noun.scope)}
        lines = [x for x in self.vocabulary.walk.structure if x.partition(".")[0] in stations]
        keys = [k for k in self._loose_here(clause) if k not in self.vocabulary.calm]
        return any(self.vocabulary.meaning(x, k) not in ("", NORMAL) for k in keys for x in lines)

    def _about_number(self, clause: Clause, hedge: Term) -> bool:
        """ "An ulcer, maybe two millimetres", "I'd say six percent": how much is guessed, not whether."""
        after = [t for t in clause.terms[clause.terms.index(hedge) + 1 :] if not t.has("word", "article")][:1]
        if after and after[0].has("number", "about"):
            after = clause.terms[clause.terms.index(after[0]) + 1 :][:1]
        settled = hedge.text in self.vocabulary.language.settled
        dry = any(t.has("trait", "mildly-dry", "moderately-dry", "severely-dry") for t in after)
        return bool(after) and (after[0].kind == FIGURE or dry or (settled and after[0].has("severity")))

    def _heads_with(self, clause: Clause, one: Described) -> bool:
        """ "Smell: right foul, left none": what is asked, and no answer."""
        plain = clause.colon and not one.denied and len(clause.terms) == 1
        return plain and bool(set(one.keys) & self.vocabulary.asks)

    def _headed_by(self, one: Described, about: Sequence[Named], clause: Clause) -> None:
        scope = [x for n in (*about, *self._around()) for x in n.noun.scope]
        lines = [x for x in scope for k in one.keys if self.vocabulary.meaning(x, k)]
        if lines:
            self.topic = [Named(lines[0], self.vocabulary.nouns[lines[0]], False, None)]
            self.topic_sentence = self.topic_named = clause.sentence

    def _rest_of_chest(
        self, clause: Clause, named: Sequence[Named], described: Sequence[Described]
    ) -> list[Statement]:
        """ "Chest: quiet on the right at the back, everything else clear": the fields that were not said."""
        fine = next((d for d in described if set(d.keys) & set(GENERIC) and not d.denied), None)
        chest = self.topic_sentence == clause.sentence and all(
            set(n.noun.scope) <= set(LUNGS.values()) for n in self.topic
        )
        if named or fine is None or not chest or not clause.having("control", "rest"):
            return []
        said = {(s.structure, s.side) for s in self.statements if s.sentence == clause.sentence}
        if not any(structure in LUNGS.values() for structure, _ in said) or clause.having("place"):
            return []
        made = []
        for structure in LUNGS.values():
            made += self._made(
                clause, structure, NORMAL, fine, [fine.term], ["both"], Place(), plural=True, own=False
            )
        return [s for s in made if (s.structure, s.side) not in said]

    def _rest_of_limbs(
        self, clause: Clause, named: Sequence[Named], described: Sequence[Described]
    ) -> list[Statement]:
        """ "Placing slow in the left hind, normal in the others": the limbs that were not said."""
        told = [s for s in self.statements if s.sentence == clause.sentence and s.side in LIMBS]
        lines = {s.structure for s in told}
        if named or len(lines) != 1 or not clause.having("control", "rest") or self._how_much(clause):
            return []
        structure = told[0].structure
        fine = next(
            (
                d
                for d in described
                if not d.denied and any(self.vocabulary.meaning(structure, k) == NORMAL for k in d.keys)
            ),
            None,
        )
        if fine is None or self.topic_sentence != clause.sentence:
            return []
        made: list[Statement] = []
        for limb in LIMBS:
            if limb not in {s.side for s in told}:
                made += self._made(
                    clause, structure, NORMAL, fine, [fine.term], [LIMBS[limb]], LIMB_PLACE[limb],
                    plural=True, own=False,
                )  # fmt: skip
        return made

    def _how_much(self, clause: Clause) -> bool:
        return bool(clause.having("control", "skip", "hedge", "no")) or any(
            t.kind == UNKNOWN for t in clause.terms
        )

    def _graded(
        self, clause: Clause, about: Sequence[Named], described: Sequence[Described]
    ) -> list[Described]:
        """ "left kneecap grade one": the grade alone says what it is."""
        if id(clause) not in self.figures.grades or any(not d.denied for d in described):
            return []
        trait = next(
            (
                self.vocabulary.graded[x]
                for n in about
                for x in (*n.noun.normal, *(n.noun.hind or ()), *(n.noun.fore or ()))
                if x in self.vocabulary.graded
            ),
            "",
        )
        term = next((t for t in clause.terms if t.kind == FIGURE), clause.terms[-1])
        return (
            [Described(term, (trait,), False, self._severity(clause, clause.terms.index(term)))]
            if trait
            else []
        )

    def _of_trait(
        self,
        clause: Clause,
        one: Described,
        about: list[Named],
        named: list[Named],
        said: Sequence[str],
        place: Place,
        blocked: set[str],
    ) -> list[Statement]:
        made: list[Statement] = []
        if not named and self.topic_sentence != clause.sentence:
            for key in one.keys:
                if self._beside(key, named) and not one.denied and not made:
                    made += self._at_home(clause, one, key, named, said, place)
            if made:
                return made
        if self._detail(clause, one, named):
            return []
        if self._heads_with(clause, one):
            self._headed_by(one, about, clause)
            return []
        if not named and set(one.keys) & self.vocabulary.of_lumps and self._of_a_lump(clause, one):
            return []  # "a lump in the armpit, fatty, soft"
        if one.term.has("control", "nothing") and (other := self._none_on_the_other(clause, named)):
            line = Named(other.structure, self.vocabulary.nouns[other.structure], False, None)
            return self._made(
                clause, other.structure, NORMAL, one, [one.term], said, place, result=NORMAL, name=line
            )
        if one.term.has("word", "such"):
            return []  # "nothing like that on the right": of what was just found, and nobody knows of what
        if not named and self.topic_skipped and self.topic_sentence == clause.sentence:
            about = []
        for key in one.keys:
            own = any(self.vocabulary.fits(n.key, key) for n in named)
            skin = any(n.noun.normal == ("SKN.skin",) for n in named)  # "the skin under the ear is sore"
            for name in self.where if key not in GENERIC and not one.denied and not skin else ():
                if own and name.key not in self.vocabulary.walk.structure:
                    continue
                found = self._of_name(clause, one, key, name, True, said, place, blocked)
                made += [s for s in found if s.state == ABNORMAL]
        if made:
            return made
        if named and not one.denied and not self.where and self._topic_rather(clause, one, named):
            alone = self.lone_side[1] if self.lone_side[0] == clause.sentence else ""
            about = [dataclasses.replace(n, side="" if said else alone or n.side) for n in self.topic]
        for key in one.keys:
            if key in self.vocabulary.walk.finding and not named and self.topic_sentence != clause.sentence:
                continue  # a finding by its own name is of its own line
            for name in about:
                made += self._of_name(clause, one, key, name, bool(named), said, place, blocked)
            if made:
                break
        if not made and self._elsewhere(clause, named):
            for key in one.keys:
                if key in GENERIC or key in self.vocabulary.home:
                    continue
                for name in self.topic:
                    alone = self.lone_side[1] if self.lone_side[0] == clause.sentence and not said else ""
                    topic = dataclasses.replace(name, side=alone or name.side)
                    made += self._of_name(clause, one, key, topic, False, said, place, blocked)
        if made and any(s.state == ABNORMAL for s in made):
            return [s for s in made if s.state == ABNORMAL]
        region, sentence = self.region
        nothing = one.term.has("control", "nothing")
        if (
            not made
            and region
            and sentence == clause.sentence
            and not (named or self.topic_skipped or nothing)
        ):
            for key in one.keys:
                if key not in GENERIC and not made:
                    made += self._of_name(clause, one, key, region, False, said, place, blocked)
        near = self.topic_sentence == clause.sentence
        without = one.denied or "odourless" in one.keys
        next_to = without and self.topic_sentence == clause.sentence - 1
        next_to = next_to and bool(set(one.keys) & self.vocabulary.under)
        near = near or next_to
        skipped = self.topic_skipped and not next_to
        if not made and not named and not skipped and near and not nothing:
            for key in one.keys:
                for name in self._around() if key not in GENERIC and not made else ():
                    made += self._of_name(clause, one, key, name, False, said, place, blocked)
        if made or one.term.has("control", "nothing") or self._of_a_lump(clause, one):
            return made
        if not named and (under := self._under_heading()):
            for key in one.keys:
                if key in self.vocabulary.under and not made:
                    made += self._of_name(clause, one, key, under, False, said, place, blocked)
            if made:
                return [s for s in made if s.state == ABNORMAL]
        for key in one.keys:
            if not one.denied or key in self.vocabulary.denied:
                made += self._at_home(clause, one, key, named, said, place)
            if made:
                break
        return made

    def _of_name(
        self,
        clause: Clause,
        one: Described,
        key: str,
        name: Named,
        own: bool,
        said: Sequence[str],
        place: Place,
        blocked: set[str],
    ) -> list[Statement]:
        if self.vocabulary.undecided(name.key):
            return []  # nobody can tell which of them
        normal, scope = self._targets(name, place, clause)
        if key == "unfelt" and name.noun.unfelt is not None:
            normal = scope = name.noun.unfelt
        if name.key == "neck" and key == "full" and not normal and not one.denied:
            normal = ALL_NECK  # "full range of motion in the neck"
        made: list[Statement] = []
        if (
            key == "unfelt"
            and not one.denied
            and not name.noun.never
            and name.key not in self.vocabulary.headings
            and not self.where
            and self._lone(clause)
            and not any(t.kind == UNKNOWN for t in clause.terms[clause.terms.index(one.term) :])
        ):
            for structure in normal:
                if not self.vocabulary.meaning(structure, key):
                    made += [
                        dataclasses.replace(s, note=NOT_FELT)
                        for s in self._made(
                            clause, structure, NOT_EXAMINED, None, [one.term], said, place,
                            name=name, plural=name.plural, key=key, own=own,
                        )
                    ]  # fmt: skip
        generic = key in GENERIC
        everywhere = [s for s in normal if self.vocabulary.meaning(s, key)]
        if place.limb == "all" and not everywhere and name.noun.fore is not None:
            everywhere = [s for s in scope if self.vocabulary.meaning(s, key) not in ("", NORMAL)]
        elif place.limb == "all" and name.noun.fore is not None and not one.denied:
            everywhere = list(
                dict.fromkeys(
                    [*everywhere, *(s for s in scope if self.vocabulary.meaning(s, key) not in ("", NORMAL))]
                )
            )
        looked = everywhere or [s for s in scope if self.vocabulary.meaning(s, key)][:1]
        if key == "good" and not everywhere:
            looked = []
        other = [
            s
            for s in scope
            if generic and not one.denied and not looked and self._not_as_other(clause, s, said)
        ]
        looked = looked or other[:1]
        if generic and not everywhere and name.noun.never:
            looked = []
        for structure in looked:
            if structure == "ABD.wall" and key == "mass" and self._on_it(clause, name, one):
                continue  # "bumps on the belly": of its skin
            if structure != "SKN.lumps" and one.term.text in self.vocabulary.language.fatty:
                continue  # a fatty lump is of the skin, whatever was spoken of before
            result = self.vocabulary.meaning(structure, key) or NORMAL  # a good word, of the other side
            if one.denied:
                self._not_copied(structure, result)
            ring = key == "hernia" and structure in ("HER.umbilicus", "HER.inguinal")
            if one.denied and key in self.vocabulary.silent and result != NORMAL and not ring:
                continue  # but "navel, no hernia" is a look at it
            if one.denied:
                turned = self.vocabulary.meaning(structure, "not-" + key)
                if result != NORMAL:
                    result = NORMAL if turned in ("", NORMAL) else turned
                elif turned:
                    result = turned
                else:
                    blocked.add(structure)
                    self.denied_lines[structure] = clause.sentence
                    continue
            positive = result == NORMAL and not one.denied
            group = name.key not in self.vocabulary.walk.structure
            also = structure in name.noun.also or (
                not name.noun.never and self._not_as_other(clause, structure, said)
            )
            if positive and structure not in normal and group and not also:
                continue  # "eyes dry" is no word about tears
            if result == NORMAL and structure not in normal and name.key == "neck":
                continue
            if result == NORMAL and one.denied and key == "mass" and name.key == "belly":
                blocked.add("SKN.lumps")
                continue  # "no lumps on the belly": neither its wall nor the skin everywhere
            if result == NORMAL and not own and generic and self._half_of_one(clause, structure):
                continue
            if result == NORMAL and not self._may_be_normal(clause, name, own, one, generic):
                continue
            made += self._made(
                clause,
                structure,
                NORMAL if result == NORMAL else ABNORMAL,
                one,
                terms_behind(name, one),
                said,
                place,
                result=result,
                name=name,
                plural=name.plural,
                key=key,
                own=own,
            )
        return made

    def _not_as_other(self, clause: Clause, structure: str, said: Sequence[str]) -> bool:
        """ "Watery stuff from the left eye, right eye is dry": of what was found on the other side."""
        last = self.last[-1] if self.last else None
        return bool(
            last
            and len(said) == 1
            and last.state == ABNORMAL
            and last.sided
            and (last.structure, last.side) == (structure, opposite(said[0]))
            and last.clause == self.count - 1
            and last.sentence >= clause.sentence - 1
        )

    def _on_it(self, clause: Clause, name: Named, one: Described) -> bool:
        at = clause.terms.index(name.term) if name.term in clause.terms else 0
        on = any(t.words[0] in self.vocabulary.language.upon for t in clause.terms[max(0, at - 2) : at])
        return on and one.term.text in self.vocabulary.language.lumps

    def _may_be_normal(self, clause: Clause, name: Named, own: bool, one: Described, generic: bool) -> bool:
        """When in doubt, no normal: a word like "fine" counts for what is named beside it."""
        if clause.having("control", "skip") or (not one.denied and self._how_else(clause, one)):
            return False
        if (
            one.denied
            and not own
            and one.keys[0] in self.vocabulary.denied
            and self.topic_sentence != clause.sentence
        ):
            return bool(clause.having("control", "nothing") and clause.having("side"))
        if name.noun.normal[:1] == ("SKN.skin",) and (self.where or self._part_of_it(clause, name)):
            return False  # "the skin round the eyes", "the skin around it": a part of it
        if clause.having("control", "rest") and not own:
            of_heading = self.topic_sentence == clause.sentence and generic and not clause.having("place")
            otherwise = bool(clause.having("word", "otherwise"))
            return any(t.has("place", "lung ahead") for t in clause.terms) or (of_heading and otherwise)
        if own and generic and self._object(clause, name):
            return False
        if (
            self.told_staff == clause.sentence
            and not own
            and one.term.text in self.vocabulary.language.openers
        ):
            return False  # "can you hold the tail up, good"
        if generic and clause.sentence - self.found_at[0] <= 1 and name.key in self.found_at[1]:
            return False  # "a hot spot on the left cheek. Right cheek is clear": the skin there
        if own and clause.unstopped and not self._in_row(clause, name, one):
            return False
        named_at = clause.terms.index(name.term) if own and name.term in clause.terms else 0
        if clause.unstopped and any(t.kind == UNKNOWN for t in clause.terms[named_at:]):
            return False  # where a stop is guessed, the word nobody knows may be what is fine
        ends = clause.having("limb", "fore") and clause.having("limb", "hind")
        if clause.unstopped and ends and not clause.having("control", "and"):
            return False  # "left hind delayed right hind | hopping in the front fine"
        if own and self._between(clause, name, one):
            return False
        if len(clause.terms) == 1 and not clause.closes and one.term.has("word", "okay"):
            return False  # "abdomen, okay, let me roll you over"
        if own:
            return not clause.having("control", "rest") or bool(name.plural or not generic or name.term)
        without = one.denied or "odourless" in one.keys
        skipped = self.topic_skipped and not (without and name.key in self.vocabulary.regions)
        if skipped or self._still_of(clause):
            return False
        if (
            self._loose_of_topic(clause)
            and not clause.having("side")
            and (generic or "comfortable" in one.keys)
        ):
            return False  # "it's crooked, limited, no pain"
        several = len(name.noun.scope) > 1 and name.key not in self.vocabulary.walk.structure
        sided = clause.having("side", "left", "right", "other") or clause.having("place") or self.lung_places
        if (
            self.unread >= self.count - 2
            and self.unread_topic is self.topic
            and not sided
            and (generic or several or "comfortable" in one.keys)
        ):
            return False  # "nose has a …, clean": what it has nobody knows
        if (
            generic
            and clause.having("limb")
            and not (clause.having("limb", "all") and name.key == "legs")
            and not any(side_kind(self.vocabulary.walk.structure[x]) == "four" for x in name.noun.normal)
        ):
            return False
        if generic and self.topic_sentence != clause.sentence and not self._pronoun(clause):
            return self._answers_heading(clause, one)
        unknown = sum(1 for t in clause.terms if t.kind == UNKNOWN)
        at = clause.terms.index(one.term) if one.term in clause.terms else 0
        if generic and any(t.kind == UNKNOWN for t in clause.terms[:at]) and not self._adverb(one):
            return False  # the word before may be what is fine
        before = clause.terms[at - 1] if at else None
        said_how = before is not None and before.text.endswith(self.vocabulary.language.adverbs)
        if before and before.kind == UNKNOWN and not (said_how or one.denied) and len(clause.terms) == 2:
            return False  # "reflection bright"
        if generic and any(t.kind == UNKNOWN for t in clause.terms[at + 1 : at + 2]):
            return False  # "normal contents": so may the word behind
        if generic and self.topic_sentence != clause.sentence and not clause.having("side"):
            return self.topic_alone == clause.sentence - 1 and unknown == 0
        return unknown <= (1 if generic else MOST_UNKNOWN)

    def _answers_heading(self, clause: Clause, one: Described) -> bool:
        """ "Eyes. Clear, both of them.": nothing but the name before, nothing but this word now."""
        lone = clause.opens and len(clause.terms) == 1
        opener = one.term.text in self.vocabulary.language.openers or one.term.has("word", "okay")
        return lone and not opener and self.topic_alone == clause.sentence - 1

    def _part_of_it(self, clause: Clause, name: Named) -> bool:
        at = clause.terms.index(name.term) if name.term in clause.terms else len(clause.terms)
        return any(t.has("control", "prep") for t in clause.terms[at + 1 : at + 2])

    def _in_row(self, clause: Clause, name: Named, one: Described) -> bool:
        """ "Left elbow that hurts left carpus fine": without stops, of the names right before it only."""
        if name.term not in clause.terms or one.term not in clause.terms:
            return True
        at, end = clause.terms.index(name.term), clause.terms.index(one.term)
        if end < at and any(t.has("word", "having") for t in clause.terms[at + 1 : at + 2]):
            return False  # "… smooth right cheek has an ulcer": of what was before it
        nouns = [i for i, t in enumerate(clause.terms[:end]) if t.has("noun") and i > at]
        joins = ("filler", "and", "or", "prep")
        return not nouns or all(
            t.has("noun") or t.has("side") or t.has("limb") or t.has("control", *joins)
            for t in clause.terms[at + 1 : nouns[-1]]
        )

    def _half_of_one(self, clause: Clause, structure: str) -> bool:
        """ "Gums red on the right, left side fine": half of what has no sides."""
        sided = clause.having("side", "left", "right", "other", "that")
        line = self.vocabulary.walk.structure[structure]
        return bool(sided) and side_kind(line) == "none" and line.side_text in ("none", "midline")

    def _between(self, clause: Clause, name: Named, one: Described) -> bool:
        """ "Nose leather scratch fine": a word between the name and "fine" that nobody knows."""
        if name.term not in clause.terms or one.term not in clause.terms:
            return False
        ends = sorted((clause.terms.index(name.term), clause.terms.index(one.term)))
        between = clause.terms[ends[0] + 1 : ends[1]]
        if between and between[-1].kind == UNKNOWN and self._adverb(one):
            between = between[:-1]  # "hips swing freely": a word that is done so
        return any(t.kind == UNKNOWN and not likeness(between, at) for at, t in enumerate(between))

    def _adverb(self, one: Described) -> bool:
        said_how = one.term.text.endswith(self.vocabulary.language.adverbs)
        return said_how and bool(set(one.keys) & {*GENERIC, "free"})

    def _how_else(self, clause: Clause, one: Described) -> bool:
        """ "The tail moves oddly": how it does so nobody knows."""
        if one.term not in clause.terms:
            return False
        at = clause.terms.index(one.term)
        after = clause.terms[at + 1 : at + 2]
        return (
            bool(after)
            and after[0].kind == UNKNOWN
            and after[0].text.endswith(self.vocabulary.language.adverbs)
        )

    def _at_home(
        self,
        clause: Clause,
        one: Described,
        key: str,
        named: Sequence[Named],
        said: Sequence[str],
        place: Place,
    ) -> list[Statement]:
        """A trait that speaks of a line by itself: "no murmur", "cherry eye on the left"."""
        finding = self.vocabulary.walk.finding.get(key)
        traits = sum(1 for t in clause.terms if t.has("trait") or t.has("finding") or t.has("says"))
        first = clause.terms[0]
        whole = first.has("word", "subject") and first.words[0] not in self.vocabulary.language.it
        several = traits > 1 and not (whole and key in self.vocabulary.of_all)
        if key in self.vocabulary.shy and (any(n.key != "back" for n in (*named, *self.where)) or several):
            return []
        near = self.topic_sentence == clause.sentence and not self.topic_skipped
        if key in self.vocabulary.shy and self.now - self.topic_sentence <= REACH and self.topic_matches(key):
            return []  # "the kneecap … It does slip": no slip of the thyroid
        if near and not named and self._pronoun(clause) and not self._topic_station(key):
            return []  # "anal sacs: right one's packed": theirs, whatever else that is of
        if key == "mass" and not one.denied and near and not named and self._like_a_lump(one):
            return []  # "colon: a string of marbles"
        if key == "mass" and one.denied and one.term.text not in self.vocabulary.language.lumps:
            near = near or self.topic_sentence == clause.sentence - 1
        if key == "mass" and one.denied and not self._of_skin(named, near):
            return []
        if key == "mass" and any(x.startswith("HER.") for n in named for x in n.noun.normal):
            return []  # "the navel has a soft bump": a hernia or none, and no lump of the skin
        if key in self.vocabulary.lone and self.topic_sentence == clause.sentence and not named:
            return []
        if self._reference(clause, one, key):
            return []
        if finding is not None:
            if finding.whole_station:
                return []
            homes: tuple[str, ...] = finding.structures[:1]
        else:
            homes = self._beside(key, named) or self.vocabulary.home.get(key, ())
        if homes and homes[0].startswith("LUN.") and len(homes) > 1:
            homes = tuple(s for s in homes if not place.lungs or s in place.lungs)
        if key == "weak" and not (place.limb or self.limb.limb):
            homes = ("GEN.gait",)
        if homes == ("GEN.gait",) and key == "lame":
            limb = place.limb or (self.limb.limb if self.limb_sentence == clause.sentence else "")
            homes = ("FLB.gait",) if limb == "fore" else ("HLB.gait",) if limb == "hind" else homes
        made = []
        for structure in homes:
            result = self.vocabulary.meaning(structure, key)
            if not result or (
                structure.startswith("EYE.") and named and not self._same_station(structure, named)
            ):
                continue  # "a small ulcer on the cheek"
            if one.denied:
                if finding is not None or result == NORMAL:
                    continue
                result = NORMAL
            if result == NORMAL and clause.having("control", "skip", "rest"):
                continue
            loose = {self.vocabulary.meaning(structure, k) for k in self._loose_here(clause)}
            if result == NORMAL and loose - {"", NORMAL}:
                continue  # "right side is harsh, no crackles": of lungs that nobody named
            if result == NORMAL and not one.denied and named and not self._same_station(structure, named):
                continue
            made += self._made(
                clause,
                structure,
                NORMAL if result == NORMAL else ABNORMAL,
                one,
                [one.term],
                said,
                place,
                result=result,
                key=key,
                plural=result == NORMAL or not self._one_of_two(structure, one),
            )
        return made

    def _like_a_lump(self, one: Described) -> bool:
        likened = one.term.text in self.vocabulary.language.likened
        return likened and not any(n.key.startswith("SKN.") or n.key == "skin" for n in self.topic)

    def _one_of_two(self, structure: str, one: Described) -> bool:
        """ "There's a cataract": of one eye or of both, which nobody said."""
        return structure in self.vocabulary.single and not any(s.plural for s in one.term.senses)
