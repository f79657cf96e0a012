"""Which limb is spoken of from here on, and when it is left."""

from __future__ import annotations

from collections.abc import Sequence

from exams.spoken.clause import Clause
from exams.spoken.kept import REACH, TRUNK, Kept
from exams.spoken.said import Described, Named, stations_of
from exams.spoken.sides import Place, sides_said


class WhichLimb(Kept):
    """A step of `Listening`."""

    limbless: tuple[int, tuple[Named, ...], tuple[Described, ...]] = (
        -9,
        (),
        (),
    )  # the clause that said no limb

    def _limbs_behind(self, clause: Clause, named: Sequence[Named], described: Sequence[Described]) -> bool:
        """ "Paw placement normal, all four.": the limbs of what was said right before."""
        plain = all(t.has("limb") or t.has("side") or t.has("control", "filler", "and") for t in clause.terms)
        return (
            plain and bool(clause.having("limb")) and not (named or described) and self._said_no_limb(clause)
        )

    def _said_no_limb(self, clause: Clause) -> bool:
        return not clause.opens and self.limbless[0] == self.count - 1

    def _note_limbless(self, named: Sequence[Named], described: Sequence[Described], made: bool) -> None:
        four = [n for n in named if any(x.startswith("NEU.") for x in n.noun.normal)]
        if four and described and not made:
            self.limbless = (self.count, tuple(four), tuple(described))

    def _elsewhere_than_limb(self, named: Sequence[Named], clause: Clause) -> None:
        """ "Blood pressure, right front … Eyes clear. … Nails long": the limb is left then."""
        stations = stations_of(named)
        if stations and stations <= TRUNK and clause.sentence > self.limb_sentence:
            self.limb = Place()

    def _other_limb(self, named: Sequence[Named]) -> None:
        """A joint of the other end is named: the limb that was spoken of is left."""
        stations = {s.partition(".")[0] for n in named if n.noun.fore is None for s in n.noun.normal}
        if self.limb.station and stations & {"FLB", "HLB"} and self.limb.station not in stations:
            self.limb = Place()

    def _other_side_of_limb(self, clause: Clause, named: Sequence[Named]) -> None:
        """ "Right front: … fine. Toes on the left, …", "Now the left.": of the left one from here on."""
        last = self.limb.sides[0] if len(self.limb.sides) == 1 else ""
        sides = [s for s in sides_said(clause.terms, last) if s in ("left", "right")]
        stations = stations_of(named)
        one = len(set(sides)) == 1 and len(self.limb.sides) == 1 and self.limb.station in stations
        alone = (
            not named and len(set(sides)) == 1 and self._only_side(clause) and self._limb_under_way(clause)
        )
        if alone and sides[0] not in self.limb.sides:
            self.limb_lines, self.limb_sentence = [], clause.sentence
        if (one or alone) and sides[0] not in self.limb.sides:
            self.limb = Place(self.limb.limb, (sides[0],), station=self.limb.station)

    def _limb_under_way(self, clause: Clause) -> bool:
        """A limb was gone through, and nothing else has been spoken of since."""
        about = stations_of(self.topic)
        near = clause.sentence - self.topic_named <= REACH
        return bool(self.limb.station) and len(self.limb.sides) == 1 and near and self.limb.station in about

    def _that_leg(self, clause: Clause) -> bool:
        """ "Lame on the left fore. … Now that leg, from the toes": of it from here on."""
        return any(
            at and t.has("noun", "legs") and clause.terms[at - 1].has("word", "that")
            for at, t in enumerate(clause.terms)
        )

    def _remarked(self, clause: Clause) -> None:
        """ "Jess says the left hind paw bled. … The paw looks fine": of what somebody pointed out."""
        place = Place.of(clause.terms)
        sides = [s for s in place.sides if s in ("left", "right")]
        nouns = [self.vocabulary.nouns[k] for t in clause.terms for k in t.keys("noun")]
        if len(set(sides)) != 1:
            return
        if place.limb in ("fore", "hind") and any(n.fore is not None for n in nouns):
            station = "FLB" if place.limb == "fore" else "HLB"
            self.limb = self.limb_last = Place(place.limb, (sides[0],), station=station)
            self.limb_sentence, self.limb_fleeting, self.limb_lines = clause.sentence, clause.sentence + 1, []
        elif not place.limb:
            for station in {line.partition(".")[0] for n in nouns for line in n.normal}:
                self.station_side[station] = (sides[0], clause.sentence)

    def _limb(self, clause: Clause, named: Sequence[Named], place: Place) -> None:
        if clause.having("word", "limbless"):
            return
        if not place.limb:
            self._elsewhere_than_limb(named, clause)
            self._other_limb(named)
            self._other_side_of_limb(clause, named)
            if self.limb_last.limb and self._that_leg(clause):
                self.limb, self.limb_fleeting, self.limb_sentence = self.limb_last, -1, clause.sentence
                self.limb_lines = []
        if not place.limb or place.limb == "all":
            return
        # "lame on the left fore": of that alone
        self.limb_fleeting = -1 if self._heads(clause) else clause.sentence
        sides = [s for s in sides_said(clause.terms, "") if s in ("left", "right")]
        station = "FLB" if place.limb == "fore" else "HLB"
        self.limb_sentence = clause.sentence
        self.limb = self.limb_last = Place(place.limb, tuple(dict.fromkeys(sides)), station=station)
        self.limb_lines = []
        if not sides:
            self.station_side.pop(station, None)
