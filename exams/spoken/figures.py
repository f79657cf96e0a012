"""What each spoken number counts: a measurement, a size, a grade, a tooth, a gland or a digit.

Decided by its unit, then by the name before it in the sentence. A number that none of these claims is left.
Numbers with a unit of dose are never taken.
"""

from __future__ import annotations

from collections.abc import Sequence

from exams.spoken.clause import Clause
from exams.spoken.counted import (
    BREATHS,
    CONDITION,
    CUES,
    EYE_PRESSURE,
    FAR,
    HEART,
    LENGTHS,
    MASSES,
    NEAR,
    NOT_NOW,
    POSSIBLE,
    PRESSURE,
    PULSE,
    REFILL,
    REPORTED,
    SIDED,
    SLOWEST,
    TEMPERATURE,
    UNIT,
    WAITING,
    WEIGHT,
    Cue,
    breaths,
    by_before,
    by_next,
    conditioned,
    grade_before,
    heart_next,
    in_range,
    number_alone,
    numbered,
    only_number,
    rectally,
    side_in,
    teeth_here,
    unit_after,
    weighed,
    words_of,
)
from exams.spoken.in_a_row import in_a_row
from exams.spoken.measuring import Measuring
from exams.spoken.teeth import teeth_between, tooth_counted
from exams.spoken.terms import FIGURE, Term
from exams.spoken.weighing import a_change, weighed_today

OTHERS = ("EAR.", "MTH.", "LYM.", "HRT.", "LUN.", "ABD.", "FLB.", "HLB.", "VIT.")  # stations of no eye


class Counting(Measuring):
    """Walks over the clauses in their order. The last name that asks for a number is kept."""

    def sentence(self, clauses: Sequence[Clause]) -> None:
        waiting, self._waiting = self._waiting, None
        self._cue = waiting if only_number(clauses) else self._looked_for(clauses)
        nouns = {k for c in clauses for t in c.terms for k in t.keys("noun")}
        self._gums = "gums" in nouns or (self._gums and not nouns)
        again = clauses[0].having("control", "no", "correct") and self._knees  # "No, right's the three"
        self._knees = bool(again) or any(t.has("noun", "HLB.patella") for c in clauses for t in c.terms)
        # "he says" behind a number that was asked for: of a colleague, unless an owner may know it
        told = ("", REPORTED, "owner") if self._cue and self._cue.what != WEIGHT else ("", REPORTED)
        self._weighed(clauses)
        for what, figure in in_a_row(clauses, self._in_a_row):
            self._measure(what, UNIT.get(what, ""), figure, [], [])
        flow = [(c, i) for c in clauses if c.drop in told for i in range(len(c.terms))]
        for position, (clause, i) in enumerate(flow):
            term = clause.terms[i]
            if not i:
                self._note_eye(clause)
            self._note_cue(term, clause)
            if term.kind == FIGURE and not term.used:
                after = [c.terms[j] for c, j in flow[position + 1 : position + 6]]
                before = [c.terms[j] for c, j in flow[max(0, position - 6) : position]]
                self._take(clause, i, term, before, after, flow, position)
            elif term.has("number-unit", "s") and i and self._one(clause.terms[i - 1]):
                self._one_second(clause.terms[i - 1], term, clause.terms[i + 1 :])
            elif term.has("number-unit", *LENGTHS) and not term.used:
                self._one_of_unit(clause, i, term)
        self._wait(clauses)

    def _weighed(self, clauses: Sequence[Clause]) -> None:
        today = weighed_today(clauses, self._of_today)
        if today is None:
            return
        figure, unit, others = today
        for other in others:
            other.used = True
        self._measure(WEIGHT, unit, figure, [], [])

    def _one(self, term: Term) -> bool:
        """ "About a second"."""
        return term.text.endswith(" a") or term.has("word", "indefinite")

    def _looked_for(self, clauses: Sequence[Clause]) -> Cue | None:
        """ "Let's pop him on the scales first: twenty-one point seven."."""
        if len(clauses) < 2 or clauses[0].drop != "talk":
            return None
        key = next((k for t in clauses[0].terms for k in t.keys("noun") if k in WAITING and CUES[k]), "")
        return Cue(CUES[key], next(t for t in clauses[0].terms if t.has("noun", key))) if key else None

    def _wait(self, clauses: Sequence[Clause]) -> None:
        """ "Weight today. Twelve point four.", "What did you get for a temperature, Jo? Thirty-eight nine.":
        a sentence that names what is measured and has no number leaves it to the next one."""
        if any(t.kind == FIGURE for c in clauses for t in c.terms):
            if self._cue and self._cue.what in SIDED and only_number(clauses):
                # "O D eight. O S seventeen.", and "O D twenty-four. Nineteen." is of the same eye
                self._waiting = Cue(self._cue.what, self._cue.term, self._sided_last)
            return
        if any(c.drop not in ("", "talk") or any(t.has("talk", *NOT_NOW) for t in c.terms) for c in clauses):
            return
        for clause in clauses:
            for term in clause.terms:
                key = next((k for k in term.keys("noun") if k in WAITING), "")
                if key:
                    what = CUES[key] or (EYE_PRESSURE if self._topic == "EYE" else PRESSURE)
                    self._waiting = Cue(what, term)

    def _note_eye(self, clause: Clause) -> None:
        """ "O D first.", "Left eye: …": the eye that the numbers behind it are of."""
        sides = [k for t in clause.terms for k in t.keys("side")]
        nouns = [k for t in clause.terms for k in t.keys("noun")]
        said = any(t.kind == FIGURE or t.has("trait") or t.has("finding") for t in clause.terms)
        if (
            sides in (["left"], ["right"])
            and not said
            and all(k == "eye" for k in nouns)
            and not clause.having("limb")
        ):
            self._eye = sides[0]
        elif "both" in sides or any(
            k in ("ear", "chest", "heart", "belly", "legs", "mouth", "neck") or k.startswith(OTHERS)
            for k in nouns
        ):
            self._eye = ""

    def _note_cue(self, term: Term, clause: Clause) -> None:
        if self._cue:
            self._cue.age += 1
        if term.text in self._upper:
            self._cue = Cue(PRESSURE, term)
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
                        eye = self._topic == "EYE" or self._eyes(clause) or self._eye
                        what = EYE_PRESSURE if eye else PRESSURE
                    self._cue = Cue(what, term, side_in(term))
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
        unit = unit_after(after)
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
        if unit in LENGTHS or by_next(after) or (clause is self._last_sized() and by_before(before)):
            self._size(clause, term, flow, position)
            return
        if unit in MASSES:
            change = a_change(before, self._change)
            if change is None:
                self._measure(WEIGHT, unit, term, before, after)
            else:
                change.senses = ()  # "a loss of four hundred grams": no muscle that is lost
            return
        if unit in ("C", "F"):
            self._measure(TEMPERATURE, unit, term, before, after)
            return
        counted = len(term.number.parts) == 1 and not any(w[:1].isdigit() for w in term.words)
        beats = heart_next(after) or counted  # nobody calls a tooth "a hundred and two"
        tooth = "" if beats and not teeth_here(clause) else term.number.tooth()
        of_jaw = tooth_counted(before, term, clause)
        tooth = tooth or of_jaw
        cue = self._cue if self._cue and self._cue.age <= FAR and not of_jaw else None
        grade = grade_before(before)
        if grade and not tooth and not (cue and cue.what == REFILL):
            self._grade(clause, term)
            return
        if (
            self._knees
            and not unit
            and not cue
            and clause.having("side")
            and term.number.digits in tuple("1234")
        ):
            self._grade(clause, term)  # "kneecaps, right is a two"
            return
        led = bool(before) and before[-1].has("word", "indefinite")
        murmur = clause.having("noun", "HRT.murmur") and not (unit or after[:1])
        murmur = murmur and (cue is None or cue.term.has("noun", "HRT.murmur"))
        if murmur and led and term.number.digits in tuple("123456"):
            self._grade(clause, term)  # "the murmur's still a three"
            return
        if unit == "in-15" or unit == "breaths":
            what = (
                BREATHS
                if unit == "breaths" or breaths(after, self._breaths)
                else (cue.what if cue else HEART)
            )
            if what in (HEART, PULSE, BREATHS):
                self._measure(what, "/min", term, before, after, 4.0 if "fifteen" in words_of(after) else 1.0)
            return
        if unit == "per-min":
            what = cue.what if cue and cue.what in (HEART, PULSE, BREATHS) else ""
            if not what and breaths(after, self._breaths):
                what = BREATHS
            if not what:
                later = {CUES[k] for t in after for k in t.keys("noun") if k in CUES}
                breathed = self._topic == "LUN" or (not self._topic and term.number.whole() < SLOWEST)
                what = next(iter(later & {HEART, PULSE, BREATHS}), BREATHS if breathed else HEART)
            self._measure(what, "/min", term, before, after)
            return
        range_of = len(after) > 1 and after[0].has("word", "towards") and after[1].kind == FIGURE
        if cue and cue.what == REFILL and range_of:
            term.used = True  # "one to two seconds": the slower of them
            return
        if tooth and teeth_here(clause):
            cue = None
        if cue and cue.what in SIDED:
            self._sided(cue, term, before, after)
            return
        if tooth and not (cue and cue.what and not teeth_here(clause)):
            teeth = self.figures.teeth.setdefault(id(clause), [])
            teeth += teeth_between(teeth[-1], tooth) if teeth and before[-1].has("word", "towards") else []
            teeth.append(tooth)
            self.figures.numbers.setdefault(id(clause), []).append((term, "tooth"))
            term.used = True
            return
        if cue and cue.term.has("noun", "rate") and not self._topic and term.number.whole() < SLOWEST:
            cue.what = BREATHS  # "resting rate twenty"
        if cue and cue.what and not numbered(before, after) and self._likely(cue, term, clause, unit):
            self._measure(cue.what, UNIT.get(cue.what, ""), term, before, after)
            return
        gums = self._gums or bool(clause.having("trait", "pink"))
        if unit == "s" and not cue and gums and 0.3 <= term.number.whole() <= 9:
            self._measure(REFILL, "s", term, before, after)
            return
        if unit == "s" and not cue:
            return
        if conditioned(after) and 1 <= term.number.whole() <= 9:
            self._measure(CONDITION, UNIT[CONDITION], term, before, after)
            return
        if self._nearer(term, clause):
            self._measure(WEIGHT, self.figures.measurements[-1][0].unit, term, before, after)
            self.figures.measurements.pop(-2)
            return
        if weighed(after) and (number_alone(clause) or term.number.decimals):
            self._measure(WEIGHT, "", term, before, after)
            return
        bare = term.number.temperature()
        clipped = len(term.number.digits) == 4 and term.number.digits.startswith("10")  # "one oh one five"
        parts = term.number.parts  # "thirty-eight seven"
        clipped = clipped or (len(parts) == 2 and len(parts[1]) == 1 and 36 <= int(parts[0]) <= 41)
        if bare is not None and (term.number.decimals or clipped) and number_alone(clause):
            self._measure(TEMPERATURE, "", term, before, after)
            return
        if rectally(after):
            self._measure(TEMPERATURE, "", term, before, after)
            return
        if (
            number_alone(clause)
            and (self._topic == "HRT" or heart_next(after))
            and 40 <= term.number.whole() <= 300
            and not term.number.decimals
        ):
            self._measure(HEART, "/min", term, before, after)
            return
        led = bool(after) and after[0].has("control", "prep") and heart_next(after)
        if led and 40 <= term.number.whole() <= 300 and not term.number.decimals and not unit:
            self._measure(HEART, "/min", term, before, after)  # "two hundred and ten on the heart"
            return
        self.figures.numbers.setdefault(id(clause), []).append((term, "number"))

    def _nearer(self, term: Term, clause: Clause) -> bool:
        """ "Just under thirty kilos, twenty-nine point eight"."""
        last = self.figures.measurements[-1][0] if self.figures.measurements else None
        if last is None or last.what != WEIGHT or last.value[0] not in "<>" or not number_alone(clause):
            return False
        assert term.number is not None
        limit = float(last.value[1:])
        return abs(term.number.weight() - limit) < limit / 10

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
        elif not unit and weighed(after) and term.number.decimals:
            self._measure(WEIGHT, "", term, before, after)
        elif unit in ("breaths", "per-min") and breaths(after, self._breaths) and in_range(BREATHS, term):
            self._measure(BREATHS, UNIT[BREATHS], term, before, after)
        elif cue and cue.what in (WEIGHT, TEMPERATURE, HEART, PULSE, BREATHS, PRESSURE) and not unit:
            named = any(cue.term.has("noun", key) for key, what in CUES.items() if what == cue.what)
            if named and (cue.what in (WEIGHT, TEMPERATURE) or in_range(cue.what, term)):
                self._measure(cue.what, UNIT.get(cue.what, ""), term, before, after)

    def _likely(self, cue: Cue, term: Term, clause: Clause, unit: str) -> bool:
        assert term.number is not None
        value = term.number.whole()
        if cue.what == TEMPERATURE:
            return (term.number.temperature() or self._tenths(term.number.digits)) is not None
        if cue.what == WEIGHT:
            likely = unit in MASSES or in_range(WEIGHT, term)
            return cue.term.has("noun", "VIT.weight") and likely and not grade_before([cue.term])
        low, high = POSSIBLE[cue.what]
        if not low <= value <= high:
            return False
        if cue.what in (HEART, BREATHS, PULSE) and cue.term.kind == "form":
            # "murmur two", "lungs one thing": small numbers near these are no rates
            weak = cue.term.has("says") or cue.term.has("trait") or cue.term.has("noun", "lungs")
            return value >= 30 and cue.age <= 4 if weak else value >= 8
        return True
