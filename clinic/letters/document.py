"""The letter as a document: sections of blocks of sentences, each sentence with its origin. Pure.

Rooms add their parts through the letter registry; the composition orders them; templates and the mail's text
body only read them. `to_json` and `from_json` freeze and thaw a document without loss.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from datetime import date
from enum import StrEnum
from typing import Any, TypeVar


class Mark(StrEnum):
    """A line's state; the word stands beside the shape."""

    NONE = ""
    NORMAL = "normal"
    ABNORMAL = "abnormal"
    UNSEEN = "unseen"
    PART = "part"
    PENDING = "pending"
    DECLINED = "declined"
    URGENT = "urgent"


class Tone(StrEnum):
    """How things stand, for the ground of *in short*."""

    WELL = "well"
    LOOK = "look"
    NOW = "now"
    QUIET = "quiet"


@dataclass(frozen=True)
class MadeFrom:
    """Which text a sentence is: `text` as `room:key`, its `form` (`number` of its plural forms), `values` as
    they were filled in.

    `heading` stands before it in the sentence, `tail` after it, and neither is the text's own. `part`: 1 for
    its first sentence alone, 2 for what follows that; 0 for all of it.
    """

    text: str
    form: str = ""
    number: int = 0
    values: tuple[tuple[str, str], ...] = ()
    heading: str = ""
    part: int = 0
    tail: str = ""


@dataclass(frozen=True)
class Sentence:
    """One sentence, or a table's cell.

    `key` is unique in a letter and stable for one record, so that a correction finds it again. `origin` says
    which recorded fact stands behind it (none without), `recorded` what was recorded, `by` who did.
    `term` is the clinician's word, printed last, grey, in brackets. In a letter that is not in the
    clinicians' language, `source` is the same sentence as they sign it; `both`: it goes out in both
    languages; `lang`: the language of `text`, where that is not the letter's. `made_from` is known while a
    letter is composed and is not kept with it.
    """

    key: str
    text: str
    origin: str
    recorded: str = ""
    by: str = ""
    strong: bool = False
    term: str = ""
    corrected: bool = False
    lang: str = ""
    source: str = ""
    both: bool = False
    made_from: MadeFrom | None = field(default=None, compare=False, repr=False)


@dataclass(frozen=True)
class Line:
    """A marked line: what it is about (bold, ends with its state), then sentences."""

    label: Sentence
    sentences: tuple[Sentence, ...] = ()
    mark: Mark = Mark.NONE


@dataclass(frozen=True)
class Text:
    """A paragraph."""

    sentences: tuple[Sentence, ...]
    mark: Mark = Mark.NONE
    kind: str = "text"


@dataclass(frozen=True)
class Walk:
    """Marked lines, one under the other."""

    lines: tuple[Line, ...]
    kind: str = "walk"


@dataclass(frozen=True)
class Table:
    """Short, never broken over pages. The first cell of a row heads it. No `head`: labels and facts."""

    rows: tuple[tuple[Sentence, ...], ...]
    head: tuple[str, ...] = ()
    kind: str = "table"


@dataclass(frozen=True)
class Figure:
    """A drawing of ours: it stands alone (colours as attributes) and holds its own <title> as text."""

    svg: str
    alt: str
    # "plot" 192 × 100 units, "map" 190 × 100; as wide as the text "wide", 1005 × 510, and "low", 1005 × 370
    shape: str = "plot"


@dataclass(frozen=True)
class Figures:
    """One or two drawings side by side; or one map with a table and text beside it."""

    figures: tuple[Figure, ...]
    table: Table | None = None
    sentences: tuple[Sentence, ...] = ()
    kind: str = "figures"


@dataclass(frozen=True)
class Photo:
    """A photograph, named by the SHA-256 of its kept JPEG. `src`: its address on our pages."""

    sha256: str
    src: str
    alt: str
    caption: Sentence
    width: int
    height: int


@dataclass(frozen=True)
class Photos:
    """Photographs of one place, the earliest first, two in a row."""

    photos: tuple[Photo, ...]
    kind: str = "photos"


Block = Text | Walk | Table | Figures | Photos


@dataclass(frozen=True)
class Section:
    """`order` places it in the letter: medicine 20, walk 30, lumps 40, pictures 45, weight 50, feeding 60,
    vaccines and preventives 70, tests 80, declined 85. `title` hangs in the margin, two short words
    at most."""

    name: str
    title: str
    order: int
    blocks: tuple[Block, ...]


@dataclass(frozen=True)
class Point:
    """A candidate for *in short*: `what` (bold), what to do, by when. Urgency M, R, T or E orders them."""

    what: Sentence
    urgency: str
    do: Sentence | None = None
    by: Sentence | None = None


@dataclass(frozen=True)
class Dated:
    """Something that comes next: on a day, or (not exact) in the week of it."""

    on: date
    what: Sentence
    exact: bool = True
    time: str = ""


@dataclass(frozen=True)
class Part:
    """What one room contributes. `headline` says how things stand; the first part that has one gives it.
    `answers` say what was recorded to what the owner came for. `looks`: something needs care, also where no
    point says it once more. `bare_titles`: points that have nothing but a problem's title to say what it is,
    by key, and the lines of the walk that the problem speaks of."""

    sections: tuple[Section, ...] = ()
    points: tuple[Point, ...] = ()
    headline: Sentence | None = None
    call_now: tuple[Sentence, ...] = ()
    call_within_a_day: tuple[Sentence, ...] = ()
    next_things: tuple[Dated, ...] = ()
    assisted: tuple[str, ...] = ()
    answers: tuple[Sentence, ...] = ()
    looks: bool = False
    bare_titles: Mapping[str, Sequence[str]] = field(default_factory=dict)


@dataclass(frozen=True)
class Head:
    """Letterhead, who and when. All text, ready to print; `reason` is the whole sentence."""

    clinic_name: str
    clinic_lines: tuple[str, ...]
    phone: str
    emergency_name: str
    emergency_phone: str
    owner_name: str
    owner_lines: tuple[str, ...]
    patient_name: str
    patient_facts: str
    day: str
    weekday: str = ""
    time: str = ""
    seen_by: str = ""
    reason: str = ""


@dataclass(frozen=True)
class Signed:
    """Who examined and signed, who assisted; what a corrected copy says of itself."""

    lines: tuple[Sentence, ...]
    version_line: str = ""
    addenda: tuple[Sentence, ...] = ()


@dataclass(frozen=True)
class Document:
    """The whole letter, in reading order.

    `kind`: *visit*; *result*, for one that came after the visit; *condolence*, for one that a clinician wrote
    after a death: greeting (`headline`), one section with the text, signature, and nothing of a visit.
    `annex`: normal lines that found no room on the sheet; only the layout fills it, nothing is kept so.
    """

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
    format: int = 1
    kind: str = "visit"
    answers: tuple[Sentence, ...] = ()
    annex: tuple[Walk, ...] = ()


T = TypeVar("T")


def map_sentences(document: T, change: Callable[[Sentence], Sentence]) -> T:
    """The same document, or part of one, with every sentence passed through `change`."""
    return _mapped(document, change)  # type: ignore[no-any-return]


def _mapped(value: Any, change: Callable[[Sentence], Sentence]) -> Any:
    if isinstance(value, Sentence):
        return change(value)
    if isinstance(value, tuple):
        return tuple(_mapped(each, change) for each in value)
    if hasattr(value, "__dataclass_fields__"):
        return replace(
            value, **{name: _mapped(getattr(value, name), change) for name in value.__dataclass_fields__}
        )
    return value


def sentences(document: Document) -> Iterator[Sentence]:
    """Every sentence, in reading order."""
    yield from said(document)


def said(part: Any) -> tuple[Sentence, ...]:
    """Every sentence of one section or block, in reading order."""
    found: list[Sentence] = []

    def note(sentence: Sentence) -> Sentence:
        found.append(sentence)
        return sentence

    _mapped(part, note)
    return tuple(found)


def to_json(document: Document) -> dict[str, Any]:
    """Plain JSON values; dates as ISO 8601."""
    plain = asdict(document, dict_factory=_kept)
    del plain["annex"]
    for thing in plain["next_things"]:
        thing["on"] = thing["on"].isoformat()
    return plain


def _kept(items: list[tuple[str, Any]]) -> dict[str, Any]:
    return {name: value for name, value in items if name != "made_from"}


def _sentence(raw: dict[str, Any]) -> Sentence:
    return Sentence(**raw)


def _sentences(raw: list[dict[str, Any]]) -> tuple[Sentence, ...]:
    return tuple(_sentence(each) for each in raw)


def _maybe(raw: dict[str, Any] | None) -> Sentence | None:
    return _sentence(raw) if raw else None


def _table(raw: dict[str, Any]) -> Table:
    return Table(rows=tuple(_sentences(row) for row in raw["rows"]), head=tuple(raw["head"]))


def _block(raw: dict[str, Any]) -> Block:
    match raw["kind"]:
        case "text":
            return Text(sentences=_sentences(raw["sentences"]), mark=Mark(raw["mark"]))
        case "walk":
            lines = (
                Line(
                    label=_sentence(each["label"]),
                    sentences=_sentences(each["sentences"]),
                    mark=Mark(each["mark"]),
                )
                for each in raw["lines"]
            )
            return Walk(lines=tuple(lines))
        case "table":
            return _table(raw)
        case "figures":
            return Figures(
                figures=tuple(Figure(**each) for each in raw["figures"]),
                table=_table(raw["table"]) if raw["table"] else None,
                sentences=_sentences(raw["sentences"]),
            )
        case "photos":
            return Photos(
                tuple(Photo(**{**each, "caption": _sentence(each["caption"])}) for each in raw["photos"])
            )
    raise ValueError(f"a letter has no block of kind {raw['kind']!r}")


def _point(raw: dict[str, Any]) -> Point:
    return Point(
        what=_sentence(raw["what"]), urgency=raw["urgency"], do=_maybe(raw["do"]), by=_maybe(raw["by"])
    )


def section_from_json(raw: dict[str, Any]) -> Section:
    """One section as `to_json` wrote it."""
    blocks = tuple(_block(each) for each in raw["blocks"])
    return Section(name=raw["name"], title=raw["title"], order=raw["order"], blocks=blocks)


def from_json(raw: dict[str, Any]) -> Document:
    """The document that `to_json` wrote, also after a round through the database's JSON."""
    head = dict(raw["head"])
    head["clinic_lines"] = tuple(head["clinic_lines"])
    head["owner_lines"] = tuple(head["owner_lines"])
    signed = raw["signed"]
    return Document(
        language=raw["language"],
        tone=Tone(raw["tone"]),
        head=Head(**head),
        headline=_sentence(raw["headline"]),
        points=tuple(_point(each) for each in raw["points"]),
        call_now=_sentences(raw["call_now"]),
        call_within_a_day=_sentences(raw["call_within_a_day"]),
        sections=tuple(section_from_json(each) for each in raw["sections"]),
        next_things=tuple(
            Dated(
                on=date.fromisoformat(each["on"]),
                what=_sentence(each["what"]),
                exact=each["exact"],
                time=each["time"],
            )
            for each in raw["next_things"]
        ),
        signed=Signed(
            lines=_sentences(signed["lines"]),
            version_line=signed["version_line"],
            addenda=_sentences(signed["addenda"]),
        ),
        paper=raw["paper"],
        large_print=raw["large_print"],
        format=raw["format"],
        kind=raw.get("kind", "visit"),  # letters of before say none
        answers=_sentences(raw.get("answers", [])),
    )
