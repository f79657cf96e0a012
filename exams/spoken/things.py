"""A thing that nobody knows, and only where it is: what is said next is of the thing."""

from __future__ import annotations

from collections.abc import Sequence

from exams.spoken.clause import Clause
from exams.spoken.of_what import OfWhat
from exams.spoken.said import LASTS, Described, Named
from exams.spoken.terms import UNKNOWN, Term


class Things(OfWhat):
    """A step of `Listening`."""

    pointed = -9  # the sentence in which somebody else spoke of a place of the body
    unread_is = False  # what nobody read is what the topic is: "the liver is lardy"

    def _place_pointed(self, clause: Clause) -> None:
        """ "Dan says he was licking that wrist": what is said of the skin next is of there."""
        if any(k in self.vocabulary.surface for t in clause.terms for k in t.keys("noun")):
            self.pointed = clause.sentence

    def _skin_of_place(self, clause: Clause) -> bool:
        there = bool(clause.having("word", "there"))
        return there or 0 < clause.sentence - self.pointed <= LASTS

    def _thing_noted(self, clause: Clause, named: Sequence[Named]) -> None:
        """ "The pink dome between the lips", "off the tail of the spleen there's a ball": names that are only
        places of it, in this sentence."""
        words = self.vocabulary.language
        if any(t.text in words.tools for t in clause.terms):
            return  # "my finger on the spine"
        things = [
            at
            for at, t in enumerate(clause.terms)
            if t.kind == UNKNOWN and at and self._with_article(clause, at)
        ]
        here = set()
        for name in (*named, *self.where):
            if name.term is None or name.term not in clause.terms or not things:
                continue
            at = clause.at(name.term)
            led = any(
                t.has("control", "prep") or t.has("word", "turning") or t.has("number", "about")
                for t in clause.terms[max(0, at - 3) : at]
            )
            if led and not any(t.has("trait") for t in clause.terms[at + 1 :]):
                here.add(name.key)
        last, before = self.place_only
        if things and not clause.having("noun") and last == self.count - 1:
            here = set(before)  # "off the tail of the spleen | there's a ball"
        if here:
            self.thing_at = (clause.sentence, frozenset(here))
        led = bool(named) and (
            clause.terms[0].has("control", "prep") or clause.terms[0].has("word", "turning")
        )
        if led and not any(t.has("trait") or t.has("finding") or t.has("says") for t in clause.terms):
            self.place_only = (self.count, frozenset(n.key for n in named))

    def _with_article(self, clause: Clause, at: int) -> bool:
        """Also with one word of description between: "the pink dome"; not what somebody did: "I ran a …"."""
        begin = at - 1
        if clause.terms[begin].has("trait") and not clause.terms[begin].has("noun") and begin:
            begin -= 1
        verb = clause.terms[max(0, begin - 2) : begin]
        led = bool(verb) and verb[-1].kind == UNKNOWN
        did = led and (len(verb) == 1 or verb[0].text in self.vocabulary.language.speakers)
        articles = self.vocabulary.language.forms["word"].get("article", ())
        some = clause.terms[begin].has("word", "something")
        return (clause.terms[begin].words[-1] in articles or some) and not did

    def _of_thing(self, clause: Clause, name: Named, one: Described) -> bool:
        sentence, places = self.thing_at
        return sentence == clause.sentence and name.key in places and not one.denied

    def _found_is(self, clause: Clause, name: Named, one: Described) -> bool:
        """ "The scab on the nose is dry": so is the scab, and nothing of the nose."""
        if name.term not in clause.terms or one.term not in clause.terms:
            return False
        at, end = clause.at(name.term), clause.at(one.term)
        found = next((i for i, t in enumerate(clause.terms[:at]) if self._bad(t)), -1)
        if found < 0 or end < at or not any(t.has("word", "saying") for t in clause.terms[at:end]):
            return False
        between = clause.terms[found + 1 : at]
        prep = any(t.has("control", "prep") or t.led for t in between) or len(name.term.words) > 2
        plain = not any(t.has("word", "saying", "having") or t.has("noun") for t in between)
        return prep and plain and not any(t.has("control", "no", "and", "or") for t in clause.terms[:at])

    def _bad(self, term: Term) -> bool:
        keys = (*term.keys("trait"), *term.keys("finding"))
        return bool(keys) and not any(k in self.vocabulary.calm for k in keys)
