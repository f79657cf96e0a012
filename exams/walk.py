"""The walk: stations, structures, coded findings, scales and reasons, as data read from `exams/walk/*.toml`.

A walk is composed once (files, then the clinic's own changes), stored as an immutable version addressed by
its SHA-256, and every exam keeps pointing at the version it was made with.

Source of structures, findings, owner lines and classes of urgency: common practice, unless an entry says
otherwise.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

from exams.qualifiers import KINDS, Qualifier

T = TypeVar("T")

FOLDER = Path(__file__).with_name("walk")

SPECIES = ("dog", "cat")
SIDED = ("none", "pair", "limb", "four", "gland", "tooth", "quadrant")
DEPTHS = ("routine", "indication", "measured")
ASKED = ("every", "called-for")
VALUES = ("", "kg", "C", "per-min", "s", "mmHg", "mm-per-min", "bcs-9", "mcs-4", "pain-4")
WHEN = ("", "female", "female-intact", "male", "male-intact", "under-6-months", "under-16-weeks")
VARIANTS = ("", "yes", "limit")
CLASSES = "MRTE"
SEVERITY = ("mild", "moderate", "severe")
SHARED = ("scales", "reasons", "circumstances", "qualifiers")  # files that belong to no station
OWN = "own-"  # what begins the code of a finding that the clinic added itself
LATER = {"later": True}  # a field younger than stored walks: left out while empty, so that old numbers hold


class WalkError(ValueError):
    """The walk's data breaks one of its own rules; the message names the entry."""


class ClassChange(NamedTuple):
    """When all of `all` hold, the finding's class becomes `to`; `exams.urgency` reads the conditions."""

    to: str
    all: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Structure:
    """One thing looked at, at one station. `sided` says what one line of it asks for.

    `first`: findings that the clinic wants offered before all others here, in its order. `spoken`: other ways
    to say it, beside those of the languages of `exams/spoken`. `looked_for`: what is looked for there, where
    the name only lists places.
    """

    code: str
    name: str
    normal_means: str
    how_to_check: str
    side_text: str
    applies_text: str
    sided: str
    depth: str
    asked: str
    species: tuple[str, ...]
    value: str = ""
    twin: str = ""
    within: str = ""
    applies_when: str = ""
    borrows: tuple[str, ...] = ()
    first: tuple[str, ...] = field(default=(), metadata=LATER)
    spoken: tuple[str, ...] = field(default=(), metadata=LATER)
    looked_for: str = field(default="", metadata=LATER)

    @property
    def title(self) -> str:
        """As a line of the walk is headed: "Fleas (rump, belly, groin, armpits, neck)"."""
        return f"{self.looked_for} ({self.name[:1].lower()}{self.name[1:]})" if self.looked_for else self.name

    @property
    def station(self) -> str:
        return self.code.partition(".")[0]


@dataclass(frozen=True, slots=True)
class FindingCode:
    """One coded finding. `structures`: lines of the same station, likeliest first; `*` the whole station.

    `retired`: offered no longer, still read. `urgency_reason` and `spoken` (other ways to say it) come with
    findings of the clinic's own, whose codes begin with `own-`.
    """

    code: str
    name: str
    qualifiers: tuple[str, ...]
    side_text: str
    applies_text: str
    structures: tuple[str, ...]
    rank: int
    species: tuple[str, ...]
    urgency: str
    change_class_when: str
    owner_line: str
    variant: str = ""
    grade_scale: str = ""
    grades: tuple[str, ...] = ()
    severity_words: tuple[str, ...] = ()
    applies_when: str = ""
    change: tuple[ClassChange, ...] = ()
    retired: bool = field(default=False, metadata=LATER)
    urgency_reason: str = field(default="", metadata=LATER)
    spoken: tuple[str, ...] = field(default=(), metadata=LATER)

    @property
    def own(self) -> bool:
        """Added by the clinic itself."""
        return self.code.startswith(OWN)

    @property
    def station(self) -> str:
        return self.structures[0].partition(".")[0] if self.own else self.code.partition("-")[0]

    @property
    def whole_station(self) -> bool:
        return self.structures == ("*",)

    @property
    def sideless(self) -> bool:
        """On a line with two sides this finding answers both."""
        return self.side_text == "none"


@dataclass(frozen=True, slots=True)
class Station:
    """A place on the walk. `per_side`: completed once for left and once for right (the limbs)."""

    code: str
    order: int
    title: str
    short: str
    per_side: bool
    owner_name: str
    intro: str
    source: str
    structures: tuple[Structure, ...]
    findings: tuple[FindingCode, ...]
    owner_part: str = ""


@dataclass(frozen=True, slots=True)
class Grade:
    """One step of a scale: `wording` is the scale's own, `owner` how a letter says it."""

    key: str
    label: str
    wording: str
    wording_cat: str = ""
    owner: str = ""


@dataclass(frozen=True, slots=True)
class ScalePart:
    """One of the parts that a total is summed from, with its own wording step by step."""

    key: str
    label: str
    grades: tuple[Grade, ...] = ()


@dataclass(frozen=True, slots=True)
class Scale:
    """A published scale. `certainty`: read, restated or memory (to be checked against the source).

    `parts`: what a total is summed from. `bands`: what totals mean. `beside`: another scale with the same
    figures, shown for comparison. `acts`: totals from which pain relief is suggested, as "6 of 24";
    `act_ratio`: the part of the maximum above which it is.
    """

    key: str
    title: str
    version: str
    source: str
    permission: str
    certainty: str
    grades: tuple[Grade, ...]
    note: str = ""
    normal: str = ""
    items: tuple[str, ...] = ()
    item_max: int = 0
    total_max: int = 0
    act_at: str = ""
    by_clinician_only: bool = False
    parts: tuple[ScalePart, ...] = field(default=(), metadata=LATER)
    bands: tuple[str, ...] = field(default=(), metadata=LATER)
    beside: str = field(default="", metadata=LATER)
    species: tuple[str, ...] = field(default=(), metadata=LATER)
    acts: tuple[str, ...] = field(default=(), metadata=LATER)
    act_ratio: float = field(default=0.0, metadata=LATER)

    def grade(self, key: str) -> Grade | None:
        return next((g for g in self.grades if g.key == key), None)


@dataclass(frozen=True, slots=True)
class Reason:
    """Why not examined, what limited it, or why there is none. Empty `roles`: anybody may choose it."""

    key: str
    use: tuple[str, ...]
    words: str
    owner: str
    roles: tuple[str, ...] = ()
    needs_words: bool = False


@dataclass(frozen=True, slots=True)
class Circumstance:
    """What can move a class of urgency: said by somebody, or implied by `codes` or by other circumstances."""

    key: str
    words: str
    codes: tuple[str, ...] = ()
    implied_by: tuple[str, ...] = ()


@dataclass(frozen=True)
class Walk:
    """One composed version. Look-ups are reckoned once and kept."""

    stations: tuple[Station, ...]
    scales: tuple[Scale, ...]
    reasons: tuple[Reason, ...]
    circumstances: tuple[Circumstance, ...] = field(default=())
    qualifiers: tuple[Qualifier, ...] = field(default=(), metadata=LATER)

    @cached_property
    def structure(self) -> Mapping[str, Structure]:
        return {s.code: s for station in self.stations for s in station.structures}

    @cached_property
    def finding(self) -> Mapping[str, FindingCode]:
        return {f.code: f for station in self.stations for f in station.findings}

    @cached_property
    def station(self) -> Mapping[str, Station]:
        return {s.code: s for s in self.stations}

    @cached_property
    def scale(self) -> Mapping[str, Scale]:
        return {s.key: s for s in self.scales}

    @cached_property
    def reason(self) -> Mapping[str, Reason]:
        return {r.key: r for r in self.reasons}

    @cached_property
    def circumstance(self) -> Mapping[str, Circumstance]:
        return {c.key: c for c in self.circumstances}

    @cached_property
    def twins(self) -> Mapping[str, tuple[Structure, ...]]:
        """Home structure code to the structures that are the same look at another station."""
        found: dict[str, tuple[Structure, ...]] = {}
        for s in self.structure.values():
            if s.twin:
                found[s.twin] = (*found.get(s.twin, ()), s)
        return found

    @cached_property
    def sha256(self) -> str:
        return number_of(to_json(self))

    def reasons_for(self, use: str) -> tuple[Reason, ...]:
        """use: "not-examined", "in-part" or "none-there"."""
        return tuple(r for r in self.reasons if use in r.use)


def load_walk(folder: Path = FOLDER) -> Walk:
    """Read every station, the scales, reasons and circumstances of a folder. Raises WalkError."""
    shared = {
        name: _read(folder / f"{name}.toml") for name in ("scales", "reasons", "circumstances", "qualifiers")
    }
    stations = [_station(_read(p)) for p in sorted(folder.glob("*.toml")) if p.stem not in shared]
    walk = Walk(
        stations=tuple(sorted(stations, key=lambda s: s.order)),
        scales=tuple(_scale(d) for d in shared["scales"]["scale"]),
        reasons=tuple(_build(Reason, d) for d in shared["reasons"]["reason"]),
        circumstances=tuple(_circumstance(d) for d in shared["circumstances"]["circumstance"]),
        qualifiers=tuple(_build(Qualifier, d) for d in shared["qualifiers"]["qualifier"]),
    )
    check_walk(walk)
    return walk


def number_of(body: Mapping[str, Any]) -> str:
    """The SHA-256 of a walk's plain JSON."""
    text = json.dumps(body, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def to_json(walk: Walk) -> dict[str, Any]:
    """Plain lists and dicts, ready for a JSON column."""
    plain: dict[str, Any] = json.loads(json.dumps(_plain(walk), ensure_ascii=False))
    return plain


def from_json(data: Mapping[str, Any]) -> Walk:
    """The inverse of `to_json`: `from_json(to_json(w)) == w`, with the same SHA-256."""
    walk = Walk(
        stations=tuple(_station(d) for d in data["stations"]),
        scales=tuple(_scale(d) for d in data["scales"]),
        reasons=tuple(_build(Reason, d) for d in data["reasons"]),
        circumstances=tuple(_circumstance(d) for d in data["circumstances"]),
        qualifiers=tuple(_build(Qualifier, d) for d in data.get("qualifiers", ())),
    )
    # what was stored keeps its number, also when the program has learned more fields since
    walk.__dict__["sha256"] = number_of(data)
    return walk


def _read(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, tomllib.TOMLDecodeError) as error:
        raise WalkError(f"{path.name}: {error}") from error


def _plain(value: object) -> object:
    if isinstance(value, ClassChange):
        return value._asdict()
    if isinstance(value, tuple):
        return [_plain(v) for v in value]
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        told = {f.name: (f, getattr(value, f.name)) for f in dataclasses.fields(value)}
        return {k: _plain(v) for k, (f, v) in told.items() if v != f.default or not f.metadata.get("later")}
    return value


def _build(cls: type[T], data: Mapping[str, Any]) -> T:
    frozen = {k: tuple(v) if isinstance(v, list) else v for k, v in data.items()}
    try:
        return cls(**frozen)
    except TypeError as error:
        raise WalkError(f"{data.get('code') or data.get('key')}: {error}") from error


def _station(data: Mapping[str, Any]) -> Station:
    rest = {k: v for k, v in data.items() if k not in ("structure", "finding", "structures", "findings")}
    return _build(
        Station,
        {
            **rest,
            "structures": [
                _build(Structure, d) for d in data.get("structures") or data.get("structure") or ()
            ],
            "findings": [_finding(d) for d in data.get("findings") or data.get("finding") or ()],
        },
    )


def _finding(data: Mapping[str, Any]) -> FindingCode:
    change = [ClassChange(c["to"], tuple(c["all"])) for c in data.get("change", ())]
    return _build(FindingCode, {**data, "change": change})


def _scale(data: Mapping[str, Any]) -> Scale:
    parts = [
        _build(ScalePart, {**p, "grades": [_build(Grade, g) for g in p["grades"]]})
        for p in data.get("parts") or data.get("part") or ()
    ]
    rest = {k: v for k, v in data.items() if k != "part"}
    return _build(Scale, {**rest, "grades": [_build(Grade, g) for g in data["grades"]], "parts": parts})


def _circumstance(data: Mapping[str, Any]) -> Circumstance:
    renamed = {("implied_by" if k == "from" else k): v for k, v in data.items()}
    return _build(Circumstance, renamed)


def check_walk(walk: Walk) -> None:
    """Every value is on its list, every name it mentions exists. Raises WalkError, naming the entry."""
    for station in walk.stations:
        for s in station.structures:
            ok = (
                s.sided in SIDED
                and s.depth in DEPTHS
                and s.asked in ASKED
                and s.value in VALUES
                and s.applies_when in WHEN
                and s.station == station.code
                and (not s.twin or s.twin in walk.structure)
                and (not s.within or s.within in walk.structure)
                and {*s.borrows, *s.first} <= set(walk.finding)
                and bool(s.species)
                and set(s.species) <= set(SPECIES)
            )
            if not ok:
                raise WalkError(f"{s.code}: a value is outside its list")
        for f in station.findings:
            _check_finding(walk, station, f)
    for q in walk.qualifiers:
        known = set(q.scales) <= set(walk.scale) and set(q.codes) <= set(walk.finding)
        if q.kind not in KINDS or not q.names or not known:
            raise WalkError(f"qualifier {', '.join(q.names)}: a value is outside its list")


def _check_finding(walk: Walk, station: Station, f: FindingCode) -> None:
    ok = (
        f.station == station.code
        and f.variant in VARIANTS
        and f.applies_when in WHEN
        and f.urgency in tuple(CLASSES)
        and f.severity_words in ((), SEVERITY)
        and all(c.to in tuple(CLASSES) and c.all for c in f.change)
        and (f.whole_station or set(f.structures) <= {s.code for s in station.structures})
        and bool(f.species)
        and set(f.species) <= set(SPECIES)
        and (not f.grade_scale or f.grade_scale in walk.scale)
    )
    if not ok:
        raise WalkError(f"{f.code}: a value is outside its list")
