"""When a word may call something normal: where there is a doubt, it does not."""

from __future__ import annotations

from collections.abc import Sequence

from exams.spoken.clause import Clause, likeness
from exams.spoken.said import (
    GENERIC,
    LASTS,
    LIMB_STATIONS,
    MOST_UNKNOWN,
    Described,
    Named,
    stations_of,
)
from exams.spoken.shapes import ABNORMAL, NORMAL, NOT_EXAMINED
from exams.spoken.sides import opposite, side_kind, sides_said
from exams.spoken.terms import UNKNOWN
from exams.spoken.things import Things

OF_COAT = ("greasy", "matted")

LUMPY = frozenset({"moves", "soft", "firm", "smooth", "free", "loose", "stable"})  # how a lump feels


class MayBe(Things):
    """A step of `Listening`."""

    sized = False  # the sentence says how large something is

    def _loose_here(self, clause: Clause) -> tuple[str, ...]:
        return self.loose[1] if self.loose[0] == clause.sentence else ()

    def _loose_of_topic(self, clause: Clause) -> bool:
        """A word of the sentence is not normal of another line of the station that is spoken of."""
        stations = stations_of(self.topic)
        lines = [x for x in self.vocabulary.walk.structure if x.partition(".")[0] in stations]
        keys = [k for k in self._loose_here(clause) if k not in self.vocabulary.calm]
        return any(self.vocabulary.meaning(x, k) not in ("", NORMAL) for k in keys for x in lines)

    def _of_coat_found(self) -> bool:
        return any(
            s.sentence == self.now and s.trait in OF_COAT and s.structure.startswith("SKN.")
            for s in self.statements
        )

    def _sides_in_sentence(self) -> bool:
        words = self.vocabulary.language
        return bool(self.sentence_words & {*words.left_words, *words.right_words})

    def _one_of_two_is(self, clause: Clause, one: Described) -> bool:
        at = clause.at(one.term)
        before = [t for t in clause.terms[:at] if not t.has("word", "saying")][-1:]
        lone = bool(before) and before[0].number is not None and before[0].number.whole() == 1
        return lone and not clause.having("side") and any(n.plural for n in self.topic)

    def _something_of(self, name: Named) -> bool:
        """Of what is named something was said in the sentence that came to nothing."""
        loose = self.loose[0] == self.now and any(k not in self.vocabulary.calm for k in self.loose[1])
        unread = self.unread >= self.begun and any(n.key == name.key for n in self.unread_topic or ())
        return loose or unread

    def _not_as_other(self, clause: Clause, structure: str, said: Sequence[str]) -> bool:
        """ "Watery stuff from the left eye, right eye is dry": of what was found on the other side."""
        last = self.last[-1] if self.last else None
        return bool(
            last
            and len(said) == 1
            and last.state == ABNORMAL
            and last.sided
            and (last.structure, last.side) == (structure, opposite(said[0]))
            and last.clause >= self.count - (2 if last.sentence == clause.sentence else 1)
            and last.sentence >= clause.sentence - 1
        )

    def _dry_other(self, key: str, structure: str, said: Sequence[str]) -> bool:
        """ "Bit of watering from the left one, no redness in either. Right eye's dry"."""
        return key == "dry" and any(
            (s.structure, s.state) == (structure, ABNORMAL)
            and len(said) == 1
            and s.side == opposite(said[0])
            and s.sentence >= self.now - LASTS
            for s in self.statements
        )

    def _may_be_normal(self, clause: Clause, name: Named, own: bool, one: Described, generic: bool) -> bool:
        """When in doubt, no normal: a word like "fine" counts for what is named beside it."""
        if clause.having("control", "skip") or (not one.denied and self._how_else(clause, one)):
            return False
        if (
            self.sized
            and not own
            and set(one.keys) & LUMPY
            and stations_of([name]) <= {*LIMB_STATIONS, "NEK", "ABD"}
        ):
            return False  # "left shoulder, same kind of thing, soft, moves, sixty by forty-five": of a lump
        if (
            one.denied
            and not own
            and one.keys[0] in self.vocabulary.denied
            and self.topic_sentence != clause.sentence
        ):
            return bool(clause.having("control", "nothing") and clause.having("side"))
        of_place = self._skin_of_place(clause) or self._part_of_it(clause, name)
        if name.noun.normal[:1] == ("SKN.skin",) and (self.where or of_place):
            return False  # "the skin round the eyes", "the skin around it": a part of it
        if name.noun.normal[:1] == ("SKN.skin",) and self._over_a_bone(clause, name):
            return False  # "the radius grinds, skin whole": that over it
        if name.noun.normal[:1] == ("SKN.skin",) and self._found_beside(clause):
            return False  # "the femur is broken, skin whole": that over it
        if clause.having("control", "rest") and name.noun.normal == ("SKN.coat",) and self._of_coat_found():
            return False  # "greasy at the tail base, the rest of the coat is plush"
        if clause.having("control", "rest") and not own:
            of_heading = self.topic_sentence == clause.sentence and generic and not clause.having("place")
            otherwise = bool(clause.having("word", "otherwise"))
            return any(t.has("place", "lung ahead") for t in clause.terms) or (of_heading and otherwise)
        lumps = one.denied and one.term.text in self.vocabulary.language.lumps
        if lumps and not own and stations_of([name]) <= {*LIMB_STATIONS} and not sides_said(clause.terms, ""):
            return False  # "the dewclaw curls toward the pad, no lumps": of the skin
        if own and generic and self._object(clause, name):
            return False
        if not own and self.once == self.topic_sentence and not self._as_it_is(clause):
            return False  # "he had a sore hip last year, he's fine now"
        if generic and not own and self._answers_query(clause):
            return not any(t.kind == UNKNOWN for t in clause.terms)
        if own and self._found_is(clause, name, one):
            return False
        if not own and self._of_thing(clause, name, one):
            return False  # "off the spleen there's a ball, smooth"
        if name.key == "air" and not clause.having("side") and self._sides_in_sentence():
            return False  # "nothing on the left, high on the right | air is moving"
        if not one.denied and self._one_of_two_is(clause, one):
            return False  # "kidneys, one smooth and one lumpy"
        if own and generic and name.key in self.vocabulary.surface and self._something_of(name):
            return False  # "left groin like a lobster, red; right groin fine": its skin, for all one knows
        if not own and generic and name.key == "nodes" and clause.having("side", "both"):
            return False  # "both normal": of one pair of nodes, which may have gone unheard
        if (
            self.told_staff == clause.sentence
            and not own
            and one.term.text in self.vocabulary.language.openers
        ):
            return False  # "can you hold the tail up, good"
        if not own and clause.stop == "and" and self.beside == self.count - 1:
            return False  # "on the right, window and white are both lovely"
        skin = [s for s in self.last if s.structure.startswith("SKN.") and s.sentence >= clause.sentence - 2]
        if generic and skin and name.key in self.vocabulary.of_skin:
            return False  # in the midst of the skin, a cheek is skin too
        if (
            (generic or one.denied or clause.having("control", "rest"))
            and clause.sentence - self.found_at[0] <= 1
            and name.key in self.found_at[1]
        ):
            return False  # "a hot spot on the left cheek. Right cheek is clear": the skin there
        if own and clause.unstopped and not self._in_row(clause, name, one):
            return False
        if not own and clause.unstopped and self.strange == self.count - 1:
            return False  # "both canals hairy | tim panics | both in one piece"
        named_at = clause.at(name.term) if own and name.term in clause.terms else 0
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
        skipped = skipped and not self._other_than_skipped(clause)
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
            and (generic or several or "comfortable" in one.keys or self.unread_is)
        ):
            return False  # "nose has a …, clean": what it has nobody knows
        if (
            generic
            and clause.having("limb")
            and not self._about_lungs()
            and not (clause.having("limb", "all") and name.key == "legs")
            and not any(side_kind(self.vocabulary.walk.structure[x]) == "four" for x in name.noun.normal)
        ):
            return False
        if generic and self.topic_sentence != clause.sentence and not self._pronoun(clause):
            return self._answers_heading(clause, one)
        unknown = sum(1 for t in clause.terms if t.kind == UNKNOWN)
        at = clause.at(one.term)
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

    def _plain_name(self, clause: Clause) -> bool:
        named = any(t.has("noun") for t in clause.terms)
        return named and all(
            t.has("noun") or t.has("side") or t.has("limb") or t.has("control", "filler", "and")
            for t in clause.terms
        )

    def _as_it_is(self, clause: Clause) -> bool:
        """ "… today it's fine", not "and they were fine"."""
        was = any(w in self.vocabulary.language.was for t in clause.terms for w in t.words)
        return bool(clause.having("word", "them")) and not was

    def _other_than_skipped(self, clause: Clause) -> bool:
        """ "Left elbow I can't examine, the right is fine": the other one was looked at."""
        last = self.last[-1] if self.last else None
        sides = [s for s in sides_said(clause.terms, self._recent(clause)) if s in ("left", "right")]
        near = last is not None and last.clause == self.count - 1 and last.sentence >= clause.sentence - 1
        if last is None or not near or last.state != NOT_EXAMINED or len(set(sides)) != 1:
            return False
        return all(s.side == opposite(sides[0]) for s in self.last)

    def _answers_heading(self, clause: Clause, one: Described) -> bool:
        """ "Eyes. Clear, both of them.": nothing but the name before, nothing but this word now."""
        both = [t for t in clause.terms if t.has("side", "both")]
        lone = clause.opens and len(clause.terms) - len(both) == 1
        opener = one.term.text in self.vocabulary.language.openers or one.term.has("word", "okay")
        asked = self.asked is not None and self.asked.sentence == clause.sentence - 1 and clause.closes
        asked = asked and self.asked is not None and self._plain_name(self.asked)  # "Bladder? Fine."
        return lone and (bool(both) or asked or not opener) and self.topic_alone == clause.sentence - 1

    def _over_a_bone(self, clause: Clause, name: Named) -> bool:
        """A bone or joint is spoken of in the sentence, and the skin said behind it, of no side."""
        limb = any(
            x.startswith(LIMB_STATIONS)
            for k in self.sentence_nouns
            for x in self.vocabulary.nouns[k].normal
            if k in self.vocabulary.walk.structure
        )
        return limb and not clause.opens and not clause.having("side") and name.term in clause.terms

    def _found_beside(self, clause: Clause) -> bool:
        return any(
            s.state == ABNORMAL and s.sentence == clause.sentence and not s.structure.startswith("SKN.")
            for s in self.statements
        )

    def _part_of_it(self, clause: Clause, name: Named) -> bool:
        at = clause.at(name.term, len(clause.terms))
        return any(t.has("control", "prep") for t in clause.terms[at + 1 : at + 2])

    def _in_row(self, clause: Clause, name: Named, one: Described) -> bool:
        """ "Left elbow that hurts left carpus fine": without stops, of the names right before it only."""
        if name.term not in clause.terms or one.term not in clause.terms:
            return True
        at, end = clause.at(name.term), clause.at(one.term)
        if end < at and any(t.has("word", "having") for t in clause.terms[at + 1 : at + 2]):
            return False  # "… smooth right cheek has an ulcer": of what was before it
        if end < at and "full" in one.keys:
            return False  # "hips no crepitus good range | front feet": so is the range
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
        ends = sorted((clause.at(name.term), clause.at(one.term)))
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
        at = clause.at(one.term)
        after = clause.terms[at + 1 : at + 2]
        return (
            bool(after)
            and after[0].kind == UNKNOWN
            and after[0].text.endswith(self.vocabulary.language.adverbs)
        )
