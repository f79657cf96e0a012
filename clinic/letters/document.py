"""The letter as a document: sections of lines of sentences, each sentence with its origin. Pure.

Rooms add their parts through the letter registry; the composition orders them; templates and the mail's text
body only read them. `to_json` and `from_json` freeze and thaw a document without loss.
"""

from dataclasses import asdict, dataclass, field
from datetime import date
from enum import StrEnum
from typing import Any


class Mark(StrEnum):
    """A line's state; the word stands beside the shape."""

    NONE = "none"
    NORMAL = "normal"
    ABNORMAL = "abnormal"
    UNSEEN = "unseen"
    PART = "part"
    NOW = "now"


class Tone(StrEnum):
    """How things stand, for the ground of *in short*."""

    WELL = "well"
    PLAIN = "plain"
    NOW = "now"


@dataclass(frozen=True)
class Sentence:
    """One sentence. `key` is stable for one record, so that a correction finds it again.

    `origin` says which recorded fact stands behind it: no sentence without one.
    """

    key: str
    text: str
    origin: str
    recorded: str = ""
    by: str = ""
    strong: bool = False
    term: str = ""  # the clinician's word, printed last in brackets


@dataclass(frozen=True)
class Line:
    """A line of a section: a mark, a label in front, sentences behind."""

    sentences: tuple[Sentence, ...]
    label: str = ""
    mark: Mark = Mark.NONE


@dataclass(frozen=True)
class Figure:
    """A drawing of ours. `svg` stands alone (colours as attributes) and `alt` says what it shows."""

    svg: str
    alt: str
    caption: str = ""
    kind: str = ""  # "map", "curve", "condition": the sheet's class


@dataclass(frozen=True)
class Section:
    """`name` is the code that orders sections; `title` hangs in the margin."""

    name: str
    title: str
    lines: tuple[Line, ...] = ()
    figure: Figure | None = None
    caution: tuple[Sentence, ...] = ()


@dataclass(frozen=True)
class Point:
    """A candidate for *in short*: finding, what to do, by when. `urgency` M, R, T or E orders them."""

    sentence: Sentence
    urgency: str


@dataclass(frozen=True)
class Dated:
    """Something that comes next."""

    on: date
    sentence: Sentence
    exact: bool = True  # False: "in the week of"


@dataclass(frozen=True)
class Part:
    """What one room contributes."""

    sections: tuple[Section, ...] = ()
    points: tuple[Point, ...] = ()
    call_now: tuple[Sentence, ...] = ()
    call_within_a_day: tuple[Sentence, ...] = ()
    next_things: tuple[Dated, ...] = ()


@dataclass(frozen=True)
class Head:
    """Letterhead, who and when. All text, ready to print."""

    clinic_name: str
    clinic_lines: tuple[str, ...]
    phone: str
    emergency_name: str
    emergency_phone: str
    owner_name: str
    owner_lines: tuple[str, ...]
    patient_name: str
    patient_facts: str  # "lurcher cross, neutered male, 8 years 4 months, 27.4 kg (60.4 lb)"
    day: str
    reason: str = ""


@dataclass(frozen=True)
class Signed:
    """Who examined, who assisted, who signed; the addenda that a corrected copy carries."""

    lines: tuple[str, ...]
    version_line: str = ""
    addenda: tuple[Sentence, ...] = ()


@dataclass(frozen=True)
class Document:
    """The whole letter, in reading order."""

    language: str
    tone: Tone
    head: Head
    headline: Sentence
    points: tuple[Point, ...]
    call_now: tuple[Sentence, ...]
    call_within_a_day: tuple[Sentence, ...]
    sections: tuple[Section, ...]
    next_things: tuple[Dated, ...]
    signed: Signed
    paper: str = "A4"
    large_print: bool = False
    format: int = field(default=1)


def to_json(document: Document) -> dict[str, Any]:
    """Plain JSON values; dates as ISO 8601."""
    plain = asdict(document)
    for thing in plain["next_things"]:
        thing["on"] = thing["on"].isoformat()
    return plain


def _sentence(raw: dict[str, Any]) -> Sentence:
    return Sentence(**raw)


def _sentences(raw: list[dict[str, Any]]) -> tuple[Sentence, ...]:
    return tuple(_sentence(each) for each in raw)


def _point(raw: dict[str, Any]) -> Point:
    return Point(sentence=_sentence(raw["sentence"]), urgency=raw["urgency"])


def _section(raw: dict[str, Any]) -> Section:
    lines = tuple(
        Line(sentences=_sentences(line["sentences"]), label=line["label"], mark=Mark(line["mark"]))
        for line in raw["lines"]
    )
    return Section(
        name=raw["name"],
        title=raw["title"],
        lines=lines,
        figure=Figure(**raw["figure"]) if raw["figure"] else None,
        caution=_sentences(raw["caution"]),
    )


def from_json(raw: dict[str, Any]) -> Document:
    """The document that `to_json` wrote, also after a round through the database's JSON."""
    head = dict(raw["head"])
    head["clinic_lines"] = tuple(head["clinic_lines"])
    head["owner_lines"] = tuple(head["owner_lines"])
    return Document(
        language=raw["language"],
        tone=Tone(raw["tone"]),
        head=Head(**head),
        headline=_sentence(raw["headline"]),
        points=tuple(_point(each) for each in raw["points"]),
        call_now=_sentences(raw["call_now"]),
        call_within_a_day=_sentences(raw["call_within_a_day"]),
        sections=tuple(_section(each) for each in raw["sections"]),
        next_things=tuple(
            Dated(
                on=date.fromisoformat(each["on"]), sentence=_sentence(each["sentence"]), exact=each["exact"]
            )
            for each in raw["next_things"]
        ),
        signed=Signed(
            lines=tuple(raw["signed"]["lines"]),
            version_line=raw["signed"]["version_line"],
            addenda=_sentences(raw["signed"]["addenda"]),
        ),
        paper=raw["paper"],
        large_print=raw["large_print"],
        format=raw["format"],
    )
