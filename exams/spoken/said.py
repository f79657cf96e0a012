"""What was said of one line, and the words it stands on: the plain data of the rules."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from exams.spoken.clause import Clause
from exams.spoken.shapes import NORMAL, About, Span
from exams.spoken.sides import UNRESOLVED
from exams.spoken.terms import FIGURE, UNKNOWN, Term
from exams.spoken.vocabulary import Noun

NO_REASON = "no reason given"
SUSPECTED = "suspected"
MOST_UNKNOWN = 3  # unknown words in a clause that is to say "normal" of what was named before it
LIMB_STATIONS = ("FLB", "HLB")
LASTS = 2  # sentences that a side holds for what is named after it without one
PAIRS = ("eye", "ear")
GENERIC = ("good", "clear", "clean")
RUNNY = ("watering", "serous", "discharge", "snot", "mucus")


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
    unsaid: bool = False  # one of a pair, and nobody said which
    group: bool = False  # not examined as one of a group: of its lines another word counts
    one_of: tuple[str, ...] = ()  # codes that are grades of one scale, and nobody said which

    @property
    def one_part(self) -> bool:
        """ "304 clean", "L1 nothing": one tooth or gland of a line, which is no word about the line."""
        return (self.structure == "MTH.teeth" and self.site.isdigit()) or (
            self.structure == "GUM.mammary" and bool(self.site)
        )


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


def stations_of(named: Sequence[Named]) -> set[str]:
    """Stations of every line that these names answer for."""
    return {line.partition(".")[0] for n in named for line in (*n.noun.normal, *n.noun.scope)}


@dataclass(slots=True)
class Described:
    """A trait of a clause: denied or not, and how much of it."""

    term: Term
    keys: tuple[str, ...]
    denied: bool
    severity: str = ""


def applies(species: Sequence[str], when: str, about: About, state: str) -> bool:
    """Whether this animal has the line; not known: yes."""
    if about.species and about.species not in species:
        return False
    sex, months = about.sex, about.age_months
    if when.startswith("female") and sex.startswith("male"):
        return False
    if when.startswith("male") and sex.startswith("female"):
        return False
    if when.endswith("-intact") and sex and not sex.endswith(("intact", "entire")):
        return state != NORMAL
    if when == "under-6-months" and months is not None and months >= 6:
        return False
    return not (when == "under-16-weeks" and months is not None and months >= 4)


def unsaid_sides(kind: str, said: Sequence[str]) -> list[str]:
    """Sides of something not normal without a side: both may be meant, and a side said next sets it."""
    if kind != "pair":
        return ["none"]
    return [] if UNRESOLVED in said else ["left", "right"]


def more_said(clause: Clause) -> bool:
    """ "left worse": more than a side."""
    return any(t.kind == UNKNOWN or t.has("word", "comparing") for t in clause.terms)


def towards(clause: Clause) -> bool:
    """ "fast phase to the right": a direction, not a side."""
    at = next((i for i, t in enumerate(clause.terms) if t.has("side", "left", "right")), 0)
    return any(t.has("word", "towards") for t in clause.terms[max(0, at - 2) : at])


def filler_right(clause: Clause, at: int) -> bool:
    return at == 0 and clause.opens and len(clause.terms) == 1


def terms_behind(name: Named, one: Described) -> list[Term]:
    return [t for t in (name.term, one.term) if t is not None]


def clause_span(clause: Clause) -> Span:
    return Span(clause.start, clause.end)


def span_of(term: Term) -> Span:
    return Span(term.start, term.end)


def once(made: Sequence[Statement]) -> list[Statement]:
    """Without repeats; several codes of one line and side stay apart until they are gathered."""
    found: list[Statement] = []
    for s in made:
        if not any(
            (s.structure, s.side, s.state, s.codes, s.site) == (x.structure, x.side, x.state, x.codes, x.site)
            for x in found
        ):
            found.append(s)
    return found


def thing_there(named: Sequence[Named], clause: Clause, ones: Sequence[str]) -> bool:
    """ "One on the left shoulder, moves about": a thing nobody knows, and only where it is."""
    terms = [n.term for n in named if n.term is not None and n.term in clause.terms]
    before = clause.terms[: clause.terms.index(terms[0])] if terms else []
    led = any(t.led or t.has("control", "prep") for t in before)
    if not clause.opens or not led:
        return False
    one = [t for t in before if t.kind == FIGURE and t.text in ones]
    return bool(one) and not any(t.has("trait") or t.has("noun") for t in before)
