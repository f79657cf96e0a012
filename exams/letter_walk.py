"""The walk in a letter: what was found, normal neighbours joined between, what was not looked at."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from decimal import Decimal
from itertools import groupby

from clinic.letters.document import Line as LetterLine
from clinic.letters.document import Mark, Section, Sentence, Walk
from clinic.patients.models import Measurement
from clinic.patients.units import both_temperatures, rounded, temperature_in
from exams import changes as since
from exams.changes import Change
from exams.digest import GROWTH, NEEDS_VALUE_OR_REASON
from exams.letter_findings import FindingsInWords, bare, is_off, lower_first
from exams.lines import Line
from exams.owner_texts import capital
from exams.readings import LINE_OF
from exams.sentences import (
    BODY,
    finding_words,
    joined,
    line_name,
    owner_heading,
    value_words,
    why_for_owner,
)
from exams.state import NOT_EXAMINED, NOT_YET, FindingEntry, LineAnswer
from exams.state import standing as line_standing
from exams.teeth_letter import place
from exams.tooth_chart import TEETH
from exams.walk import Station

# what a visit was not for is told by station, not line by line
BY_STATION = ("not-part", "urgent-visit")
NOT_SAID = ("not-needed",)  # what nobody needed today is not told as left out
OWNERS_UNIT = {"per-min": "walk.per_min", "mm-per-min": "walk.mm_per_min", "bcs-9": "walk.of_9"}


class WalkInWords(FindingsInWords):
    """The walk of one record, station by station."""

    def section(self) -> Section:
        lines = (*self._walked(), *self._gone(), *self._unseen(), *self._unmeasured(), *self._not_yet())
        return Section("walk", self.t("walk.title"), 30, (Walk(lines),) if lines else ())

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
            term = Sentence(f"{key}:term", "", "the last exam", words, term=bare(words))
            yield LetterLine(label, (term,), Mark.NORMAL)

    def _is_of_condition(self, code: str) -> bool:
        finding = self.walk.finding.get(code)
        return finding is not None and finding.grade_scale == BODY

    def _walked(self) -> Iterator[LetterLine]:
        """Abnormal findings in the order of the walk; normal neighbours joined between them."""
        waiting: list[Station] = []
        rest: list[Station] = []
        for station in self.walk.stations:
            here = [t for t in self.found if t.line.station == station.code]
            normal = self.has_normal(station)
            bare = list(self._bare(station))
            if not here and not bare:
                if normal:
                    waiting.append(station)
                continue
            if waiting:
                yield from self._normal(waiting, rest)
                waiting, rest = [], []
            rest += [station] if normal else []  # the rest alone waits for the next that is normal
            yield from self.lines_at(here)
            yield from bare
        yield from self._normal(waiting, rest)

    def has_normal(self, station: Station) -> bool:
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
            self.note([key], Mark.ABNORMAL)
            at = owner_heading(self.t, x, FindingEntry(""), self.species)
            where = at if x.whole_station else capital(self._place(x))
            if is_off(a):
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
            *(
                each
                for s in rest
                for each in self._named(s, self.t("walk.rest", name=self.t(f"station.{s.code}.of")))
            ),
            *(each for s in measured for each in self._named(s, self.t(f"station.{s.code}.name"))),
        ]
        if not names and not facts:
            return
        first = next((s.code for s in (*measured, *rest)), "values")
        key = f"walk:normal:{first}"
        for station in (*stations, *rest):
            self.note((x.stored_at[0] for x in self._normal_at(station)), Mark.NORMAL)
        text, said = (
            ("walk.normal", {"names": capital(joined(names, self.t))}) if names else ("walk.measured", {})
        )
        label = self.t.sentence(key, text, "the exam", "normal, as marked", strong=True, **said)
        yield LetterLine(label, facts, Mark.NORMAL)

    def _named(self, station: Station, name: str) -> tuple[str, ...]:
        """The station's name; where its values were not all taken, only what was looked at there.

        A visit that was not for all of it says each part by its name: two lines of the skin are not the skin.
        """
        if self._left_aside(station):
            return tuple(self._looked_at(station))
        if not self.not_taken(station):
            return (name,)
        if station.code != "VIT":
            return (self.t("walk.rest", name=self.t(f"station.{station.code}.of")),)
        looked = (x for x in self._normal_at(station) if x.depth != "measured")
        return tuple(dict.fromkeys(lower_first(line_name(self.t, x)) for x in looked))

    def _left_aside(self, station: Station) -> bool:
        """Whether this visit was not for some of what every walk looks at there."""
        return self.state.kind != "full" and any(
            self._is_aside(x) for x in self.lines.at(station.code) if is_asked(x) and not x.whole_station
        )

    def _is_aside(self, line: Line) -> bool:
        answer = self.state.answers.get(line.stored_at[0])
        return answer is None or (answer.status == NOT_EXAMINED and answer.reason in BY_STATION)

    def _looked_at(self, station: Station) -> Iterator[str]:
        """What is normal there, part by part; of a pair both sides by one name."""
        normal = [x for x in self._normal_at(station) if x.depth != "measured"]
        for structure, group in groupby(normal, lambda x: x.structure):
            some = list(group)
            every = [x for x in self.lines.at(structure) if x.applies]
            if structure == TEETH:
                yield place(len(some), len(every), self.t)
            elif len(some) == len(every):
                yield lower_first(line_name(self.t, some[0]))
            else:
                yield from (lower_first(self._place(x)) for x in some)

    def not_taken(self, station: Station) -> list[Line]:
        """What every exam measures there and nobody did, without a reason."""
        taken = {LINE_OF.get(m.kind) for m in self.standing.measured}
        return [
            x
            for x in self.lines.at(station.code)
            if x.asked == "every" and x.depth == "measured" and x.applies and x.key != GROWTH
            if not {*x.stored_at} & (taken | self.state.answers.keys())
        ]

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
                (x, a) for x in own if (a := self.state.answers.get(x.stored_at[0])) and is_limited(x, a)
            ]
            limits = [x for x, _a in limited]
            self.note((x.stored_at[0] for x, a in limited if a.status == NOT_EXAMINED), Mark.UNSEEN)
            whole = {(False, a.reason, a.reason_words) for _x, a in limited}
            nothing = not self.has_normal(station) and not any(
                t.line.station == station.code for t in self.found
            )
            if nothing and len(whole) == 1 and limited and not limited[0][1].in_part:
                groups.setdefault(whole.pop(), []).append(self.t(f"station.{station.code}.name"))
                continue
            for line, answer in limited:
                rest = self.t("walk.rest", name=self.t(f"station.{station.code}.of"))
                name = rest if answer.reason in BY_STATION else self._place_among(line, answer, limited)
                if line.structure == TEETH and answer.reason not in BY_STATION:
                    name = self._teeth(limits, own)
                named = groups.setdefault((answer.in_part, answer.reason, answer.reason_words), [])
                if name not in named:
                    named.append(name)
        for (part, reason, words), names in groups.items():
            state = "seen only in part" if part else "not examined"
            key, more = f"{state}:{reason}:{words}", []
            if reason in BY_STATION and not part:  # half of the body: what it is of stands first
                said = {"names": lower_first(joined(names, self.t))}
                label = self._unseen_label(key, "walk.unseen_here", state)
                more.append(
                    self.t.sentence(f"walk:names:{key}"[:120], "walk.unseen_names", "the exam", state, **said)
                )
            else:
                text, said = "walk.part" if part else "walk.unseen", {"names": capital(joined(names, self.t))}
                label = self._unseen_label(key, text, state, **said)
            if why := why_for_owner(self.walk, reason, words, self.pet, self.t):
                more.append(Sentence(f"walk:why:{key}"[:120], why, "the exam", words or reason))
            yield LetterLine(label, tuple(more), Mark.PART if part else Mark.UNSEEN)

    def _unseen_label(self, key: str, text: str, state: str, **said: object) -> Sentence:
        return self.t.sentence(f"walk:unseen:{key}"[:120], text, "the exam", state, strong=True, **said)

    def _unmeasured(self) -> Iterator[LetterLine]:
        """Values that nobody took at a station whose rest is called normal: pain, muscles."""
        left = [
            x
            for station in self.walk.stations
            if station.code != "VIT" and self.state.kind == "full" and self.has_normal(station)
            for x in self.not_taken(station)
            if x.stored_at[0] not in NEEDS_VALUE_OR_REASON
        ]
        if left:
            self.note((x.stored_at[0] for x in left), Mark.UNSEEN)
            names = dict.fromkeys(lower_first(line_name(self.t, x)) for x in left)
            said = {"names": capital(joined(list(names), self.t))}
            label = self._unseen_label("not-measured", "walk.unseen", "not measured", **said)
            yield LetterLine(label, (), Mark.UNSEEN)

    def _not_yet(self) -> Iterator[LetterLine]:
        """What a full walk looks at and nobody has answered; with such a line nobody signs."""
        names = []
        for station in self.walk.stations:
            asked = [x for x in self.lines.at(station.code) if is_asked(x)]
            open_ = [x for x in asked if line_standing(self.state, self.lines, x.key)[0] == NOT_YET]
            if not open_ or self.state.kind != "full":
                continue
            self.note((x.stored_at[0] for x in open_), Mark.PENDING)
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

    def _place_among(self, line: Line, answer: LineAnswer, limited: Iterable[tuple[Line, LineAnswer]]) -> str:
        """As `_place`; both sides of a pair that were left out for one reason by one name."""
        why = (answer.in_part, answer.reason, answer.reason_words)
        same = {
            x.side
            for x, a in limited
            if x.structure == line.structure and (a.in_part, a.reason, a.reason_words) == why
        }
        if same != {"left", "right"}:
            return self._place(line)
        where, what = self.t(f"station.{line.station}.both"), lower_first(line_name(self.t, line))
        return self.t("walk.place", where=where, what=what)

    def _place(self, line: Line) -> str:
        """ "Left ear, canal by otoscope"; a part without sides by its own name."""
        name = line_name(self.t, line)
        if line.side == "-":
            return name
        where = owner_heading(self.t, line, FindingEntry(""), self.species)
        return self.t("walk.place", where=where, what=lower_first(name))


def is_asked(line: Line) -> bool:
    """What every full walk looks at; what is measured stands elsewhere."""
    return line.asked == "every" and line.depth != "measured" and line.applies


def is_limited(line: Line, answer: LineAnswer) -> bool:
    if answer.in_part:
        return True
    return answer.status == NOT_EXAMINED and not (line.asked != "every" and answer.reason in NOT_SAID)
