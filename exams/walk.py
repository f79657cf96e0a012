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


class WalkError(ValueError):
    """The walk's data breaks one of its own rules; the message names the entry."""


class ClassChange(NamedTuple):
    """When all of `all` hold, the finding's class becomes `to`; `exams.urgency` reads the conditions."""

    to: str
    all: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Structure:
    """One thing looked at, at one station. `sided` says what one line of it asks for."""

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

    @property
    def station(self) -> str:
        return self.code.partition(".")[0]


@dataclass(frozen=True, slots=True)
class FindingCode:
    """One coded finding. `structures`: lines of the same station, likeliest first; `*` the whole station."""

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

    @property
    def station(self) -> str:
        return self.code.partition("-")[0]

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
class Scale:
    """A published scale. `certainty`: read, restated or memory (to be checked against the source)."""

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
        text = json.dumps(to_json(self), sort_keys=True, ensure_ascii=False, separators=(",", ":"))
        return hashlib.sha256(text.encode()).hexdigest()

    def reasons_for(self, use: str) -> tuple[Reason, ...]:
        """use: "not-examined", "in-part" or "none-there"."""
        return tuple(r for r in self.reasons if use in r.use)


def load_walk(folder: Path = FOLDER) -> Walk:
    """Read every station, the scales, reasons and circumstances of a folder. Raises WalkError."""
    shared = {name: _read(folder / f"{name}.toml") for name in ("scales", "reasons", "circumstances")}
    stations = [_station(_read(p)) for p in sorted(folder.glob("*.toml")) if p.stem not in shared]
    walk = Walk(
        stations=tuple(sorted(stations, key=lambda s: s.order)),
        scales=tuple(_scale(d) for d in shared["scales"]["scale"]),
        reasons=tuple(_build(Reason, d) for d in shared["reasons"]["reason"]),
        circumstances=tuple(_circumstance(d) for d in shared["circumstances"]["circumstance"]),
    )
    _check(walk)
    return walk


def to_json(walk: Walk) -> dict[str, Any]:
    """Plain lists and dicts, ready for a JSON column."""
    plain: dict[str, Any] = json.loads(json.dumps(_plain(walk), ensure_ascii=False))
    return plain


def from_json(data: Mapping[str, Any]) -> Walk:
    """The inverse of `to_json`: `from_json(to_json(w)) == w`, with the same SHA-256."""
    return Walk(
        stations=tuple(_station(d) for d in data["stations"]),
        scales=tuple(_scale(d) for d in data["scales"]),
        reasons=tuple(_build(Reason, d) for d in data["reasons"]),
        circumstances=tuple(_circumstance(d) for d in data["circumstances"]),
    )


def with_changes(
    walk: Walk,
    *,
    depths: Mapping[str, str] | None = None,
    urgencies: Mapping[str, str] | None = None,
    order: tuple[str, ...] | None = None,
) -> Walk:
    """The walk with a clinic's own changes: depth by structure code, class by finding code, the order.

    A home and its twins move together. Raises WalkError for an unknown code or a value outside its list.
    """
    depths, urgencies = dict(depths or {}), dict(urgencies or {})
    unknown = (set(depths) - set(walk.structure)) | (set(urgencies) - set(walk.finding))
    if unknown:
        raise WalkError(f"not in the walk: {', '.join(sorted(unknown))}")
    places = {code: i for i, code in enumerate(order or (s.code for s in walk.stations), 1)}
    if set(places) != set(walk.station):
        raise WalkError("an order names every station once")

    def structure(s: Structure) -> Structure:
        depth = depths.get(s.code) or depths.get(s.twin) or s.depth
        if depth != s.depth and "measured" in (depth, s.depth):
            raise WalkError(f"{s.code}: a measured line stays measured, others cannot become it")
        asked = s.asked if depth == s.depth else {"routine": "every", "indication": "called-for"}[depth]
        return dataclasses.replace(s, depth=depth, asked=asked)

    stations = [
        dataclasses.replace(
            st,
            order=places[st.code],
            structures=tuple(structure(s) for s in st.structures),
            findings=tuple(
                dataclasses.replace(f, urgency=urgencies.get(f.code, f.urgency)) for f in st.findings
            ),
        )
        for st in walk.stations
    ]
    changed = dataclasses.replace(walk, stations=tuple(sorted(stations, key=lambda s: s.order)))
    _check(changed)
    return changed


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
        return {f.name: _plain(getattr(value, f.name)) for f in dataclasses.fields(value)}
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
    return _build(Scale, {**data, "grades": [_build(Grade, g) for g in data["grades"]]})


def _circumstance(data: Mapping[str, Any]) -> Circumstance:
    renamed = {("implied_by" if k == "from" else k): v for k, v in data.items()}
    return _build(Circumstance, renamed)


def _check(walk: Walk) -> None:
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
                and set(s.borrows) <= set(walk.finding)
                and bool(s.species)
                and set(s.species) <= set(SPECIES)
            )
            if not ok:
                raise WalkError(f"{s.code}: a value is outside its list")
        for f in station.findings:
            _check_finding(walk, station, f)


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
