"""What the exam says in a letter: the walk in some ten lines, what is urgent, the lumps with their map."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from itertools import groupby

from django.utils import timezone

from clinic.care.letter import in_headline
from clinic.care.letter_of_tests import USUAL, standing_results
from clinic.care.models import Problem, Test
from clinic.care.patient_case import medicines_before
from clinic.letters.document import Line as LetterLine
from clinic.letters.document import Mark, Part, Point, Section, Sentence, Walk
from clinic.letters.texts import Texts
from clinic.letters.wording import ended
from clinic.patients.models import Measurement
from clinic.patients.units import both_temperatures, rounded, temperature_in
from clinic.platform.measures import units_for_owners
from clinic.visits.models import Record, Visit
from exams import came_for
from exams import changes as since
from exams.came_for import spoken_of
from exams.changes import Change, changes
from exams.credit import credited, entered_for, people_of
from exams.digest import FLAGGED, Judged
from exams.lines import Line
from exams.lump_letter import lump_section
from exams.owner_texts import capital, of_files, texts_of
from exams.photo_letter import photo_section
from exams.queries import Earlier, Standing, last_exams, names_of, standing_of
from exams.rows import answer_of
from exams.sentences import (
    BODY,
    OwnerSentence,
    both_heading,
    finding_words,
    for_owner,
    joined,
    line_name,
    owner_heading,
    value_words,
    why_for_owner,
)
from exams.state import MEASURED, NOT_EXAMINED, NOT_YET, FindingEntry, LineAnswer
from exams.state import standing as line_standing
from exams.teeth_letter import heading, place, teeth_section
from exams.tooth_chart import TEETH
from exams.versions import composed
from exams.walk import Station

_LUMPS = re.compile(r"lump (\d+)")
_INSIDE = re.compile(r" \(([^()]*)\)")
NOT_SAID = ("not-needed",)  # what nobody needed today is not told as left out
IDEAL_BCS = {"dog": (4, 5), "cat": (5,)}  # of nine; WSAVA, Body Condition Score charts
WHOLE = ("GEN", "VIT")  # stations that are no place of the body
OWNERS_UNIT = {"per-min": "walk.per_min", "mm-per-min": "walk.mm_per_min", "bcs-9": "walk.of_9"}
MARKS = {"E": Mark.URGENT, "T": Mark.ABNORMAL, "R": Mark.ABNORMAL, "M": Mark.ABNORMAL}


@dataclass(frozen=True)
class ExamInLetter:
    name: str = "exam"
    order: int = 30

    def part(self, record: Record, *, language: str, today: date) -> Part:
        """From what stands in the exam; nothing at all when nobody examined."""
        standing = standing_of(record, today=today)
        t = texts_of(standing.walk, language)
        pictures = photo_section(record, language)
        if standing.exam.pk is None or not standing.state.answers:
            nothing = _nothing_examined(record, t)
            return replace(nothing, sections=(*nothing.sections, *([pictures] if pictures else ())))
        told = WalkInWords(
            standing,
            t,
            pet=record.visit.patient.name,
            names=names_of(people_of(standing.state.answers.values())),
            assessed=_assessments(record),
            since=_since(standing, last_exams(record)),
            temperature=units_for_owners().temperature,
        )
        lumps, teeth = lump_section(record, language), teeth_section(standing, language)
        return Part(
            sections=tuple(s for s in (told.section(), teeth, lumps, pictures) if s),
            points=told.points(),
            headline=told.headline(lambda: _is_well(standing, record)),
            call_now=told.calls("E"),
            call_within_a_day=told.calls("T"),
            answers=told.answers(record.visit.owners_words),
            looks=any(each.urgency in ("E", "T", "R") for each in told.found),
            assisted=tuple(
                t("walk.wrote_down", who=who, whose=whose)
                for who, whose in entered_for(standing.state.answers.values(), told.names)
            ),
        )


@dataclass(frozen=True)
class ExamTexts:
    """Of the walk that a new exam begins with."""

    name: str = "exams"
    order: int = 30

    def texts(self, language: str) -> Texts:
        return of_files(composed(), language)


NOT_EXAMINED_AT = {
    Visit.Kind.TELEPHONE: "walk.telephone",
    Visit.Kind.TECHNICIAN: "walk.technician",
}
THEN = {
    since.BETTER: "then.better",
    since.SAME: "then.same",
    since.WORSE: "then.worse",
    since.NEW: "then.new",
}
# of what stands one after another at one place
THEN_BOTH = {how: f"then.both_{how}" for how in THEN}
THEN_ALL = {how: f"then.all_{how}" for how in THEN}


def _nothing_examined(record: Record, t: Texts) -> Part:
    """Nobody examined: a visit that is no examination says so in one sentence."""
    key = NOT_EXAMINED_AT.get(Visit.Kind(record.visit.kind))
    if key is None:
        return Part()
    kind, pet = record.visit.get_kind_display(), record.visit.patient.name
    label = t.sentence("walk:nothing", key, "the kind of visit", kind, strong=True, pet=pet)
    line = LetterLine(label, (), Mark.UNSEEN)
    return Part(sections=(Section("walk", t("walk.title"), 30, (Walk((line,)),)),))


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


class WalkInWords:
    """The walk of one record, station by station."""

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
    ) -> None:
        self.temperature = temperature
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

    def section(self) -> Section:
        lines = (*self._walked(), *self._gone(), *self._unseen(), *self._not_yet())
        return Section("walk", self.t("walk.title"), 30, (Walk(lines),) if lines else ())

    def _note(self, keys: Iterable[str], mark: Mark) -> None:
        for key in keys:
            self.told_as.setdefault(key, set()).add(mark)

    # ---- Findings

    def _found(self, judged: Iterable[Judged]) -> list[Told]:
        """Variants stay unsaid; the same finding on left and right becomes one."""
        merged: dict[tuple[object, ...], Told] = {}
        for each in judged:
            answer = self.state.answers[each.line]
            unsaid = each.entry.variant and not _is_off(answer)
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
        return self._heading(told, self._for_owner(told, told.entry), self.t)

    def _how(self, told: Told) -> str:
        then = self.since.get((told.keys[0], told.entry.code))
        return then.how if then and then.how in THEN else ""

    def _station_of(self, told: Told) -> int:
        return [station.code for station in self.walk.stations].index(told.line.station)

    def _for_owner(self, told: Told, entry: FindingEntry) -> OwnerSentence:
        both = told.heading_side == "both" and not told.entry.both_sides and told.line.structure != TEETH
        return for_owner(
            self.walk, told.line, entry, pet=self.pet, species=self.species, texts=self.t, both=both
        )

    def _both(self, told: Told, said: OwnerSentence) -> bool:
        """What is an emergency today goes out in both languages, until somebody has reviewed it."""
        return self.t.both(f"finding.{told.entry.code}", grave=told.urgency == "E") or said.both

    def _texts_for(self, said: OwnerSentence) -> Texts:
        """A sentence that the owner's language lacks stands in English, with its heading."""
        return self.t.english if said.lang and self.t.english else self.t

    def _finding_line(self, told: Told) -> LetterLine:
        entry = dataclasses.replace(told.entry, tooth=None) if len(told.teeth) > 1 else told.entry
        said = self._for_owner(told, entry)
        self._note(told.keys, Mark.ABNORMAL)
        t, key, origin = self._texts_for(said), f"walk:{told.keys[0]}:{told.entry.code}", "the exam"
        first, _, rest = said.text.partition(". ")
        where = self._heading(told, said, t)
        text = t("walk.line", where=where, what=ended(self._lower(first)))
        grave = self._both(told, said)
        own = said.made_from
        heading = t("walk.line", where=where, what="")
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
        if how:
            text = THEN[how] if many == 1 else THEN_BOTH[how] if many == 2 else THEN_ALL[how]
            more.append(self.t.sentence(f"{key}:then", text, "the last exam", how, n=many))
        if told.entry.awake_estimate:
            more.append(
                self.t.sentence(f"{key}:first", "tooth.first_impression", origin, "provisional", told.by)
            )
        term = Sentence(f"{key}:term", "", origin, said.term, by=told.by, term=_bare(said.term))
        return LetterLine(label, (*rest_of_it, *more, term), MARKS[told.urgency])

    def _gone(self) -> Iterator[LetterLine]:
        """What was found last time, was looked at again, and is not there any more."""
        gone: dict[str, Change] = {}
        whole = {t.entry.code for t in self.found if t.line.side == "-"}
        for change in self.since.values():
            if change.line.structure == TEETH or change.line.depth == "measured":
                continue  # the chart says it, and so does the new value
            if change.code in whole or self._is_of_condition(change.code):
                continue  # it stands elsewhere on the walk, or in the picture of the body's condition
            if change.how == since.GONE and change.before:
                gone.setdefault(owner_heading(self.t, change.line, change.before, self.species), change)
        for where, change in gone.items():
            before = change.before
            words = finding_words(self.walk, before, for_letter=True, texts=self.t) if before else ""
            key = f"walk:gone:{change.line.key}:{change.code}"
            label = self.t.sentence(key, "then.gone", "the last exam", words, strong=True, where=where)
            term = Sentence(f"{key}:term", "", "the last exam", words, term=_bare(words))
            yield LetterLine(label, (term,), Mark.NORMAL)

    def _is_of_condition(self, code: str) -> bool:
        finding = self.walk.finding.get(code)
        return finding is not None and finding.grade_scale == BODY

    # ---- The walk

    def _walked(self) -> Iterator[LetterLine]:
        """Abnormal findings in the order of the walk; normal neighbours joined between them."""
        waiting: list[Station] = []
        rest: list[Station] = []
        for station in self.walk.stations:
            here = [t for t in self.found if t.line.station == station.code]
            normal = self._has_normal(station)
            bare = list(self._bare(station))
            if not here and not bare:
                if normal:
                    waiting.append(station)
                continue
            if waiting:
                yield from self._normal(waiting, rest)
                waiting, rest = [], []
            rest += [station] if normal else []  # the rest alone waits for the next that is normal
            for told in here:
                yield self._finding_line(told)
            yield from bare
        yield from self._normal(waiting, rest)

    def _has_normal(self, station: Station) -> bool:
        return any(True for _line in self._normal_at(station))

    def _normal_at(self, station: Station) -> Iterator[Line]:
        for x in self.lines.at(station.code):
            a = self.state.answers.get(x.stored_at[0])
            looked = a is not None and not a.is_abnormal and a.status != NOT_EXAMINED
            if looked and not x.hidden and not x.whole_station and x.stored_at[0] not in self.said:
                yield x

    def _bare(self, station: Station) -> Iterator[LetterLine]:
        """Not as it should be, and no finding says what: at least this much is told."""
        for x in self.lines.at(station.code):
            key = x.stored_at[0]
            a = self.state.answers.get(key)
            if (
                a is None
                or not a.is_abnormal
                or x.hidden
                or key in self.said
                or Mark.ABNORMAL in self._as(key)
            ):
                continue
            self._note([key], Mark.ABNORMAL)
            at = owner_heading(self.t, x, FindingEntry(""), self.species)
            where = at if x.whole_station else capital(self._place(x))
            if _is_off(a):
                text, recorded = f"walk.off_{a.flag}", f"{value_words(a)}: {a.flag}"
                said = {"where": where, "value": self._value(a)}
            else:
                text, recorded, said = "walk.bare", "abnormal", {"where": where}
            label = self.t.sentence(f"walk:{key}", text, "the exam", recorded, strong=True, **said)
            yield LetterLine(label, (), Mark.ABNORMAL)

    def _value(self, answer: LineAnswer) -> str:
        """As the owner reads it."""
        if answer.unit == "C":
            return both_temperatures(Decimal(answer.value), self.temperature)
        text = OWNERS_UNIT.get(answer.unit, "")
        return self.t(text, n=answer.value) if text else value_words(answer)

    def _as(self, key: str) -> set[Mark]:
        return self.told_as.get(key, set())

    def _normal(self, stations: list[Station], rest: list[Station]) -> Iterator[LetterLine]:
        facts = self._facts(s.code for s in (*stations, *rest))
        # its values say it better than its name
        measured = [s for s in stations if s.code != "VIT" or not facts]
        names = [
            *(self.t("walk.rest", name=self.t(f"station.{s.code}.of")) for s in rest),
            *(self.t(f"station.{s.code}.name") for s in measured),
        ]
        if not names and not facts:
            return
        first = next((s.code for s in (*measured, *rest)), "values")
        key = f"walk:normal:{first}"
        for station in (*stations, *rest):
            self._note((x.stored_at[0] for x in self._normal_at(station)), Mark.NORMAL)
        text, said = (
            ("walk.normal", {"names": capital(joined(names, self.t))}) if names else ("walk.measured", {})
        )
        label = self.t.sentence(key, text, "the exam", "normal, as marked", strong=True, **said)
        yield LetterLine(label, facts, Mark.NORMAL)

    def _facts(self, stations: Iterable[str]) -> tuple[Sentence, ...]:
        """Temperature with the general look, heart beats with the heart; each at the first of its places."""
        here, by_kind = set(stations), {m.kind: m for m in self.standing.measured}
        told = []
        warm, beats = by_kind.get(Measurement.Kind.TEMPERATURE), by_kind.get(Measurement.Kind.HEART_RATE)
        if (
            warm
            and warm.value is not None
            and here & {"VIT", "GEN"}
            and not self._is_found("VIT.temperature|-")
        ):
            recorded = temperature_in(warm.value, "C")
            both = both_temperatures(warm.value, self.temperature)
            told.append(
                self.t.sentence("walk:temperature", "walk.temperature", "a measurement", recorded, both=both)
            )
        if beats and beats.value is not None and "HRT" in here and not self._is_found("VIT.heart-rate|-"):
            n = int(rounded(beats.value, 0))
            told.append(
                self.t.sentence("walk:heart-rate", "walk.heart", "a measurement", f"{n} a minute", n=n)
            )
        new = [each for each in told if each.key not in self.facts_told]
        self.facts_told |= {each.key for each in new}
        return tuple(new)

    def _is_found(self, key: str) -> bool:
        return any(key in told.keys for told in self.found)

    def _unseen(self) -> Iterator[LetterLine]:
        """Not examined, and seen only in part: joined by the reason, whole stations by their name."""
        groups: dict[tuple[bool, str, str], list[str]] = {}
        for station in self.walk.stations:
            own = [x for x in self.lines.at(station.code) if x.applies and not x.whole_station]
            limited = [
                (x, a) for x in own if (a := self.state.answers.get(x.stored_at[0])) and _limited(x, a)
            ]
            limits = [x for x, _a in limited]
            self._note((x.stored_at[0] for x, a in limited if a.status == NOT_EXAMINED), Mark.UNSEEN)
            whole = {(False, a.reason, a.reason_words) for _x, a in limited}
            nothing = not self._has_normal(station) and not any(
                t.line.station == station.code for t in self.found
            )
            if nothing and len(whole) == 1 and limited and not limited[0][1].in_part:
                groups.setdefault(whole.pop(), []).append(self.t(f"station.{station.code}.name"))
                continue
            for line, answer in limited:
                # what was not part of a focused visit is said by station, in one sentence
                rest = self.t("walk.rest", name=self.t(f"station.{station.code}.of"))
                name = rest if answer.reason == "not-part" else self._place(line)
                if line.structure == TEETH and answer.reason != "not-part":
                    name = self._teeth(limits, own)
                named = groups.setdefault((answer.in_part, answer.reason, answer.reason_words), [])
                if name not in named:
                    named.append(name)
        for (part, reason, words), names in groups.items():
            state = "seen only in part" if part else "not examined"
            why = why_for_owner(self.walk, reason, words, self.pet, self.t)
            label = self.t.sentence(
                f"walk:unseen:{state}:{reason}:{words}"[:120],
                "walk.part" if part else "walk.unseen",
                "the exam",
                state,
                strong=True,
                names=capital(joined(names, self.t)),
            )
            more = (
                (Sentence(f"walk:why:{state}:{reason}:{words}"[:120], why, "the exam", words or reason),)
                if why
                else ()
            )
            yield LetterLine(label, more, Mark.PART if part else Mark.UNSEEN)

    def _not_yet(self) -> Iterator[LetterLine]:
        """What a full walk looks at and nobody has answered; with such a line nobody signs."""
        names = []
        for station in self.walk.stations:
            asked = [x for x in self.lines.at(station.code) if _is_asked(x)]
            open_ = [x for x in asked if line_standing(self.state, self.lines, x.key)[0] == NOT_YET]
            if not open_ or self.state.kind != "full":
                continue
            self._note((x.stored_at[0] for x in open_), Mark.PENDING)
            whole = len(open_) == len(asked)
            names.append(
                self.t(f"station.{station.code}.name")
                if whole
                else self.t("walk.rest", name=self.t(f"station.{station.code}.of"))
            )
        if names:
            listed = capital(joined(names, self.t))
            label = self.t.sentence("walk:not-yet", "walk.not_yet", "the exam", "not yet", names=listed)
            yield LetterLine(label, (), Mark.UNSEEN)

    def _teeth(self, limited: list[Line], own: list[Line]) -> str:
        count = [sum(x.structure == TEETH for x in some) for some in (limited, own)]
        return place(count[0], count[1], self.t)

    def _place(self, line: Line) -> str:
        """ "Left ear, canal by otoscope"; a part without sides by its own name."""
        name = line_name(self.t, line)
        if line.side == "-":
            return name
        where = owner_heading(self.t, line, FindingEntry(""), self.species)
        return self.t("walk.place", where=where, what=_lower(name))

    # ---- What they came for

    def answers(self, owners_words: str) -> tuple[Sentence, ...]:
        """What was recorded where the owner's own words point; nothing where they point nowhere."""
        by: dict[came_for.Told, list[str]] = {}
        spoken = spoken_of(owners_words)
        for station in self.walk.stations:
            if station.code in spoken:
                own = [x for x in self.lines.at(station.code) if x.applies and not x.whole_station]
                answers = [(x, a) for x in own if (a := self.state.answers.get(x.stored_at[0]))]
                here = [told for told in self.found if told.line.station == station.code]
                what = came_for.told(
                    found=bool(here) or any(a.is_abnormal for _x, a in answers),
                    normal=self._has_normal(station),
                    limited=any(_limited(x, a) for x, a in answers),
                )
                where = [_lower(self._measured_or_where(each)) for each in here]
                name = _lower(self.t(f"station.{station.code}.name"))
                if len(dict.fromkeys(where)) > 1 and station.code not in WHOLE:
                    where = [name]
                by.setdefault(what, []).extend(dict.fromkeys(where or [name]))
        if came_for.Told.FOUND in by:  # what is normal beside it would sound like the answer
            by.pop(came_for.Told.NORMAL, None)
            by.pop(came_for.Told.PART, None)
        return tuple(
            self.t.sentence(
                f"asked:{what}", f"asked.{what}", "the exam", f"{owners_words.strip()}: {what}",
                names=joined(names, self.t),
            )
            for what, names in by.items()
        )  # fmt: skip

    def _measured_or_where(self, told: Told) -> str:
        """A measured value by its name: "weight", not "measured values"."""
        measured = told.line.depth == "measured"
        return line_name(self.t, told.line) if measured else self._where(told, self.t)

    # ---- In short, and when to call

    def headline(self, well: Callable[[], bool] = lambda: False) -> Sentence | None:
        """`well`: whether nothing else speaks against good health; asked where nothing found here does."""
        if self.found:
            return self._headline_of_findings()
        full, looked_at = (
            self.state.kind == "full",
            any(a.status == "normal" for a in self.state.answers.values()),
        )
        if not looked_at or (full and self._routine_open()):
            return None  # nobody has looked at all of it yet
        if full and not self._left_out() and well():
            recorded = "nothing abnormal recorded, nothing left out, no open problem, medicine or test"
            return self.t.sentence("headline", "headline.well", "the visit", recorded, pet=self.pet)
        key = "headline.full" if full else "headline.focused"
        return self.t.sentence("headline", key, "the exam", "nothing abnormal recorded", pet=self.pet)

    def _left_out(self) -> bool:
        """Whether anything was not examined, or only in part, that the letter has to say."""
        answers = ((x, self.state.answers.get(x.stored_at[0])) for x in self.lines if x.applies)
        return any(a is not None and _limited(x, a) for x, a in answers)

    def _routine_open(self) -> bool:
        """Whether a line that every full walk looks at has no answer yet."""
        return any(
            line_standing(self.state, self.lines, line.key)[0] == NOT_YET
            for line in self.lines
            if _is_asked(line)
        )

    def _headline_of_findings(self) -> Sentence:
        """By the most urgent class recorded; what it may be, only an assessment says."""
        classes = [told.urgency for told in self.found]
        recorded = "; ".join(f"{self._where(told, self.t)}: class {told.urgency}" for told in self.found)
        if "E" in classes or "T" in classes:
            key = "headline.now" if "E" in classes else "headline.treat"
            return self.t.sentence("headline", key, "the exam", recorded, pet=self.pet)
        key = "headline.again" if "R" in classes else "headline.watch"
        return self.t.sentence("headline", key, "the exam", recorded, n=len(classes))

    def points(self) -> tuple[Point, ...]:
        """Urgent findings that no problem of today speaks of; the others come with their problem."""
        bare = [t for t in self.found if t.urgency in ("E", "T") and not set(t.keys) & self.planned]
        return tuple(Point(self._short(t), t.urgency) for t in bare)

    def calls(self, letter: str) -> tuple[Sentence, ...]:
        """What an urgent finding asks the owner to watch: one line for all of them."""
        here = [told for told in self.found if told.urgency == letter]
        if not here:
            return ()
        where = joined(dict.fromkeys(self._lower(self._watched(told)) for told in here), self.t)
        key = f"call:{letter}:{here[0].keys[0]}"
        return (self.t.sentence(key, "walk.worse", "the exam", where, where=where),)

    def _watched(self, told: Told) -> str:
        """What an owner can see of it: the place, or, where that is the whole animal, what was said of it."""
        if told.line.station not in WHOLE or told.line.depth == "measured":
            return self._measured_or_where(told)
        said = self._for_owner(told, told.entry)
        return self._where(told, self.t) if said.lang else said.text.partition(". ")[0].rstrip(".")

    def _where(self, told: Told, t: Texts) -> str:
        if told.line.structure == TEETH:
            return heading(told.teeth, self.species, t)
        if told.heading_side != "both" or told.entry.both_sides:
            return owner_heading(t, told.line, told.entry, self.species)
        return both_heading(t, told.line.station)

    def _heading(self, told: Told, said: OwnerSentence, t: Texts) -> str:
        if told.line.structure == TEETH:
            return self._where(told, t)
        # a value by its own name: "body weight", not "measured values"
        return capital(line_name(t, told.line)) if told.line.station == "VIT" else said.heading

    def _short(self, told: Told) -> Sentence:
        said = self._for_owner(told, told.entry)
        t, key = self._texts_for(said), f"point:{told.keys[0]}:{told.entry.code}"
        text = t("walk.line", where=self._heading(told, said, t), what=self._lower(said.text))
        grave = self._both(told, said)
        return Sentence(key, text, "the exam", by=told.by, lang=said.lang, both=grave)

    def _lower(self, text: str) -> str:
        """A name keeps its capital."""
        return text if text.startswith(self.pet) else _lower(text)


def _is_well(standing: Standing, record: Record) -> bool:
    """Whether a visit on whose walk nothing was found speaks of good health in everything else too."""
    until = record.signed_at or timezone.now()
    problems = Problem.objects.filter(patient_id=record.visit.patient_id, opened_at__lte=until)
    return not (
        record.urgency
        or standing.heads_ups
        or any(_is_unusual(each, standing.lines.animal.species) for each in standing.measured)
        or problems.exclude(closed_at__lte=until).exists()
        or record.medicines.exists()
        or medicines_before(record)[0]
        or any(_is_open(each) for each in record.tests.prefetch_related("results"))
    )


def _is_open(test: Test) -> bool:
    """Without a result, or with one that is not as usual."""
    results = standing_results(test)
    return not results or any(each.meaning not in USUAL for each in results)


def _is_unusual(each: Measurement, species: str) -> bool:
    """Flagged; or a body condition that is not ideal."""
    scored = each.kind == Measurement.Kind.BCS and each.value is not None
    return each.flag in FLAGGED or (scored and each.value not in IDEAL_BCS.get(species, ()))


def _is_asked(line: Line) -> bool:
    """What every full walk looks at; what is measured stands elsewhere."""
    return line.asked == "every" and line.depth != "measured" and line.applies


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


def _is_off(answer: LineAnswer) -> bool:
    """A value that is not as usual: what it is called is then said, also where it is no finding in another
    species (a body condition of 4 of 9)."""
    return answer.status == MEASURED and answer.flag in FLAGGED


def _limited(line: Line, answer: LineAnswer) -> bool:
    if answer.in_part:
        return True
    return answer.status == NOT_EXAMINED and not (line.asked != "every" and answer.reason in NOT_SAID)


def _since(standing: Standing, earlier: tuple[Earlier, ...]) -> tuple[Change, ...]:
    """What became of it since the newest signed exam; nothing where there was none."""
    if not earlier:
        return ()
    before = {row.line: answer_of(row) for told in reversed(earlier) for row in told.findings}
    return changes(before, standing.state, standing.walk, standing.lines)


def _assessments(record: Record) -> list[Assessed]:
    """What clinicians said of problems that speak of lines of the walk: lines, text, who."""
    rows = list(record.assessments.select_related("problem", "by").order_by("at", "pk"))
    signs = record.signed_by_id or record.visit.clinician_id
    # what stands in short is not said again, unless somebody else said it
    told = {r.pk for r in in_headline(rows) if r.by_id == signs}
    return [
        Assessed(r.problem.lines, "" if r.pk in told else r.for_owner or r.text, r.by.full_name)
        for r in rows
        if r.problem.lines
    ]


def _bare(term: str) -> str:
    """Without the brackets around the whole of it; what stands in brackets inside follows a comma."""
    return _INSIDE.sub(r", \1", term.removeprefix("(").removesuffix(")"))


def _lower(text: str) -> str:
    """An abbreviation and an X-ray keep their capital; the word "A" does not."""
    keeps = text[:2].isupper() and text[1:2] != " "
    return text if keeps else text[:1].lower() + text[1:]


def _ended(text: str) -> str:
    return ended(capital(text.strip()))
