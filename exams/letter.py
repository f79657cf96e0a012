"""What the exam says in a letter: the walk in some ten lines, what is urgent, the lumps with their map."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import date

from clinic.care.models import Assessment
from clinic.letters.document import Line as LetterLine
from clinic.letters.document import Mark, Part, Point, Section, Sentence, Walk
from clinic.patients.models import Measurement
from clinic.patients.units import plain, rounded
from clinic.visits.models import Record, Visit
from exams.credit import credited, entered_for, people_of
from exams.digest import Judged
from exams.lines import Line
from exams.lump_letter import lump_section
from exams.photo_letter import photo_section
from exams.queries import Standing, names_of, standing_of
from exams.sentences import finding_words, for_owner, owner_heading
from exams.state import NOT_EXAMINED, NOT_YET, FindingEntry, LineAnswer
from exams.state import standing as line_standing
from exams.teeth_letter import FIRST_IMPRESSION, heading, place, teeth_section
from exams.tooth_chart import TEETH
from exams.walk import Station

NOT_SAID = ("not-needed",)  # what nobody needed today is not told as left out
MARKS = {"E": Mark.URGENT, "T": Mark.ABNORMAL, "R": Mark.ABNORMAL, "M": Mark.ABNORMAL}


@dataclass(frozen=True)
class ExamInLetter:
    name: str = "exam"
    order: int = 30

    def part(self, record: Record, *, language: str, today: date) -> Part:
        """From what stands in the exam; nothing at all when nobody examined."""
        standing = standing_of(record, today=today)
        pictures = photo_section(record)
        if standing.exam.pk is None or not standing.state.answers:
            nothing = _nothing_examined(record)
            return replace(nothing, sections=(*nothing.sections, *([pictures] if pictures else ())))
        told = WalkInWords(standing, record)
        lumps, teeth = lump_section(record), teeth_section(standing)
        return Part(
            sections=tuple(s for s in (told.section(), teeth, lumps, pictures) if s),
            points=told.points(),
            headline=told.headline(),
            call_now=told.calls("E"),
            call_within_a_day=told.calls("T"),
            assisted=entered_for(standing.state.answers.values(), told.names),
        )


NOT_EXAMINED_AT = {
    Visit.Kind.TELEPHONE: "We spoke by telephone. {pet} was not examined.",
    Visit.Kind.TECHNICIAN: "{pet} was here for a technician’s appointment. A veterinarian’s examination "
    "was no part of it.",
}


def _nothing_examined(record: Record) -> Part:
    """Nobody examined: a visit that is no examination says so in one sentence."""
    said = NOT_EXAMINED_AT.get(Visit.Kind(record.visit.kind))
    if said is None:
        return Part()
    text = said.format(pet=record.visit.patient.name)
    label = Sentence("walk:nothing", text, "the kind of visit", record.visit.get_kind_display(), strong=True)
    return Part(
        sections=(Section("walk", "Nose to tail", 30, (Walk((LetterLine(label, (), Mark.UNSEEN),)),)),)
    )


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

    def __init__(self, standing: Standing, record: Record) -> None:
        self.standing, self.record = standing, record
        self.walk, self.lines, self.state = standing.walk, standing.lines, standing.state
        self.pet = record.visit.patient.name
        self.names = names_of(people_of(self.state.answers.values()))
        self.found = self._found(standing.judged)
        self.assessed = _assessments(record)
        self.planned = {key for keys, _text, _by in self.assessed for key in keys}

    def section(self) -> Section:
        lines = (*self._walked(), *self._unseen())
        return Section("walk", "Nose to tail", 30, (Walk(lines),) if lines else ())

    # ---- Findings

    def _found(self, judged: Iterable[Judged]) -> list[Told]:
        """Variants stay unsaid; the same finding on left and right becomes one."""
        merged: dict[tuple[object, ...], Told] = {}
        for each in judged:
            answer = self.state.answers[each.line]
            if each.entry.variant or each.line not in self.lines or answer.status == NOT_EXAMINED:
                continue
            line = self.lines[each.line]
            same = (line.structure, each.entry.code, each.entry.severity, each.entry.grade, each.entry.tooth)
            # without a side a finding stands for the whole animal, wherever on the walk it was tapped
            whole = (each.entry.code, each.entry.severity, each.entry.grade, each.entry.tooth)
            key: tuple[object, ...] = (
                same if line.side in ("left", "right") else whole if line.side == "-" else (*same, each.line)
            )
            if line.structure == TEETH:  # the same on many teeth is said once
                key = (TEETH, finding_words(self.walk, dataclasses.replace(each.entry, tooth=None)))
            told = merged.setdefault(
                key, Told(line, each.entry, each.urgency.letter, by=credited(answer, self.names))
            )
            told.sides.append(line.side)
            told.teeth.append(each.entry.tooth or 0)
            told.keys.append(each.line)
        return list(merged.values())

    def _finding_line(self, station: Station, told: Told) -> LetterLine:
        entry = dataclasses.replace(told.entry, tooth=None) if len(told.teeth) > 1 else told.entry
        said = for_owner(self.walk, told.line, entry, pet=self.pet, species=self.lines.animal.species)
        heading = self._where(told)
        key = f"walk:{told.keys[0]}:{told.entry.code}"
        origin = "the exam"
        label = Sentence(
            key, f"{heading}: {self._lower(said.text)}", origin, said.term, by=told.by, strong=True, term=""
        )
        more = [
            Sentence(f"{key}:assessed:{n}", f"{by}’s assessment: {_ended(text)}", "assessment", text, by=by)
            for n, (keys, text, by) in enumerate(self.assessed)
            if set(keys) & set(told.keys)
        ]
        if told.entry.awake_estimate:
            more.append(Sentence(f"{key}:first", FIRST_IMPRESSION, origin, "provisional", by=told.by))
        term = Sentence(f"{key}:term", "", origin, said.term, by=told.by, term=_bare(said.term))
        return LetterLine(label, (*more, term), MARKS[told.urgency])

    # ---- The walk

    def _walked(self) -> Iterator[LetterLine]:
        """Abnormal findings in the order of the walk; normal neighbours joined between them."""
        waiting: list[Station] = []
        rest: list[str] = []
        for station in self.walk.stations:
            here = [t for t in self.found if t.line.station == station.code]
            normal = self._has_normal(station)
            if not here:
                if normal:
                    waiting.append(station)
                continue
            yield from self._normal(waiting, rest)
            waiting, rest = [], [station.owner_name] if normal else []
            for told in here:
                yield self._finding_line(station, told)
        yield from self._normal(waiting, rest)

    def _has_normal(self, station: Station) -> bool:
        return any(
            (a := self.state.answers.get(x.stored_at[0])) and not a.is_abnormal and a.status != NOT_EXAMINED
            for x in self.lines.at(station.code)
            if not x.hidden and not x.whole_station
        )

    def _normal(self, stations: list[Station], rest: list[str]) -> Iterator[LetterLine]:
        measured = [s for s in stations if s.code != "VIT"]
        names = [*(f"the rest of the {_lower(name)}" for name in rest), *(s.owner_name for s in measured)]
        joined = f"{_upper(_listed(names))}: normal." if names else ""
        facts = self._facts(s.code for s in stations)
        if not joined and not facts:
            return
        key = f"walk:normal:{(measured[0].code if measured else rest[0] if rest else 'values')}"
        label = Sentence(key, joined or "Measured:", "the exam", "normal, as marked", strong=True)
        yield LetterLine(label, facts, Mark.NORMAL)

    def _facts(self, stations: Iterable[str]) -> tuple[Sentence, ...]:
        """Temperature with the general look, heart beats with the heart."""
        here, by_kind = set(stations), {m.kind: m for m in self.standing.measured}
        told = []
        warm, beats = by_kind.get(Measurement.Kind.TEMPERATURE), by_kind.get(Measurement.Kind.HEART_RATE)
        if (
            warm
            and warm.value is not None
            and here & {"VIT", "GEN"}
            and not self._is_found("VIT.temperature|-")
        ):
            fahrenheit = rounded(warm.value * 9 / 5 + 32, 1)
            text = f"{plain(rounded(warm.value, 1))} °C ({fahrenheit} °F)."
            told.append(Sentence("walk:temperature", text, "a measurement", text))
        if beats and beats.value is not None and "HRT" in here and not self._is_found("VIT.heart-rate|-"):
            text = f"{plain(rounded(beats.value, 0))} heart beats a minute."
            told.append(Sentence("walk:heart-rate", text, "a measurement", text))
        return tuple(told)

    def _is_found(self, key: str) -> bool:
        return any(key in told.keys for told in self.found)

    def _unseen(self) -> Iterator[LetterLine]:
        """Not examined, and seen only in part: joined by the reason, whole stations by their name."""
        groups: dict[tuple[bool, str], list[str]] = {}
        for station in self.walk.stations:
            own = [x for x in self.lines.at(station.code) if x.applies and not x.whole_station]
            limited = [
                (x, a) for x in own if (a := self.state.answers.get(x.stored_at[0])) and _limited(x, a)
            ]
            limits = [x for x, _a in limited]
            whole = {self._why(a) for _x, a in limited}
            nothing = not self._has_normal(station) and not any(
                t.line.station == station.code for t in self.found
            )
            if nothing and len(whole) == 1 and limited and not limited[0][1].in_part:
                groups.setdefault((False, whole.pop()), []).append(station.owner_name)
                continue
            for line, answer in limited:
                # what was not part of a focused visit is said by station, in one sentence
                rest = f"the rest of the {_lower(station.owner_name)}"
                name = rest if answer.reason == "not-part" else _place(station, line)
                if line.structure == TEETH and answer.reason != "not-part":
                    name = place(*(sum(x.structure == TEETH for x in some) for some in (limits, own)))
                named = groups.setdefault((answer.in_part, self._why(answer)), [])
                if name not in named:
                    named.append(name)
        for (part, why), names in groups.items():
            listed = _listed(names)
            state = "seen only in part" if part else "not examined"
            label = Sentence(
                f"walk:unseen:{state}:{why}"[:120], f"{listed}: {state}.", "the exam", state, strong=True
            )
            more = (Sentence(f"walk:why:{state}:{why}"[:120], _ended(why), "the exam", why),) if why else ()
            yield LetterLine(label, more, Mark.PART if part else Mark.UNSEEN)

    def _why(self, answer: LineAnswer) -> str:
        reason = self.walk.reason.get(answer.reason)
        owner = reason.owner if reason else ""
        return answer.reason_words or owner.replace("Your pet", self.pet).replace("your pet", self.pet)

    # ---- In short, and when to call

    def headline(self) -> Sentence | None:
        if self.found:
            return self._headline_of_findings()
        full, looked_at = (
            self.state.kind == "full",
            any(a.status == "normal" for a in self.state.answers.values()),
        )
        if not looked_at or (full and self._routine_open()):
            return None  # nobody has looked at all of it yet
        looked = "nose to tail" if self.state.kind == "full" else "where it was needed"
        text = (
            f"We examined {self.pet} from {looked}. What we looked at was normal."
            if self.state.kind == "full"
            else (f"We looked at {self.pet} {looked}. What we looked at was normal.")
        )
        return Sentence("headline", text, "the exam", "nothing abnormal recorded")

    def _routine_open(self) -> bool:
        """Whether a line that every full walk looks at has no answer yet."""
        return any(
            line_standing(self.state, self.lines, line.key)[0] == NOT_YET
            for line in self.lines
            if line.asked == "every" and line.depth != "measured" and line.applies
        )

    def _headline_of_findings(self) -> Sentence:
        """By the most urgent class recorded; what it may be, only an assessment says."""
        classes = [told.urgency for told in self.found]
        if "E" in classes:
            text = f"{self.pet} needs care now."
        elif "T" in classes:
            text = f"{self.pet} needs a test or treatment."
        else:
            again = "look at again" if "R" in classes else "watch"
            count = "One thing" if len(classes) == 1 else f"{len(classes)} things"
            text = f"We found nothing that needs treatment today. {count} to {again}."
        recorded = "; ".join(f"{self._where(told)}: class {told.urgency}" for told in self.found)
        return Sentence("headline", text, "the exam", recorded)

    def points(self) -> tuple[Point, ...]:
        """Urgent findings that no problem of today speaks of; the others come with their problem."""
        bare = [t for t in self.found if t.urgency in ("E", "T") and not set(t.keys) & self.planned]
        return tuple(
            Point(
                Sentence(f"point:{t.keys[0]}:{t.entry.code}", self._short(t), "the exam", by=t.by), t.urgency
            )
            for t in bare
        )

    def calls(self, letter: str) -> tuple[Sentence, ...]:
        """What an urgent finding asks the owner to watch."""
        here = dict.fromkeys(self._where(t) for t in self.found if t.urgency == letter)
        return tuple(
            Sentence(
                f"call:{letter}:{where}"[:120],
                f"What we found today gets worse: {_lower(where)}.",
                "the exam",
                where,
            )
            for where in here
        )

    def _where(self, told: Told) -> str:
        station = self.walk.station[told.line.station]
        if told.line.structure == TEETH:
            return heading(told.teeth, self.lines.animal.species)
        where = owner_heading(station, told.line, told.entry, self.lines.animal.species)
        if told.heading_side != "both" or told.entry.both_sides:
            return where
        return f"Both {station.owner_part}s" if station.owner_part else f"{station.owner_name}, both sides"

    def _short(self, told: Told) -> str:
        said = for_owner(self.walk, told.line, told.entry, pet=self.pet, species=self.lines.animal.species)
        return f"{self._where(told)}: {self._lower(said.text)}"

    def _lower(self, text: str) -> str:
        """A name keeps its capital."""
        return text if text.startswith(self.pet) else _lower(text)


def _limited(line: Line, answer: LineAnswer) -> bool:
    if answer.in_part:
        return True
    return answer.status == NOT_EXAMINED and not (line.asked != "every" and answer.reason in NOT_SAID)


def _place(station: Station, line: Line) -> str:
    """ "Left ear, canal by otoscope"; a part without sides by its own name."""
    heading = owner_heading(station, line, FindingEntry(""))
    name = line.name.partition(" (")[0]
    return f"{heading}, {_lower(name)}" if line.side != "-" else name


def _assessments(record: Record) -> list[tuple[list[str], str, str]]:
    """What clinicians said of problems that speak of lines of the walk: lines, text, who."""
    rows = Assessment.objects.filter(record=record).select_related("problem", "by").order_by("at", "pk")
    return [(r.problem.lines, r.for_owner or r.text, r.by.printed_name) for r in rows if r.problem.lines]


def _listed(names: list[str]) -> str:
    """Joined with commas; a name that holds an "and" itself ends the list without another."""
    words = [names[0], *(_lower(n) for n in names[1:])]
    if len(words) == 1:
        return words[0]
    last = ", " if " and " in words[-1] else " and "
    return f"{', '.join(words[:-1])}{last}{words[-1]}"


def _bare(term: str) -> str:
    """Without the brackets around the whole of it; those inside stay."""
    return term.removeprefix("(").removesuffix(")")


def _lower(text: str) -> str:
    """An abbreviation and an X-ray keep their capital; the word "A" does not."""
    keeps = text[:2].isupper() and text[1:2] != " "
    return text if keeps else text[:1].lower() + text[1:]


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]


def _ended(text: str) -> str:
    text = _upper(text.strip())
    return text if text.endswith((".", "!", "?")) else f"{text}."
