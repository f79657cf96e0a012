"""Not examined, and normal in part, each with its reason."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Sequence
from itertools import pairwise

from exams.spoken.clause import PREDICATE, Clause, kind_of
from exams.spoken.said import (
    LIMB_STATIONS,
    NO_REASON,
    Described,
    Named,
    Statement,
    clause_span,
    once,
    stations_of,
)
from exams.spoken.shapes import ABNORMAL, NORMAL, NOT_EXAMINED, PARTIAL
from exams.spoken.sides import LUNGS, Place, sides_said
from exams.spoken.taken_back import TakenBack
from exams.spoken.terms import UNKNOWN, Term


class Skipping(TakenBack):
    """A step of `Listening`."""

    ahead: Clause | None = None  # the next clause of the sentence

    def _skip(self, clause: Clause, named: list[Named], place: Place) -> None:
        reason = self._reason(clause)
        if self._part_of_row(clause, named, reason):
            return
        said = sides_said(clause.terms, self._recent(clause))
        named = self._left_out_of(clause, named)
        tests = self._tests(clause)
        led = all(
            n.term and any(t.has("control", "prep") for t in self._just_before(n.term, clause)) for n in named
        )
        named = tests if tests and led else named
        undone = [n for n in named if n.term and n.term.has("control", "skip")]
        named = undone or named  # "I've not stained them"
        own = bool(named)
        if not own and (self._of_something_else(clause) or self._left_already(clause, place)):
            return
        about = (
            [*self._in_row_before(named, clause), *named]
            or (self.pending if self.pending_sentence == clause.sentence else [])
            or (self.topic if self.topic_sentence == clause.sentence or self._refers(clause) else [])
        )
        limb = any(t.has("limb") and not t.has("control", "prep") for t in clause.terms)  # no "behind it"
        if about and not own and limb and not stations_of(about) & {*LIMB_STATIONS, "NEU", "GEN", "LUN"}:
            about = []  # "a pulse in both groins. Front legs I haven't got to": the legs
        rest = not own and bool(clause.having("control", "rest"))
        if place.limb and (not about or rest):  # "front legs skipped"
            about = [Named("legs", self.vocabulary.nouns["legs"], True, None, limb=place.limb)]
        fresh = self._named_just_now(clause)  # "canals, I didn't scope"
        side = self._side_alone(clause)
        here = [s for s in self.last if s.sentence == clause.sentence]
        seen = {s.side for s in here if s.state in (NORMAL, PARTIAL)}
        if not said and side and not own and (side not in seen or fresh or place.lungs):
            said = [side]  # "the left one, I can't tell"
        of_nodes = bool(about) and all(n.key.startswith("LYM.") for n in about)
        fresh = fresh or (of_nodes and bool(clause.having("control", "rest")))  # "the others I haven't felt"
        neck = bool(place.neck) and bool(about) and all(n.key == "neck" for n in about)
        if not (own or said or fresh or neck or place.lungs or place.limb or place.has("scope")):
            normals = [
                s
                for s in self.last
                if s.state in (NORMAL, PARTIAL) and s.sentence == clause.sentence and s in self.statements
            ]
            if normals:
                for s in normals:
                    test = self.vocabulary.tests.get(s.trait, "")  # "no Ortolani | done, that's for later"
                    bare = self.bare_says == s.clause == self.count - 1
                    test = s.structure if bare or self._not_yet(clause) else test
                    s.structure = test or s.structure
                    # "spleen not felt, I won't call that"
                    s.state = NOT_EXAMINED if test or s.trait == "unfelt" else PARTIAL
                    s.note, s.spans, s.sure = reason, (*s.spans, clause_span(clause)), 0.75
                return
        made: list[Statement] = []
        for name in about:
            side = "" if said and not own else name.side
            one = dataclasses.replace(name, side=side)
            normal, _ = self._targets(one, place, clause)
            group = one.noun.absent is not None and not place.lungs
            structures: Sequence[str] = normal
            if group:
                structures = self._absent(one.noun.absent or (), one.limb or place.limb)
            structures = self._what_is_left(one, structures, clause, own)
            if place.has("scope") and one.noun.scoped:
                structures = one.noun.scoped
            for structure in structures:
                made += [
                    dataclasses.replace(s, note=reason, group=group)
                    for s in self._made(
                        clause,
                        structure,
                        NOT_EXAMINED,
                        None,
                        [one.term] if one.term else [],
                        said,
                        place,
                        name=one,
                        plural=one.plural or one.noun.never or self._any_limb(structure),
                        own=own,
                    )
                ]
        if not own and place.has("scope"):
            made = []
            for structure in ("EAR.canal",):
                made += [
                    dataclasses.replace(s, note=reason)
                    for s in self._made(clause, structure, NOT_EXAMINED, None, [], said, place, plural=True)
                ]
        left = {s.structure for s in made}
        self.statements = [
            s
            for s in self.statements
            if not self._only_tested_for(s, clause) and not (s.structure in left and self._only_headed(s))
        ]
        self.statements.extend(once(made))
        self.topic_skipped = own or len(set(said)) != 1

    def _only_tested_for(self, s: Statement, clause: Clause) -> bool:
        """ "Ortolani and hips not today": the test is in the row of what was left out."""
        row = clause.stop == "and" and (s.sentence, s.clause) == (clause.sentence, self.count - 1)
        return row and s.trait in self.vocabulary.tests and s.state == ABNORMAL and self.begun == s.clause

    def _only_headed(self, s: Statement) -> bool:
        """ "Murmur, I can't rule on that": what was only asked about."""
        just = s.clause == self.lone_word == self.count - 1
        return just and s.state == ABNORMAL and s.trait in self.vocabulary.tests

    def _what_is_left(
        self, one: Named, structures: Sequence[str], clause: Clause, own: bool
    ) -> Sequence[str]:
        """Of the rest and the others, those that nothing was said of."""
        rest = bool(clause.having("control", "rest"))
        told = self._told(clause, 0 if own or self.topic_sentence == clause.sentence else 1)
        if one.key in ("nodes", "node") and clause.having("side", "other"):
            return [x for x in structures if x not in told]  # "the other nodes I didn't bother with"
        if not rest:
            return structures
        if one.key == "legs":  # "Elbows stiff. Wrists fine. Rest of the front legs skipped"
            told = {s.structure for s in self.statements if s.state != NOT_EXAMINED}
            return [x for x in structures if x not in told]
        if own:  # "Loins fine. Rest of the spine I skipped"
            told = self._told(clause, 1)
            return [x for x in structures if x not in told or len(structures) == 1]
        if set(structures) <= set(LUNGS.values()):  # "the front ones are clean but the rest …"
            return [x for x in LUNGS.values() if told & set(LUNGS.values()) and x not in told]
        if one.key.startswith("LYM."):  # "nodes under the jaw normal; the others I …"
            return [x for x in self.vocabulary.nouns["nodes"].normal if x not in told]
        return structures

    def _part_of_row(self, clause: Clause, named: Sequence[Named], reason: str) -> bool:
        """ "Teeth white as far as I saw, the molars I couldn't see", "tongue pink, I didn't see beneath":
        what was seen is normal in part."""
        words = self.vocabulary.language
        teeth = bool(named) and all(n.term is not None and n.term.text in words.some_teeth for n in named)
        beneath = not named and any(t.text in words.beneath for t in clause.terms)
        ones = any(w in words.ones for t in clause.terms for w in t.words)
        of_gums = ones and not named and any(n.key in ("gums", "gingiva") for n in self.topic)
        line = "MTH.teeth" if teeth else "MTH.tongue" if beneath else "MTH.gums" if of_gums else ""
        seen = [
            s
            for s in self.statements
            if s.structure == line and s.state in (NORMAL, PARTIAL) and s.sentence >= clause.sentence - 1
        ]
        for s in seen:
            s.state, s.note, s.spans = PARTIAL, reason, (*s.spans, clause_span(clause))
            s.sure = min(s.sure, 0.75)
        return bool(seen) or teeth

    def _skipped_too(self, clause: Clause, named: Sequence[Named]) -> bool:
        """ "Rectal deferred. Anal sacs also.": what was said of the sentence before holds for it."""
        words = self.vocabulary.language.likewise
        likewise = (clause.terms[-1].text in words and clause.closes) or clause.terms[0].text in words
        nor = clause.terms[0].has("control", "nor") and not clause.opens  # "…, nor either kidney"
        row = bool(clause.having("control", "and", "or")) or self._row_goes_on(clause)
        row = nor or (self.skipped_row == self.count - 1 and row)
        likewise = likewise or row  # "Same goes for ears, | feet and skin."
        plain = all(t.has("noun") or t.has("side") or t.has("control") for t in clause.terms)
        last = self.last[-1] if self.last else None
        before = last is not None and last.state == NOT_EXAMINED and last.sentence >= clause.sentence - 1
        too = bool(named) and likewise and plain and before
        self.skipped_row = self.count if too and clause.terms[-1].has("noun") else self.skipped_row
        return too

    def _row_goes_on(self, clause: Clause) -> bool:
        """ "I've not looked at eyes, ears, or mouth": a name alone, and one more joined to it."""
        ahead = self.ahead.terms if self.ahead is not None else []
        joined = bool(ahead) and ahead[0].has("control", "and", "or") and any(t.has("noun") for t in ahead)
        joined = joined and not any(kind_of(t) in PREDICATE for t in ahead)
        return joined and all(t.has("noun") or t.has("side") for t in clause.terms)

    def _named_just_now(self, clause: Clause) -> bool:
        """Something was named in the sentence, and nothing said of it yet."""
        lines = {x for n in self.pending for x in (*n.noun.normal, *n.noun.scope)}
        told = self._told(clause)
        return bool(lines) and self.pending_sentence == clause.sentence and not lines & told

    def _in_row_before(self, named: Sequence[Named], clause: Clause) -> list[Named]:
        """ "Legs, back, bottom I'm leaving": the names before it, but not what the name is a part of."""
        if not named or self.pending_sentence != clause.sentence:
            return []
        here = stations_of(named)
        return [n for n in self.pending if not stations_of([n]) & here]

    def _left_out_of(self, clause: Clause, named: list[Named]) -> list[Named]:
        """ "The right one I can't get at in a dog with a chest that deep": not the chest."""
        at = next((i for i, t in enumerate(clause.terms) if t.has("control", "skip")), len(clause.terms))
        one = any(t.has("side") and t.one for t in clause.terms[:at])
        if not one or self.topic_sentence != clause.sentence:
            return named
        return [n for n in named if n.term in clause.terms[:at]]

    def _left_already(self, clause: Clause, place: Place) -> bool:
        """ "The right one I lose each time, so leave it blank": it says no more than the clause before."""
        last = self.last[-1] if self.last else None
        left = last is not None and last.state == NOT_EXAMINED
        just = last is not None and (last.sentence, last.clause) == (clause.sentence, self.count - 1)
        return left and just and not clause.having("side") and not place.keys and not place.limb

    def _of_something_else(self, clause: Clause) -> bool:
        """ "The groove I forgot to press": a thing nobody knows, before who did not look at it."""
        told = [t for t in clause.terms if not t.has("word", "article") and not t.has("control", "and")][:2]
        if len(told) < 2 or told[0].kind != UNKNOWN or clause.opens:
            return False
        speakers = self.vocabulary.language.speakers
        return told[1].text in speakers or (told[1].has("control", "skip") and told[1].words[0] in speakers)

    def _just_before(self, term: Term, clause: Clause) -> list[Term]:
        at = clause.terms.index(term) if term in clause.terms else 0
        return clause.terms[max(0, at - 2) : at]

    def _undone(self, named: Sequence[Named]) -> bool:
        about = named or (self.topic if self.topic_sentence == self.now else [])
        return bool(about) and all(n.key in self.vocabulary.undone for n in about)

    def _no_such_test(self, clause: Clause) -> bool:
        """ "Hips, no Ortolani done": the test was not made."""
        for at, term in enumerate(clause.terms[:-2]):
            no = term.text in self.vocabulary.language.bare_no
            done = clause.terms[at + 2].text in self.vocabulary.language.done
            if no and done and self._names_test(clause.terms[at + 1]):
                return True
        return False

    def _tests(self, clause: Clause) -> list[Named]:
        """ "Drawer not tested": what could have been found names what was not done."""
        keys = [k for t in clause.terms for k in (*t.keys("trait"), *t.keys("finding"))]
        lines = dict.fromkeys(self.vocabulary.tests[k] for k in keys if k in self.vocabulary.tests)
        return [Named(x, self.vocabulary.nouns[x], True, None) for x in lines]

    def _names_test(self, term: Term) -> bool:
        return any(k in self.vocabulary.tests for k in (*term.keys("trait"), *term.keys("finding")))

    def _any_limb(self, structure: str) -> bool:
        """A joint that is left out is of both limbs, unless one of them is spoken of."""
        station = structure.partition(".")[0]
        return station in LIMB_STATIONS and not (self.limb.station == station and self.limb.sides)

    def _absent(self, lines: Sequence[str], limb: str) -> list[str]:
        """The lines of a group that is left out; of one end only, where that was said."""
        other = {"fore": "HLB.", "hind": "FLB."}.get(limb, "-")
        return [s for s in lines if not s.startswith(other)]

    def _none_today(self, clause: Clause, named: Sequence[Named]) -> bool:
        """ "No fundus today", "Kidneys no": a name and a no, and nothing else said."""
        plain = [t for t in clause.terms if not t.has("noun")]
        no = [t for t in plain if t.text in self.vocabulary.language.bare_no]
        if not no and clause.terms[-1].text in self.vocabulary.language.not_that and clause.opens:
            no = [clause.terms[-1]]  # "Mouth obviously not, she's muzzled"
        if self._no_such_test(clause) or (clause.having("trait", "not-seen") and self._undone(named)):
            return True  # "Gait: not seen, she came on a stretcher"
        if not named or len(no) != 1 or any(t.has("trait") or t.has("finding") for t in plain):
            return False
        felt = clause.terms[0] is no[0] and clause.terms[-1].text in self.vocabulary.language.felt
        if felt and len(plain) == 2 and not any(n.key.startswith("LYM.") for n in named):
            return True  # "No bladder felt"
        today = any(t.text in self.vocabulary.language.today for t in plain)
        last = clause.terms[-1] is no[0] and clause.opens
        lines = {s for n in named for s in (*n.noun.normal, *(n.noun.absent or ()))}
        # "no blood pressure, the cuff is gone": of what has a number, nobody says that there is none
        last = last or (
            bool(lines)
            and all(self.vocabulary.walk.structure[x].value for x in lines)
            and clause.terms[0] is no[0]
            and len(plain) == 1
        )
        undone = clause.terms[0] is no[0] and all(n.key in self.vocabulary.undone for n in named)
        if undone and len(plain) <= 2 and not any(t.kind == UNKNOWN for t in plain):
            return True  # "No gait, he was carried in"
        return (today or last) and bool(lines) and not any(t.kind == UNKNOWN for t in plain)

    def _not_done(self, clause: Clause, named: Sequence[Named]) -> bool:
        """ "The spleen I didn't chase", "not coaxed his mouth open": a word nobody knows that the speaker did
        not do, with a name, and nothing else is said."""
        tests = self._tests(clause)
        if not (named or tests or self.topic_sentence == clause.sentence) or clause.asked:
            return False
        if clause.having("control", "hedge", "again"):
            return False
        if any(kind_of(t) in PREDICATE and not (tests and self._names_test(t)) for t in clause.terms):
            return False
        told = clause.terms
        for at, term in enumerate(told[:-1]):
            doing = told[at + 1].has("noun") and told[at + 1].text.endswith(self.vocabulary.language.acting)
            if term.text not in self.vocabulary.language.refusals:
                continue
            if told[at + 1].kind != UNKNOWN and not doing:
                continue  # "I'm not walking her"
            before = told[at - 1] if at else None
            own = before is None or before.text in self.vocabulary.language.speakers
            balks = term.text in self.vocabulary.language.balks and before is not None
            balks = balks and before is not None and before.text not in self.vocabulary.language.it
            own = own or (balks and before is not None and before.has("word", "subject"))
            if own or (before is not None and before.has("noun") and told[at + 1].text.endswith("ed")):
                return True
        return False

    def _not_yet(self, clause: Clause) -> bool:
        """ "Cheeks, she shut it before I got a look": nothing of them was seen."""
        begins = self.vocabulary.language.not_yet
        return any(f"{t.text} ".startswith(w) for t in clause.having("control", "skip") for w in begins)

    def _only_wished(self, clause: Clause) -> list[Named]:
        """ "Nose to each side I'm not trying": what says by itself that a line is normal was not done."""
        words = self.vocabulary.language
        said = next((i for i, t in enumerate(clause.terms) if t.has("says")), len(clause.terms))
        behind = clause.terms[said + 1 :]
        undone = any(
            t.has("control", "skip") or (t.text in words.speakers and after.text in words.refusals)
            for t, after in pairwise([*behind, *behind[-1:]])
        )
        if not undone or any(kind_of(t) in PREDICATE for t in behind):
            return []
        lines = [x for key in clause.terms[said].keys("says") for x in key.split()]
        return [Named(x, self.vocabulary.nouns[x], True, None) for x in lines]

    def _half_seen(self, clause: Clause) -> bool:
        """ "I got about half of it before she turned away": a part was seen."""
        part = next((t for t in clause.terms if t.has("control", "part")), None)
        skip = next((t for t in clause.terms if t.has("control", "skip")), None)
        return part is not None and skip is not None and part is not skip and part.start < skip.start

    def _of_itself(self, clause: Clause) -> bool:
        """ "Tail, it won't lift, it just hangs": what it does not do, and no look that was refused."""
        words = self.vocabulary.language
        return any(
            t.has("trait", "resists") and t.words[0] in words.balks and before.text in words.it
            for before, t in pairwise(clause.terms)
        )

    def _unscoped(self, place: Place, clause: Clause) -> Place:
        """ "Ears fine from the outside, I didn't scope them": what is seen with it alone."""
        words = {w for t in clause.having("control", "skip") for w in t.words}
        if place.has("scope") or not words & set(self.vocabulary.language.scoping):
            return place
        return dataclasses.replace(place, keys=(*place.keys, "scope"))

    def _not_scoped(self, clause: Clause, place: Place) -> bool:
        """ "Neither canal scoped"."""
        plain = not any(kind_of(t) in PREDICATE for t in clause.terms)
        return place.has("scope") and plain and clause.terms[0].has("control", "no")

    def _out_of_view(self, clause: Clause, named: Sequence[Named], described: Sequence[Described]) -> bool:
        """ "The right flap stayed down, not seen": of what is no drum, it was not looked at."""
        lines = [x for n in (named or self.topic) for x in n.noun.normal]
        unseen = len(described) == 1 and "not-seen" in described[0].keys and not described[0].denied
        here = (bool(named) or self.topic_sentence == clause.sentence) and bool(lines)
        return here and unseen and not any(self.vocabulary.meaning(x, "not-seen") for x in lines)

    def _forgotten(self, clause: Clause, named: Sequence[Named]) -> bool:
        """ "Tonsils, forget it": of what is only named."""
        alone = len([t for t in clause.terms if not t.has("control", "filler")]) == 1
        return (
            bool(clause.having("control", "withdraw"))
            and alone
            and not named
            and self._named_just_now(clause)
        )

    def _refers(self, clause: Clause) -> bool:
        """ "Not done.", "Left that one alone.": the sentence before is meant."""
        near = self.topic_sentence == clause.sentence - 1
        told = any(c >= self.begun for c in self.content)  # "nervous system, not done": of that
        return (
            near
            and not told
            and (self._pronoun(clause) or not any(t.kind == UNKNOWN or t.has("place") for t in clause.terms))
        )

    def _reason(self, clause: Clause) -> str:
        key = next((k for t in clause.terms for k in t.keys("reason")), "")
        found = self.vocabulary.walk.reason.get(key)
        return found.words if found else key or NO_REASON

    def _part(self, clause: Clause, statements: Iterable[Statement]) -> None:
        sides = [s for s in sides_said(clause.terms, self._recent(clause)) if s in ("left", "right")]
        for s in statements:
            if len(sides) == 1 and s.side in ("left", "right") and s.side not in sides:
                continue  # "right retina flat, left I got a quick look"
            if s.state == NORMAL and s.sentence == clause.sentence and s in self.statements:
                s.state, s.note, s.sure = PARTIAL, self._reason(clause), min(s.sure, 0.75)
                s.spans = (*s.spans, clause_span(clause))

    def _heard_partly(self, clause: Clause, made: Sequence[Statement]) -> None:
        """ "The lungs I only hear through the purring, but clear": what kept from hearing was said before."""
        sentence, noise = self.partly
        leads = noise is not None and noise.opens and len(noise.terms) == 1  # "From the bit I could see, …"
        if noise is not None and sentence == clause.sentence and (leads or not clause.having("noun")):
            self._part(noise, made)
            if leads and made:
                self.partly = (-1, None)
        elif (clause.having("control", "part") and clause.opens and len(clause.terms) == 1) or (
            clause.having("control", "part") and not made and self.topic_sentence == clause.sentence
        ):
            self.partly = (clause.sentence, clause)

    def _some_teeth(self, made: Sequence[Statement], named: Sequence[Named]) -> None:
        """ "Canines all whole": of the teeth a part."""
        some = self.vocabulary.language.some_teeth
        about = named or (self.topic if self.topic_sentence == self.now else ())
        if any(n.term is not None and n.term.text in some for n in about):
            for s in made:
                if s.state == NORMAL and s.structure == "MTH.teeth":
                    s.state = PARTIAL

    def _top_only(self, clause: Clause, made: Sequence[Statement]) -> None:
        """ "Tongue pink on top": the top of it is a part."""
        words = self.vocabulary.language
        said = f" {' '.join(w for t in clause.terms for w in t.words)} "
        if any(f" {form} " in said for form in words.top) and not self.sentence_words & set(words.beneath):
            self._part(clause, [s for s in made if s.structure == "MTH.tongue"])
