"""What is given to `hear` and what it hands back. Frozen; plain values only, so that it stores as JSON.

Spans are `(start, end)` in characters of the text exactly as it was given: `text[start:end]` are the words
that a proposal stands on. No proposal is without one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

NORMAL, ABNORMAL, NOT_EXAMINED, PARTIAL = "normal", "abnormal", "not_examined", "partial"
STATES = (NORMAL, ABNORMAL, NOT_EXAMINED, PARTIAL)
SIDES = ("none", "left", "right", "LF", "RF", "LH", "RH")
FORM_KINDS = ("structure", "finding", "normal", "mishearing")


class Span(NamedTuple):
    """Characters `start` to `end` (exclusive) of the text as it was given."""

    start: int
    end: int


@dataclass(frozen=True, slots=True)
class About:
    """Who is examined. `sex`: male-intact, male-neutered, female-intact, female-spayed, male, female or
    empty when not known. `language`: a folder of `exams/spoken/languages`, as "en" or "es"."""

    species: str
    sex: str = ""
    age_months: float | None = None
    language: str = "en"


@dataclass(frozen=True, slots=True)
class Form:
    """A way to say something that the clinic accepted.

    `kind` "structure": `means` is a structure's code (names it); "finding": a finding's code (not normal);
    "normal": a structure's code (these words say that it is normal); "mishearing": the words meant.
    """

    kind: str
    words: str
    means: str


@dataclass(frozen=True, slots=True)
class Proposal:
    """One answer for one line of the walk, on one side.

    `station`, `structure`: codes of the walk ("EAR", "EAR.canal"). `side`: none, left, right or a limb (LF,
    RF, LH, RH: the lines that ask all four); none as well for one of a pair of which no side was said.
    `state`: normal, abnormal, not_examined, or partial (normal as far as it was seen; `note` says why).
    `codes`: findings, only when abnormal; `one_of`: findings that are grades of one scale, of which nobody
    said which it is. `severity`: mild, moderate, severe or empty. `grade`: the key of the finding's scale as
    the walk writes it, or empty. `size_mm`: longest first as said. `site`: tooth, gland, digit, region.
    `note`: the reason of not_examined or partial, "suspected" for a doubt left standing, or a detail.
    `confidence`: 0 to 1, `reason` says why.
    """

    station: str
    structure: str
    side: str
    state: str
    codes: tuple[str, ...] = ()
    severity: str = ""
    grade: str = ""
    size_mm: tuple[float, ...] = ()
    site: str = ""
    note: str = ""
    spans: tuple[Span, ...] = ()
    confidence: float = 0.0
    reason: str = ""
    one_of: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Measurement:
    """A number that was said. `what`: body weight, rectal temperature, heart rate, pulse rate, respiratory
    rate, capillary refill time, systolic blood pressure, body condition score, Schirmer tear test
    left/right, intraocular pressure left/right. `value` as spoken, "<2" and ">220" for under and over;
    `unit`: kg lb g C F /min s mmHg "of 9" mm/min. `structure`: the measured line of the walk,
    `side` its side."""

    what: str
    value: str
    unit: str
    structure: str
    side: str
    spans: tuple[Span, ...]
    confidence: float = 0.0
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Line:
    """A heads-up (what somebody else reported) or a line of the plan, in the words that were said."""

    words: str
    spans: tuple[Span, ...]


@dataclass(frozen=True, slots=True)
class Question:
    """The same thing was said twice, differently, and no word says which holds. `structure` and `side` as in
    `Proposal`, or a measurement's name in `what`; `spans` both places, first said first."""

    words: str
    structure: str
    side: str
    what: str
    spans: tuple[Span, ...]


@dataclass(frozen=True, slots=True)
class Heard:
    """Everything proposed from one text. Nothing here is a record: a person confirms each."""

    proposals: tuple[Proposal, ...] = ()
    measurements: tuple[Measurement, ...] = ()
    heads_ups: tuple[Line, ...] = ()
    plan: tuple[Line, ...] = ()
    questions: tuple[Question, ...] = ()
