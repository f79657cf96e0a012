"""What each spoken number counts: a measurement, a size, a grade, a tooth, a gland or a digit.

Decided by its unit, then by the name before it in the sentence. A number that none of these claims is left.
Numbers with a unit of dose are never taken.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from exams.spoken.clause import Clause
from exams.spoken.numbers import shown
from exams.spoken.shapes import Measurement, Span
from exams.spoken.terms import FIGURE, Term

WEIGHT, TEMPERATURE, HEART, PULSE = "body weight", "rectal temperature", "heart rate", "pulse rate"
BREATHS, REFILL, PRESSURE = "respiratory rate", "capillary refill time", "systolic blood pressure"
CONDITION, TEARS, EYE_PRESSURE = "body condition score", "Schirmer tear test", "intraocular pressure"
UNIT = {
    HEART: "/min",
    PULSE: "/min",
    BREATHS: "/min",
    REFILL: "s",
    PRESSURE: "mmHg",
    CONDITION: "of 9",
    TEARS: "mm/min",
    EYE_PRESSURE: "mmHg",
}
LINE = {
    WEIGHT: "VIT.weight",
    TEMPERATURE: "VIT.temperature",
    HEART: "VIT.heart-rate",
    PULSE: "VIT.pulse-rate",
    BREATHS: "VIT.respiratory-rate",
    REFILL: "VIT.refill",
    PRESSURE: "VIT.blood-pressure",
    CONDITION: "BCM.score",
    TEARS: "EYE.tear-test",
    EYE_PRESSURE: "EYE.pressure",
}
CUES = {
    "VIT.weight": WEIGHT,
    "VIT.temperature": TEMPERATURE,
    "VIT.heart-rate": HEART,
    "heart": HEART,
    "VIT.pulse-rate": PULSE,
    "pulse": PULSE,
    "VIT.respiratory-rate": BREATHS,
    "breathing": BREATHS,
    "VIT.refill": REFILL,
    "VIT.blood-pressure": PRESSURE,
    "BCM.score": CONDITION,
    "EYE.tear-test": TEARS,
    "EYE.tears": TEARS,
    "EYE.pressure": EYE_PRESSURE,
    "LUN-01": BREATHS,
    "VIT-03": HEART,
    "VIT-04": HEART,
    "VIT-01": TEMPERATURE,
    "VIT-02": TEMPERATURE,
    "HRT.rhythm": HEART,
    "LUN.effort": BREATHS,
    "LUN.front LUN.middle LUN.back": BREATHS,
    "HRT.murmur": HEART,
    "regular": HEART,
    "lungs": BREATHS,
    "LUN.pattern": BREATHS,
    "rate": "",
    "pressure": "",
    "condition": CONDITION,
}
LEAST_OF_BLOOD = 60  # mmHg: a "pressure" without a side is no eye's
NO_UNIT = "no unit was said"
SIDED = (TEARS, EYE_PRESSURE)
# outside of these nobody measured it (wide: the walk's own limits warn later)
POSSIBLE = {
    WEIGHT: (0.03, 330),  # in either unit
    HEART: (20, 400),
    PULSE: (20, 400),
    BREATHS: (4, 250),
    REFILL: (0.2, 12),
    PRESSURE: (30, 350),
    CONDITION: (1, 9),
    TEARS: (0, 40),
    EYE_PRESSURE: (0, 90),
}
LENGTHS = {"mm": 1.0, "cm": 10.0, "inch": 25.4}
MASSES = ("kg", "lb", "g")
FAR = 9  # terms between a name and its number
NEAR = 3  # the same, for what somebody else reports
REPORTED = "says"  # why a clause was dropped: a colleague's remark


# measured lines that are called by their own name, so that a number said next is theirs
WAITING = (
    *(key for key, what in CUES.items() if key.startswith(("VIT.", "BCM.")) and what),
    *("pulse", "breathing", "pressure", "EYE.tears", "EYE.tear-test", "EYE.pressure"),
)
NOT_NOW = ("past", "others", "owner", "plan", "if", "later")  # talk of no number of today


@dataclass(slots=True)
class Figures:
    """What the numbers of the text came to. `sizes`, `grades`, `sites`: by the id of their clause."""

    measurements: list[tuple[Measurement, bool]] = field(default_factory=list)
    sizes: dict[int, list[float]] = field(default_factory=dict)
    grades: dict[int, str] = field(default_factory=dict)
    scales: dict[int, str] = field(default_factory=dict)
    teeth: dict[int, list[str]] = field(default_factory=dict)
    numbers: dict[int, list[tuple[Term, str]]] = field(default_factory=dict)


@dataclass(slots=True)
class _Cue:
    what: str
    term: Term
    side: str = ""
    age: int = 0


class Counting:
    """Walks over the clauses in their order. The last name that asks for a number is kept."""

    def __init__(self, change: Sequence[str] = (), series: Sequence[str] = ()) -> None:
        self._change, self._series = frozenset(change), frozenset(series)
        self.figures = Figures()
        self._cue: _Cue | None = None
        self._waiting: _Cue | None = None  # what the sentence before named without its number
        self._sides: list[str] = []
        self._topic = ""
        self._gums = False  # the sentence is about the gums
        self._last_clause: Clause | None = None
        self._unit_assumed = False
        self._sided_last = ""  # of the two numbers the one that was said last

    def sentence(self, clauses: Sequence[Clause]) -> None:
        waiting, self._waiting = self._waiting, None
        self._cue = waiting if clauses and _only_number(clauses[0]) else None
        self._gums = any(t.has("noun", "gums") for c in clauses for t in c.terms)
        # "he says" behind a number that was asked for: of a colleague, unless an owner may know it
        told = ("", REPORTED, "owner") if self._cue and self._cue.what != WEIGHT else ("", REPORTED)
        flow = [(c, i) for c in clauses if c.drop in told for i in range(len(c.terms))]
        for position, (clause, i) in enumerate(flow):
            term = clause.terms[i]
            self._note_cue(term, clause)
            if term.kind == FIGURE and not term.used:
                after = [c.terms[j] for c, j in flow[position + 1 : position + 6]]
                before = [c.terms[j] for c, j in flow[max(0, position - 6) : position]]
                self._take(clause, i, term, before, after, flow, position)
            elif term.has("number-unit", "s") and i and clause.terms[i - 1].text.endswith(" a"):
                self._one_second(clause.terms[i - 1], term)
            elif term.has("number-unit", *LENGTHS) and not term.used:
                self._one_of_unit(clause, i, term)
        self._wait(clauses)

    def _wait(self, clauses: Sequence[Clause]) -> None:
        """ "Weight today. Twelve point four.", "What did you get for a temperature, Jo? Thirty-eight nine.":
        a sentence that names what is measured and has no number leaves it to the next one."""
        if any(t.kind == FIGURE for c in clauses for t in c.terms):
            if self._cue and self._cue.what in SIDED and _only_number(clauses[0]):
                # "O D eight. O S seventeen.", and "O D twenty-four. Nineteen." is of the same eye
                self._waiting = _Cue(self._cue.what, self._cue.term, self._sided_last)
            return
        if any(c.drop not in ("", "talk") or any(t.has("talk", *NOT_NOW) for t in c.terms) for c in clauses):
            return
        for clause in clauses:
            for term in clause.terms:
                key = next((k for k in term.keys("noun") if k in WAITING), "")
                if key:
                    what = CUES[key] or (EYE_PRESSURE if self._topic == "EYE" else PRESSURE)
                    self._waiting = _Cue(what, term)

    def _note_cue(self, term: Term, clause: Clause) -> None:
        if self._cue:
            self._cue.age += 1
        for kind in ("noun", "finding", "says", "trait"):
            for key in term.keys(kind):
                if key.startswith(("HRT", "LUN", "EYE")) or key in ("heart", "lungs", "eye", "breathing"):
                    self._topic = {"hea": "HRT", "lun": "LUN", "eye": "EYE", "bre": "LUN"}.get(
                        key[:3], key[:3]
                    )
                if key == "lungs" and any(t.has("noun", "heart") for t in clause.terms):
                    self._topic = "HRT"
                if key in CUES:
                    what = CUES[key]
                    if key == "rate":
                        what = BREATHS if self._topic == "LUN" else HEART
                    if key == "pressure":
                        what = EYE_PRESSURE if self._topic == "EYE" or self._eyes(clause) else PRESSURE
                    self._cue = _Cue(what, term, _side_in(term))
                    self._sides = []

    def _eyes(self, clause: Clause) -> bool:
        return any(t.has("side", "left", "right", "both") or t.has("noun", "eye") for t in clause.terms)

    def _take(
        self,
        clause: Clause,
        i: int,
        term: Term,
        before: list[Term],
        after: list[Term],
        flow: Sequence[tuple[Clause, int]],
        position: int,
    ) -> None:
        assert term.number is not None
        unit = _unit(after)
        if unit == "breaths" and not any(t.has("number-unit") for t in clause.terms[i + 1 : i + 4]):
            unit = ""  # "pulse one eighty, respirations twenty-four"
        if unit in ("dose", "percent", "other"):
            term.used = True
            return
        if clause.drop == REPORTED:
            self._reported(clause, term, unit, before, after)
            return
        if self._ratio(clause, term, after, before):
            return
        if unit in LENGTHS or _by_next(after) or (clause is self._last_sized() and _by_before(before)):
            self._size(clause, term, flow, position)
            return
        if unit in MASSES:
            if not self._changed(before):
                self._measure(WEIGHT, unit, term, before, after)
            return
        if unit in ("C", "F"):
            self._measure(TEMPERATURE, unit, term, before, after)
            return
        tooth = term.number.tooth()
        cue = self._cue if self._cue and self._cue.age <= FAR else None
        grade = _grade_before(before)
        if grade and not tooth and not (cue and cue.what == REFILL):
            self._grade(clause, term)
            return
        if unit == "in-15" or unit == "breaths":
            what = (
                BREATHS if unit == "breaths" or "breaths" in _words(after) else (cue.what if cue else HEART)
            )
            if what in (HEART, PULSE, BREATHS):
                self._measure(what, "/min", term, before, after, 4.0 if "fifteen" in _words(after) else 1.0)
            return
        if unit == "per-min":
            what = cue.what if cue and cue.what in (HEART, PULSE, BREATHS) else ""
            if not what and _breaths(after):
                what = BREATHS
            if not what:
                later = {CUES[k] for t in after for k in t.keys("noun") if k in CUES}
                what = next(iter(later & {HEART, PULSE, BREATHS}), BREATHS if self._topic == "LUN" else HEART)
            self._measure(what, "/min", term, before, after)
            return
        if tooth and _teeth_here(clause):
            cue = None
        if cue and cue.what in SIDED:
            self._sided(cue, term, before, after)
            return
        if tooth and not (cue and cue.what and not _teeth_here(clause)):
            self.figures.teeth.setdefault(id(clause), []).append(tooth)
            self.figures.numbers.setdefault(id(clause), []).append((term, "tooth"))
            term.used = True
            return
        if cue and cue.what and not _numbered(before, after) and self._likely(cue, term, clause, unit):
            self._measure(cue.what, UNIT.get(cue.what, ""), term, before, after)
            return
        if unit == "s" and not cue and self._gums and 0.3 <= term.number.whole() <= 9:
            self._measure(REFILL, "s", term, before, after)
            return
        if unit == "s" and not cue:
            return
        if _weighed(after) and (_alone(clause) or term.number.decimals):
            self._measure(WEIGHT, "", term, before, after)
            return
        bare = term.number.temperature()
        if bare is not None and term.number.decimals and _alone(clause):
            self._measure(TEMPERATURE, "", term, before, after)
            return
        if _rectally(after):
            self._measure(TEMPERATURE, "", term, before, after)
            return
        if (
            _alone(clause)
            and self._topic == "HRT"
            and 40 <= term.number.whole() <= 300
            and not term.number.decimals
        ):
            self._measure(HEART, "/min", term, before, after)
            return
        self.figures.numbers.setdefault(id(clause), []).append((term, "number"))

    def _reported(self, clause: Clause, term: Term, unit: str, before: list[Term], after: list[Term]) -> None:
        """ "Sam says thirty-one point two kilos": what a colleague measured is a measurement, if its unit
        or its name was said with it. How much more or less it is than before is none."""
        assert term.number is not None
        cue = self._cue if self._cue and self._cue.age <= NEAR else None
        at = clause.terms.index(term)
        around = (*clause.terms[max(0, at - 4) : at], *clause.terms[at + 1 : at + 4])
        if any(w in self._change for t in around for w in t.words):
            return
        if unit in MASSES and term.number.whole() > 0:
            self._measure(WEIGHT, unit, term, before, after)
        elif unit in ("C", "F"):
            self._measure(TEMPERATURE, unit, term, before, after)
        elif not unit and _weighed(after) and term.number.decimals:
            self._measure(WEIGHT, "", term, before, after)
        elif unit in ("breaths", "per-min") and _breaths(after) and _in_range(BREATHS, term):
            self._measure(BREATHS, UNIT[BREATHS], term, before, after)
        elif cue and cue.what in (WEIGHT, TEMPERATURE, HEART, PULSE, BREATHS, PRESSURE) and not unit:
            named = any(cue.term.has("noun", key) for key, what in CUES.items() if what == cue.what)
            if named and (cue.what in (WEIGHT, TEMPERATURE) or _in_range(cue.what, term)):
                self._measure(cue.what, UNIT.get(cue.what, ""), term, before, after)

    def _changed(self, before: Sequence[Term]) -> bool:
        """ "Down thirty grams": how much less, not how much."""
        near = [t for t in before[-3:] if not t.has("number", "about")]
        return any(w in self._change for t in near[-1:] for w in t.words)

    def _last_sized(self) -> Clause | None:
        return self._last_clause

    def _likely(self, cue: _Cue, term: Term, clause: Clause, unit: str) -> bool:
        assert term.number is not None
        value = term.number.whole()
        if cue.what == TEMPERATURE:
            return term.number.temperature() is not None
        if cue.what == WEIGHT:
            likely = unit in MASSES or _in_range(WEIGHT, term)
            return cue.term.has("noun", "VIT.weight") and likely and not _grade_before([cue.term])
        low, high = POSSIBLE[cue.what]
        if not low <= value <= high:
            return False
        if cue.what in (HEART, BREATHS, PULSE) and cue.term.kind == "form":
            # "murmur two", "lungs one thing": small numbers near these are no rates
            weak = cue.term.has("says") or cue.term.has("trait") or cue.term.has("noun", "lungs")
            return value >= 30 and cue.age <= 4 if weak else value >= 8
        return True

    def _measure(
        self,
        what: str,
        unit: str,
        term: Term,
        before: list[Term],
        after: list[Term],
        times: float = 1.0,
        side: str = "",
    ) -> None:
        assert term.number is not None
        reading = term.number
        value = reading.whole() * times
        if not reading.parts and _one_and(before):
            value += 1  # "a second and a half"
        if what == TEMPERATURE:
            found = reading.temperature()
            if found is None:
                return
            value, unit = found, unit or ("C" if found < 60 else "F")
        if what == WEIGHT:
            value = reading.weight()
            self._unit_assumed = not unit
            unit = unit or "kg"
            if any(self_noun.has("noun", "VIT.temperature") for self_noun in before[-2:]):
                return
        if what == CONDITION and not 1 <= value <= 9:
            return
        text = shown(value)
        near = before[-3:]
        if any(t.has("number", "under") for t in near):
            text = "<" + text
        elif any(t.has("number", "over") for t in near) and not any(t.has("talk") for t in near):
            text = ">" + text
        start = (
            self._cue.term.start
            if self._cue and self._cue.age <= FAR and CUES.get(_key(self._cue.term)) == what
            else term.start
        )
        end = term.end
        for t in after[:2]:
            if t.has("number-unit") and not t.has("number-unit", "by"):
                end = t.end
                break
        no_unit = what == WEIGHT and self._unit_assumed
        term.used = True
        corrected = any(t.has("control", "correct") or t.text == "no" for t in before)
        name = f"{what} {side}" if what in SIDED and side else what
        self.figures.measurements.append(
            (
                Measurement(
                    name,
                    text,
                    unit,
                    LINE[what],
                    side or "none",
                    (Span(min(start, term.start), end),),
                    (0.5 if no_unit else 0.9) * term.sure,
                    NO_UNIT if no_unit else "a number with its name or unit",
                ),
                corrected,
            )
        )
        if self._cue and what not in SIDED:
            series = bool(after) and after[0].text in self._series
            self._cue.age = FAR if not (series or _continues(after)) else 0
        if what == WEIGHT and not self._and_a_half(unit, after):
            self._parts_of_weight(term, unit, after)

    def _and_a_half(self, unit: str, after: list[Term]) -> bool:
        """ "eighteen kilos and a half"."""
        half = next((t for t in after[1:3] if t.kind == FIGURE), None)
        if half is None or half.number is None or half.number.parts or not half.number.fraction:
            return False
        measurement, corrected = self.figures.measurements[-1]
        half.used = True
        self.figures.measurements[-1] = (
            dataclasses.replace(
                measurement,
                value=shown(float(measurement.value.lstrip("<>")) + half.number.fraction),
                spans=(Span(measurement.spans[0].start, half.end),),
            ),
            corrected,
        )
        return True

    def _parts_of_weight(self, term: Term, unit: str, after: list[Term]) -> None:
        """ "ten pounds eight ounces", "eleven kilos two hundred"."""
        small = next((t for t in after[1:3] if t.kind == FIGURE), None)
        if small is None or small.number is None:
            return
        at = after.index(small)
        ounces = len(after) > at + 1 and after[at + 1].has("number-unit", "oz")
        measurement, corrected = self.figures.measurements[-1]
        bare = at == 1 and unit == "lb" and small.number.whole() < 16 and not small.number.decimals
        followed = len(after) > at + 1 and (after[at + 1].has("number-unit") or after[at + 1].has("number"))
        if unit == "lb" and (ounces or (bare and not followed)):
            value = float(measurement.value.lstrip("<>")) + small.number.whole() / 16
        elif (
            unit == "kg"
            and small.number.whole() in range(50, 1000, 50)
            and (
                len(after) <= at + 1
                or not after[at + 1].has("number-unit")
                or after[at + 1].has("number-unit", "g")
            )
        ):
            value = float(measurement.value.lstrip("<>")) + small.number.whole() / 1000
        else:
            return
        small.used = True
        spans = (Span(measurement.spans[0].start, small.end),)
        self.figures.measurements[-1] = (
            Measurement(
                measurement.what,
                shown(value),
                unit,
                measurement.structure,
                "none",
                spans,
                measurement.confidence,
                measurement.reason,
            ),
            corrected,
        )

    def _sided(self, cue: _Cue, term: Term, before: list[Term], after: list[Term]) -> None:
        """Left and right before or after their number, as the first one has it."""
        assert term.number is not None
        side = cue.side
        sided = any(t.has("side") for t in (*before, *after)) or bool(self._sides)
        if cue.what == EYE_PRESSURE and cue.term.has("noun", "pressure") and not sided and not side:
            if _in_range(PRESSURE, term) and term.number.whole() >= LEAST_OF_BLOOD:
                self._measure(PRESSURE, UNIT[PRESSURE], term, before, after)
            return
        ahead = next(
            (t for t in reversed(before) if t.kind == FIGURE or t.has("side") or t is cue.term), None
        )
        behind = next((t for t in after if t.kind == FIGURE or t.has("side")), None)
        first = ahead is not None and ahead.has("side", "left", "right", "both")
        if ahead is not None and first and not ahead.used:
            side = ahead.keys("side")[0]
            ahead.used = True
        elif behind is not None and behind.has("side", "left", "right", "both") and not side:
            side = behind.keys("side")[0]
            behind.used = True
        for one in ("left", "right") if side == "both" else (side,):
            if one in ("left", "right"):
                self._measure(cue.what, UNIT[cue.what], term, before, after, side=one)
        cue.age = 0
        self._sided_last = side

    def _ratio(self, clause: Clause, term: Term, after: list[Term], before: list[Term]) -> bool:
        """ "four out of nine", "two of six"."""
        rest = [t for t in after if not t.has("control", "filler") or t.has("number", "of")]
        if (
            len(rest) < 2
            or not rest[0].has("number", "of")
            or rest[1].kind != FIGURE
            or rest[1].number is None
        ):
            return False
        top = rest[1].number.whole()
        assert term.number is not None
        if top == 9 and term.number.whole() <= 9:
            term.used = rest[1].used = True
            self._measure(CONDITION, UNIT[CONDITION], term, before, after)
            measurement, corrected = self.figures.measurements.pop()
            spans = (Span(measurement.spans[0].start, rest[1].end),)
            kept = Measurement(
                measurement.what,
                measurement.value,
                measurement.unit,
                measurement.structure,
                "none",
                spans,
                measurement.confidence,
                measurement.reason,
            )
            self.figures.measurements.append((kept, corrected))
            return True
        if top in (3, 4, 5, 6) and term.number.whole() <= top:
            rest[1].used = True
            self.figures.scales[id(clause)] = str(int(top))
            self._grade(clause, term)
            return True
        return False

    def _grade(self, clause: Clause, term: Term) -> None:
        assert term.number is not None
        self.figures.grades[id(clause)] = shown(term.number.whole())
        term.used = True

    def _size(self, clause: Clause, term: Term, flow: Sequence[tuple[Clause, int]], position: int) -> None:
        """All numbers joined by "by", in one unit; "ten high" adds the third."""
        assert term.number is not None
        values, used, unit = [term.number.whole()], [term], ""
        i = position + 1
        while i < len(flow):
            nxt = flow[i][0].terms[flow[i][1]]
            if nxt.has("number-unit", *LENGTHS):
                unit = unit or nxt.keys("number-unit")[0]
            elif nxt.has("number-unit", "by") or nxt.has("control", "and", "filler"):
                pass
            elif nxt.kind == FIGURE and nxt.number is not None and self._goes_on(flow, i):
                values.append(nxt.number.whole())
                used.append(nxt)
            else:
                break
            i += 1
        times = LENGTHS.get(unit, 1.0)
        for t in used:
            t.used = True
        sized = [round(v * times, 2) for v in values]
        if len(sized) == 1 and not unit:
            return
        self.figures.sizes[id(clause)] = sized
        self._last_clause = clause

    def _goes_on(self, flow: Sequence[tuple[Clause, int]], i: int) -> bool:
        before = flow[i - 1][0].terms[flow[i - 1][1]]
        after = flow[i + 1][0].terms[flow[i + 1][1]] if i + 1 < len(flow) else None
        return before.has("number-unit", "by") or (after is not None and after.has("number-unit", "high"))

    def _one_second(self, before: Term, term: Term) -> None:
        """ "less than a second"."""
        if self._cue is None or self._cue.what != REFILL or not before.has("number", "under"):
            return
        span = Span(self._cue.term.start, term.end)
        self.figures.measurements.append(
            (
                Measurement(REFILL, "<1", "s", LINE[REFILL], "none", (span,), 0.85, "a number with its name"),
                False,
            )
        )

    def _one_of_unit(self, clause: Clause, i: int, term: Term) -> None:
        """ "an inch across", "a centimetre and a half"."""
        if (
            i == 0
            or clause.terms[i - 1].text not in ("a", "an", "one", "un", "una")
            or id(clause) in self.figures.sizes
        ):
            return
        value = 1.0
        rest = clause.terms[i + 1 : i + 3]
        half = next((t for t in rest if t.kind == FIGURE and t.number and not t.number.parts), None)
        if half is not None and half.number is not None:
            value += half.number.fraction
            half.used = True
        self.figures.sizes[id(clause)] = [round(value * LENGTHS[term.keys("number-unit")[0]], 2)]


def _in_range(what: str, term: Term) -> bool:
    assert term.number is not None
    low, high = POSSIBLE[what]
    return low <= term.number.whole() <= high


def _side_in(term: Term) -> str:
    found = [w for w in term.words if w in ("left", "right")]
    return found[0] if found else ""


def _key(term: Term) -> str:
    return next((s.key for s in term.senses if s.key in CUES), "")


def _breaths(after: Sequence[Term]) -> bool:
    return any("breaths" in t.words or "breathing" in t.words for t in after[:2])


def _words(terms: Sequence[Term]) -> str:
    return " ".join(t.text for t in terms)


def _unit(after: Sequence[Term]) -> str:
    """The unit right after a number; words like "about" do not stand between."""
    for at, term in enumerate(after[:3]):
        keys = term.keys("number-unit")
        if keys:
            return keys[0]
        if term.has("number", "flat") or (at == 0 and term.has("word", "indefinite") and len(after) > 1):
            continue
        return ""
    return ""


def _by_next(after: Sequence[Term]) -> bool:
    return bool(after) and after[0].has("number-unit", "by")


def _by_before(before: Sequence[Term]) -> bool:
    return bool(before) and before[-1].has("number-unit", "by")


def _grade_before(before: Sequence[Term]) -> bool:
    for term in reversed(before[-3:]):
        if term.has("number", "grade") or term.has("trait", "gingivitis", "tartar", "loose"):
            return True
        if not term.has("control", "filler") and not term.has("number", "about"):
            return False
    return False


def _teeth_here(clause: Clause) -> bool:
    return any(
        t.has("noun", "MTH.teeth")
        or t.has("trait", "missing", "fractured", "resorption", "retained", "loose")
        for t in clause.terms
    )


def _numbered(before: Sequence[Term], after: Sequence[Term]) -> bool:
    """A number of a gland, digit or the like, not a measured one."""
    return any(t.has("place", "gland", "limb digit") or t.has("noun", "toe") for t in before[-2:])


def _only_number(clause: Clause) -> bool:
    """A sentence that begins with a number: nothing before it, nothing named with it."""
    return any(t.kind == FIGURE for t in clause.terms) and not any(
        t.has("noun") or t.has("trait") or t.has("finding") or t.has("says") for t in clause.terms
    )


def _alone(clause: Clause) -> bool:
    return all(
        t.kind == FIGURE or t.has("control", "filler") or t.has("number") or t.has("noun", "VIT.weight")
        for t in clause.terms
    )


def _weighed(after: Sequence[Term]) -> bool:
    return any(t.has("noun", "VIT.weight") for t in after[:1])


def _rectally(after: Sequence[Term]) -> bool:
    return any(t.has("noun", "VIT.temperature") for t in after[:4])


def _one_and(before: Sequence[Term]) -> bool:
    return len(before) > 1 and before[-1].has("number-unit") and before[-2].text in ("a", "an", "one")


def _continues(after: Sequence[Term]) -> bool:
    return any(t.has("control", "correct") or t.text == "no" for t in after[:3])


def numbers_of(figures: Figures, clause: Clause) -> Iterator[Term]:
    """Numbers of a clause that nothing claimed."""
    for term, kind in figures.numbers.get(id(clause), ()):
        if kind == "number":
            yield term
