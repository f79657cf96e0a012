"""Words of description that are no finding: of a number, what is looked for, what was done; where to."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from exams.spoken.clause import Clause, likeness
from exams.spoken.neck import Neck
from exams.spoken.said import LIMB_STATIONS, RUNNY
from exams.spoken.sides import NECK
from exams.spoken.terms import FIGURE, UNKNOWN, Term


class NoFinding(Neck):
    """A step of `Listening`."""

    def _of_number(self, clause: Clause, at: int) -> bool:
        """ "Eighty-three pounds even": as many and no more."""
        before = clause.terms[at - 1] if at else None
        counted = before is not None and (before.kind == FIGURE or before.has("number-unit", "kg", "lb", "g"))
        return counted and clause.terms[at].has("number", "flat")

    def _weighed_on(self, clause: Clause, at: int) -> bool:
        """ "On the proper scale", "four on a scale of nine": nothing of the skin."""
        before = clause.terms[max(0, at - 3) : at]
        on = any(t.words[:1] == (w,) for t in before for w in self.vocabulary.language.upon)
        return clause.terms[at].text in self.vocabulary.language.scales and (
            on or "VIT.weight" in self.sentence_nouns
        )

    def _runs_down_to(self, clause: Clause, at: int) -> bool:
        """ "There's pus down to the elbow": how far it runs, and no word of the elbow."""
        before = [t for t in clause.terms[:at] if not t.has("word", "article") and not t.has("side")]
        to = len(before) > 2 and before[-1].has("word", "towards") and before[-2].has("trait", "down")
        found = {k for t in before[:-2] for k in (*t.keys("trait"), *t.keys("finding"))}
        limb = any(x.startswith(LIMB_STATIONS) for k in clause.terms[at].keys("noun") for x in self._lines(k))
        return to and limb and bool(found - self.vocabulary.calm)

    def _lines(self, noun: str) -> tuple[str, ...]:
        return tuple(self.vocabulary.nouns[noun].normal)

    def _toe_moves(self, clause: Clause, at: int) -> bool:
        """ "Fourth toe wobbles": how a toe moves, and not how the animal walks."""
        digits = any(t.has("noun", "toe", "dewclaw", "nail") for t in clause.terms[:at])
        return digits and clause.terms[at].has("trait", "wobbly")

    def _speaker_did(self, clause: Clause, at: int) -> bool:
        """ "I whistled", "I scratched her back": what the speaker did is not found in the animal."""
        before = clause.terms[at - 1] if at else None
        me = before is not None and before.words[-1] in self.vocabulary.language.speakers
        return me and clause.terms[at].has("trait", "wheeze", "scratch", "cough", "licked")

    def _sought(self, clause: Clause, at: int) -> bool:
        keys = (*clause.terms[at].keys("trait"), *clause.terms[at].keys("finding"))
        led = at > 0 and clause.terms[at - 1].has("word", "purpose")
        return led and any(k in self.vocabulary.tests and k in self.vocabulary.denied for k in keys)

    def _looked_for(self, clause: Clause, at: int) -> bool:
        before = clause.terms[max(0, at - 2) : at]
        while before and not before[0].has("word", "purpose"):
            before = before[1:]
        looking = any(t.text in self.vocabulary.language.looking for t in clause.terms[:at])
        return bool(before) and looking and all(t.has("word", "article") for t in before[1:])

    def _unread(self, clause: Clause) -> bool:
        """Something is said of what is named, and it came to nothing."""
        neck = any(n.key == "neck" for n in self.topic)  # "goes up and down": where it is moved
        said = any(
            (t.kind == UNKNOWN and not likeness(clause.terms, at))
            or t.has("finding")
            or (
                t.has("trait")
                and not any(k in self.vocabulary.calm for k in t.keys("trait"))
                and not (neck and t.has("place", *NECK))
            )
            for at, t in enumerate(clause.terms)
        )
        return said and not clause.colon and not clause.having("control", "part") and not self._acts(clause)

    def _acts(self, clause: Clause) -> bool:
        """ "I parted it in six places": what the speaker did, and nothing that was found."""
        words = self.vocabulary.language
        for at, term in enumerate(clause.terms):
            if term.text in words.speakers:
                if any(t.kind == UNKNOWN for t in clause.terms[: max(0, at - 1)]):
                    return False  # "it clicks when I abduct it"
                after = [t for t in clause.terms[at + 1 :] if t.text not in words.speakers]
                while after and after[0].has("control", "filler") and after[0].text not in words.sensing:
                    after = after[1:]
                return bool(after) and after[0].kind == UNKNOWN and after[0].text not in words.sensing
        return False

    def _only_end_of(self, clause: Clause, at: int) -> bool:
        after = clause.terms[at + 1 : at + 3]
        return (
            len(after) == 2
            and after[0].text in self.vocabulary.language.ends
            and after[1].has("control", "prep")
        )

    def _beyond(self, clause: Clause, at: int) -> bool:
        """ "Below the elbow it bends": not the elbow, if anything is said behind it."""
        before = [t for t in clause.terms[:at] if not (t.has("word", "article") or t.has("side"))]
        joint = any(
            line.partition(".")[0] in LIMB_STATIONS
            for k in clause.terms[at].keys("noun")
            for line in self.vocabulary.nouns[k].normal
        )
        led = bool(before) and before[-1].text in self.vocabulary.language.beyond
        return led and joint and any(t.has("trait") for t in clause.terms[at:])

    def _only_name(self, clause: Clause, at: int) -> bool:
        """ "Whites a bit yellow": what they are called, and how they are comes behind it."""
        term, rest = clause.terms[at], clause.terms[at + 1 :]
        name = len(term.words) == 1 and any(s.kind == "noun" and s.plural for s in term.senses)
        return name and any(t.has("trait") and not t.has("noun") for t in rest)

    def _does_it(self, clause: Clause, at: int) -> bool:
        """ "He doesn't turn when I whistle": what the speaker does."""
        words = self.vocabulary.language
        before = clause.terms[at - 1] if at else None
        mine = before is not None and before.text in words.speakers and before.has("word", "subject")
        mine = mine and at > 1 and clause.terms[at - 2].kind == UNKNOWN
        return mine and clause.terms[at].text not in words.sensing and not clause.terms[at].has("control")

    def _of_a_thing(self, clause: Clause, at: int) -> bool:
        """ "He's lain in a cold car": what is cold is no part of him."""
        before, after = clause.terms[max(0, at - 2) : at], clause.terms[at + 1 : at + 2]
        led = len(before) == 2 and before[0].has("control", "prep") and before[1].has("word", "article")
        warm = set(clause.terms[at].keys("trait")) <= {"cold", "hot", "cool", "low", "high"}
        return led and warm and bool(after) and after[0].kind == UNKNOWN

    def _tooth_is_where(self, clause: Clause, pending: Sequence[str]) -> bool:
        """ "Lower jaw, right side, swollen below four oh nine": of the jaw, there."""
        words = self.vocabulary.language
        below = any(
            t.kind == FIGURE and any(w in (*words.beneath, *words.upon) for w in before.words)
            for before, t in pairwise(clause.terms)
        )
        return below and bool(pending) and set(pending) == {"MTH.jaw"}

    def _as_far_as(self, clause: Clause, at: int) -> bool:
        """ "He'll bring it all the way to the shoulder": how far it is moved."""
        before = [t for t in clause.terms[:at] if not t.has("word", "article")]
        to = bool(before) and before[-1].has("word", "towards") and before[-1].has("control", "prep")
        moved = any(t.has("word", "them") for t in before) and any(t.kind == UNKNOWN for t in before)
        return to and moved and not any(t.has("trait") or t.has("noun") for t in clause.terms[at + 1 :])

    def _deep_down(self, clause: Clause, at: int) -> bool:
        """ "I could see to the bottom", "the bottom jaw": no part of the animal."""
        before = [t for t in clause.terms[:at] if not t.has("word", "article")]
        to = bool(before) and before[-1].has("word", "towards")
        after = clause.terms[at + 1 : at + 2]
        return to or (bool(after) and after[0].has("noun") and not after[0].has("trait"))

    def _pulled_back(self, clause: Clause, at: int) -> bool:
        """ "She yanked her leg back": where to."""
        before = clause.terms[:at]
        it = bool(before) and before[-1].text in self.vocabulary.language.it  # "I can't pop it back even …"
        return (
            (it or (at == len(clause.terms) - 1 and len(before) > 1))
            and (before[-1].has("noun") or before[-1].has("word", "them"))
            and (it or any(t.kind == UNKNOWN for t in before))
            and not any(t.has("trait") for t in before)
        )

    def _leads_down(self, clause: Clause, at: int) -> bool:
        """ "Down his thighs": where to."""
        after = clause.terms[at + 1 : at + 3]
        while after and after[0].text in self.vocabulary.language.possessive:
            after = after[1:]
        led = len(after) < 2 and len(clause.terms) > at + 2
        term = clause.terms[at]
        return (
            led and bool(after) and after[0].has("noun") and term.has("control", "prep") and term.has("trait")
        )

    def _runs_clear(self, clause: Clause, at: int) -> bool:
        """ "The right eye weeps clear": what comes out of it is."""
        before = clause.terms[at - 1 : at]
        return bool(before) and clause.terms[at].has("trait", "clear") and before[0].has("trait", *RUNNY)

    def _ends_verb(self, clause: Clause, at: int) -> bool:
        """ "It's ballooning up at me", "swells up": a word of the verb before it."""
        before, term = clause.terms[at - 1 : at], clause.terms[at]
        verb = (
            bool(before)
            and before[0].has("trait")
            and before[0].text.endswith(self.vocabulary.language.acting)
        )
        return verb and term.has("place") and term.has("word", "onward") and not before[0].has("noun")

    def _of_any(self, clause: Clause) -> bool:
        """ "The normal bladder is small and soft": of any animal."""
        told = [t for t in clause.terms if not t.has("control", "filler") or t.has("trait")]
        told = [t for t in told if not t.has("word", "article") or t.has("trait")]
        led = len(told) > 1 and told[0].text in self.vocabulary.language.normal and told[1].has("noun")
        any_one = bool(clause.having("word", "saying"))
        if led and clause.terms[0].has("word", "indefinite") and any(t.has("trait") for t in told[2:]):
            any_one = True  # "a healthy coat shines"
        return led and any_one

    def _wished(self, clause: Clause) -> bool:
        """ "A soft belly would please me", "the belly was soft before she saw the needle"."""
        words = self.vocabulary.language
        would = any(self._may_hide(clause, at) for at in range(len(clause.terms)))
        was = any(w in words.was for t in clause.terms for w in t.words[:1])
        until = any(
            a.has("word", "until") and b.has("word", "subject") for a, b in pairwise(clause.terms)
        )  # "fine till I press harder"
        return would or until or (was and bool(clause.having("word", "earlier", "contrary")))

    def _may_hide(self, clause: Clause, at: int) -> bool:
        """ "A soft murmur could hide in this": nobody says that it is there."""
        after = clause.terms[at + 1 : at + 3]
        modal = len(after) == 2 and after[0].text in self.vocabulary.language.modal
        return modal and (after[1].kind == UNKNOWN or after[1].has("talk"))

    def _up_by(self, clause: Clause, at: int) -> bool:
        """ "I flick it up by the ribs": where to."""
        after = clause.terms[at + 1 : at + 2]
        return clause.terms[at].has("word", "onward") and bool(after) and after[0].has("number-unit", "by")

    def _zero_of(self, clause: Clause, at: int) -> bool:
        """ "Zero fleas": there are none."""
        after = clause.terms[at + 1 : at + 2]
        found = [k for t in after for k in (*t.keys("trait"), *t.keys("finding"))]
        return clause.terms[at].has("number", "zero") and any(k not in self.vocabulary.calm for k in found)

    def _counts(self, number: Term, clause: Clause) -> bool:
        """ "Two little nodules": how many, not which."""
        after = clause.terms[clause.terms.index(number) + 1 :]
        if after and (after[0].has("word", "having") or after[0].has("word", "saying")):
            return False  # "left five has a nodule"
        after = [t for t in after if not t.has("severity") and not t.has("control", "filler")][:1]
        return bool(after) and any(k in self.vocabulary.things for k in after[0].keys("trait"))
