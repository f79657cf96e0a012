"""A number that is claimed: as a measurement with its unit and side, a ratio, a grade or a size."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

from exams.spoken.clause import Clause
from exams.spoken.counted import (
    CONDITION,
    CUES,
    EYE_PRESSURE,
    FAR,
    LEAST_OF_BLOOD,
    LENGTHS,
    LINE,
    MOST_OF_EYE,
    NO_UNIT,
    PRESSURE,
    REFILL,
    SIDED,
    TEMPERATURE,
    UNIT,
    WEIGHT,
    Cue,
    Figures,
    another_reading,
    continues,
    cue_key,
    in_range,
    limits_of,
    one_and,
)
from exams.spoken.language import Language
from exams.spoken.numbers import shown
from exams.spoken.shapes import Measurement, Span
from exams.spoken.terms import FIGURE, Term
from exams.spoken.weighing import a_change


class Measuring:
    """A step of `Counting`."""

    def __init__(self, language: Language) -> None:
        self._change, self._series = frozenset(language.change), frozenset(language.series)
        self._breaths, self._every = frozenset(language.breaths), frozenset(language.each)
        self._of_today, self._in_a_row = frozenset(language.of_today), language.in_a_row
        self._upper = frozenset(language.upper_pressure)
        self._no, self._articles = frozenset(language.bare_no), frozenset(language.articles)
        self.figures = Figures()
        self._cue: Cue | None = None
        self._waiting: Cue | None = None  # what the sentence before named without its number
        self._sides: list[str] = []
        self._topic = ""
        self._gums = self._knees = False  # the sentence is about the gums, the kneecaps
        self._last_clause: Clause | None = None
        self._unit_assumed = False
        self._eye = ""  # the eye that is gone through: "O D. Schirmer eighteen, pressure fourteen."
        self._sided_last = ""  # of the two numbers the one that was said last

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
        if not reading.parts and one_and(before, self._articles):
            value += 1  # "a second and a half"
        if what == TEMPERATURE:
            found = reading.temperature() or self._tenths(reading.digits)
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
        near = limits_of(before[-3:])
        if any(t.has("number", "under") for t in near):
            text = "<" + text
        elif any(t.has("number", "over") for t in near) and not any(t.has("talk") for t in near):
            text = ">" + text
        start = (
            self._cue.term.start
            if self._cue and self._cue.age <= FAR and CUES.get(cue_key(self._cue.term)) == what
            else term.start
        )
        end = term.end
        for t in after[:2]:
            if t.has("number-unit") and not t.has("number-unit", "by"):
                end = t.end
                break
        no_unit = what == WEIGHT and self._unit_assumed
        term.used = True
        corrected = any(t.has("control", "correct") or t.text in self._no for t in before)
        listed = [t for t in before if t.kind == FIGURE or t.text in self._series][-1:]
        corrected = corrected or bool(listed and before[-1] is listed[0])  # one of several readings
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
            rest = [t for t in after if t.kind != FIGURE]  # "165, 160, 158, average 161"
            series = bool(rest) and (rest[0].text in self._series or rest[0].has("control", "hedge"))
            series = series or (what == PRESSURE and another_reading(after))
            self._cue.age = FAR if not (series or continues(after, self._no)) else 0
        if what == WEIGHT and not self._and_a_half(unit, after):
            self._parts_of_weight(term, unit, after)

    def _tenths(self, digits: str) -> float | None:
        """ "Thirty-eight three, sorry, eight five": of the same ten degrees."""
        old = [m for m, _ in self.figures.measurements if m.what == TEMPERATURE]
        if not old or len(digits) != 2 or self._cue is None or self._cue.what != TEMPERATURE:
            return None
        tens = int(float(old[-1].value.lstrip("<>")) // 10)
        return float(f"{tens}{digits[0]}.{digits[1]}")

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
        if any(w in self._change for t in after[:at] for w in t.words):
            return  # "five point oh five, down two hundred grams"
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

    def _sided(self, cue: Cue, term: Term, before: list[Term], after: list[Term]) -> None:
        """Left and right before or after their number, as the first one has it."""
        assert term.number is not None
        side = cue.side
        sided = any(t.has("side") for t in (*before, *after)) or bool(self._sides)
        blood = term.number.whole() > MOST_OF_EYE or not (sided or side or self._eye)
        if cue.what == EYE_PRESSURE and cue.term.has("noun", "pressure") and blood:
            if in_range(PRESSURE, term) and term.number.whole() >= LEAST_OF_BLOOD:
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
        elif after and after[0].text in self._every and not side:
            side = "both"  # "fifteen each"
        side = side or self._eye
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

    def _one_second(self, before: Term, term: Term, after: Sequence[Term]) -> None:
        """ "Less than a second", "about a second", "back in a second and a half"."""
        refill = self._cue is not None and self._cue.what == REFILL
        if not (refill or self._gums):
            return
        half = any(t.has("number", "half") or (t.number and t.number.fraction) for t in after[:1])
        value = ("1.5" if half else "1") if not before.has("number", "under") else "<1"
        start = self._cue.term.start if self._cue and refill else before.start
        span = Span(start, after[0].end if half else term.end)
        self.figures.measurements.append(
            (
                Measurement(
                    REFILL, value, "s", LINE[REFILL], "none", (span,), 0.85, "a number with its name"
                ),
                False,
            )
        )

    def _one_of_unit(self, clause: Clause, i: int, term: Term) -> None:
        """ "an inch across", "a centimetre and a half"."""
        if i == 0 or clause.terms[i - 1].text not in self._articles or id(clause) in self.figures.sizes:
            return
        value = 1.0
        rest = clause.terms[i + 1 : i + 3]
        half = next((t for t in rest if t.kind == FIGURE and t.number and not t.number.parts), None)
        if half is not None and half.number is not None:
            value += half.number.fraction
            half.used = True
        self.figures.sizes[id(clause)] = [round(value * LENGTHS[term.keys("number-unit")[0]], 2)]

    def _changed(self, before: Sequence[Term]) -> bool:
        """ "Down thirty grams": how much less, not how much; "up to eight kilos" is how much."""
        if before and before[-1].has("word", "towards"):
            return False
        return a_change(before, self._change) is not None

    def _last_sized(self) -> Clause | None:
        return self._last_clause
