"""The neck as it is moved: up, down and to both sides."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from exams.spoken.chest import Chest
from exams.spoken.clause import Clause
from exams.spoken.said import Named
from exams.spoken.sides import Place


class Neck(Chest):
    """A step of `Listening`."""

    def _neck_moved(self, clause: Clause, named: Sequence[Named], place: Place) -> None:
        """ "Neck, slowly. Down is okay. Up hurts.": of the neck still, as it is moved."""
        led = [t for t in clause.terms[:3] if t.has("place") or not t.has("control", "filler", "prep")][:1]
        moved = bool(led) and any(k.startswith("neck ") for k in led[0].keys("place"))
        neck = bool(self.topic) and all(n.key == "neck" for n in self.topic)
        said = any(t.has("trait") and not t.has("place") for t in clause.terms)
        near = 0 < clause.sentence - self.topic_sentence <= 1
        if neck and moved and said and near and clause.opens and not named and not place.limb:
            self.topic_sentence = clause.sentence

    def _turned_to(self, clause: Clause) -> list[Named]:
        """ "Chin up, chin down, round to the left, all loose; round to the right she stops short"."""
        lines = [x for n in self.topic for x in n.noun.normal]
        neck = bool(lines) and all(x.startswith("NEK.") for x in lines)
        near = clause.sentence - self.topic_sentence <= 1
        first, then = clause.terms[0], clause.terms[1:2]
        to = bool(then) and then[0].has("word", "towards") and first.has("word", "turning")
        sides = [k for t in clause.terms[2:4] for k in t.keys("side") if k in ("left", "right")][:1]
        if not (neck and near and to and sides):
            return []
        line = self.vocabulary.nouns["NEK.side"]
        return [Named("NEK.side", line, False, clause.terms[0], sides[0])]

    def _both_ways(self, place: Place, clause: Clause) -> Place:
        """ "Neck: up, down and both sides": the third of its movements."""
        plain = all(t.has("side", "both") or t.has("control", "filler", "and") for t in clause.terms)
        moved = self.neck_said[0] == clause.sentence and bool(self.neck_said[1])
        if not plain or not moved or place.neck:
            return place
        return replace(place, keys=(*place.keys, "neck side"))
