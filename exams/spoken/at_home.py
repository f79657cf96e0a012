"""What a trait says of a line by itself: "no murmur", "cherry eye on the left"."""

from __future__ import annotations

from collections.abc import Sequence

from exams.spoken.clause import Clause
from exams.spoken.kept import REACH
from exams.spoken.may_be import MayBe
from exams.spoken.said import (
    LIMB_STATIONS,
    Described,
    Named,
    Statement,
    stations_of,
)
from exams.spoken.shapes import ABNORMAL, NORMAL
from exams.spoken.sides import Place
from exams.spoken.terms import UNKNOWN

MANY = 3  # lines that a finding may have: of more, none is likelier than the others
LONE = ("strain", "pops")  # by itself no word of its line
OF_AIR = ("crackles", "wheeze", "LUN-06", "LUN-07")  # sounds that another place than the lungs may make

SOUND = 4  # words of a clause that is to say of a limb that it is sound: "the right fore is sound"


class AtHome(MayBe):
    """A step of `Listening`."""

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
        if key in OF_AIR and not self._besides("LUN") and not self._about_lungs():
            if self._inward(clause) and not place.lungs:
                key = "stridor"
            elif self._of_throat(named):
                return []  # "the skin down the throat crackles"
        finding = self.vocabulary.walk.finding.get(key)
        traits = sum(1 for t in clause.terms if t.has("trait") or t.has("finding") or t.has("says"))
        first = clause.terms[0]
        whole = first.has("word", "subject") and first.words[0] not in self.vocabulary.language.it
        several = traits > 1 and not (whole and key in self.vocabulary.of_all)
        if key in self.vocabulary.shy and (any(n.key != "back" for n in (*named, *self.where)) or several):
            return []
        if key == "drooling" and not named == self.where == [] and not self._besides("MTH"):
            return []  # "dribbling blood from the sheath"
        if key == "sound" and (one.term.text != key or not place.limb or len(clause.terms) > SOUND):
            return []  # "hinds sound", but no heart that sounds
        if key == "stiff" and one.term.has("trait", "tight"):
            return []  # of a ring, not of a gait
        own = self.vocabulary.besides.get(key, "").split()
        spoken = self.last[-1] if self.last and self.last[-1].sentence == clause.sentence else None
        there = self.vocabulary.beside_line.get(spoken.structure, {}).get(key, "") if spoken else ""
        if own and not there and (self._among_others(own) or (key in LONE and not self._besides(own[0]))):
            return []
        heart = self._besides("HRT") or self._besides("VIT") or bool(stations_of(self.topic) & {"HRT", "VIT"})
        if key == "regular" and not clause.opens and not heart and not named:
            return []  # "walked in by herself, steady": no beat
        near = self.topic_sentence == clause.sentence and not self.topic_skipped
        if key in self.vocabulary.shy and self.now - self.topic_sentence <= REACH and self.topic_matches(key):
            return []  # "the kneecap … It does slip": no slip of the thyroid
        if near and not named and self._pronoun(clause) and not self._topic_station(key):
            return []  # "anal sacs: right one's packed": theirs, whatever else that is of
        if key == "mass" and not one.denied and near and not named and self._like_a_lump(one):
            return []  # "colon: a string of marbles"
        if key == "mass" and not one.denied and self._as_a_lump(clause, one):
            return []  # "the node is hard as a marble"
        if key == "mass" and not one.denied and self._inside(named):
            return []  # "hard marbles down the colon"
        if key == "mass" and one.denied and self._in_something(clause, one):
            return []  # "no lumps in the gravy"
        if key == "mass" and one.denied and one.term.text not in self.vocabulary.language.lumps:
            near = near or self.topic_sentence == clause.sentence - 1
        if key == "mass" and one.denied and not self._of_skin(named, near):
            return []
        if key == "mass" and one.denied and (said or self._side_alone(clause)) and not near:
            return []  # "left side, no lumps": of what was spoken of
        ring = named or (self.topic if near else [])
        if key == "mass" and any(x.startswith("HER.") for n in ring for x in n.noun.normal):
            return []  # "the navel has a soft bump": a hernia or none, and no lump of the skin
        if key == "tracks" and place.limb:
            return []  # "behind he tracks level": no sight
        if key == "walks" and named and self._sound_part(named):
            return []  # "left shoulder moves nicely"
        if key == "flea-dirt" and len(one.term.words) == 1 and self.correcting_sentence == clause.sentence:
            return []  # "Blackheads? No, that's dirt"
        if key in self.vocabulary.lone and self.topic_sentence == clause.sentence and not named:
            return []
        recent = self.now - self.topic_sentence <= 1 and not self.topic_skipped
        if key in self.vocabulary.nearby and not (recent and self._topic_station(key)):
            return []
        if key == "smelly" and not said:
            return []  # "there's a whiff from the right": of an ear, and not of the whole dog
        if self._reference(clause, one, key):
            return []
        if finding is not None:
            if finding.whole_station or len(finding.structures) > MANY:
                return []  # "come up because of it": nobody knows which node
            homes: tuple[str, ...] = finding.structures[:1]
            if self._of_another_joint(homes, named):
                return []  # "crepitus in the stifle": of no elbow
        else:
            homes = self._beside(key, named) or self.vocabulary.home.get(key, ())
            homes = ("GEN.gait",) if key == "sound" and not named else homes
        placed = place.lungs or place.has("lower", "upper") or {"left", "right"} & set(said)
        if homes == ("GEN.consciousness",) and placed:
            return []  # "dull low down on the right"
        if there:
            homes = (there,)  # "scurf along the back, so mites": the skin's
        if homes and homes[0].startswith("LUN.") and len(homes) > 1:
            lungs = place.lungs or (self.lung_places if self.lung_sentence == clause.sentence else ())
            homes = tuple(s for s in homes if not lungs or s in lungs)
        if key == "past-ribs" and named and not self._same_station("ABD.liver", named):
            return []  # "muscles tight just past the ribs"
        if homes == ("NEU.gait",) and key == "wobbly" and first.words[0] in self.vocabulary.language.it:
            return []  # "the bone's broken, it wobbles in my hand"
        if key == "weak" and not (place.limb or self.limb.limb):
            homes = ("GEN.gait",)
        if homes == ("GEN.gait",) and key in ("lame", "walks", "bears", "sound"):
            limb = place.limb or (self.limb.limb if self.limb_sentence == clause.sentence else "")
            homes = ("FLB.gait",) if limb == "fore" else ("HLB.gait",) if limb == "hind" else homes
        if homes == ("GEN.consciousness",) and self._of_a_part(named, clause):
            return []
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
            left = clause.having("control", "skip") and not self._none_sensed(clause, [one])
            if result == NORMAL and (left or clause.having("control", "rest")):
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

    def _sound_part(self, named: Sequence[Named]) -> bool:
        """Names of parts of a limb only, of which none is a gait."""
        lines = [x for n in named for x in (*n.noun.normal, *n.noun.scope)]
        return bool(lines) and not any(x.endswith(".gait") for x in lines)

    def _besides(self, station: str) -> bool:
        """ "Breathing forty, no strain": the sentence names something of that station."""
        nouns = [self.vocabulary.nouns[k] for k in self.sentence_nouns]
        told = [s.structure for s in self.statements if s.sentence == self.now]
        lines = [*told, *(x for n in nouns for x in (*n.normal, *n.scope))]
        return any(x.startswith(f"{station}.") for x in lines)

    def _among_others(self, stations: Sequence[str]) -> bool:
        """ "The fold under her tail is yeasty", "Skin: snow, and that's mites": what was named is of another
        station, so no word of an ear."""
        if any(self._besides(x) for x in stations):
            return False
        near = self.now - self.topic_sentence <= REACH and bool(self.topic)
        if near and stations_of(self.topic) & set(stations):
            return False
        return near or bool(self.sentence_nouns)

    def _inward(self, clause: Clause) -> bool:
        """ "A squeak each time he pulls air in": of the throat, not of the lungs."""
        said = f" {' '.join(w for t in clause.terms for w in t.words)} "
        return any(f" {form} " in said for form in self.vocabulary.language.inward)

    def _of_throat(self, named: Sequence[Named]) -> bool:
        stations = stations_of(named) | ({"THR"} if self._besides("THR") else set())
        return bool(stations) and not stations & {"LUN", "HRT", "GEN", "VIT"}

    def _of_a_part(self, named: Sequence[Named], clause: Clause) -> bool:
        """ "The left half of the face is perky": no word about the whole animal."""
        about = [n for n in named if stations_of([n]) - {"GEN", "VIT", "BCM", "NEU"}]
        return bool(about) and len(about) == len(named) and not clause.having("word", "subject")

    def _of_another_joint(self, homes: Sequence[str], named: Sequence[Named]) -> bool:
        stations = stations_of(named)
        limbs = homes[0].partition(".")[0] in LIMB_STATIONS and bool(stations & set(LIMB_STATIONS))
        return limbs and not any(homes[0] in (*n.noun.normal, *n.noun.scope) for n in named)

    def _inside(self, named: Sequence[Named]) -> bool:
        about = [*named, *self.where]
        return bool(about) and all(n.key.startswith("ABD.") or n.key == "kidneys" for n in about)

    def _in_something(self, clause: Clause, one: Described) -> bool:
        after = clause.terms[clause.at(one.term) + 1 :][:3] if one.term in clause.terms else []
        after = [t for t in after if not t.has("word", "article")]
        return len(after) > 1 and after[0].has("control", "prep") and after[1].kind == UNKNOWN

    def _like_a_lump(self, one: Described) -> bool:
        likened = one.term.text in self.vocabulary.language.likened
        return likened and not any(n.key.startswith("SKN.") or n.key == "skin" for n in self.topic)

    def _as_a_lump(self, clause: Clause, one: Described) -> bool:
        at = clause.at(one.term)
        before = [t for t in clause.terms[max(0, at - 2) : at] if not t.has("word", "article")]
        led = bool(before) and before[-1].has("word", "than", "like")
        return led and one.term.text in self.vocabulary.language.likened

    def _one_of_two(self, structure: str, one: Described) -> bool:
        """ "There's a cataract": of one eye or of both, which nobody said."""
        return structure in self.vocabulary.single and not any(s.plural for s in one.term.senses)

    def _on_it(self, clause: Clause, name: Named, one: Described) -> bool:
        at = clause.at(name.term)
        on = any(t.words[0] in self.vocabulary.language.upon for t in clause.terms[max(0, at - 2) : at])
        return on and one.term.text in self.vocabulary.language.lumps
