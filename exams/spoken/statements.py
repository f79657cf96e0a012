"""What a clause says of the lines of the walk: the rules of the trade, clause by clause.

Kept from clause to clause: what is spoken of (the topic), which side of it, which limb. A side that was said
holds until another is said or several are named; holding on to one side can only make fewer lines normal.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from exams.spoken.as_before import AsBefore
from exams.spoken.clause import PREDICATE, Clause
from exams.spoken.kept import REACH
from exams.spoken.said import GENERIC, LASTS, Statement, stations_of
from exams.spoken.shapes import ABNORMAL
from exams.spoken.sides import Place
from exams.spoken.terms import UNKNOWN

LOOKING = ("staff", "later")  # said before a look: what it names is spoken of from here on


def _knows(clause: Clause) -> bool:
    """Something in it is known: a name, a side, a word of description."""
    kinds = ("noun", "side", "limb", *PREDICATE)
    return any(t.has(kind) for t in clause.terms for kind in kinds) or bool(clause.having("control", "skip"))


class Listening(AsBefore):
    """Takes clauses in their order; `statements` is what they came to.

    Each step is a module of its own, the later built on the earlier, from `kept` to `as_before`: the class
    that it extends names the step before it.
    """

    def lone_no_opens(self, clause: Clause) -> bool:
        words = [t for t in clause.terms if not t.has("control", "filler")]
        no = len(words) == 1 and words[0].text in self.vocabulary.language.bare_no
        return no and clause.opens and not clause.closes

    def _still_asked(self, clause: Clause) -> bool:
        """A question of what is spoken of, and nothing found since."""
        near = self.asked is not None and clause.sentence - self.asked.sentence <= REACH
        since = self.asked is not None and any(s.sentence > self.asked.sentence for s in self.statements)
        return near and not since and bool(self.topic)

    def _turned_out(self, clause: Clause) -> bool:
        """ "Third eyelid up? No, he was just pressing his face on me": what it did, no more."""
        said = " ".join(t.text for t in clause.terms)
        answers = self.asked is not None and self._still_asked(clause) and not clause.opens
        return answers and any(said.startswith(f"{words} ") for words in self.vocabulary.language.turned)

    def _how_it_walks(self, clause: Clause) -> bool:
        """ "Gait: she leans and falls": of a gait, whatever nobody knows may be what is wrong with it."""
        gait = any(n.key == "gait" for n in self.topic)
        return (
            gait and self.topic_sentence == clause.sentence and any(t.kind == UNKNOWN for t in clause.terms)
        )

    def _heads_question(self, clause: Clause) -> bool:
        first = clause.terms[0]
        return (first.has("side") or first.has("limb")) and not any(t.has("noun") for t in clause.terms)

    def _of_topic(self, made: Sequence[Statement]) -> bool:
        stations = stations_of(self.topic)
        return {s.structure.partition(".")[0] for s in made} <= stations

    def _denies_owner(self, clause: Clause) -> bool:
        """ "You find her coat dull, I don't, it's gleaming": of what the owner spoke of."""
        told = clause.terms
        return (
            len(told) == 2 and told[0].text in self.vocabulary.language.own and told[1].has("control", "no")
        )

    def _with_its_thrill(self, made: Sequence[Statement], clause: Clause) -> list[Statement]:
        """ "Left apex five, with a thrill there; on the right, three": the thrill is where the murmur is, and
        what comes is of the murmur still."""
        here = [s for s in self.last if s.structure == "HRT.murmur" and s.sentence == clause.sentence]
        if not here or any(s.structure != "HRT.impulse" or s.state != ABNORMAL for s in made):
            return []
        if here[-1].side in ("left", "right") and not clause.having("side"):
            gone = [s for s in made if s.side != here[-1].side]
            self.statements = [s for s in self.statements if s not in gone]
            for s in made:
                s.sided, s.unsaid = True, False
        for s in made:
            if s.grade and not here[-1].grade:
                self._grade(here[-1], s.grade)
            s.grade = ""
        return list(here)

    def take(self, clause: Clause) -> None:
        self.count += 1
        if clause.sentence != self.now:
            self.begun = self.count
        self.now = clause.sentence
        if clause.drop in ("", "past", "owner"):
            self._lost_limb(clause, Place.of(clause.terms))
        if clause.asked:
            sides = {k for t in clause.terms for k in t.keys("side") if k in ("left", "right")}
            so_far = self.asked_of[1] if self.asked_of[0] == clause.sentence else ""
            self.asked_of = (clause.sentence, next(iter(sides)) if len(sides) == 1 else so_far)
        if clause.drop:
            if clause.asked and clause.opens and len(about := self._named(clause)) == 1:
                self.queried = (clause.sentence, about)
                self.asked = clause if clause.closes and clause.terms[0].has("talk", "ask") else self.asked
            if clause.drop == "says":
                self._remarked(clause)
            if clause.drop in ("says", "owner"):
                self._place_pointed(clause)
            if clause.drop in ("says", "owner") and clause.opens and len(about := self._named(clause)) == 1:
                self.queried, self.told_by = (clause.sentence, about), (clause.sentence, clause.drop)
            if clause.drop == "past" and clause.opens and len(about := self._named(clause)) == 1:
                self.topic, self.topic_sentence, self.once = about, clause.sentence, clause.sentence
            if clause.drop == "owner" and len(about := self._named(clause)) == 1:
                self.told_of = (clause.sentence, about)
            if clause.drop == "talk" and clause.having("talk", *LOOKING):
                looks = clause.terms[0].text in self.vocabulary.language.looks and len(clause.terms) == 1
                if not looks or self.topic_named != clause.sentence:
                    self.told_staff = clause.sentence  # but "bladder, let me see, fine"
                named = self._named(clause)
                if len(named) == 1:
                    self.topic_alone = clause.sentence
                if clause.opens or not any(self._led_off(n, clause) for n in named):
                    self._topics(named, clause)  # "let me look at the ears. Left one's clean"
            return
        if clause.opens and clause.closes and clause.terms[0].has("word", "them") and not _knows(clause):
            self.likened = clause.sentence
        if clause.heads_skips:
            self.skips = clause.sentence
            return
        if clause.sentence > self.lung_sentence + LASTS:
            self.lung_places = ()
        if 0 <= self.limb_fleeting < clause.sentence:
            self.limb, self.limb_fleeting = Place(), -1
        self._correction(clause)
        self._vertebrae(clause)
        if self.told_of[0] == clause.sentence and self._denies_owner(clause):
            self._topics(self.told_of[1], clause)
        self._bad_side(clause)
        place = Place.of(clause.terms)
        named = [] if self._turned_out(clause) else self._turned_to(clause) or self._named(clause)
        named = self._gums_of_mouth(clause, named)
        place = self._of_lungs(place, named, clause)
        place = self._unscoped(place, clause)
        self._leave_out(clause, named, place)
        self._hangs(clause)
        self._that_limb(clause)
        self._neck_moved(clause, named, place)
        if place.has("to tail") and any(n.noun.to_tail for n in (*named, *self.topic)):
            self.to_tail = clause.sentence  # "Spine, I ran a thumb down it to the tail, no flinch"
        self._spotted(clause, named)
        if named and clause.having("word", "dislike"):
            self.disliked = (clause.sentence, frozenset(x for n in named for x in n.noun.normal))
        described = self._described(clause)
        if self._same_of_those(clause, named, described):
            named, described = list(self.pending), list(self.described)
        described = self._yes_or_no(clause, named) or described
        if self._limbs_behind(clause, named, described):
            named, described = list(self.limbless[1]), list(self.limbless[2])
        place = self._end_of_animal(place, named, clause)
        self._heading(clause, named)
        alone = clause.opens and not clause.closes and len(clause.terms) == len(named)
        if named and (clause.colon or alone):
            self.over = (clause.sentence, named)
        place = self._both_ways(place, clause)
        if place.neck and (any(n.key == "neck" for n in [*named, *self.topic])):
            kept = self.neck_said[1] if self.neck_said[0] == clause.sentence else ()
            self.neck_said = (clause.sentence, (*kept, *place.neck))
        if self.lone_no_opens(clause) and self.asked is not None and self._still_asked(clause):
            self.topic_sentence = clause.sentence  # "Pupils, is the right one bigger? … No, they're the same"
        if clause.asked:
            self.asked = clause
            self._topics(named, clause)
            if place.limb and clause.opens and self._heads_question(clause):
                self._limb(clause, named, place)  # "Right hind slow? Do that over. No, it's normal."
            if named and clause.opens and len(named) == 1:
                self.topic_alone = (
                    clause.sentence
                )  # "Nodes under the jaw, normal I think? Yeah, they're normal."
            return
        if self.asked is not None and clause.opens and clause.terms[0].text in self.vocabulary.language.yes:
            question, self.asked = self.asked, None
            if question.sentence == clause.sentence - 1:
                question.asked, question.drop = False, ""
                self.count -= 1
                self.take(question)
                self.count += 1
                for s in self.last:
                    s.sentence = clause.sentence
        if any("mass" in d.keys and d.denied for d in described):
            self.lumps_denied = clause.sentence
        self._count_lumps(clause)
        self._only_thought(clause)
        before = len(self.statements)
        if lies := self._lump_lies(clause, named, described):
            named = []
        if also := self._too(clause, named, described):
            described = list(self.described)
        described_only = [d for d in described if not set(d.keys) <= {*GENERIC, "equal"}]
        likewise = clause.having("control", "again")
        self._only_one(clause, named, described)
        if undone := self._only_wished(clause):
            named, described = undone, []
        too = bool(likewise) and all(t.text in self.vocabulary.language.too for t in likewise)
        again = bool(likewise) and not described_only and not (too and described)
        again = again and not (too and self._did_too(clause, named)) and not (also and named)
        if (
            lies
            or self._of_itself(clause)
            or self._one_more(clause, named, described)
            or (again and not self._acts(clause) and self._again(clause, named, place))
            or self._neck_goes_on(clause, named, place)
            or self._verb_again(clause, named, described)
            or self._there_so_much(clause, named, described)
            or self._one_there(clause, named, described)
            or self._murmur_there(clause)
            or self._which_gland(clause)
            or self._and_there(clause, named, described)
            or self._normal_for(clause, named, described)
        ):
            pass
        elif alike := self._row_the_same(clause, named):
            self.statements += alike
        elif self._only_adds(clause, named, described):
            self._add_to_last(clause, place)
            if all(t.has("severity") for t in clause.terms):
                self.added = self.count
        elif (
            (clause.having("control", "skip") and not self._half_seen(clause))
            or (self.skips == clause.sentence and named and not described)
            or self._skipped_too(clause, named)
            or self._none_today(clause, named)
            or self._not_done(clause, named)
            or self._forgotten(clause, named)
            or self._not_scoped(clause, place)
            or self._out_of_view(clause, named, described)
            or undone
        ) and (undone or not (self._says(clause) or self._none_sensed(clause, described))):
            self._skip(clause, named, place)
            if named and clause.terms[-1].has("noun"):
                self.skipped_row = self.count  # "not looked at eyes, ears, or mouth"
        else:
            self._state(clause, named, described, place)
            if too and described and len(self.statements) == before:
                self._again(clause, named, place)
        if again and not named and len(self.statements) == before:
            self.same_said = (clause.sentence, self.count)
        self._topics(named, clause)
        self._limb(clause, named, place)
        self._gone_since(clause, named)
        self._but_not(clause, named)
        if len(self.statements) == before:
            self._there_after_all(clause, named, described)
            self._only_that(clause, named, described)
            self._normal_after_all(clause, named, described)
        self._withdrawn(clause)
        self._without(self.statements[before:], clause)
        self._takes_back(clause, named, described, self.statements[before:], place)
        self._note_looks(clause)
        self._fields_left_out(self.statements[before:], clause, place)
        made = self.statements[before:]
        if named:
            self._last_word(clause, made)
        self._note_limbless(named, described, bool(made))
        if any(s.structure.startswith("NEU.facial") for s in made):
            self.nerves = clause.sentence  # "left lip droops; the right side of the face is even"
        if any(s.structure.startswith("SKN.") and s.state == ABNORMAL for s in made):
            there = [*self.where, *(n for n in named if self._behind(n, clause))]
            places = self.found_at[1] if self.found_at[0] == clause.sentence else frozenset()
            self.found_at = (clause.sentence, places | {n.key for n in there})
        self._skin_noted(clause, made, named)
        self._thing_noted(clause, named)
        self.lone_word = self.count if len(clause.terms) == 1 else self.lone_word
        self.correcting_named = bool(named)
        one = bool(clause.having("side", "left", "right", "other")) and self.topic_sentence == clause.sentence
        if (
            (named or one or self._how_it_walks(clause))
            and not made
            and not clause.having("control", "skip", "uncalled")
            and (
                any(d.denied for d in described)
                or (self._unread(clause) and not clause.having("control", "again"))
            )
        ):
            self.unread, self.unread_topic = self.count, self.topic
            self.unread_is = any(
                a.has("word", "saying") and b.kind == UNKNOWN for a, b in pairwise(clause.terms)
            )
            said_of = {s for s in (*place.sides, *(n.side for n in named)) if s in ("left", "right")}
            side = next(iter(said_of)) if len(said_of) == 1 else ""
            strange = [t.text for t in clause.terms if t.kind == UNKNOWN]
            done = all(w in self.vocabulary.language.done for w in strange)  # "temp …, done in the bum"
            if not (strange and done):
                self.unread_lines |= {x: (clause.sentence, side) for n in named for x in n.noun.normal}
        if not named and not described and self._acts(clause):
            self.deed = (clause.sentence, self.count)
        if all(t.kind == UNKNOWN for t in clause.terms):
            self.beside = self.count
        if len(clause.terms) > 1 and all(t.kind == UNKNOWN for t in clause.terms):
            self.strange = self.count
        if clause.having("says") and all(t.has("noun") or t.has("control", "filler") for t in clause.terms):
            self.bare_says = self.count  # "Chin to chest, I haven't tried"
        self.name_ended = bool(clause.terms[-1].has("noun") and described)
        if made and not named and self._of_topic(made):
            self.topic_sentence = clause.sentence
        if made:
            self.last = self._with_its_thrill(made, clause) or made
            self.last_denies = self._denies(clause)
            self.described = described or self.described
            self._replace(made)
        elif self._nothing(clause) and (self.correcting_sentence == clause.sentence or self._doubt_here()):
            self._nothing_there(clause)
        if clause.having("control", "part"):
            here = {x for n in named for x in (*n.noun.normal, *n.noun.scope)}
            self._part(clause, made or [s for s in self.last if not named or s.structure in here])
        self._heard_partly(clause, made)
        self._top_only(clause, made)
        self._some_teeth(made, named)
        if any(
            t.kind == UNKNOWN or t.has("noun") or t.has("trait") or t.has("finding") for t in clause.terms
        ):
            self.content.append(self.count)
