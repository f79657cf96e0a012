"""Clauses that only add to the statement before: a side, tooth, grade, size, severity or doubt."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

from exams.spoken.clause import Clause
from exams.spoken.codes import choose, grade_key, ungraded
from exams.spoken.counted import numbers_of
from exams.spoken.glands import gland_counted
from exams.spoken.groups import Groups
from exams.spoken.kept import REACH
from exams.spoken.said import (
    GENERIC,
    PAIRS,
    SUSPECTED,
    Described,
    Named,
    Statement,
    clause_span,
    more_said,
    stations_of,
)
from exams.spoken.shapes import ABNORMAL, NORMAL, NOT_EXAMINED, Span
from exams.spoken.sides import ALL_NECK, LUNGS, Place, opposite, side_kind, sides_for, sides_said
from exams.spoken.teeth import tooth_side
from exams.spoken.terms import FIGURE, UNKNOWN


class Adding(Groups):
    """A step of `Listening`."""

    def _only_adds(self, clause: Clause, named: Sequence[Named], described: Sequence[Described]) -> bool:
        if self._only_where_again(clause, named, described):
            return True
        if named or described or not self.last or self._says(clause):
            return False
        if clause.having("control", "skip") or self._of_what_waits(clause):
            return False
        if id(clause) in self.figures.grades and self._awaits_grade(clause):
            return True
        return self.last[-1].sentence in (clause.sentence, clause.sentence - 1)

    def _of_what_waits(self, clause: Clause) -> bool:
        """ "Prescaps normal, the ones under the jaw, left, big": the side is of what was named since."""
        last = self.last[-1]
        if not self.pending or not self.pending_sentence == clause.sentence == last.sentence:
            return False
        name = self.pending[-1]
        since = name.term is not None and name.term.start >= last.spans[-1].end
        return since and last.structure not in name.noun.scope and self._only_side(clause)

    def _awaits_grade(self, clause: Clause) -> bool:
        """ "I think I hear a murmur. Grade two? He says it's there. Fine, grade two."."""
        return bool(self.last[-1].one_of) and clause.sentence - self.last[-1].sentence <= REACH

    def _only_where_again(
        self, clause: Clause, named: Sequence[Named], described: Sequence[Described]
    ) -> bool:
        """ "retina detached, right eye", "purple canine, three oh four": only the place, after the pause."""
        if self._tooth_instead(clause, named, described) or self._on_all_four(clause, described):
            return True
        if self._on_to_tail(clause, named, described):
            return True
        if (
            clause.stop == "except"
            or described
            or not named
            or not self.last
            or self._says(clause)
            or clause.opens
            or clause.colon
        ):
            return False
        if self.last[-1].sentence != clause.sentence or clause.having("control", "skip", "again"):
            return False
        if self._corrects_place(clause, named):
            return True
        if self.last[-1].clause == self.count - 1 and all(n.side == "both" and n.key in PAIRS for n in named):
            return True
        if self.last[-1].structure == "MTH.teeth" and not self.last[-1].site and all(n.site for n in named):
            just = self.last[-1].clause == self.count - 1 or self.added == self.count - 1
            return self.last[-1].state == ABNORMAL and just  # "tartar, mild, on 208"
        if self.last[-1].structure == "MTH.gums" and self.last[-1].side == "none":
            return self.last[-1].state == ABNORMAL and all(n.site for n in named)
        skin = self.last[-1].structure.startswith("SKN.") and self.last[-1].side == "none"
        if (
            self.last[-1].clause != self.count - 1
            or (self.last[-1].sided and not skin)
            or self.last[-1].state == NOT_EXAMINED
        ):
            return False
        if all(s.structure.startswith("SKN.") and s.side == "none" for s in self.last):
            return any(n.side for n in named)
        stations = {s.structure.partition(".")[0] for s in self.last}
        here = stations_of(named)
        return bool(stations & here) and all(n.side or n.site for n in named)

    def _on_all_four(self, clause: Clause, described: Sequence[Described]) -> bool:
        """ "Nails overgrown, all four feet": of the feet that were not meant yet."""
        last = self.last[-1] if self.last else None
        here = last is not None and (last.sentence, last.clause) == (clause.sentence, self.count - 1)
        plain = not any(t.has("control", "skip", "again", "no") or t.kind == UNKNOWN for t in clause.terms)
        paws = last is not None and last.structure in ("FLB.nails", "FLB.digits", "FLB.pads")
        return here and plain and paws and not described and bool(clause.having("limb", "all"))

    def _on_to_tail(self, clause: Clause, named: Sequence[Named], described: Sequence[Described]) -> bool:
        """ "No pain along the back, all the way to the tail.": the last joint of it too."""
        last = self.last[-1] if self.last else None
        here = last is not None and (last.sentence, last.clause) == (clause.sentence, self.count - 1)
        plain = not clause.having("control", "skip", "again", "no", "hedge", "part")
        back = (
            last is not None
            and last.state == NORMAL
            and last.structure in self.vocabulary.nouns["back"].normal
        )
        return (
            here
            and back
            and plain
            and not named
            and all(set(d.keys) <= {*GENERIC, "comfortable"} and not d.denied for d in described)
            and bool(clause.having("place", "to tail"))
        )

    def _neck_goes_on(self, clause: Clause, named: Sequence[Named], place: Place) -> bool:
        """ "Neck moves up, down, sideways": what was said of one movement holds for the next."""
        places = place.neck or place.lungs
        if named or not places or not self.last or clause.having("control", "no", "hedge", "skip"):
            return False
        last = self.last[-1]
        plain = all(
            t.has("place") or t.has("side") or t.has("control", "filler", "and", "prep", "again")
            for t in clause.terms
        )
        plain = plain and not any(t.has("trait", "resists") for t in clause.terms)
        if not plain or last.sentence != clause.sentence or last.clause != self.count - 1:
            return False
        if last.structure not in (ALL_NECK if place.neck else LUNGS.values()):
            return False
        fields = {s.structure for s in self.last if s.clause == last.clause}
        row = len(fields) == 1 and not clause.having("side")  # "right lung clear front, middle and back"
        if not place.neck and clause.stop != "and" and not row:
            return False  # "clear in the front and middle both sides"
        for structure in places:
            kind = side_kind(self.vocabulary.walk.structure[structure])
            said = sides_said(clause.terms, "")
            if not place.neck and not said:
                said = [s.side for s in self.last if s.clause == last.clause]
            for side in sides_for(kind, said, place, True):
                self.statements.append(
                    dataclasses.replace(
                        last,
                        structure=structure,
                        side=side,
                        spans=(*last.spans, clause_span(clause)),
                        clause=self.count,
                    )
                )
        return True

    def _corrects_place(self, clause: Clause, named: Sequence[Named]) -> bool:
        """ "Right hip, painful, no, left hip", "missing three oh nine, no, four oh nine": only where."""
        if self.correcting_sentence != clause.sentence or len(named) != 1:
            return False
        name, last = named[0], self.last[-1]
        if last.state != ABNORMAL or last.structure not in (*name.noun.normal, *name.noun.scope):
            return False
        if last.structure == "MTH.teeth":
            return bool(last.site and name.site)
        return name.side in ("left", "right") and last.side not in ("none", name.side)

    def _tooth_instead(self, clause: Clause, named: Sequence[Named], described: Sequence[Described]) -> bool:
        """ "404's loose. No wait, that's 304": another tooth, said at the beginning of the next sentence."""
        last = self.last[-1] if self.last else None
        return bool(
            last
            and self.correcting_opens
            and self.correcting_sentence == clause.sentence == last.sentence + 1
            and not described
            and last.structure == "MTH.teeth"
            and last.site
            and len(named) == 1
            and named[0].site
            and not clause.having("control", "skip", "again")
        )

    def _regraded(self, sides: Sequence[str], grade: str) -> bool:
        """ "The left's a three, the right's a two. No: right's the three, left's the two.": each anew."""
        there = [
            s
            for s in self.statements
            if len(sides) == 1 and (s.structure, s.side) == (self.last[-1].structure, sides[0])
        ]
        for s in there:
            self._grade(s, grade)
        return bool(there)

    def _add_to_last(self, clause: Clause, place: Place) -> None:
        size = tuple(self.figures.sizes.get(id(clause), ()))
        grade = self.figures.grades.get(id(clause), "")
        severity = next((t.keys("severity")[0] for t in clause.terms if t.has("severity")), "")
        sides = sides_said(clause.terms, self._recent(clause))
        graded = any(s.grade and s.structure in self.vocabulary.graded for s in self.last)
        if not grade and sides and graded:
            bare = [t.number.digits for t in numbers_of(self.figures, clause) if t.number is not None]
            grade = bare[0] if len(bare) == 1 and bare[0] in "123456" else ""  # "… , three on the right"
        if grade and graded and self.correcting_sentence == clause.sentence and self._regraded(sides, grade):
            return
        if not grade and graded and self.copied[0] == clause.sentence:  # "same on the right but softer, two"
            bare = [t.number.digits for t in numbers_of(self.figures, clause) if t.number is not None]
            said = [t for t in clause.terms if not t.has("word", "article")]
            if len(bare) == len(said) == 1 and bare[0] in "123456":
                for s in self.last:
                    s.severity = ""
                    self._grade(s, bare[0])
        teeth = self.figures.teeth.get(id(clause), ())
        same = self.last[-1].sentence == clause.sentence
        if teeth and (same or self._tooth_instead(clause, self._named(clause), ())):
            old = self.last[-1]
            taken_back = [
                s
                for s in self.statements
                if (s.structure, s.site, s.sentence) == (old.structure, old.site, old.sentence)
            ]
            for s in self.last:
                if s.structure == "MTH.gums" and s.side == "none":  # "a lump on the gum by 304"
                    s.site, s.side, s.spans = teeth[0], tooth_side(teeth[0]), (*s.spans, clause_span(clause))
            for s in (
                taken_back if self.correcting_sentence == clause.sentence and old.site else list(self.last)
            ):
                if s.site and s.structure == "MTH.teeth" and self.correcting_sentence == clause.sentence:
                    s.site, s.side, s.spans = teeth[0], tooth_side(teeth[0]), (*s.spans, clause_span(clause))
                if s.structure == "MTH.teeth" and not s.site and s.state == ABNORMAL:
                    for tooth in teeth[1:]:
                        self.statements.append(
                            dataclasses.replace(
                                s, site=tooth, side=tooth_side(tooth), spans=(*s.spans, clause_span(clause))
                            )
                        )
                    s.site, s.side = teeth[0], tooth_side(teeth[0])
                    s.spans = (*s.spans, clause_span(clause))
            return
        if same and self._glands(clause):
            return
        if place.limb in ("fore", "hind") and same:
            self._of_limb(place.limb)
        if self._on_to_tail(clause, (), ()):
            self.statements += [
                dataclasses.replace(
                    self.last[-1], structure=x, spans=(*self.last[-1].spans, clause_span(clause))
                )
                for x in self.vocabulary.nouns["back"].to_tail
            ]
            return
        if place.limb == "all" and self._on_all_four(clause, ()):
            self._of_hind_too(clause)
        span = clause_span(clause)
        hedge = same and any(not self._about_number(clause, t) for t in clause.having("control", "hedge"))
        numbers = [t for t in numbers_of(self.figures, clause) if t.number is not None]
        for s in list(self.last):
            if s.state == ABNORMAL:
                if size and not s.size:
                    s.size = size
                other = (
                    len(sides) == 1
                    and sides[0] in ("left", "right")
                    and s.side in ("left", "right")
                    and s.side != sides[0]
                )
                if grade and same and other:
                    there = [x for x in self.last if x.side == sides[0] and x.structure == s.structure]
                    for x in there:
                        if not x.grade:  # "both luxate, two on the left, three on the right"
                            self._grade(x, grade)
                    if not there:
                        copied = dataclasses.replace(
                            s, side=sides[0], spans=(*s.spans, span), clause=self.count
                        )
                        self._grade(copied, grade)
                        self.statements.append(copied)
                elif grade and (same or self._awaits_grade(clause)):
                    self._grade(s, grade)
                corrects = bool(clause.having("control", "correct"))
                if severity and (corrects or not s.severity) and same and len(clause.terms) <= 6:
                    s.severity = severity
                    self._recode(s)
                direction = self._direction(clause, s.codes) if same else ""
                if direction and not s.note:
                    s.note, s.spans = direction, (*s.spans, span)
                if hedge:
                    s.note, s.sure = SUSPECTED, min(s.sure, 0.5)
                if size or grade or severity or hedge:
                    s.spans = (*s.spans, span)
                instead = numbers[0].number if numbers and not clause.having("control", "no") else None
                if instead and self.correcting_sentence == clause.sentence and s.site[-1:].isdigit():
                    s.site = f"{s.site[:-1]}{instead.digits}"
                    s.spans = (*s.spans, span)
                elif instead and s.grade and self.correcting_sentence == clause.sentence:
                    self._grade(s, instead.digits)
                    s.spans = (*s.spans, span)
            elif (
                hedge and s.state == NORMAL and s in self.statements and self.lone_grade[0] != clause.sentence
            ):
                self.statements.remove(s)
        if (
            place.lungs
            and same
            and clause.stop != "except"
            and all(s.structure.startswith("LUN.") for s in self.last)
        ):
            gone = [s for s in self.last if s.structure not in place.lungs]
            if len(gone) < len(self.last):
                self.statements = [s for s in self.statements if s not in gone]
                self.last = [s for s in self.last if s not in gone]
        murmur = [s for s in self.last if s.structure == "HRT.murmur" and s.state == ABNORMAL]
        where = next((k for k in place.keys if k.split()[0] in ("apex", "base", "sternum")), "")
        if murmur and same and (where or sides):
            self._murmur_at(murmur[-1], where, sides, span, clause)
        elif clause.stop == "except" and all(s.state == NORMAL for s in self.last):
            return  # "… except the left one": left out, not instead
        elif size and sides == ["both"]:
            return  # "both under five millimetres": of them
        elif (
            sides
            and not clause.having("word", "comparing")  # "both runny. Actually the left's more."
            and self.correcting_sentence == clause.sentence
            and (same or self.correcting_opens)
            and all(s.state == ABNORMAL for s in self.last)
        ) or (
            sides
            and same
            and not more_said(clause)
            and all(
                not s.sided or s.side == "none" or (sides == ["both"] and s.side in ("left", "right"))
                for s in self.last
            )
        ):
            self._side_again(sides, span)

    def _which_gland(self, clause: Clause) -> bool:
        """ "A pea in the third gland. Third, or is it the fourth? The fourth.", "actually that's five"."""
        last = self.last[-1] if self.last else None
        if last is None or last.structure != "GUM.mammary" or last.state != ABNORMAL or not last.site:
            return False
        language = self.vocabulary.language
        counted = {*language.ordinals, *language.hindmost, *language.articles}
        site = gland_counted(clause, last.side, self.about.species, language)
        instead = [t.number.digits for t in numbers_of(self.figures, clause) if t.number]
        if len(instead) == 1 and instead[0] in "12345" and clause.having("control", "correct"):
            site = f"{last.side[0].upper()}{instead[0]}"
        plain = all(
            t.has("control", "filler", "correct") or t.kind == FIGURE or set(t.words) <= counted
            for t in clause.terms
        )
        if not (site and plain and clause.sentence - last.sentence <= REACH):
            return False
        last.site, last.spans = site, (*last.spans, clause_span(clause))
        return True

    def _glands(self, clause: Clause) -> bool:
        """ "Two nodules on the left, four and five": the glands they are in."""
        last = self.last[-1]
        numbers = [t.number.digits for t in numbers_of(self.figures, clause) if t.number]
        plain = all(t.number or t.has("control", "and", "filler") for t in clause.terms)
        if last.structure != "GUM.mammary" or last.state != ABNORMAL or last.site or not plain:
            return False
        if not numbers or last.side not in ("left", "right") or not set(numbers) <= set("12345"):
            return False
        sites = [f"{last.side[0].upper()}{n}" for n in numbers]
        last.site, last.spans = sites[0], (*last.spans, clause_span(clause))
        more = [dataclasses.replace(last, site=site) for site in sites[1:]]
        self.statements += more
        self.last += more
        return True

    def _of_hind_too(self, clause: Clause) -> None:
        for s in self.last:
            code = self.vocabulary.meaning("HLB.paw", s.trait) if s.state == ABNORMAL else ""
            if code not in ("", NORMAL):
                hind = dataclasses.replace(
                    s, structure="HLB.paw", codes=(code,), spans=(*s.spans, clause_span(clause))
                )
                self.statements.append(hind)

    def _of_limb(self, limb: str) -> None:
        """ "Claws: overgrown, front ones": not those of the other end."""
        other = "HLB." if limb == "fore" else "FLB."
        paws = [s for s in self.last if s.structure in ("FLB.nails", "FLB.pads", "FLB.digits")]
        for s in paws if limb == "hind" and len(paws) == len(self.last) else ():
            meant = self.vocabulary.meaning("HLB.paw", s.trait)  # "one broken nail, left hind"
            if s.state == ABNORMAL and meant not in ("", NORMAL):
                s.structure = "HLB.paw"
                s.codes = (choose(meant, "", s.severity, self.about, self.vocabulary.walk),)
        gone = [s for s in self.last if s.structure.startswith(other) and s.clause == self.count - 1]
        if gone and len(gone) < len(self.last):
            self.statements = [s for s in self.statements if s not in gone]
            self.last = [s for s in self.last if s not in gone]

    def _murmur_at(
        self, murmur: Statement, where: str, sides: Sequence[str], span: Span, clause: Clause
    ) -> None:
        """Where a murmur is loudest, or that it is heard on the other side too."""
        within = [side for t in clause.having("place", "sternum") for side in t.within]
        side = (
            within[0]
            if within
            else where.split()[1]
            if len(where.split()) > 1
            else next((s for s in sides if s in ("left", "right")), "none")
        )
        if murmur.side in ("none", side) or (where and side == "none"):
            side = murmur.side if side == "none" else side
            murmur.side, murmur.site = side, murmur.site or where
            murmur.spans = (*murmur.spans, span)
            return
        severity = next((t.keys("severity")[0] for t in clause.terms if t.has("severity")), "")
        other = dataclasses.replace(
            murmur,
            side=side,
            site=where,
            grade="",
            severity=severity,
            spans=(*murmur.spans, span),
            clause=self.count,
        )
        self._recode(other)
        self.statements.append(other)
        self.last = [other]

    def _side_again(self, sides: Sequence[str], span: Span) -> None:
        """ "melting ulcer, right": the side after the pause is that of the statement before it."""
        before, said = self.sides_after
        self.sides_after = (self.count, tuple(sides))
        if before == self.count - 1 and len(sides) == len(said) == 1 and sides[0] == opposite(said[0]):
            sides = ["both"]  # "lungs clear, left, right"
        made: list[Statement] = []
        seen: set[tuple[str, tuple[str, ...], str]] = set()
        for s in self.last:
            if s not in self.statements or (s.structure, s.codes, s.state) in seen:
                continue
            kind = side_kind(self.vocabulary.walk.structure[s.structure])
            if kind == "none" or (kind == "free" and s.state == NORMAL):
                continue
            seen.add((s.structure, s.codes, s.state))
            for side in sides_for(kind, sides, Place(), True) or [s.side]:
                made.append(
                    dataclasses.replace(
                        s, side=side, spans=(*s.spans, span), sided=True, unsaid=False, clause=self.count
                    )
                )
        if made:
            gone = {m.structure for m in made}
            self.statements = [s for s in self.statements if not (s in self.last and s.structure in gone)]
            self.statements.extend(made)
            self.last = [s for s in self.last if s.structure not in gone] + made
            if len(sides) == 1 and sides[0] in ("left", "right"):
                self.last_side = sides[0]
                self.last_side_sentence = self.now

    def _grade(self, s: Statement, grade: str) -> None:
        s.grade = grade
        self._recode(s)

    def _recode(self, s: Statement) -> None:
        """A grade or severity said later picks the code."""
        if not s.trait:
            return
        result = self.vocabulary.meaning(s.structure, s.trait)
        if "|" in result:
            code = choose(result, s.grade, s.severity, self.about, self.vocabulary.walk)
            s.codes = (code,) if code else s.codes
            s.one_of = ungraded(result, s.grade, s.severity, self.about, self.vocabulary.walk)
        s.grade = grade_key(s.codes, s.grade, self.vocabulary.walk)
