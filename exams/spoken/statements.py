"""What a clause says of the lines of the walk: the rules of the trade, clause by clause.

Kept from clause to clause: what is spoken of (the topic), which side of it, which limb. A side that was said
holds until another is said or several are named; holding on to one side can only make fewer lines normal.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from exams.spoken.codes import choose, grade_key
from exams.spoken.figures import Figures, numbers_of
from exams.spoken.segment import Clause
from exams.spoken.shapes import ABNORMAL, NORMAL, NOT_EXAMINED, PARTIAL, About, Span
from exams.spoken.sides import (
    LIMBS,
    LUNGS,
    UNRESOLVED,
    Place,
    limbs_said,
    opposite,
    side_kind,
    sides_for,
    sides_said,
)
from exams.spoken.terms import FIGURE, UNKNOWN, Term
from exams.spoken.vocabulary import Noun, Vocabulary

NO_REASON = "no reason given"
SUSPECTED = "suspected"
MOST_UNKNOWN = 3  # unknown words in a clause that is to say "normal" of what was named before it
LIMB_STATIONS = ("FLB", "HLB")
LASTS = 2  # sentences that a side holds for what is named after it without one
PAIRS = ("eye", "ear")
GENERIC = ("good", "clear", "clean")


@dataclass(slots=True)
class Statement:
    """One answer for one line and side, with what it stands on."""

    structure: str
    side: str
    state: str
    codes: tuple[str, ...] = ()
    severity: str = ""
    grade: str = ""
    size: tuple[float, ...] = ()
    site: str = ""
    note: str = ""
    spans: tuple[Span, ...] = ()
    sure: float = 0.9
    reason: str = ""
    clause: int = 0
    sentence: int = 0
    sided: bool = True  # a side was said, or several
    trait: str = ""
    rest: bool = False  # said of what is left after something else was said of it


@dataclass(slots=True)
class Named:
    """A noun in a clause with its side, site and limb."""

    key: str
    noun: Noun
    plural: bool
    term: Term | None
    side: str = ""
    site: str = ""
    limb: str = ""


@dataclass(slots=True)
class Described:
    """A trait of a clause: denied or not, and how much of it."""

    term: Term
    keys: tuple[str, ...]
    denied: bool
    severity: str = ""


@dataclass
class Listening:
    """Takes clauses in their order; `statements` is what they came to."""

    vocabulary: Vocabulary
    about: About
    figures: Figures
    statements: list[Statement] = field(default_factory=list)
    topic: list[Named] = field(default_factory=list)
    topic_sentence: int = -1
    topic_named: int = -1  # the sentence that really names it
    topic_skipped: bool = False
    pending: list[Named] = field(default_factory=list)
    pending_sentence: int = -1
    station_side: dict[str, tuple[str, int]] = field(default_factory=dict)
    last_side: str = ""
    last_side_sentence: int = -9
    limb: Place = field(default_factory=Place)
    correcting: int = -1  # clause from which on what is said replaces what was said before it
    correcting_sentence: int = -1
    count: int = 0
    now: int = -1  # the sentence that is taken
    last: list[Statement] = field(default_factory=list)
    described: list[Described] = field(default_factory=list)  # what `last` came from
    hedged_away: list[Statement] = field(default_factory=list)
    lung_places: tuple[str, ...] = ()
    neuro: bool = False  # a neurological look is under way
    limb_sentence: int = -1
    correcting_named: bool = False  # what corrects names something
    correcting_opens: bool = False  # the correction begins its sentence: it is about the one before
    rest_said: bool = False
    where: list[Named] = field(default_factory=list)  # names behind a preposition
    lumps_listed: bool = False
    lone_side: tuple[int, str] = (-1, "")
    lone_grade: tuple[int, str] = (-1, "")
    lone_place: tuple[int, str] = (-1, "")
    neck_said: tuple[int, tuple[str, ...]] = (-1, ())
    asked: Clause | None = None
    region: tuple[Named | None, int] = (None, -1)  # the eye, the ear: what its parts are named after
    copied: tuple[int, list[Statement]] = field(default=(-1, []))

    # ---- one clause

    def take(self, clause: Clause) -> None:
        self.count += 1
        self.now = clause.sentence
        if clause.drop:
            return
        self._correction(clause)
        place = Place.of(clause.terms)
        named = self._named(clause)
        described = self._described(clause)
        place = self._end_of_animal(place, named, clause)
        if place.neck and (any(n.key == "neck" for n in [*named, *self.topic])):
            kept = self.neck_said[1] if self.neck_said[0] == clause.sentence else ()
            self.neck_said = (clause.sentence, (*kept, *place.neck))
        if clause.asked:
            self.asked = clause
            self._topics(named, clause)
            return
        if self.asked is not None and clause.opens and clause.terms[0].text in self.vocabulary.language.yes:
            question, self.asked = self.asked, None
            if question.sentence == clause.sentence - 1:
                question.asked = False
                self.count -= 1
                self.take(question)
                self.count += 1
                for s in self.last:
                    s.sentence = clause.sentence
        before = len(self.statements)
        if self._too(clause, named, described):
            described = [*described, *self.described]
        described_only = [d for d in described if not set(d.keys) <= {*GENERIC, "equal"}]
        if clause.having("control", "again") and not described_only and self._again(clause, named, place):
            pass
        elif self._only_adds(clause, named, described):
            self._add_to_last(clause, place)
        elif clause.having("control", "skip") and not self._says(clause):
            self._skip(clause, named, place)
        else:
            self._state(clause, named, described, place)
        self._topics(named, clause)
        self._limb(clause, named, place)
        made = self.statements[before:]
        self.correcting_named = bool(named)
        if made:
            self.last = made
            self.described = described or self.described
            self._replace(made)
        elif self.correcting_sentence == clause.sentence and self._nothing(clause):
            self._nothing_there(clause)
        if clause.having("control", "part"):
            self._part(clause, made or self.last)

    def _end_of_animal(self, place: Place, named: Sequence[Named], clause: Clause) -> Place:
        """ "Nails long at the back": of what all limbs have, the back is the hind limbs."""
        about = named or (self.topic if self.topic_sentence == clause.sentence else ())
        if place.limb or not about or not all(n.noun.fore is not None for n in about):
            return place
        limb = "hind" if place.has("lung back") else "fore" if place.has("lung front") else ""
        return dataclasses.replace(place, limb=limb)

    # ---- a list of lumps

    def is_lump(self, clauses: Sequence[Clause]) -> bool:
        """ "Number one: …", and after that "Two: …"."""
        first = clauses[0]
        if any(c.asked for c in clauses) or first.drop or first.having("control", "correct"):
            return False
        if first.having("noun", "number-lump"):
            self.lumps_listed = True
            return True
        words = [t for t in first.terms if not t.has("control", "filler")]
        counted = len(words) == 1 and words[0].kind == FIGURE and not words[0].used
        return self.lumps_listed and counted

    def lump(self, clauses: Sequence[Clause]) -> None:
        """One sentence is one lump: its side, place and size; what describes it is no finding elsewhere."""
        self.count += 1
        terms = [t for c in clauses for t in c.terms if not c.drop]
        side = next(
            (s for s in sides_said(terms, self._recent(clauses[0])) if s in ("left", "right")), "none"
        )
        size = next((self.figures.sizes[id(c)] for c in reversed(clauses) if id(c) in self.figures.sizes), [])
        warty = any(t.has("trait", "wart") for t in terms)
        where = [t.text for t in terms if t.has("noun") and not t.has("noun", "number-lump")]
        hedged = any(t.has("control", "hedge") for t in terms)
        span = Span(clauses[0].start, clauses[-1].end)
        self.statements.append(
            Statement(
                "SKN.lumps",
                side,
                ABNORMAL,
                ("SKN-26" if warty else "SKN-27",),
                size=tuple(size),
                site=", ".join(where[:2]),
                note=SUSPECTED if hedged else "",
                spans=(span,),
                sure=0.8,
                reason="a lump of a list",
                clause=self.count,
                sentence=clauses[0].sentence,
                trait="wart" if warty else "mass",
            )
        )
        self.last = [self.statements[-1]]
        if side != "none":
            self.last_side = side
            self.last_side_sentence = clauses[0].sentence

    def _correction(self, clause: Clause) -> None:
        words = [t for t in clause.terms if not t.has("control", "filler")]
        lone_no = (
            len(words) == 1
            and words[0].has("control", "no")
            and words[0].text in self.vocabulary.language.bare_no
        )
        begins_no = (
            clause.opens
            and len(words) > 1
            and words[0].text in self.vocabulary.language.bare_no
            and not any(w.has("trait") or w.has("noun") or w.has("finding") for w in words[1:3])
        )
        self.rest_said = bool(clause.having("control", "rest"))
        if clause.having("control", "correct") or lone_no or begins_no:
            self.correcting, self.correcting_sentence = self.count, clause.sentence
            self.correcting_opens = clause.opens

    # ---- what is named and described

    def _named(self, clause: Clause) -> list[Named]:
        found: list[Named] = []
        said = sides_said(clause.terms, self._recent(clause))
        waiting = self.pending if self.pending_sentence == clause.sentence else []
        for at, term in enumerate(clause.terms):
            nouns = [s for s in term.senses if s.kind == "noun"]
            if not nouns or (term.has("severity") and not term.has("noun")):
                continue
            if term.has("trait") and (
                any(t.has("noun") for t in clause.terms if t is not term)
                or (
                    self.topic_sentence == clause.sentence
                    and any(self.topic_matches(k) for k in term.keys("trait"))
                )
            ):
                continue
            sense = nouns[0]
            of_these = [n for n in waiting if n.key.startswith("LYM.")]
            if sense.key in ("nodes", "node") and of_these:
                found += [dataclasses.replace(n, plural=sense.plural) for n in of_these]
                continue
            noun = self.vocabulary.nouns[sense.key]
            found.append(
                Named(sense.key, noun, sense.plural, term, self._own_side(clause, at, said), limb="")
            )
        # a region with a line of its own in the same row is only where that line is: "skin on the belly"
        found = [n for i, n in enumerate(found) if not self._announced(n, found[i + 1 :], clause)]
        where = [n for n in found if self._only_where(n, found, clause)]
        found = [n for n in found if n not in where]
        self.where = where
        for tooth in self.figures.teeth.get(id(clause), ()):
            side = _tooth_side(tooth)
            found.append(Named("MTH.teeth", self.vocabulary.nouns["MTH.teeth"], False, None, side, tooth))
        if any(n.site for n in found):
            found = [n for n in found if n.site or n.key != "MTH.teeth"]
        return found

    def _announced(self, one: Named, after: Sequence[Named], clause: Clause) -> bool:
        """A name that only leads to the next, nothing said between them nor joining them: "the knees now
        both kneecaps are normal", "ears, both flaps clean"."""
        if not after or one.term is None or after[0].term is None:
            return False
        if one.term not in clause.terms or after[0].term not in clause.terms:
            return False
        between = clause.terms[clause.terms.index(one.term) + 1 : clause.terms.index(after[0].term)]
        if not between and not self.vocabulary.leads(one.key, after[0].key):
            return False  # "elbows carpi shoulders fine"
        return not any(
            t.has("control", "and", "or", "prep") or t.has("trait") or t.has("finding") or t.has("says")
            for t in between
        )

    def _only_where(self, one: Named, all_named: Sequence[Named], clause: Clause) -> bool:
        """A name behind a preposition, while another is named before it: "the skin round the bottom"."""
        if one.term is None or len(all_named) < 2 or one.term not in clause.terms:
            return False
        at = clause.terms.index(one.term)
        before = clause.terms[:at]
        both_of = before and before[-1].has("side") and one.key in PAIRS
        if (
            both_of
            and any(t.has("noun") for t in before)
            and not any(t.has("trait") for t in clause.terms[at:])
        ):
            return True  # "menace good both eyes"
        while before and (
            before[-1].has("control", "filler") or before[-1].has("side") or before[-1].has("limb")
        ):
            if before[-1].has("control", "prep"):
                break
            before = before[:-1]
        return bool(before and before[-1].has("control", "prep") and any(t.has("noun") for t in before))

    def _own_side(self, clause: Clause, at: int, said: Sequence[str]) -> str:
        i = at - 1
        while i >= 0:
            term = clause.terms[i]
            if term.used:
                break
            keys = [k for k in term.keys("side") if k in ("left", "right", "both", "other", "that")]
            if keys and not (keys[0] == "right" and _is_filler_right(clause, i)):
                return self._resolved(keys[0], clause)
            if not (
                term.has("limb") or term.has("severity") or term.has("control", "filler") or term.has("trait")
            ):
                break
            i -= 1
        return next((w for w in clause.terms[at].words if w in ("left", "right")), "")

    def _recent(self, clause: Clause) -> str:
        """The side said last, if "that side" and "the other" can still mean it."""
        if clause.sentence - self.last_side_sentence <= 1:
            return self.last_side
        nouns = [self.vocabulary.nouns[k] for t in clause.terms for k in t.keys("noun")]
        of_limb = any(s.startswith(self.limb.station + ".") for n in nouns for s in n.normal)
        return self.limb.sides[0] if self.limb.station and len(self.limb.sides) == 1 and of_limb else ""

    def _resolved(self, side: str, clause: Clause) -> str:
        if side == "other":
            return opposite(self._recent(clause))
        if side == "that":
            return self._recent(clause)
        return side

    def _described(self, clause: Clause) -> list[Described]:
        found: list[Described] = []
        denied, since, joined = False, 0, True
        for at, term in enumerate(clause.terms):
            if term.has("control", "no") and not term.has("trait") and not term.has("says"):
                denied, since, joined = True, 0, True
                if self._no_such(clause, at):
                    found.append(Described(term, ("absent",), False))
                    denied = False
                continue
            if term.has("control", "nothing") and not any(
                t.has("trait") or t.has("finding") for t in clause.terms
            ):
                found.append(Described(term, ("mass",), True))
                continue
            keys = (*term.keys("trait"), *term.keys("finding"))
            if (
                keys
                and at == 0
                and clause.opens
                and term.text in self.vocabulary.language.openers
                and len(clause.terms) > 1
            ) and (not clause.terms[1].has("noun") or clause.terms[1].has("control", "filler")):
                continue
            if keys:
                says_no = denied and joined and since <= 5
                found.append(Described(term, keys, says_no, self._severity(clause, at)))
                joined = False
                continue
            if term.has("control", "or", "and"):
                joined = joined or denied
            elif term.kind in (UNKNOWN, FIGURE) or term.has("noun"):
                since += 1
            if term.has("control", "but"):
                denied = False
        return found

    def _no_such(self, clause: Clause, at: int) -> bool:
        """ "no light reflex on the right": the name itself is denied."""
        if any(t.has("trait") or t.has("finding") or t.has("says") for t in clause.terms):
            return False
        after = [t for t in clause.terms[at + 1 :] if not t.has("control", "filler")][:1]
        return (
            bool(after) and after[0].has("noun") and clause.terms[at].text in self.vocabulary.language.bare_no
        )

    def _severity(self, clause: Clause, at: int) -> str:
        for step in (-1, 1):
            i = at + step
            for _ in range(4):
                if not 0 <= i < len(clause.terms):
                    break
                term = clause.terms[i]
                if term.has("severity"):
                    return term.keys("severity")[0]
                stops = (
                    term.has("finding") or (term.has("noun") and step < 0) or term.has("control", "and", "no")
                )
                if stops:
                    break
                i += step
        own = clause.terms[at].keys("severity")
        return own[0] if own else ""

    # ---- clauses that only add to the one before

    def _only_adds(self, clause: Clause, named: Sequence[Named], described: Sequence[Described]) -> bool:
        if self._only_where_again(clause, named, described):
            return True
        if named or described or not self.last or self._says(clause):
            return False
        if clause.having("control", "skip"):
            return False
        return self.last[-1].sentence in (clause.sentence, clause.sentence - 1)

    def _only_where_again(
        self, clause: Clause, named: Sequence[Named], described: Sequence[Described]
    ) -> bool:
        """ "retina detached, right eye", "purple canine, three oh four": only the place, after the pause."""
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
            return self.last[-1].state == ABNORMAL and self.last[-1].clause == self.count - 1
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
        here = {x.partition(".")[0] for n in named for x in (*n.noun.normal, *n.noun.scope)}
        return bool(stations & here) and all(n.side or n.site for n in named)

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

    def _add_to_last(self, clause: Clause, place: Place) -> None:
        size = tuple(self.figures.sizes.get(id(clause), ()))
        grade = self.figures.grades.get(id(clause), "")
        severity = next((t.keys("severity")[0] for t in clause.terms if t.has("severity")), "")
        sides = sides_said(clause.terms, self._recent(clause))
        teeth = self.figures.teeth.get(id(clause), ())
        same = self.last[-1].sentence == clause.sentence
        if teeth and same:
            for s in list(self.last):
                if s.site and s.structure == "MTH.teeth" and self.correcting_sentence == clause.sentence:
                    s.site, s.side, s.spans = teeth[0], _tooth_side(teeth[0]), (*s.spans, _span(clause))
                if s.structure == "MTH.teeth" and not s.site and s.state == ABNORMAL:
                    for tooth in teeth[1:]:
                        self.statements.append(
                            dataclasses.replace(
                                s, site=tooth, side=_tooth_side(tooth), spans=(*s.spans, _span(clause))
                            )
                        )
                    s.site, s.side = teeth[0], _tooth_side(teeth[0])
                    s.spans = (*s.spans, _span(clause))
            return
        span = _span(clause)
        hedge = bool(clause.having("control", "hedge")) and same
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
                    if not any(x.side == sides[0] and x.structure == s.structure for x in self.last):
                        copied = dataclasses.replace(
                            s, side=sides[0], spans=(*s.spans, span), clause=self.count
                        )
                        self._grade(copied, grade)
                        self.statements.append(copied)
                elif grade and same:
                    self._grade(s, grade)
                if severity and not s.severity and same and len(clause.terms) <= 6:
                    s.severity = severity if self._takes_severity(s) else ""
                    self._recode(s)
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
            elif hedge and s.state == NORMAL and s in self.statements:
                self.statements.remove(s)
        if place.lungs and same and all(s.structure.startswith("LUN.") for s in self.last):
            gone = [s for s in self.last if s.structure not in place.lungs]
            if len(gone) < len(self.last):
                self.statements = [s for s in self.statements if s not in gone]
                self.last = [s for s in self.last if s not in gone]
        murmur = [s for s in self.last if s.structure == "HRT.murmur" and s.state == ABNORMAL]
        where = next((k for k in place.keys if k.split()[0] in ("apex", "base", "sternum")), "")
        if murmur and same and (where or sides):
            self._murmur_at(murmur[-1], where, sides, span, clause)
        elif (
            sides
            and self.correcting_sentence == clause.sentence
            and all(s.state == ABNORMAL for s in self.last)
        ) or (
            sides
            and same
            and not _more_said(clause)
            and all(
                not s.sided or s.side == "none" or (sides == ["both"] and s.side in ("left", "right"))
                for s in self.last
            )
        ):
            self._side_again(sides, span)

    def _murmur_at(
        self, murmur: Statement, where: str, sides: Sequence[str], span: Span, clause: Clause
    ) -> None:
        """Where a murmur is loudest, or that it is heard on the other side too."""
        side = (
            where.split()[1]
            if len(where.split()) > 1
            else next((s for s in sides if s in ("left", "right")), "none")
        )
        if murmur.side in ("none", side):
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
        made: list[Statement] = []
        seen: set[tuple[str, tuple[str, ...], str]] = set()
        for s in self.last:
            if s not in self.statements or (s.structure, s.codes, s.state) in seen:
                continue
            kind = side_kind(self.vocabulary.walk.structure[s.structure])
            if kind == "none":
                continue
            seen.add((s.structure, s.codes, s.state))
            for side in sides_for(kind, sides, Place(), True) or [s.side]:
                made.append(dataclasses.replace(s, side=side, spans=(*s.spans, span), sided=True))
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
        s.grade = grade_key(s.codes, s.grade, self.vocabulary.walk)

    def _takes_severity(self, s: Statement) -> bool:
        return True

    # ---- normal and not normal

    def _says(self, clause: Clause) -> list[Term]:
        return [t for t in clause.terms if t.has("says")]

    def _state(self, clause: Clause, named: list[Named], described: list[Described], place: Place) -> None:
        hedged = bool(clause.having("control", "hedge"))
        made: list[Statement] = []
        said = sides_said(clause.terms, self._recent(clause))
        for term in self._says(clause):
            for codes in term.keys("says"):
                for structure in codes.split():
                    made += self._made(clause, structure, NORMAL, None, [term], said, place, plural=True)
        if (
            not named
            and self.copied[0] == clause.sentence
            and any("good" in d.keys and not d.denied for d in described)
        ):
            gone = [s for s in self.copied[1] if s.state == ABNORMAL]
            self.statements = [s for s in self.statements if s not in gone]
        made += self._rest_of_chest(clause, named, described)
        about = self._spoken_of(clause, named, described)
        described = [*described, *self._graded(clause, about, described)]
        blocked: set[str] = set()
        for one in described:
            made += self._of_trait(clause, one, about, named, said, place, blocked)
        abnormal = {(s.structure, s.side) for s in made if s.state == ABNORMAL}
        made = [
            s
            for s in made
            if s.state == ABNORMAL or ((s.structure, s.side) not in abnormal and s.structure not in blocked)
        ]
        if any(s.structure == "HRT.murmur" and s.grade in ("5", "6") for s in made):
            made = [s for s in made if s.structure != "HRT.impulse"]  # a thrill is what makes it a five
        if hedged:
            self.hedged_away = [s for s in made if s.state == ABNORMAL]
            made = [dataclasses.replace(s, note=SUSPECTED, sure=0.5) for s in made if s.state == ABNORMAL]
        self.statements.extend(_once(made))

    def _rest_of_chest(
        self, clause: Clause, named: Sequence[Named], described: Sequence[Described]
    ) -> list[Statement]:
        """ "Chest: quiet on the right at the back, everything else clear": the fields that were not said."""
        fine = next((d for d in described if set(d.keys) & set(GENERIC) and not d.denied), None)
        chest = self.topic_sentence == clause.sentence and all(
            set(n.noun.scope) <= set(LUNGS.values()) for n in self.topic
        )
        if named or fine is None or not chest or not clause.having("control", "rest"):
            return []
        said = {(s.structure, s.side) for s in self.statements if s.sentence == clause.sentence}
        if not any(structure in LUNGS.values() for structure, _ in said) or clause.having("place"):
            return []
        made = []
        for structure in LUNGS.values():
            made += self._made(
                clause, structure, NORMAL, fine, [fine.term], ["both"], Place(), plural=True, own=False
            )
        return [s for s in made if (s.structure, s.side) not in said]

    def _graded(
        self, clause: Clause, about: Sequence[Named], described: Sequence[Described]
    ) -> list[Described]:
        """ "left kneecap grade one": the grade alone says what it is."""
        if id(clause) not in self.figures.grades or any(not d.denied for d in described):
            return []
        trait = next(
            (self.vocabulary.graded[x] for n in about for x in n.noun.normal if x in self.vocabulary.graded),
            "",
        )
        term = next((t for t in clause.terms if t.kind == FIGURE), clause.terms[-1])
        return (
            [Described(term, (trait,), False, self._severity(clause, clause.terms.index(term)))]
            if trait
            else []
        )

    def _spoken_of(self, clause: Clause, named: list[Named], described: Sequence[Described]) -> list[Named]:
        """What the traits of a clause are of: its own names, else the topic."""
        if named:
            return named
        said = [t for t in clause.terms if t.has("side")]
        near = self.topic_sentence == clause.sentence
        if (
            near
            or (said and self.topic_sentence == clause.sentence - 1)
            or self.topic_sentence == clause.sentence - 1
        ):
            alone = self.lone_side[1] if self.lone_side[0] == clause.sentence else ""
            return [dataclasses.replace(n, side="" if said else alone or n.side) for n in self.topic]
        return []

    def _of_trait(
        self,
        clause: Clause,
        one: Described,
        about: list[Named],
        named: list[Named],
        said: Sequence[str],
        place: Place,
        blocked: set[str],
    ) -> list[Statement]:
        made: list[Statement] = []
        if not named and self.topic_skipped and self.topic_sentence == clause.sentence:
            about = []
        for key in one.keys:
            own = any(self.vocabulary.fits(n.key, key) for n in named)
            for name in self.where if key not in GENERIC and not one.denied else ():
                if own and name.key not in self.vocabulary.walk.structure:
                    continue
                found = self._of_name(clause, one, key, name, True, said, place, blocked)
                made += [s for s in found if s.state == ABNORMAL]
        if made:
            return made
        if named and not one.denied and not self.where and self._topic_rather(clause, one, named):
            about = [dataclasses.replace(n, side="" if said else n.side) for n in self.topic]
        for key in one.keys:
            for name in about:
                made += self._of_name(clause, one, key, name, bool(named), said, place, blocked)
            if made:
                break
        if not made and self._elsewhere(clause, named):
            for key in one.keys:
                if key in GENERIC or key in self.vocabulary.home:
                    continue
                for name in self.topic:
                    made += self._of_name(clause, one, key, name, False, said, place, blocked)
        if made and any(s.state == ABNORMAL for s in made):
            return [s for s in made if s.state == ABNORMAL]
        region, sentence = self.region
        if not made and region and sentence == clause.sentence and not named and not self.topic_skipped:
            for key in one.keys:
                if key not in GENERIC and not made:
                    made += self._of_name(clause, one, key, region, False, said, place, blocked)
        if made or one.term.has("control", "nothing") or self._of_a_lump(clause, one):
            return made
        for key in one.keys:
            if not one.denied or key in self.vocabulary.denied or self._finding_denied(key, named):
                made += self._at_home(clause, one, key, named, said, place)
            if made:
                break
        return made

    def _elsewhere(self, clause: Clause, named: Sequence[Named]) -> bool:
        """The names of the clause are of another station than the topic: they may only be places of it."""
        if not named or self.topic_sentence != clause.sentence or self.topic_skipped:
            return False
        stations = {s.partition(".")[0] for n in self.topic for s in (*n.noun.normal, *n.noun.scope)}
        return not any(
            s.partition(".")[0] in stations for n in named for s in (*n.noun.normal, *n.noun.scope)
        )

    def _topic_rather(self, clause: Clause, one: Described, named: Sequence[Named]) -> bool:
        """ "Nails: the front ones overgrown on both feet": the only name says where."""
        if (
            self.topic_sentence != clause.sentence
            or self.topic_skipped
            or len(named) != 1
            or named[0].term is None
        ):
            return False
        if named[0].term not in clause.terms or not all(k not in GENERIC for k in one.keys):
            return False
        at = clause.terms.index(named[0].term)
        before = [t for t in clause.terms[:at] if not t.has("side") and not t.has("limb")]
        behind = bool(before) and before[-1].has("control", "prep")
        return behind and any(self.topic_matches(k) for k in one.keys)

    def _same_station(self, structure: str, named: Sequence[Named]) -> bool:
        station = structure.partition(".")[0]
        if station == "GEN":
            return True  # "weight four kilos he is bright": the whole animal
        return any(s.startswith(station + ".") for n in named for s in (*n.noun.normal, *n.noun.scope))

    def _of_a_lump(self, clause: Clause, one: Described) -> bool:
        """ "mass on the flank, firm, ulcerated": what describes the lump is no finding elsewhere."""
        return bool(
            self.last
            and self.last[-1].structure == "SKN.lumps"
            and self.last[-1].sentence == clause.sentence
            and self.last[-1].state == ABNORMAL
            and not clause.having("noun")
            and not one.denied
            and not set(one.keys) & {"mass", "wart"}
        )

    def _finding_denied(self, key: str, named: Sequence[Named]) -> bool:
        return False

    def _of_name(
        self,
        clause: Clause,
        one: Described,
        key: str,
        name: Named,
        own: bool,
        said: Sequence[str],
        place: Place,
        blocked: set[str],
    ) -> list[Statement]:
        normal, scope = self._targets(name, place, clause)
        if key == "unfelt" and name.noun.unfelt is not None:
            normal = scope = name.noun.unfelt
        made: list[Statement] = []
        generic = key in GENERIC
        everywhere = [s for s in normal if self.vocabulary.meaning(s, key)]
        if place.limb == "all" and not everywhere and name.noun.fore is not None:
            everywhere = [s for s in scope if self.vocabulary.meaning(s, key) not in ("", NORMAL)]
        elif place.limb == "all" and name.noun.fore is not None and not one.denied:
            everywhere = list(
                dict.fromkeys(
                    [*everywhere, *(s for s in scope if self.vocabulary.meaning(s, key) not in ("", NORMAL))]
                )
            )
        looked = everywhere or [s for s in scope if self.vocabulary.meaning(s, key)][:1]
        if key == "good" and not everywhere:
            looked = []
        if generic and not everywhere and name.noun.never:
            looked = []
        for structure in looked:
            result = self.vocabulary.meaning(structure, key)
            if one.denied and key in self.vocabulary.silent and result != NORMAL:
                continue
            if one.denied:
                turned = self.vocabulary.meaning(structure, "not-" + key)
                if result != NORMAL:
                    result = NORMAL if turned in ("", NORMAL) else turned
                elif turned:
                    result = turned
                else:
                    blocked.add(structure)
                    continue
            positive = result == NORMAL and not one.denied
            group = name.key not in self.vocabulary.walk.structure
            if positive and structure not in normal and group and structure not in name.noun.also:
                continue  # "eyes dry" is no word about tears
            if result == NORMAL and structure not in normal and name.key == "neck":
                continue
            if result == NORMAL and one.denied and key == "mass" and name.key == "belly":
                blocked.add("SKN.lumps")
                continue  # "no lumps on the belly": neither its wall nor the skin everywhere
            if result == NORMAL and not self._may_be_normal(clause, name, own, one, generic):
                continue
            made += self._made(
                clause,
                structure,
                NORMAL if result == NORMAL else ABNORMAL,
                one,
                _terms(name, one),
                said,
                place,
                result=result,
                name=name,
                plural=name.plural,
                key=key,
                own=own,
            )
        return made

    def _may_be_normal(self, clause: Clause, name: Named, own: bool, one: Described, generic: bool) -> bool:
        """When in doubt, no normal: a word like "fine" counts for what is named beside it."""
        if clause.having("control", "skip"):
            return False
        if (
            one.denied
            and not own
            and one.keys[0] in self.vocabulary.denied
            and self.topic_sentence != clause.sentence
        ):
            return bool(clause.having("control", "nothing") and clause.having("side"))
        if name.noun.normal[:1] == ("SKN.skin",) and self.where:
            return False  # "the skin round the eyes": a part of it
        if clause.having("control", "rest") and not own:
            return any(t.has("place", "lung ahead") for t in clause.terms)
        if own:
            return not clause.having("control", "rest") or bool(name.plural or not generic or name.term)
        if self.topic_skipped:
            return False
        if (
            generic
            and clause.having("limb")
            and not any(side_kind(self.vocabulary.walk.structure[x]) == "four" for x in name.noun.normal)
        ):
            return False
        if generic and self.topic_sentence != clause.sentence and not self._pronoun(clause):
            return False
        unknown = sum(1 for t in clause.terms if t.kind == UNKNOWN)
        at = clause.terms.index(one.term) if one.term in clause.terms else 0
        if generic and any(t.kind == UNKNOWN for t in clause.terms[:at]):
            return False  # the word before may be what is fine
        if generic and any(t.kind == UNKNOWN for t in clause.terms[at + 1 : at + 2]):
            return False  # "normal contents": so may the word behind
        if generic and self.topic_sentence != clause.sentence and not clause.having("side"):
            return False
        return unknown <= (1 if generic else MOST_UNKNOWN)

    def _pronoun(self, clause: Clause) -> bool:
        """ "The right one is fine", "both sides normal": what was named before is meant."""
        return any(t.has("side") and t.words[-1] in self.vocabulary.language.pronouns for t in clause.terms)

    def _targets(self, name: Named, place: Place, clause: Clause) -> tuple[tuple[str, ...], tuple[str, ...]]:
        noun = name.noun
        normal, scope = noun.normal, noun.scope
        limb = name.limb or place.limb or (self.limb.limb if self._limbed(noun) else "")
        if limb == "fore" and noun.fore is not None:
            normal = noun.fore
            scope = (*noun.fore, *(s for s in scope if not s.startswith(("HLB", "GEN"))))
        elif limb == "hind" and noun.hind is not None:
            normal = noun.hind
            scope = (*noun.hind, *(s for s in scope if not s.startswith(("FLB", "GEN"))))
        elif limb == "all" and not normal and noun.fore is not None and noun.hind is not None:
            normal = (*noun.fore, *noun.hind)
        if noun.scoped is not None and place.has("scope", "inside"):
            normal = noun.scoped
        if noun.to_tail and place.has("to tail"):
            normal = (*normal, *noun.to_tail)
        stations = {s.partition(".")[0] for s in normal}
        if stations == {"LUN"}:
            own = name.term is not None and name.term in clause.terms
            places = place.lungs or (() if own else self.lung_places)
            if places:
                normal = tuple(s for s in normal if s in places)
                scope = normal
        if name.key == "kidneys":
            side = name.side or (place.sides[0] if place.sides else "")
            if side in ("left", "right"):
                normal = scope = (f"ABD.kidney-{side}",)
        if self.neuro and noun.neuro:
            normal, scope = noun.neuro, (*noun.neuro, *scope)
        if name.key == "neck":
            kept = self.neck_said[1] if self.neck_said[0] == clause.sentence else ()
            normal = tuple(dict.fromkeys((*kept, *place.neck)))
        return normal, scope

    def _limbed(self, noun: Noun) -> bool:
        return bool(self.limb.limb) and (noun.fore is not None or noun.hind is not None)

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
        finding = self.vocabulary.walk.finding.get(key)
        traits = sum(1 for t in clause.terms if t.has("trait") or t.has("finding") or t.has("says"))
        if key in self.vocabulary.shy and (named or self.where or traits > 1):
            return []
        if finding is not None:
            if finding.whole_station:
                return []
            homes: tuple[str, ...] = finding.structures[:1]
        else:
            homes = self.vocabulary.home.get(key, ())
        if homes and homes[0].startswith("LUN.") and len(homes) > 1:
            homes = tuple(s for s in homes if not place.lungs or s in place.lungs)
        if key == "weak" and not (place.limb or self.limb.limb):
            homes = ("GEN.gait",)
        if homes == ("GEN.gait",) and key == "lame":
            limb = place.limb or (self.limb.limb if self.limb_sentence == clause.sentence else "")
            homes = ("FLB.gait",) if limb == "fore" else ("HLB.gait",) if limb == "hind" else homes
        made = []
        for structure in homes:
            result = self.vocabulary.meaning(structure, key)
            if not result:
                continue
            if one.denied:
                if finding is not None or result == NORMAL:
                    continue
                result = NORMAL
            if result == NORMAL and clause.having("control", "skip", "rest"):
                continue
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
                plural=True,
            )
        return made

    # ---- statements with their sides

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
        if state == ABNORMAL:
            code = choose(result, grade, severity, self.about, self.vocabulary.walk)
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
        if kind == "free" and state == NORMAL and not (name and name.side):
            sides = ["none"]  # "no fleas": nowhere
        if not sides and state != ABNORMAL:
            return []
        size = tuple(self.figures.sizes.get(id(clause), ())) if state == ABNORMAL else ()
        span = _span(clause)
        spans = (
            (span,) if not name or name.term is None or name.term in clause.terms else (_of(name.term), span)
        )
        sure = 0.9 if own and name else 0.85 if own else 0.7
        reason = "named" if own and name else "says so by itself" if not name else "of what was named before"
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
                "",
                spans,
                round(sure, 2),
                reason,
                self.count,
                clause.sentence,
                sided,
                key,
                bool(clause.having("control", "rest")),
            )
            for side in sides or _unsaid(kind, said)
        ]

    def _site(self, clause: Clause, structure: str, name: Named | None, side: str) -> str:
        if name and name.site:
            return name.site
        numbers = [
            t.number.digits for t in numbers_of(self.figures, clause) if t.number and not t.number.decimals
        ]
        if structure == "GUM.mammary" and numbers and side in ("left", "right"):
            return f"{side[0].upper()}{numbers[0]}"
        if structure in ("FLB.digits", "FLB.nails", "FLB.pads", "HLB.paw"):
            if name and name.noun.digit:
                return name.noun.digit
            few = [n for n in numbers if n in "12345"]
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
            side = where.split()[1] if where else said[0] if said and said[0] in ("left", "right") else "none"
            return [side], True
        if kind == "none":
            return ["none"], True
        own = [name.side] if name and name.side else []
        if structure == "NEU.eye-position" and not own and _towards(clause):
            return ["left", "right"], True
        sides = own or self._near_side(clause, one, said)
        if kind == "four":
            limbs = limbs_said(place, sides)
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
        if not sides and (not plural or name is None):
            if station in LIMB_STATIONS and self.limb.station == station and self.limb.sides:
                sides = list(self.limb.sides)
            elif kind == "pair" and (held := self._held(station, clause, name is not None)):
                sides = [held]
        several = plural or station not in LIMB_STATIONS
        if name is not None and one is not None and not plural and structure in self.vocabulary.single:
            several = self._region_plural(clause)
        found = sides_for(kind, sides, place, several)
        return found, bool(sides) or kind == "free" or (paws and place.limb == "all")

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
        at = clause.terms.index(one.term)
        if any(t.has("control", "and") for t in clause.terms) and set(said) == {"left", "right"}:
            first = [t for t in clause.terms if t.has("side", "left", "right")]
            if len(first) >= 2 and clause.terms.index(first[1]) - clause.terms.index(first[0]) <= 3:
                return ["left", "right"]
        for term in reversed(clause.terms[:at]):
            keys = term.keys("side")
            if keys:
                return [self._resolved(keys[0], clause)]
        return list(said)

    # ---- not examined, in part

    def _skip(self, clause: Clause, named: list[Named], place: Place) -> None:
        reason = self._reason(clause)
        said = sides_said(clause.terms, self._recent(clause))
        own = bool(named)
        about = (
            named
            or (self.pending if self.pending_sentence == clause.sentence else [])
            or (self.topic if self.topic_sentence == clause.sentence or self._refers(clause) else [])
        )
        if not own and not said and not place.lungs and not place.limb:
            normals = [
                s
                for s in self.last
                if s.state in (NORMAL, PARTIAL) and s.sentence == clause.sentence and s in self.statements
            ]
            if normals:
                for s in normals:
                    s.state, s.note, s.spans, s.sure = PARTIAL, reason, (*s.spans, _span(clause)), 0.75
                return
        made: list[Statement] = []
        for name in about:
            side = "" if said and not own else name.side
            one = dataclasses.replace(name, side=side)
            normal, _ = self._targets(one, place, clause)
            structures = one.noun.absent if one.noun.absent is not None and not place.lungs else normal
            if place.has("scope") and one.noun.scoped:
                structures = one.noun.scoped
            for structure in structures:
                made += [
                    dataclasses.replace(s, note=reason)
                    for s in self._made(
                        clause,
                        structure,
                        NOT_EXAMINED,
                        None,
                        [one.term] if one.term else [],
                        said,
                        place,
                        name=one,
                        plural=True,
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
        self.statements.extend(_once(made))
        self.topic_skipped = True

    def _refers(self, clause: Clause) -> bool:
        """ "Not done.", "Left that one alone.": the sentence before is meant."""
        return self.topic_sentence == clause.sentence - 1 and not any(
            t.kind == UNKNOWN or t.has("place") for t in clause.terms
        )

    def _reason(self, clause: Clause) -> str:
        key = next((k for t in clause.terms for k in t.keys("reason")), "")
        found = self.vocabulary.walk.reason.get(key)
        return found.words if found else key or NO_REASON

    def _part(self, clause: Clause, statements: Iterable[Statement]) -> None:
        for s in statements:
            if s.state == NORMAL and s.sentence == clause.sentence and s in self.statements:
                s.state, s.note, s.sure = PARTIAL, self._reason(clause), min(s.sure, 0.75)
                s.spans = (*s.spans, _span(clause))

    # ---- the other side again

    def _again(self, clause: Clause, named: list[Named], place: Place) -> bool:
        """ "Right kneecap same as the other side, but only a grade one"."""
        said = [s for s in sides_said(clause.terms, self._recent(clause)) if s in ("left", "right")]
        target = next((n.side for n in named if n.side in ("left", "right")), "") or (said[0] if said else "")
        site = ""
        if not target and self.limb_sentence == clause.sentence and len(self.limb.sides) == 1:
            target, place = self.limb.sides[0], self.limb
        if not target and self.topic_sentence == clause.sentence and self.topic and self.topic[0].site:
            target, site = self.topic[0].side, self.topic[0].site
            named = self.topic[:1]
        if (
            not target
            and self.topic_sentence == clause.sentence
            and self.topic
            and self.topic[0].side in ("left", "right")
        ):
            target, named = self.topic[0].side, list(self.topic)
        if not target:
            return False
        source = opposite(target)
        wanted = self._again_lines(named, place, clause)
        copied = []
        for s in self.statements:
            same_side = s.side == source or (s.side in LIMBS and LIMBS[s.side] == source)
            if s.structure == "MTH.teeth" and (not site or s not in self.last):
                continue
            if same_side and s.structure in wanted and s.state != NOT_EXAMINED:
                side = target if s.side == source else s.side.translate(str.maketrans("LR", "RL"))
                copied.append(
                    dataclasses.replace(
                        s,
                        side=side,
                        spans=(*s.spans, _span(clause)),
                        sure=round(s.sure * 0.85, 2),
                        reason="said to be the same as the other side",
                        clause=self.count,
                        sentence=clause.sentence,
                        site=site
                        if s.structure == "MTH.teeth"
                        else s.site.translate(str.maketrans("LR", "RL")),
                        sided=True,
                    )
                )
        if not copied:
            return False
        severity = next((t.keys("severity")[0] for t in clause.terms if t.has("severity")), "")
        grade = self.figures.grades.get(id(clause), "")
        for s in copied:
            if s.state == ABNORMAL and severity:
                s.severity = severity
            if s.state == ABNORMAL and grade:
                self._grade(s, grade)
            if s.state == ABNORMAL and clause.having("control", "hedge"):
                s.note = SUSPECTED
        if clause.having("control", "hedge"):
            copied = [s for s in copied if s.state == ABNORMAL]
        self.statements.extend(copied)
        self.copied = (clause.sentence, copied)
        self.last_side = target
        self.last_side_sentence = clause.sentence
        return True

    def _too(self, clause: Clause, named: Sequence[Named], described: Sequence[Described]) -> bool:
        """ "Spine comfortable, lumbosacral too": what was said last holds for what is named now."""
        if described or not named or not self.last or not clause.having("control", "again"):
            return False
        here = {s for n in named for s in (*n.noun.normal, *n.noun.scope)}
        if (
            clause.having("side")
            or any(n.side or n.site for n in named)
            or self.limb_sentence == clause.sentence
        ):
            return False
        return self.last[-1].sentence == clause.sentence and not any(s.structure in here for s in self.last)

    def _again_lines(self, named: list[Named], place: Place, clause: Clause) -> set[str]:
        if place.limb and not any(n.noun.normal for n in named):
            return {
                s
                for s in self.vocabulary.walk.structure
                if s.startswith("FLB" if place.limb == "fore" else "HLB")
            }
        if not named:
            lines = {s.structure for s in self.last}
            teeth = self.figures.teeth.get(id(clause))
            return lines if not teeth else {"MTH.teeth"}
        found: set[str] = set()
        for name in named:
            normal, scope = self._targets(name, place, clause)
            found |= {*normal, *scope}
            if name.key in ("eye", "ear"):
                found |= {s for s in self.vocabulary.walk.structure if s.startswith(name.key.upper() + ".")}
        return found

    # ---- corrections

    def _replace(self, made: Sequence[Statement]) -> None:
        """After a word that corrects, what is said now stands instead of what was said of the same line."""
        if self.correcting_sentence < 0 or self.correcting < 0:
            return
        if made[0].sentence != self.correcting_sentence and not (
            self.correcting == self.count - 1 and made[0].sentence == self.correcting_sentence + 1
        ):
            return
        now = [s for s in made if s.clause >= self.correcting]
        self.statements = [
            s for s in self.statements if s in made or not any(self._taken_back(s, n) for n in now)
        ]

    def _taken_back(self, old: Statement, new: Statement) -> bool:
        if old.clause >= self.correcting:
            return False
        if self._elsewhere_instead(old, new):
            return True
        if old.structure != new.structure:
            return False
        if old.sentence < self.correcting_sentence - (1 if self.correcting_opens else 0):
            return False
        near = self.correcting - old.clause <= 2
        same_side = old.side == new.side
        if new.state == NORMAL:
            return same_side and old.state != NORMAL and not self.rest_said
        if old.state == NORMAL:
            return same_side
        if new.state == ABNORMAL:
            alike = bool(set(old.codes) & set(new.codes)) or old.trait == new.trait
            at_once = self.correcting - old.clause <= 1 and not self.correcting_named
            alike = alike or (at_once and old.site == new.site)  # "a cataract, no, just sclerosis"
            return near and alike and (same_side or old.sentence == new.sentence)
        return same_side

    def _elsewhere_instead(self, old: Statement, new: Statement) -> bool:
        """ "Left ear's red, no, it's the right one that's red inside": the same finding of that station."""
        return (
            old.state == new.state == ABNORMAL
            and self.correcting - old.clause <= 2
            and old.sentence == new.sentence
            and old.trait == new.trait
            and old.side != new.side
            and {old.side, new.side} == {"left", "right"}
            and old.structure.partition(".")[0] == new.structure.partition(".")[0]
        )

    def _nothing(self, clause: Clause) -> bool:
        return bool(clause.having("control", "nothing")) and not clause.having("trait")

    def _nothing_there(self, clause: Clause) -> None:
        """ "maybe a faint murmur... no, nothing there": the doubt is talked away."""
        gone = [
            s
            for s in self.hedged_away
            if any(s.structure == x.structure and s.side == x.side for x in self.statements)
        ]
        if not gone:
            return
        lines = {s.structure for s in gone}
        self.statements = [
            s
            for s in self.statements
            if not (s.structure in lines and s.state == ABNORMAL and s.note == SUSPECTED)
        ]
        for s in gone:
            if s.trait in self.vocabulary.denied:
                side = s.side if s.structure != "HRT.murmur" else "none"
                self.statements.append(
                    dataclasses.replace(
                        s,
                        side=side,
                        state=NORMAL,
                        codes=(),
                        severity="",
                        grade="",
                        size=(),
                        note="",
                        spans=(*s.spans, _span(clause)),
                        sure=0.7,
                        reason="a doubt that was taken back",
                        clause=self.count,
                        sentence=clause.sentence,
                    )
                )
        self.hedged_away = []

    # ---- what is kept for the next clause

    def _topics(self, named: list[Named], clause: Clause) -> None:
        said = sides_said(clause.terms, self._recent(clause))
        single = [s for s in said if s in ("left", "right")]
        if len(set(single)) == 1 and "both" not in said:
            self.last_side = single[0]
            self.last_side_sentence = clause.sentence
        bare = not named and not any(
            t.has("trait") or t.has("finding") or t.has("says") for t in clause.terms
        )
        if single or "both" in said or named:
            self.lone_side = (
                clause.sentence,
                single[0] if len(set(single)) == 1 and "both" not in said else "",
            )
        self._loose(clause, bare)
        if named and self.topic_named == clause.sentence and all(self._behind(n, clause) for n in named):
            named = []  # only where something is: what was spoken of stays
        spoke = bool(named)
        if not spoke:
            home = self._home_topic(clause)
            if home:
                named, spoke = home, True
        if spoke:
            if self.pending_sentence != clause.sentence:
                self.pending = []
            only = not any(t.has("trait") or t.has("finding") or t.has("says") for t in clause.terms)
            self.pending = [*self.pending, *named] if only else []
            self.pending_sentence = clause.sentence
            self.topic, self.topic_sentence = named, clause.sentence
            self.topic_named = clause.sentence
            if (
                len(named) == 1
                and named[0].key not in self.vocabulary.walk.structure
                and len(named[0].noun.scope) > 2
            ):
                self.region = (named[0], clause.sentence)
            elif not self._within(named):
                self.region = (None, -1)
            self.topic_skipped = bool(clause.having("control", "skip"))
            nerves = any(s.startswith("NEU.") for n in named for s in (*n.noun.normal, *n.noun.scope))
            if not bare or nerves:
                kept = self.neuro and all(n.noun.neuro for n in named)
                self.neuro = kept or (nerves and not clause.having("control", "skip"))
            for name in named:
                if self._behind(name, clause):
                    continue
                stations = {s.partition(".")[0] for s in (name.noun.normal or name.noun.scope)}
                for station in stations:
                    side = name.side or (single[0] if len(set(single)) == 1 else "")
                    if side in ("left", "right"):
                        self.station_side[station] = (side, clause.sentence)
                    elif name.plural or "both" in (*said, side):
                        self.station_side.pop(station, None)
        elif self.topic_sentence == clause.sentence - 1 and single:
            self.topic_sentence = clause.sentence
        if spoke or single:
            for name in self.topic:
                if len(set(single)) == 1 and not name.plural and not self._behind(name, clause):
                    for s in name.noun.normal:
                        self.station_side[s.partition(".")[0]] = (single[0], clause.sentence)
        lungs = Place.of(clause.terms).lungs
        if lungs:
            self.lung_places = lungs
        elif any(n.key == "lungs" for n in named):
            self.lung_places = ()

    def _behind(self, name: Named, clause: Clause) -> bool:
        """The name only says where something is: "a cut on the left shoulder"."""
        if name.term is None or name.term not in clause.terms:
            return False
        before = [t for t in clause.terms[: clause.terms.index(name.term)] if not t.has("limb")]
        while (
            before
            and not before[-1].has("control", "prep")
            and (
                (before[-1].has("side") and before[-1].words[0] not in ("on", "in"))
                or before[-1].has("control", "filler")
            )
        ):
            before = before[:-1]
        led = bool(before) and (before[-1].has("control", "prep") or before[-1].has("side"))
        return led and any(t.has("trait") or t.has("finding") for t in before)

    def _within(self, named: Sequence[Named]) -> bool:
        region = self.region[0]
        inside = set(region.noun.scope) if region else set()
        return bool(inside) and all(s in inside for n in named for s in n.noun.normal)

    def _loose(self, clause: Clause, bare: bool) -> None:
        """A grade or a place by itself waits for what it is of: "grade two, no, make that three, murmur"."""
        grade = self.figures.grades.get(id(clause), "")
        numbers = [t for t in numbers_of(self.figures, clause) if t.number]
        if bare and grade:
            self.lone_grade = (clause.sentence, grade)
        elif (
            bare
            and numbers
            and self.lone_grade[0] == clause.sentence
            and self.correcting_sentence == clause.sentence
        ):
            digits = numbers[0].number.digits if numbers[0].number else ""
            self.lone_grade = (clause.sentence, digits)
        where = next(
            (k for t in clause.terms for k in t.keys("place") if k.split()[0] in ("apex", "base", "sternum")),
            "",
        )
        if bare and where:
            self.lone_place = (clause.sentence, where)

    def _home_topic(self, clause: Clause) -> list[Named]:
        """ "There's a slip on the left. Right side I don't feel one": the trait names its line."""
        for term in clause.terms:
            for key in (*term.keys("trait"), *term.keys("finding")):
                finding = self.vocabulary.walk.finding.get(key)
                homes = finding.structures[:1] if finding else self.vocabulary.home.get(key, ())
                homes = tuple(h for h in homes if h in self.vocabulary.nouns)
                if homes and key not in GENERIC and not self.topic_matches(key):
                    return [Named(homes[0], Noun(homes, homes), False, None)]
            for codes in term.keys("says"):
                homes = tuple(h for h in codes.split() if h in self.vocabulary.nouns)
                if homes:
                    return [Named(homes[0], Noun(homes, homes), True, None)]
        return []

    def topic_matches(self, key: str) -> bool:
        return any(self.vocabulary.meaning(s, key) for n in self.topic for s in n.noun.scope)

    def _limb(self, clause: Clause, named: Sequence[Named], place: Place) -> None:
        if not place.limb or place.limb == "all":
            return
        sides = [s for s in sides_said(clause.terms, "") if s in ("left", "right")]
        station = "FLB" if place.limb == "fore" else "HLB"
        self.limb_sentence = clause.sentence
        self.limb = Place(place.limb, tuple(dict.fromkeys(sides)), station=station)
        if not sides:
            self.station_side.pop(station, None)


def applies(species: Sequence[str], when: str, about: About, state: str) -> bool:
    """Whether this animal has the line; not known: yes."""
    if about.species and about.species not in species:
        return False
    sex, months = about.sex, about.age_months
    if when.startswith("female") and sex.startswith("male"):
        return False
    if when.startswith("male") and sex.startswith("female"):
        return False
    if when.endswith("-intact") and sex and not sex.endswith("intact"):
        return state != NORMAL
    if when == "under-6-months" and months is not None and months >= 6:
        return False
    return not (when == "under-16-weeks" and months is not None and months >= 4)


def _unsaid(kind: str, said: Sequence[str]) -> list[str]:
    """Sides of something not normal without a side: both may be meant, and a side said next sets it."""
    if kind != "pair":
        return ["none"]
    return [] if UNRESOLVED in said else ["left", "right"]


def _more_said(clause: Clause) -> bool:
    """ "left worse": more than a side."""
    return any(t.kind == UNKNOWN for t in clause.terms)


def _towards(clause: Clause) -> bool:
    """ "fast phase to the right": a direction, not a side."""
    at = next((i for i, t in enumerate(clause.terms) if t.has("side", "left", "right")), 0)
    return any(t.text in ("to", "towards", "hacia") for t in clause.terms[max(0, at - 2) : at])


def _tooth_side(tooth: str) -> str:
    return "right" if tooth[0] in "1458" else "left"


def _is_filler_right(clause: Clause, at: int) -> bool:
    return at == 0 and clause.opens and len(clause.terms) == 1


def _terms(name: Named, one: Described) -> list[Term]:
    return [t for t in (name.term, one.term) if t is not None]


def _span(clause: Clause) -> Span:
    return Span(clause.start, clause.end)


def _of(term: Term) -> Span:
    return Span(term.start, term.end)


def _once(made: Sequence[Statement]) -> list[Statement]:
    """Without repeats; several codes of one line and side stay apart until they are gathered."""
    found: list[Statement] = []
    for s in made:
        if not any(
            (s.structure, s.side, s.state, s.codes, s.site) == (x.structure, x.side, x.state, x.codes, x.site)
            for x in found
        ):
            found.append(s)
    return found
