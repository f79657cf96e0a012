"""Statements from a line, a state and the words: which lines a name means, their sides and place."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from exams.grading import pressure_category
from exams.spoken.clause import Clause
from exams.spoken.codes import choose, grade_key, ungraded
from exams.spoken.counted import numbers_of
from exams.spoken.glands import gland_counted
from exams.spoken.lines import Lines
from exams.spoken.said import (
    GENERIC,
    LASTS,
    LIMB_STATIONS,
    Described,
    Named,
    Statement,
    applies,
    clause_span,
    span_of,
    towards,
    unsaid_sides,
)
from exams.spoken.shapes import ABNORMAL, NORMAL, NOT_EXAMINED
from exams.spoken.sides import LIMBS, Place, limbs_said, opposite, side_kind, sides_for
from exams.spoken.teeth import tooth_side
from exams.spoken.terms import FIGURE, Term

OWN_NAME = "its name and what was said of it stand together"
GROWN = 6  # months (common practice)
EVEN = {"equal", "match"}
LOW_PRESSURE = "VIT-17"
DIRECTION = "medial / lateral"  # the qualifier's name in the walk


class Making(Lines):
    """A step of `Listening`."""

    def _made(
        self,
        clause: Clause,
        structure: str,
        state: str,
        one: Described | None,
        terms: Sequence[Term],
        said: Sequence[str],
        place: Place,
        *,
        result: str = "",
        name: Named | None = None,
        plural: bool = False,
        key: str = "",
        own: bool = True,
    ) -> list[Statement]:
        line = self.vocabulary.walk.structure.get(structure)
        young = self.about.age_months is not None and self.about.age_months < GROWN
        if young and structure == "GUM.testes" and result == "GUM-18":
            return []  # small, as they are at that age
        if clause.having("control", "uncalled") and state != NOT_EXAMINED:
            return []  # "I wouldn't call that swollen": nor normal
        if state == NORMAL and (self.doubted or clause.having("control", "unreal")):
            return []  # "I wish the ears were clean", "far from clean"
        disliked = self.disliked[0] == clause.sentence and structure in self.disliked[1]
        if state == NORMAL and (disliked or self._of_any(clause) or self._wished(clause)):
            return []
        if state == NORMAL and structure == "GEN.gait" and name and name.side in ("left", "right"):
            return []  # "left leg solid": of one leg nobody says how it walks
        if state == NORMAL and clause.having("control", "none-of") and not (one and one.denied):
            return []  # "none of the teeth are clean"
        denied = self.denied_lines.get(structure) == clause.sentence
        if state == NORMAL and denied and self.correcting_sentence != clause.sentence:
            return []  # "hard, not soft, he was relaxed before"
        unread_in, unread_side = self.unread_lines.get(structure, (-1, ""))
        elsewhere = bool(unread_side) and list(said) == [opposite(unread_side)]
        unread = unread_in == clause.sentence != self.correcting_sentence and not elsewhere
        if state == NORMAL and unread and one and (name is None or set(one.keys) & set(GENERIC)):
            return []  # "a brown patch on the iris, pupil fine": nobody knows what the patch is
        if (
            state == NORMAL
            and line is not None
            and line.value
            and one is not None
            and structure != "BCM.score"
        ):
            return []  # a number decides, not a word
        if line is None or not applies(line.species, line.applies_when, self.about, state):
            return []
        severity = one.severity if one else ""
        grade = self.figures.grades.get(id(clause), "") if state == ABNORMAL else ""
        if (
            state == ABNORMAL
            and not grade
            and structure in self.vocabulary.graded
            and self.lone_grade[0] == clause.sentence
        ):
            grade = self.lone_grade[1]
        code = ""
        one_of: tuple[str, ...] = ()
        if state == ABNORMAL:
            one_of = self._ungraded(result, grade, severity, clause)
            code = (
                one_of[0]
                if len(one_of) == 1
                else choose(
                    result,
                    grade,
                    severity,
                    self.about,
                    self.vocabulary.walk,
                    place.keys,
                    self.vocabulary.placed,
                )
            )
            if structure == "VIT.blood-pressure" and code != LOW_PRESSURE:
                code = self._by_pressure(clause) or code
            if not code:
                return []
        kind = side_kind(line)
        sides, sided = self._sides(
            kind,
            structure,
            clause,
            name,
            said,
            place,
            plural and not (name and name is self.region[0] and not own),
            one,
        )
        if structure.partition(".")[0] == self.limb_gone[0] and kind == "pair" and state != NOT_EXAMINED:
            sides = [s for s in sides if s != self.limb_gone[1]] or [opposite(self.limb_gone[1])]
        one_side = structure in ("MTH.teeth", "MTH.gums") and len(set(said) & {"left", "right"}) == 1
        if kind == "free" and state == NORMAL and not (name and name.side) and not one_side:
            sides = ["none"]  # "no fleas": nowhere
        if not sides and state != ABNORMAL:
            return []
        size = tuple(self.figures.sizes.get(id(clause), ())) if state == ABNORMAL else ()
        span = clause_span(clause)
        spans = (
            (span,)
            if not name or name.term is None or name.term in clause.terms
            else (span_of(name.term), span)
        )
        sure = 0.9 if own and name else 0.85 if own else 0.7
        reason = (
            OWN_NAME
            if own and name
            else "these words say it by themselves, without its name"
            if not name
            else "said of what was named before"
        )
        sure *= min((t.sure for t in terms), default=1.0)
        return [
            Statement(
                structure,
                side,
                state,
                (code,) if code else (),
                severity if code else "",
                grade_key((code,), grade, self.vocabulary.walk) if code else "",
                size,
                self._site(clause, structure, name, side),
                self._direction(clause, (code,) if code else ()),
                spans,
                round(sure, 2),
                reason,
                self.count,
                clause.sentence,
                sided,
                key,
                bool(clause.having("control", "rest")),
                not sides,
                one_of=one_of if len(one_of) > 1 else (),
            )
            for side in sides or unsaid_sides(kind, said)
        ]

    def _ungraded(self, result: str, grade: str, severity: str, clause: Clause) -> tuple[str, ...]:
        """The codes among which a grade would tell, where none was said; one, where a word stands for it."""
        found = ungraded(result, grade, severity, self.about, self.vocabulary.walk)
        said = {severity, *(k for t in clause.terms for k in t.keys("trait"))}
        worded = tuple(c for c in found if said & self.vocabulary.worded.get(c, frozenset()))
        return worded[-1:] or found

    def _by_pressure(self, clause: Clause) -> str:
        """ "Doppler one sixty-six, high": how high the number says."""
        said = [m for m, _ in self.figures.measurements if m.structure == "VIT.blood-pressure"]
        before = [m for m in said if m.spans and m.spans[0].start <= clause.end]
        value = before[-1].value if before else ""
        return pressure_category(float(value))[2] if value.replace(".", "", 1).isdigit() else ""

    def _direction(self, clause: Clause, codes: Sequence[str]) -> str:
        """ "pops out medially", "a three, medial": for findings that have this qualifier."""
        if not any(DIRECTION in self.vocabulary.walk.finding[c].qualifiers for c in codes):
            return ""
        said = f" {' '.join(w for t in clause.terms for w in t.words)} "
        found = [
            key
            for key, forms in self.vocabulary.language.forms.get("direction", {}).items()
            if any(f" {form} " in said for form in forms)
        ]
        return "both" if len(found) > 1 else found[0] if found else ""

    def _site(self, clause: Clause, structure: str, name: Named | None, side: str) -> str:
        if name and name.site:
            return name.site
        numbers = [
            t.number.digits
            for t in numbers_of(self.figures, clause)
            if t.number and not t.number.decimals and not self._counts(t, clause)
        ]
        if structure == "MTH.teeth" and self.tooth[0] == clause.sentence and len(self.tooth[1]) == 1:
            return self.tooth[1][0]  # "108, calculus three, gingivitis two, furcation two"
        if structure == "GUM.mammary" and numbers and numbers[0] in "12345" and side in ("left", "right"):
            return f"{side[0].upper()}{numbers[0]}"
        if structure == "GUM.mammary" and self.gland[0] == clause.sentence:
            return self.gland[1]
        if structure == "GUM.mammary":
            return gland_counted(clause, side, self.about.species, self.vocabulary.language)
        if structure in ("FLB.digits", "FLB.nails", "FLB.pads", "HLB.paw"):
            if name and name.noun.digit:
                return name.noun.digit
            counted = clause.having("place", "limb digit") or len(numbers) > 1
            few = [n for n in numbers if n in "2345" or (n == "1" and counted)]  # "nails, one torn"
            if few:
                return ("digit " if len(few) == 1 else "digits ") + " and ".join(few)
        if structure == "HRT.murmur":
            return next(
                (
                    k
                    for t in clause.terms
                    for k in t.keys("place")
                    if k.split()[0] in ("apex", "base", "sternum")
                ),
                "",
            )
        return ""

    def _sides(
        self,
        kind: str,
        structure: str,
        clause: Clause,
        name: Named | None,
        said: Sequence[str],
        place: Place,
        plural: bool,
        one: Described | None,
    ) -> tuple[list[str], bool]:
        """Sides of a statement, and whether they were said rather than taken to be both."""
        station = structure.partition(".")[0]
        if structure.startswith("ABD.kidney"):
            return [structure.rpartition("-")[2]], True
        if structure == "HRT.murmur":
            where = next(
                (k for t in clause.terms for k in t.keys("place") if k.startswith(("apex", "base"))), ""
            )
            if not where and self.lone_place[0] == clause.sentence and not said:
                where = self.lone_place[1] if " " in self.lone_place[1] else ""
            within = [side for t in clause.having("place", "sternum") for side in t.within]
            said = [*within, *said]  # "left parasternal"
            side = where.split()[1] if where else said[0] if said and said[0] in ("left", "right") else "none"
            return [side], True
        if kind == "none":
            return ["none"], True
        if kind == "pair" and one is not None and not one.denied and not said and set(one.keys) & EVEN:
            return ["left", "right"], True  # "they're equal": of one alone nobody says so
        own = [name.side] if name and name.side else []
        if name and name.key == "long-bones" and own == ["both"] and self.limb_sentence == clause.sentence:
            own = list(self.limb.sides) or own  # the two bones of one limb
        if (
            structure in ("MTH.gums", "MTH.teeth")
            and not own
            and not said
            and (
                self.tooth[0] == clause.sentence
                or (self.tooth[0] == clause.sentence - 1 and self._that_one(clause))
            )
        ):
            own = list(dict.fromkeys(tooth_side(tooth) for tooth in self.tooth[1]))
        if (
            structure == "MTH.teeth"
            and place.limb == "all"
            and not (name and name.site and clause.having("noun"))
        ):
            return ["none"], True  # "tartar all round"
        if structure == "SKN.skin" and not own and not said and name is None and one and not one.denied:
            own = self._place_before(clause)
        lone = self._side_alone(clause)
        if structure == "MTH.teeth" and lone and not own and not said and name is None:
            own = [lone]  # "upper left, heavy tartar there"
        if structure == "NEU.eye-position" and not own and towards(clause):
            return ["left", "right"], True
        sides = own or self._near_side(clause, one, said) or self._of_eye(structure, clause, name)
        seen = clause.having("control", "part") and any(t.has("control", "part") for t in clause.terms[1:])
        if not sides and seen and not plural and self.last_side_sentence == clause.sentence:
            sides = [self.last_side]  # "I only see a slit of the left, cornea's okay in that slit"
        if name is not None and not sides:
            self._limb_over(structure, clause)
        if kind == "four":
            limbs = limbs_said(place, sides)
            skipped = one is None and name is not None
            if not limbs and skipped and self.limb_sentence != clause.sentence and sides in ([], ["both"]):
                return list(LIMBS), True
            every = (
                any(w in self.vocabulary.language.every for t in clause.terms for w in t.words)
                and self.limb_sentence != clause.sentence
            )
            if not limbs and plural and every and not sides:
                return list(LIMBS), True
            if not limbs and self.limb.limb:
                limbs = limbs_said(self.limb, sides or list(self.limb.sides))
            if not limbs and plural and not place.limb:
                limbs = list(LIMBS) if not sides else []
            return limbs, True
        paws = name is not None and name.noun.fore is not None and station in LIMB_STATIONS
        if (
            not sides
            and station in LIMB_STATIONS
            and (not plural or paws)
            and self.limb.sides
            and self.limb.station == station
        ):
            sides = list(self.limb.sides)
        parts = name is not None and plural and self._parts_of_one(name)  # "lids": of the eye spoken of
        if not sides and lone and name is not None and structure == "LUN.chest-wall":
            sides = [lone]  # "Chest wall on the left, two ribs broken"
        if not sides and station == "LUN" and self.side_over[0] == clause.sentence and name is not None:
            sides = [self.side_over[1]]  # "On the right, front clear, the back I can't make out"
        if not sides and (not plural or name is None or parts):
            if station in LIMB_STATIONS and self.limb.station == station and self.limb.sides:
                sides = list(self.limb.sides)
            elif (
                kind == "pair"
                and (name is None or (name.term is not None and name.term.has("trait")))  # "… and it blinks"
                and self.lone_side[0] == clause.sentence
                and self.lone_side[1]
            ):
                sides = [self.lone_side[1]]
            elif kind == "pair" and self.side_over[0] == clause.sentence:
                sides = [self.side_over[1]]
            elif (
                kind == "pair"
                and not (name and name.noun.one)
                and (held := self._held(station, clause, name is not None))
            ):
                return [held], False  # a side that follows sets it
        if not sides and kind == "pair" and name is None and not plural:
            told = {
                s.side for s in self.statements if (s.structure, s.sentence) == (structure, clause.sentence)
            }
            if told and told <= {"left", "right"}:
                sides = list(told)  # "right canal swollen, and there's a grass seed"
        under = not self.heading_station or self._under_it({station})
        if not sides and kind == "pair" and self.heading and under:
            sides = [self.heading]
        if (
            not sides
            and station in LIMB_STATIONS
            and self.limb_last.station == station
            and self._that(name, clause)
        ):
            sides = list(self.limb_last.sides)
        if not sides and station in LIMB_STATIONS and self._that_limb(clause):
            if self.limb.station != station or not self.limb.sides:
                return [], True
            sides = list(self.limb.sides)
        over = self.limb.station == station and not self.limb.sides and self.limb_fleeting < 0
        if not sides and station in LIMB_STATIONS and over and name is not None and kind == "pair":
            return ["left", "right"], True  # "Front legs: shoulders fine, carpus fine"
        if not sides and paws and place.limb == "all":
            return ["left", "right"], True  # "between the toes on all four"
        several = plural or station not in LIMB_STATIONS
        if one is not None and not plural and structure in self.vocabulary.single:
            several = self._region_plural(clause)
        if kind == "pair" and not sides and name is not None and self._one_of_them(name, clause):
            return [], True
        found = sides_for(kind, sides, place, several)
        return found, bool(sides) or kind == "free" or (paws and place.limb == "all")

    def _place_before(self, clause: Clause) -> list[str]:
        """ "Right shoulder, there's a laceration", "inside of both back legs, red": where, said first."""
        if self.pending_sentence != clause.sentence or clause.opens or len(self.pending) != 1:
            return []
        side = self.pending[0].side or self._side_alone(clause)
        return [side] if side in ("left", "right", "both") else []

    def _of_eye(self, structure: str, clause: Clause, name: Named | None) -> list[str]:
        """ "Left pupil's tiny, third eyelid up, so Horner's": of the eye that it was seen on."""
        last = self.last[-1] if self.last and structure == "NEU.pupils" and name is None else None
        here = last is not None and last.sentence == clause.sentence and last.side != "none"
        return [last.side] if here and last is not None and last.structure.startswith("EYE.") else []

    def _one_of_them(self, name: Named, clause: Clause) -> bool:
        """ "Only one testicle down": one, and nobody said which."""
        at = clause.at(name.term)
        before = clause.terms[at - 1] if at else None
        return bool(before and before.kind == FIGURE and before.number and before.number.whole() == 1)

    def _that_one(self, clause: Clause) -> bool:
        """ "Three oh nine, resorption. Gum round that one red": of the tooth that was said."""
        return any(t.has("word", "that") or t.text in self.vocabulary.language.that_one for t in clause.terms)

    def _that(self, name: Named | None, clause: Clause) -> bool:
        """ "Lame on the right hind. … Lost muscle on that thigh": of the limb that was spoken of."""
        if name is None or name.term not in clause.terms:
            return False
        at = clause.at(name.term)
        return at > 0 and clause.terms[at - 1].has("word", "that")

    def _that_limb(self, clause: Clause) -> bool:
        """ "The pads on that foot are worn but whole": of one, and which was not heard."""
        for foot, on, it in zip(clause.terms, clause.terms[1:], clause.terms[2:], strict=False):
            part = set(foot.keys("noun")) & {"pad", "nail", "toe", "web", "dewclaw"}
            if part and on.has("control", "prep") and it.text == "it":
                self.that_limb = clause.sentence  # "pads on it sound": on the limb that was spoken of
        for before, term in pairwise(clause.terms):
            one = term.keys("noun") and all(s.kind != "noun" or not s.plural for s in term.senses)
            if one and before.has("word", "that") and set(term.keys("noun")) & {"paw", "legs"}:
                self.that_limb = clause.sentence
        return self.that_limb == clause.sentence

    def _region_plural(self, clause: Clause) -> bool:
        """ "Eyes: cornea clear": both are looked at."""
        region, sentence = self.region
        return region is not None and region.plural and sentence == clause.sentence

    def _held(self, station: str, clause: Clause, named: bool) -> str:
        """The side said last at a station; what says itself takes it in its own sentence only."""
        side, sentence = self.station_side.get(station, ("", -1))
        if not side or sentence < clause.sentence - (LASTS if named else 0):
            return ""
        self.station_side[station] = (side, max(sentence, clause.sentence - 1))
        return side

    def _near_side(self, clause: Clause, one: Described | None, said: Sequence[str]) -> list[str]:
        """The side that stands nearest before a trait, when a clause says both apart."""
        if one is None or len(set(said)) < 2 or "both" in said:
            return list(said)
        at = clause.at(one.term)
        if any(t.has("control", "and") for t in clause.terms) and set(said) == {"left", "right"}:
            first = [t for t in clause.terms if t.has("side", "left", "right")]
            if len(first) >= 2 and clause.terms.index(first[1]) - clause.terms.index(first[0]) <= 3:
                return ["left", "right"]
        if clause.unstopped:  # "good on the left muffled on the right"
            behind = next((t for t in clause.terms[at + 1 : at + 3] if t.has("side")), None)
            if behind is not None and behind.led:
                return [self._resolved(behind.keys("side")[0], clause)]
        for term in reversed(clause.terms[:at]):
            keys = term.keys("side")
            if keys:
                return [self._resolved(keys[0], clause)]
        return list(said)
