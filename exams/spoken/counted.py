"""What numbers may count, and what stands near one: units, names and the values that are possible."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field

from exams.spoken.clause import Clause
from exams.spoken.shapes import Measurement
from exams.spoken.terms import FIGURE, UNKNOWN, Term

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
MOST_OF_EYE = 90  # mmHg: no pressure of an eye
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
SLOWEST = 40  # per minute: a rate that nobody named and that is less is of the breathing (common practice)
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
class Cue:
    what: str
    term: Term
    side: str = ""
    age: int = 0


def in_range(what: str, term: Term) -> bool:
    assert term.number is not None
    low, high = POSSIBLE[what]
    return low <= (term.number.weight() if what == WEIGHT else term.number.whole()) <= high


def side_in(term: Term) -> str:
    return next(iter(term.within), "")


def cue_key(term: Term) -> str:
    return next((s.key for s in term.senses if s.key in CUES), "")


def breaths(after: Sequence[Term], words: Collection[str]) -> bool:
    return any(w in words for t in after[:2] for w in t.words)


def words_of(terms: Sequence[Term]) -> str:
    return " ".join(t.text for t in terms)


def unit_after(after: Sequence[Term]) -> str:
    """The unit right after a number; words like "about" do not stand between."""
    for at, term in enumerate(after[:3]):
        keys = term.keys("number-unit")
        if keys:
            return keys[0]
        if term.has("number", "flat") or (at == 0 and term.has("word", "indefinite") and len(after) > 1):
            continue
        return ""
    return ""


def by_next(after: Sequence[Term]) -> bool:
    return bool(after) and after[0].has("number-unit", "by")


def by_before(before: Sequence[Term]) -> bool:
    return bool(before) and before[-1].has("number-unit", "by")


def grade_before(before: Sequence[Term]) -> bool:
    for term in reversed(before[-3:]):
        if term.has("number", "grade") or term.has("trait", "gingivitis", "tartar", "loose"):
            return True
        if not term.has("control", "filler") and not term.has("number", "about"):
            return False
    return False


def teeth_here(clause: Clause) -> bool:
    return any(
        t.has("noun", "MTH.teeth")
        or t.has("trait", "missing", "fractured", "resorption", "retained", "loose")
        for t in clause.terms
    )


def numbered(before: Sequence[Term], after: Sequence[Term]) -> bool:
    """A number of a gland, digit or the like, not a measured one."""
    return any(t.has("place", "gland", "limb digit") or t.has("noun", "toe") for t in before[-2:])


def only_number(clauses: Sequence[Clause]) -> bool:
    """A sentence with a number and nothing that it names: "I did that, it's four point six"."""
    terms = [t for c in clauses for t in c.terms]
    return any(t.kind == FIGURE for t in terms) and not any(
        t.has("noun") or t.has("trait") or t.has("finding") or t.has("says") for t in terms
    )


def number_alone(clause: Clause) -> bool:
    return all(
        t.kind == FIGURE or t.has("control", "filler") or t.has("number") or t.has("noun", "VIT.weight")
        for t in clause.terms
    )


def heart_next(after: Sequence[Term]) -> bool:
    """ "A hundred and ten, nice and even, no murmur"."""
    keys = [k for t in after for s in t.senses for k in s.key.split()]
    on_the_heart = bool(after) and after[0].has("control", "prep") and "heart" in keys
    return on_the_heart or any(k.startswith("HRT.") or k == "murmur" for k in keys)


def limits_of(before: Sequence[Term]) -> list[Term]:
    """What stands right before a number and may say under or over; not "over the mat, nineteen"."""
    found: list[Term] = []
    for term in reversed(before):
        if term.kind == UNKNOWN or term.has("noun") or term.has("trait") or term.kind == FIGURE:
            break
        found.append(term)
    return found


def weighed(after: Sequence[Term]) -> bool:
    return any(t.has("noun", "VIT.weight") for t in after[:1])


def rectally(after: Sequence[Term]) -> bool:
    return any(t.has("noun", "VIT.temperature") for t in after[:4])


def one_and(before: Sequence[Term], articles: Collection[str]) -> bool:
    return len(before) > 1 and before[-1].has("number-unit") and before[-2].text in articles


def continues(after: Sequence[Term], no: Collection[str]) -> bool:
    return any(t.has("control", "correct") or t.text in no for t in after[:3])


def another_reading(after: Sequence[Term]) -> bool:
    """ "One sixty, one fifty-eight and one fifty-six": the next number stands alone behind this one."""
    numbers = [t for t in after[:2] if t.kind == FIGURE and t.number and in_range(PRESSURE, t)]
    return bool(numbers) and all(t.kind == FIGURE or t.has("control", "and") for t in after[:2])


def conditioned(after: Sequence[Term]) -> bool:
    """ "A six for condition"."""
    return (
        len(after) > 1 and after[0].has("control", "prep") and after[1].has("noun", "condition", "BCM.score")
    )


def numbers_of(figures: Figures, clause: Clause) -> Iterator[Term]:
    """Numbers of a clause that nothing claimed."""
    for term, kind in figures.numbers.get(id(clause), ()):
        if kind == "number":
            yield term
