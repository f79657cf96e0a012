"""What the traits of a clause say of the lines it names, one by one or as a group."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

from exams.spoken.clause import Clause
from exams.spoken.on_the_skin import OnTheSkin
from exams.spoken.said import (
    GENERIC,
    LIMB_STATIONS,
    SUSPECTED,
    Described,
    Named,
    Statement,
    once,
    stations_of,
    terms_behind,
)
from exams.spoken.shapes import ABNORMAL, NORMAL, NOT_EXAMINED
from exams.spoken.sides import ALL_NECK, LUNGS, Place, opposite, sides_said, that_side
from exams.spoken.terms import FIGURE, UNKNOWN, Term

NOT_FELT = "not felt"
FOLDS = "fold-infection"  # "the skin around the vulva is red, fold infection": of that


class Groups(OnTheSkin):
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
                for structure in map(self._below, codes.split()):
                    if term.has("trait") and self._of_another(structure, named):
                        continue  # "hips extend, not a peep": no word of the windpipe
                    near = self.topic_sentence >= clause.sentence - 1
                    about_it = named or (self.topic if near and not place.limb else [])
                    head = stations_of(about_it) & {"EYE", "NEU"} and not stations_of(about_it) & {
                        "FLB",
                        "HLB",
                    }
                    if structure.endswith(".gait") and named and self._sound_part(named):
                        continue  # "pads all sound in front"
                    if structure.endswith(".gait") and not named and head:
                        continue  # "the right eye drops. Left sits straight"
                    if named and structure.endswith(".gait") and self._elsewhere_than(structure, named):
                        continue  # "left eyeball sits straight"
                    if structure == "SKN.skin" and self._skin_of_place(clause):
                        continue
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
            moved = one.term.has("place") and any(n.key == "neck" for n in (*named, *self.topic))
            if not found and not one.denied and not moved:
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
        self._cloud_of_lens(made, clause)
        if hedged:
            self.hedged_away = [s for s in made if s.state == ABNORMAL]
            made = [dataclasses.replace(s, note=SUSPECTED, sure=0.5) for s in made if s.state == ABNORMAL]
        self._now_so(clause, made)
        self._other_than_copied(made, described)
        self._explained(made)
        self.statements.extend(once(made))

    def _doubt_here(self) -> bool:
        """ "I thought he flinched, but I've been over it and there's nothing there": said of the doubt."""
        return any(s.note == SUSPECTED and s.sentence == self.now for s in self.statements)

    def _below(self, structure: str) -> str:
        """ "Collar off, skin clean": what a line is under the heading of the sentence."""
        over = self.over[1] if self.over[0] == self.now else []
        found = [self.vocabulary.below.get(n.key, {}).get(structure, "") for n in over]
        return next((x for x in found if x), structure)

    def _now_so(self, clause: Clause, made: Sequence[Statement]) -> None:
        """ "Belly, he's tensing, let go, there, now it's soft": what it was before does not stand."""
        now = clause.terms[0].has("word", "next")
        nothing = bool(clause.having("control", "nothing")) and self._doubt_here()  # "there's nothing there"
        if clause.opens or not (now or nothing):
            return
        fine = {(s.structure, s.side) for s in made if s.state == NORMAL}
        self.statements = [
            s
            for s in self.statements
            if not (s.sentence == clause.sentence and s.state == ABNORMAL and (s.structure, s.side) in fine)
        ]

    def _other_than_copied(self, made: Sequence[Statement], described: Sequence[Described]) -> None:
        """ "Left one the same, but it doesn't smell": what is said now stands."""
        sentence, copied = self.copied
        fine = {(s.structure, s.side) for s in made if s.state == NORMAL and s.sentence == sentence}
        denied = {k for d in described if d.denied for k in d.keys} if sentence == self.now else set()
        gone = [s for s in copied if s.state == ABNORMAL]
        gone = [s for s in gone if (s.structure, s.side) in fine or s.trait in denied]
        self.statements = [s for s in self.statements if s not in gone]

    def _cloud_of_lens(self, made: Sequence[Statement], clause: Clause) -> None:
        """ "Eyes: both cloudy, cataracts": that is what is cloudy."""
        lens = {s.side for s in made if s.structure == "EYE.lens" and s.state == ABNORMAL}
        if lens and "EYE.cornea" not in self.sentence_nouns:
            self.statements = [
                s
                for s in self.statements
                if (s.structure, s.sentence) != ("EYE.cornea", clause.sentence)
                or s.trait not in ("cloudy", "hazy", "blue")
                or s.side not in lens
            ]

    def _dear(self, clause: Clause, one: Described) -> bool:
        """ "Two little testicles down": a kind word before the name, and no size."""
        at = clause.at(one.term, len(clause.terms))
        little = "small" in one.keys and one.term.has("severity")
        return little and any(t.has("noun") for t in clause.terms[at + 1 : at + 2])

    def _of_another(self, structure: str, named: Sequence[Named]) -> bool:
        """Something of another station is spoken of, and the words are a description as well."""
        about = named or (self.topic if self.topic_sentence == self.now else [])
        return bool(about) and structure.partition(".")[0] not in stations_of(about)

    def _elsewhere_than(self, structure: str, named: Sequence[Named]) -> bool:
        stations = stations_of(named)
        return not stations & {structure.partition(".")[0], "GEN"}

    def _about_number(self, clause: Clause, hedge: Term) -> bool:
        """ "An ulcer, maybe two millimetres", "I'd say six percent": how much is guessed, not whether."""
        after = [t for t in clause.terms[clause.terms.index(hedge) + 1 :] if not t.has("word", "article")][:1]
        if after and after[0].has("number", "about"):
            after = clause.terms[clause.terms.index(after[0]) + 1 :][:1]
        settled = hedge.text in self.vocabulary.language.settled
        before = clause.terms[: clause.terms.index(hedge)][-1:]
        if settled and before and (before[0].has("severity") or (before[0].kind == FIGURE and not after)):
            return True  # "moderate, I'd say", "three out of six, I think"
        dry = any(t.has("trait", "mildly-dry", "moderately-dry", "severely-dry") for t in after)
        return bool(after) and (after[0].kind == FIGURE or dry or (settled and after[0].has("severity")))

    def _examined(self, clause: Clause) -> Named | None:
        """ "Rectal: prostate small, no masses": of the examination that the sentence is headed with."""
        over = self.over[1] if self.over[0] == clause.sentence else []
        one = len(over) == 1 and over[0].key in self.vocabulary.undone and len(over[0].noun.normal) == 1
        return over[0] if one else None

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
        if self._still_clean(clause, one, named):
            return []
        if self._detail(clause, one, named) or self._of_that_tooth(one, named):
            return []
        if (none := self._none_of_sought(clause, one, named)) is not None:
            return none
        if (fine := self._skin_fine(clause, one, named, said, place)) is not None:
            return fine
        if self._heads_with(clause, one):
            self._headed_by(one, about, clause)
            return []
        if not named and set(one.keys) & self.vocabulary.of_lumps and self._of_a_lump(clause, one):
            return []  # "a lump in the armpit, fatty, soft"
        if one.term.has("control", "nothing") and (other := self._none_on_the_other(clause, named)):
            there = that_side(other.structure, opposite(other.side))
            line = Named(there, self.vocabulary.nouns[there], False, None)
            return self._made(clause, there, NORMAL, one, [one.term], said, place, result=NORMAL, name=line)
        if one.denied and self._only_live(one):
            return []  # "no live fleas, just what they left behind"
        if one.term.has("word", "such"):
            return []  # "nothing like that on the right": of what was just found, and nobody knows of what
        left_out = self.topic_skipped and not self._other_than_skipped(clause)
        if not named and left_out and self.topic_sentence == clause.sentence:
            hurts = "painful" in one.keys and not one.denied and clause.terms[0] is one.term
            about = about if hurts else []  # "won't have it bent, pulls away"
        skin = self.found_at[0] == clause.sentence and {n.key for n in self.topic} <= self.found_at[1]
        if not named and skin and not one.denied and not set(one.keys) & set(GENERIC):
            about = [n for n in about if n.noun.scope[:1] == ("SKN.skin",)]  # "matted along the back, sore"
        for key in one.keys:
            own = any(self.vocabulary.fits(n.key, k) for n in named for k in one.keys)
            skin = any(n.noun.normal == ("SKN.skin",) for n in named)  # "the skin under the ear is sore"
            for name in (
                self.where if key not in GENERIC and not one.denied and (not skin or key == FOLDS) else ()
            ):
                if own and name.key not in self.vocabulary.walk.structure:
                    continue
                found = self._of_name(clause, one, key, name, True, said, place, blocked)
                made += [s for s in found if s.state == ABNORMAL]
        if made:
            return made
        if named and not one.denied and not self.where and self._topic_rather(clause, one, named):
            alone = self._side_alone(clause)
            about = [dataclasses.replace(n, side="" if said else alone or n.side) for n in self.topic]
        limb = place.limb or self.limb_sentence == clause.sentence
        if limb and not named and any(n.key == "GEN.gait" for n in about) and {"lame", "sound"} & {*one.keys}:
            about = []  # "he nods, off on the left fore": of that limb
        keys = [
            k
            for k in one.keys
            # a finding by its own name is of its own line
            if k not in self.vocabulary.walk.finding or named or self.topic_sentence == clause.sentence
        ]
        for name in about:
            for key in keys:
                found = self._of_name(clause, one, key, name, bool(named), said, place, blocked)
                made += found
                if found and not one.term.has("control", "nothing"):
                    break
        if (
            not made
            and self._elsewhere(clause, named)
            and not any(n.key in ("skin", "SKN.skin") for n in named)
        ):
            for key in one.keys:
                if key in GENERIC or key in self.vocabulary.home:
                    continue
                for name in self.topic:
                    alone = "" if said else self._side_alone(clause)
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
        one_side = clause.opens and bool(clause.having("side", "left", "right", "other"))
        next_to = (without or one_side) and self.topic_sentence == clause.sentence - 1
        next_to = next_to and bool(set(one.keys) & self.vocabulary.under)
        near = near or next_to
        skipped = self.topic_skipped and not next_to
        if not made and not named and not skipped and near and not nothing:
            for key in one.keys:
                for name in self._around(said) if key not in GENERIC and not made else ():
                    found = self._of_name(clause, one, key, name, False, said, place, blocked)
                    # "left canal, soft" is no word of the flap
                    made += [s for s in found if without or s.state == ABNORMAL]
        if made or one.term.has("control", "nothing") or self._of_a_lump(clause, one):
            return made
        if found := self._skin_found(clause, one, about, said, place):
            return found
        if one.denied and not named and (over := self._examined(clause)):
            for key in one.keys:
                made = made or self._of_name(clause, one, key, over, True, said, place, blocked)
            if made:
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

    def _of_that_tooth(self, one: Described, named: Sequence[Named]) -> bool:
        """ "Canines worn, no pulp showing": that it is shut is no further finding."""
        last = self.last[-1] if self.last else None
        if last is None or last.structure != "MTH.teeth" or last.trait == "pulp-open":
            return False  # "… pulp's open, no, it's not"
        return "pulp-shut" in one.keys and not named and (last.state, last.sentence) == (ABNORMAL, self.now)

    def _hindered(self, clause: Clause, one: Described) -> bool:
        """ "Spleen I can't feel through that": it was in the way of a look."""
        after = clause.terms[clause.at(one.term) + 1 :] if one.term in clause.terms else []
        said = f"{' '.join(w for t in after for w in t.words)} "
        return any(said.startswith(f"{form} ") for form in self.vocabulary.language.hindered)

    def _over_region(self, clause: Clause, one: Described) -> bool:
        """Where it is comes right behind it."""
        after = clause.terms[clause.at(one.term) + 1 :] if one.term in clause.terms else []
        there = [
            t for t in after if t.has("control", "prep") or t.has("place") or t.has("limb") or t.has("side")
        ]
        return bool(there) and one.term.kind != UNKNOWN and not one.denied

    def _none_of_sought(
        self, clause: Clause, one: Described, named: Sequence[Named]
    ) -> list[Statement] | None:
        """ "Round the ears for ticks, came up empty": there are none of what was looked for."""
        sentence, sought = self.sought
        empty = one.term.has("control", "nothing") or ("unfelt" in one.keys and not one.denied)
        if not empty or named or sought is None or sentence != clause.sentence:
            return None
        made: list[Statement] = []
        for key in sought.keys:
            if key in self.vocabulary.denied and not made:
                made = self._at_home(clause, sought, key, (), (), Place())
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
        if self.vocabulary.undecided(name.key) or key in name.noun.mute:
            return []  # nobody can tell which of them
        normal, scope = self._targets(name, place, clause)
        if key == "unfelt" and name.noun.unfelt is not None:
            normal = scope = name.noun.unfelt
        if name.key == "neck" and key in ("full", "supple") and not normal and not one.denied:
            normal = ALL_NECK  # "full range of motion in the neck"
        made: list[Statement] = []

        def not_felt(line: str) -> list[Statement]:
            unseen = self._made(
                clause, line, NOT_EXAMINED, None, [one.term], said, place,
                name=name, plural=name.plural, key=key, own=own,
            )  # fmt: skip
            return [dataclasses.replace(s, note=NOT_FELT) for s in unseen]

        if (
            key == "unfelt"
            and not one.denied
            and not name.noun.never
            and name.key not in self.vocabulary.headings
            and not self.where
            and self._lone(clause)
            and not any(t.kind == UNKNOWN for t in clause.terms[clause.at(one.term) + 1 :][:1])
        ):
            rest = bool(clause.having("control", "rest"))  # "remaining nodes not palpable"
            told = self._told(clause) if rest else set()
            for structure in normal:
                if not self.vocabulary.meaning(structure, key) and structure not in told:
                    made += not_felt(structure)
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
            if (
                structure == "SKN.coat"
                and key in ("scale", "bald")
                and not own
                and self._over_region(clause, one)
            ):
                structure = "SKN.skin"  # "coat greasy, dandruff down the back"
            joint = structure.partition(".")[0] in LIMB_STATIONS
            joint = joint and not self.vocabulary.meaning(structure, "muscled")
            if key == "full" and len(one.term.words) == 1 and joint:
                continue  # "the knee's full": of fluid, or its range
            if structure != "SKN.lumps" and one.term.text in self.vocabulary.language.fatty:
                continue  # a fatty lump is of the skin, whatever was spoken of before
            if structure == "SKN.lumps" and generic and not one.denied and name.term is None:
                continue  # "like a marble, the other one ordinary": nobody said that there is no lump
            result = self.vocabulary.meaning(structure, key) or NORMAL  # a good word, of the other side
            if key == "pink" and one.severity and not one.denied:
                result = self.vocabulary.meaning(structure, "red") or result  # "a touch pink"
            if result != NORMAL and not one.denied and self._dear(clause, one):
                continue
            if one.denied:
                self._not_copied(structure, result)
            ring = key == "hernia" and structure in ("HER.umbilicus", "HER.inguinal")
            if one.denied and set(one.keys) & self.vocabulary.silent and result != NORMAL and not ring:
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
            if positive and key == "unfelt" and self._hindered(clause, one):
                made += not_felt(structure)
                continue
            group = name.key.partition(".")[0] != structure.partition(".")[0]
            group = group or name.key not in self.vocabulary.walk.structure
            also = structure in name.noun.also or (
                not name.noun.never
                and (self._not_as_other(clause, structure, said) or self._dry_other(key, structure, said))
            )
            fits = structure in normal or (bool(name.noun.neuro) and structure in name.noun.normal)
            if positive and not fits and (group or key in self.vocabulary.broad) and not also:
                continue  # "eyes dry" is no word about tears
            if result == NORMAL and structure not in normal and name.key == "neck":
                continue
            if result == NORMAL and one.denied and key == "mass" and name.key in ("belly", "mouth"):
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
