"""What was found, as the letter says it: one line each, merged where it is one thing."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby

from clinic.letters.document import Line as LetterLine
from clinic.letters.document import Mark, Sentence
from clinic.letters.texts import Texts
from clinic.letters.wording import ended
from exams import changes as since
from exams.changes import Change
from exams.credit import credited
from exams.digest import FLAGGED, Judged
from exams.lines import Line
from exams.owner_texts import capital
from exams.queries import Standing
from exams.sentences import (
    OwnerSentence,
    both_heading,
    finding_words,
    for_owner,
    joined,
    line_name,
    owner_heading,
)
from exams.state import MEASURED, NOT_EXAMINED, FindingEntry, LineAnswer
from exams.teeth_letter import heading
from exams.tooth_chart import TEETH

_LUMPS = re.compile(r"lump (\d+)")
_INSIDE = re.compile(r" \(([^()]*)\)")
WHOLE = ("GEN", "VIT")  # stations that are no place of the body
MARKS = {"E": Mark.URGENT, "T": Mark.ABNORMAL, "R": Mark.ABNORMAL, "M": Mark.ABNORMAL}
THEN = {
    since.BETTER: "then.better",
    since.SAME: "then.same",
    since.WORSE: "then.worse",
    since.NEW: "then.new",
}
# of what stands one after another at one place
THEN_BOTH = {how: f"then.both_{how}" for how in THEN}
THEN_ALL = {how: f"then.all_{how}" for how in THEN}


@dataclass(frozen=True)
class Assessed:
    """The lines it speaks of, what the walk says of it (empty: it stands in short), and whose it is."""

    lines: Sequence[str]
    text: str
    by: str


@dataclass
class Told:
    """One finding as the letter says it: the same on both sides is said once."""

    line: Line
    entry: FindingEntry
    urgency: str
    sides: list[str] = field(default_factory=list)
    keys: list[str] = field(default_factory=list)
    teeth: list[int] = field(default_factory=list)
    by: str = ""

    @property
    def heading_side(self) -> str:
        return "both" if {"left", "right"} <= set(self.sides) else self.line.side


class FindingsInWords:
    """The findings of one record, each as its owner reads it."""

    def __init__(
        self,
        standing: Standing,
        t: Texts,
        *,
        pet: str,
        names: Mapping[str, str],
        assessed: Sequence[Assessed] = (),
        since: Iterable[Change] = (),
        temperature: str = "C",
        advises: bool = True,
    ) -> None:
        """`advises` False, for one that died: what was seen, not what it may mean or what to do."""
        self.temperature, self.advises = temperature, advises
        self.standing, self.t, self.pet, self.names, self.assessed = standing, t, pet, names, assessed
        self.walk, self.lines, self.state = standing.walk, standing.lines, standing.state
        self.species = self.lines.animal.species
        self.found = self._found(standing.judged)
        self.said = {key for told in self.found for key in told.keys}
        self.planned = {key for each in assessed for key in each.lines}
        self.assessed_at = self._assessed_at()
        self.since = {(c.line.key, c.code): c for c in since}
        self.then_told = self._then_told()
        self.facts_told: set[str] = set()
        # as what each answered line was told, by the key under which its answer is kept
        self.told_as: dict[str, set[Mark]] = {}

    def note(self, keys: Iterable[str], mark: Mark) -> None:
        for key in keys:
            self.told_as.setdefault(key, set()).add(mark)

    def _found(self, judged: Iterable[Judged]) -> list[Told]:
        """Variants stay unsaid; the same finding on left and right becomes one."""
        merged: dict[tuple[object, ...], Told] = {}
        for each in judged:
            answer = self.state.answers[each.line]
            unsaid = each.entry.variant and not is_off(answer)
            if unsaid or each.line not in self.lines or answer.status == NOT_EXAMINED:
                continue
            line = self.lines[each.line]
            same = (line.structure, each.entry.code, each.entry.severity, each.entry.grade, each.entry.tooth)
            # without a side a finding stands for the whole animal, wherever on the walk it was tapped
            whole = (each.entry.code, each.entry.severity, each.entry.grade, each.entry.tooth)
            key: tuple[object, ...] = (
                whole
                if line.side == "-" or each.entry.both_sides
                else same
                if line.side in ("left", "right")
                else (*same, each.line)
            )
            if line.structure == TEETH:  # the same on many teeth is said once
                key = (TEETH, finding_words(self.walk, dataclasses.replace(each.entry, tooth=None)))
            told = merged.setdefault(
                key, Told(line, each.entry, each.urgency.letter, by=credited(answer, self.names))
            )
            told.sides.append(line.side)
            told.teeth.append(each.entry.tooth or 0)
            told.keys.append(each.line)
        return _without_scores(list(merged.values()))

    def _assessed_at(self) -> dict[int, list[tuple[int, Assessed]]]:
        """Each assessment at the last finding that it speaks of: said once, when all of it has been read."""
        at: dict[int, list[tuple[int, Assessed]]] = {}
        walked = sorted(self.found, key=self._station_of)
        for number, each in enumerate(self.assessed):
            spoken = [told for told in walked if each.text and set(each.lines) & set(told.keys)]
            if spoken:
                at.setdefault(id(spoken[-1]), []).append((number, each))
        return at

    def _then_told(self) -> dict[int, tuple[str, int]]:
        """What became of findings since last time, and of how many: at the last of one place, said once."""
        at: dict[int, tuple[str, int]] = {}
        walked = sorted(self.found, key=self._station_of)
        for (where, how), group in groupby(walked, lambda told: (self._place_of(told), self._how(told))):
            together = list(group)
            if not how:
                continue
            if where:
                at[id(together[-1])] = (how, len(together))
            else:
                at |= {id(told): (how, 1) for told in together}
        return at

    def _place_of(self, told: Told) -> str:
        """As the owner reads it; a tooth's place is the tooth."""
        if told.line.structure == TEETH:
            return ""
        return self.heading(told, self.for_owner(told, told.entry), self.t)

    def _how(self, told: Told) -> str:
        then = self.since.get((told.keys[0], told.entry.code))
        return then.how if then and then.how in THEN else ""

    def _station_of(self, told: Told) -> int:
        return [station.code for station in self.walk.stations].index(told.line.station)

    def for_owner(self, told: Told, entry: FindingEntry) -> OwnerSentence:
        both = told.heading_side == "both" and not told.entry.both_sides and told.line.structure != TEETH
        return for_owner(
            self.walk, told.line, entry, pet=self.pet, species=self.species, texts=self.t, both=both
        )

    def both(self, told: Told, said: OwnerSentence) -> bool:
        """What is an emergency today goes out in both languages, until somebody has reviewed it."""
        return self.t.both(f"finding.{told.entry.code}", grave=told.urgency == "E") or said.both

    def texts_for(self, said: OwnerSentence) -> Texts:
        """A sentence that the owner's language lacks stands in English, with its heading."""
        return self.t.english if said.lang and self.t.english else self.t

    def lines_at(self, here: Iterable[Told]) -> Iterator[LetterLine]:
        """One line for each place, in their order; what is an emergency stands apart from the rest."""

        def where(told: Told) -> tuple[object, Mark]:
            return self._place_of(told) or id(told), MARKS[told.urgency]

        for _where, together in groupby(here, where):
            yield self._joined(list(together))

    def _joined(self, together: list[Told]) -> LetterLine:
        """Several findings of one place: it is named once, and so is a degree that all have."""
        if len(together) == 1:
            return self._line(together[0])
        said = [self.for_owner(told, told.entry) for told in together]
        degrees = {each.made_from.tail if each.made_from else "" for each in said}
        severity = together[0].entry.severity if len(degrees) == 1 else ""
        first, *others = [
            self._line(told, headed=n == 0, degree=not severity) for n, told in enumerate(together)
        ]
        key, t = f"walk:{together[0].keys[0]}:{together[0].entry.code}", self.texts_for(said[0])
        more, terms = [*first.sentences[:-1]], [first.sentences[-1]]
        for line in others:
            more += [line.label, *line.sentences[:-1]]
            terms.append(line.sentences[-1])
        if severity and self.advises:
            degree = t(f"severity.{severity}")
            told = t.sentence(f"{key}:degree", "walk.severity_all", "the exam", severity, degree=degree)
            # what became of them stands last
            at = next((n for n, each in enumerate(more) if each.key.endswith(":then")), len(more))
            more.insert(at, replace(told, lang=said[0].lang))
        term = replace(terms[0], term="; ".join(each.term for each in terms))
        return LetterLine(first.label, (*more, term), first.mark)

    def _line(self, told: Told, *, headed: bool = True, degree: bool = True) -> LetterLine:
        """`headed`: with its place; `degree`: with how severe it is, where it says so at all."""
        entry = dataclasses.replace(told.entry, tooth=None) if len(told.teeth) > 1 else told.entry
        said = self.for_owner(told, entry)
        self.note(told.keys, Mark.ABNORMAL)
        t, key, origin = self.texts_for(said), f"walk:{told.keys[0]}:{told.entry.code}", "the exam"
        own = said.made_from
        whole = said.text
        if not degree and own and own.tail:
            whole, own = whole.removesuffix(own.tail).rstrip(), replace(own, tail="")
        first, _, rest = whole.partition(". ")
        rest = rest if self.advises else ""
        where = self.heading(told, said, t)
        alone = not headed or names_itself(where, first)
        text = ended(first) if alone else t("walk.line", where=where, what=ended(self.lower(first)))
        grave = self.both(told, said)
        heading = "" if alone else t("walk.line", where=where, what="")
        label = Sentence(
            key, text, origin, said.term, told.by, strong=True, lang=said.lang, both=grave,
            made_from=own and replace(own, heading=heading, part=1 if rest else 0, tail=""),
        )  # fmt: skip
        rest_of_it = (
            [
                Sentence(
                    f"{key}:rest", rest, origin, said.term, told.by, lang=said.lang, both=grave,
                    made_from=own and replace(own, part=2),
                )
            ]
            if rest
            else []
        )  # fmt: skip
        more = [
            self.t.sentence(
                f"{key}:assessed:{n}", "walk.assessment", "assessment", each.text, each.by,
                by=each.by, words=self.t.own(_ended(each.text)),
            )
            for n, each in self.assessed_at.get(id(told), ())
        ]  # fmt: skip
        if numbers := _LUMPS.findall(told.entry.note) if told.entry.from_lumps else []:
            listed = joined(numbers, self.t)
            more.append(
                self.t.sentence(f"{key}:lumps", "walk.lumps", "a lump", n=len(numbers), numbers=listed)
            )
        how, many = self.then_told.get(id(told), ("", 0))
        if how and self.advises:
            text = THEN[how] if many == 1 else THEN_BOTH[how] if many == 2 else THEN_ALL[how]
            more.append(self.t.sentence(f"{key}:then", text, "the last exam", how, n=many))
        if told.entry.awake_estimate:
            more.append(
                self.t.sentence(f"{key}:first", "tooth.first_impression", origin, "provisional", told.by)
            )
        term = Sentence(f"{key}:term", "", origin, said.term, by=told.by, term=bare(said.term))
        return LetterLine(label, (*rest_of_it, *more, term), MARKS[told.urgency])

    def named(self, told: Told) -> str:
        """A measured value by its name: "weight", not "measured values"."""
        is_value = told.line.station == "VIT"
        return line_name(self.t, told.line) if is_value else self.where(told, self.t)

    def where(self, told: Told, t: Texts) -> str:
        if told.line.structure == TEETH:
            return heading(told.teeth, self.species, t)
        if told.heading_side != "both" or told.entry.both_sides:
            return owner_heading(t, told.line, told.entry, self.species)
        return both_heading(t, told.line.station)

    def heading(self, told: Told, said: OwnerSentence, t: Texts) -> str:
        if told.line.structure == TEETH:
            return self.where(told, t)
        # a value by its own name: "body weight", not "measured values"
        return capital(line_name(t, told.line)) if told.line.station == "VIT" else said.heading

    def lower(self, text: str) -> str:
        """A name keeps its capital."""
        return text if text.startswith(self.pet) else lower_first(text)


def _without_scores(found: list[Told]) -> list[Told]:
    """A score that says what was also found by hand is said there."""
    by_hand = {(t.entry.code, t.entry.severity): t for t in found if t.line.depth != "measured"}
    kept = []
    for told in found:
        other = by_hand.get((told.entry.code, told.entry.severity))
        if other is None or other is told or told.line.depth != "measured":
            kept.append(told)
        else:
            other.keys += told.keys
    return kept


def names_itself(where: str, first: str) -> bool:
    """Whether the sentence begins with the place that would stand before it: "Blood pressure was a little
    high", at "Systolic blood pressure"."""
    words = where.casefold().split()
    return any(f"{first.casefold()} ".startswith(f"{' '.join(words[n:])} ") for n in range(len(words)))


def is_off(answer: LineAnswer) -> bool:
    """A value that is not as usual: what it is called is then said, also where it is no finding in another
    species (a body condition of 4 of 9)."""
    return answer.status == MEASURED and answer.flag in FLAGGED


def bare(term: str) -> str:
    """Without the brackets around the whole of it; what stands in brackets inside follows a comma."""
    whole = term[1:-1] if term.startswith("(") and term.endswith(")") else term
    return _INSIDE.sub(r", \1", whole)


def lower_first(text: str) -> str:
    """An abbreviation and an X-ray keep their capital; the word "A" does not."""
    keeps = text[:2].isupper() and text[1:2] != " "
    return text if keeps else text[:1].lower() + text[1:]


def _ended(text: str) -> str:
    return ended(capital(text.strip()))
